//! The journal: what is done, under way, failed and why. SQLite, written ahead, flushed at every
//! step, so that it tells the truth after a power cut.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};

use rusqlite::{Connection, OptionalExtension, params};

use super::error::BatchError;
use super::facts::Inspected;

const VERSION: i64 = 1;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum State {
    /// A worker has it, or had it when the power went.
    UnderWay,
    Done,
    Failed,
}

impl State {
    fn key(self) -> &'static str {
        match self {
            Self::UnderWay => "under_way",
            Self::Done => "done",
            Self::Failed => "failed",
        }
    }

    fn from_key(key: &str) -> Option<Self> {
        [Self::UnderWay, Self::Done, Self::Failed]
            .into_iter()
            .find(|s| s.key() == key)
    }
}

/// What the journal says of one swing.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// Folder of its result.
    pub name: String,
    pub state: State,
    /// What was measured with what: clips' content, program version, options.
    pub fingerprint: String,
    pub reason: Option<String>,
    /// How often a measurement of this fingerprint was completed.
    pub completed: i64,
    pub seconds: Option<f64>,
}

/// What makes a file worth reading again.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FileMark {
    pub bytes: i64,
    pub modified_ns: i64,
}

/// A clip's checksum, and what was found in it or why it can't be read.
pub type Known = (String, Result<Inspected, String>);

pub struct Journal {
    db: Mutex<Connection>,
    path: PathBuf,
}

impl Journal {
    /// Opens or makes the journal.
    ///
    /// # Errors
    /// [`BatchError`] when the file can't be used or is of a newer version.
    pub fn open(path: &Path) -> Result<Self, BatchError> {
        let fail = |source| BatchError::Journal {
            path: path.to_owned(),
            source,
        };
        let db = Connection::open(path).map_err(fail)?;
        db.pragma_update(None, "journal_mode", "wal")
            .map_err(fail)?;
        // A commit is on the disk when it returns.
        db.pragma_update(None, "synchronous", "full")
            .map_err(fail)?;
        let found: i64 = db
            .query_row("pragma user_version", [], |r| r.get(0))
            .map_err(fail)?;
        if found > VERSION {
            return Err(BatchError::JournalVersion {
                path: path.to_owned(),
                found,
            });
        }
        db.execute_batch(
            "begin;
             create table if not exists clips (
                 path blob primary key, bytes integer not null, modified_ns integer not null,
                 sha256 text not null, program text not null, inspected text, reason text) strict;
             create table if not exists swings (
                 identity text primary key, name text not null unique collate nocase,
                 state text not null check (state in ('under_way', 'done', 'failed')),
                 fingerprint text not null, reason text,
                 completed integer not null default 0, seconds real,
                 changed text not null default current_timestamp) strict;
             pragma user_version = 1;
             commit;",
        )
        .map_err(fail)?;
        Ok(Self {
            db: Mutex::new(db),
            path: path.to_owned(),
        })
    }

    /// Worker threads take turns: each statement is whole in itself.
    fn db(&self) -> MutexGuard<'_, Connection> {
        self.db.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn fail(&self) -> impl Fn(rusqlite::Error) -> BatchError + use<> {
        let path = self.path.clone();
        move |source| BatchError::Journal {
            path: path.clone(),
            source,
        }
    }

    /// What an earlier run found in a clip, if the file and the program are the same.
    pub fn clip(
        &self,
        path: &Path,
        mark: FileMark,
        program: &str,
    ) -> Result<Option<Known>, BatchError> {
        let row: Option<(String, Option<String>, Option<String>)> = self
            .db()
            .query_row(
                "select sha256, inspected, reason from clips
                 where path = ?1 and bytes = ?2 and modified_ns = ?3 and program = ?4",
                params![bytes(path), mark.bytes, mark.modified_ns, program],
                |r| Ok((r.get(0)?, r.get(1)?, r.get(2)?)),
            )
            .optional()
            .map_err(self.fail())?;
        Ok(
            row.and_then(|(sha256, inspected, reason)| match (inspected, reason) {
                // A row that does not parse is as good as none: the clip is read again.
                (Some(json), _) => Some((sha256, Ok(serde_json::from_str(&json).ok()?))),
                (None, Some(reason)) => Some((sha256, Err(reason))),
                (None, None) => None,
            }),
        )
    }

    pub fn keep_clip(
        &self,
        path: &Path,
        mark: FileMark,
        program: &str,
        sha256: &str,
        found: &Result<Inspected, String>,
    ) -> Result<(), BatchError> {
        let json = found
            .as_ref()
            .ok()
            .and_then(|f| serde_json::to_string(f).ok());
        let reason = found.as_ref().err();
        self.db()
            .execute(
                "insert or replace into clips (path, bytes, modified_ns, sha256, program, inspected, reason)
                 values (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
                params![bytes(path), mark.bytes, mark.modified_ns, sha256, program, json, reason],
            )
            .map_err(self.fail())?;
        Ok(())
    }

    /// All swings by identity.
    pub fn swings(&self) -> Result<BTreeMap<String, Entry>, BatchError> {
        let fail = self.fail();
        let db = self.db();
        let mut query = db
            .prepare(
                "select identity, name, state, fingerprint, reason, completed, seconds from swings",
            )
            .map_err(&fail)?;
        let rows = query
            .query_map([], |r| {
                let state: String = r.get(2)?;
                Ok((
                    r.get::<_, String>(0)?,
                    Entry {
                        name: r.get(1)?,
                        // The table allows no other words.
                        state: State::from_key(&state).unwrap_or(State::UnderWay),
                        fingerprint: r.get(3)?,
                        reason: r.get(4)?,
                        completed: r.get(5)?,
                        seconds: r.get(6)?,
                    },
                ))
            })
            .map_err(&fail)?;
        rows.collect::<Result<_, _>>().map_err(&fail)
    }

    /// A worker is about to get the swing.
    pub fn begin(&self, identity: &str, name: &str, fingerprint: &str) -> Result<(), BatchError> {
        self.db()
            .execute(
                "insert into swings (identity, name, state, fingerprint) values (?1, ?2, 'under_way', ?3)
                 on conflict (identity) do update set
                     name = excluded.name, state = 'under_way', reason = null,
                     completed = case when fingerprint = excluded.fingerprint then completed else 0 end,
                     fingerprint = excluded.fingerprint, changed = current_timestamp",
                params![identity, name, fingerprint],
            )
            .map_err(self.fail())?;
        Ok(())
    }

    /// The result stands in its place.
    pub fn done(&self, identity: &str, seconds: Option<f64>) -> Result<(), BatchError> {
        self.db()
            .execute(
                "update swings set state = 'done', completed = completed + 1,
                     seconds = coalesce(?2, seconds), changed = current_timestamp
                 where identity = ?1 and state = 'under_way'",
                params![identity, seconds],
            )
            .map_err(self.fail())?;
        Ok(())
    }

    pub fn failed(&self, identity: &str, reason: &str) -> Result<(), BatchError> {
        self.db()
            .execute(
                "update swings set state = 'failed', reason = ?2, changed = current_timestamp
                 where identity = ?1",
                params![identity, reason],
            )
            .map_err(self.fail())?;
        Ok(())
    }
}

/// A path as its own bytes: names need not be UTF-8.
fn bytes(path: &Path) -> &[u8] {
    path.as_os_str().as_encoded_bytes()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn journal() -> (tempfile::TempDir, Journal) {
        let folder = tempfile::tempdir().expect("a folder");
        let journal = Journal::open(&folder.path().join("journal.sqlite")).expect("opens");
        (folder, journal)
    }

    #[test]
    fn a_swing_goes_from_under_way_to_done_once() {
        let (_folder, j) = journal();
        j.begin("id", "anna-1", "f1").expect("begins");
        assert_eq!(j.swings().expect("reads")["id"].state, State::UnderWay);
        j.done("id", Some(3.0)).expect("ends");
        // A second "done" of the same work changes nothing.
        j.done("id", Some(4.0)).expect("ends");
        let e = &j.swings().expect("reads")["id"];
        assert_eq!(
            (e.state, e.completed, e.seconds),
            (State::Done, 1, Some(3.0))
        );
    }

    #[test]
    fn another_fingerprint_begins_the_count_again() {
        let (_folder, j) = journal();
        for f in ["f1", "f2"] {
            j.begin("id", "anna-1", f).expect("begins");
            j.done("id", None).expect("ends");
        }
        assert_eq!(j.swings().expect("reads")["id"].completed, 1);
    }

    #[test]
    fn clips_are_remembered_until_the_file_or_program_changes() {
        let (_folder, j) = journal();
        let mark = FileMark {
            bytes: 10,
            modified_ns: 5,
        };
        let found = Err("unreadable".to_owned());
        j.keep_clip(Path::new("a.mp4"), mark, "1", "abc", &found)
            .expect("keeps");
        let again = j.clip(Path::new("a.mp4"), mark, "1").expect("reads");
        assert_eq!(again, Some(("abc".into(), found)));
        let changed = FileMark {
            modified_ns: 6,
            ..mark
        };
        assert_eq!(
            j.clip(Path::new("a.mp4"), changed, "1").expect("reads"),
            None
        );
        assert_eq!(j.clip(Path::new("a.mp4"), mark, "2").expect("reads"), None);
    }

    #[test]
    fn a_newer_journal_is_refused() {
        let (folder, j) = journal();
        j.db()
            .pragma_update(None, "user_version", 99)
            .expect("sets");
        drop(j);
        let again = Journal::open(&folder.path().join("journal.sqlite"));
        assert!(matches!(
            again,
            Err(BatchError::JournalVersion { found: 99, .. })
        ));
    }
}
