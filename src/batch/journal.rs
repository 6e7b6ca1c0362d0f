//! The journal: what is done, under way, without a result and why. SQLite, written ahead, flushed at every
//! step, so that it tells the truth after a power cut.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard};

use rusqlite::{Connection, OptionalExtension, Params, Row, params};

use super::error::BatchError;
use super::facts::{ClipFacts, Inspected};
use super::file_mark::FileMark;
use super::parallel::lock;
use crate::measure::{Nothing, Refusal};

/// 2 knows clips without a swing and those in which nobody was found.
const VERSION: i64 = 2;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum State {
    /// A worker has it, or had it when the power went.
    UnderWay,
    Done,
    /// There is no result, and looking again would give none.
    Nothing(Nothing),
}

impl State {
    fn key(self) -> &'static str {
        match self {
            Self::UnderWay => "under_way",
            Self::Done => "done",
            Self::Nothing(n) => n.key(),
        }
    }

    fn from_key(key: &str) -> Option<Self> {
        [Self::UnderWay, Self::Done]
            .into_iter()
            .chain(Nothing::ALL.map(Self::Nothing))
            .find(|s| s.key() == key)
    }
}

const CLIPS: &str = "create table clips (
     path blob primary key, bytes integer not null, modified_ns integer not null,
     sha256 text not null, program text not null, inspected text, reason text, outcome text) strict;";
const SWINGS: &str = "create table swings (
     identity text primary key, name text not null unique collate nocase,
     state text not null
         check (state in ('under_way', 'done', 'no_swing', 'nobody_found', 'failed')),
     fingerprint text not null, reason text,
     completed integer not null default 0, seconds real,
     changed text not null default current_timestamp) strict;";
/// A table's check can't be changed: the rows of version 1 move to a new one.
const FROM_1: &str = "alter table clips add column outcome text;
     alter table swings rename to swings_1;";
const MOVE_1: &str = "insert into swings
     (identity, name, state, fingerprint, reason, completed, seconds, changed)
     select identity, name, state, fingerprint, reason, completed, seconds, changed from swings_1;
     drop table swings_1;";
const STAMP: &str = "pragma user_version = 2;";

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

/// A clip's checksum, and what was found in it or why there is nothing.
pub type Known = (String, Result<Inspected, Refusal>);

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
        let (db, found) = opened(path).map_err(fail(path))?;
        if found > VERSION {
            return Err(BatchError::JournalVersion {
                path: path.to_owned(),
                found,
            });
        }
        match found {
            0 => db.execute_batch(&format!("begin; {CLIPS} {SWINGS} {STAMP} commit;")),
            1 => db.execute_batch(&format!(
                "begin; {FROM_1} {SWINGS} {MOVE_1} {STAMP} commit;"
            )),
            _ => Ok(()),
        }
        .map_err(fail(path))?;
        Ok(Self {
            db: Mutex::new(db),
            path: path.to_owned(),
        })
    }

    /// Worker threads take turns: each statement is whole in itself.
    fn db(&self) -> MutexGuard<'_, Connection> {
        lock(&self.db)
    }

    /// One statement that changes something.
    fn change(&self, statement: &str, values: impl Params) -> Result<(), BatchError> {
        let changed = self.db().execute(statement, values);
        changed.map(|_| ()).map_err(fail(&self.path))
    }

    /// What an earlier run found in a clip, if the file and the program are the same.
    pub fn clip(
        &self,
        path: &Path,
        mark: FileMark,
        program: &str,
    ) -> Result<Option<Known>, BatchError> {
        let row: Option<(String, [Option<String>; 3])> = self
            .db()
            .query_row(
                "select sha256, inspected, reason, outcome from clips
                 where path = ?1 and bytes = ?2 and modified_ns = ?3 and program = ?4",
                params![bytes(path), mark.bytes, mark.modified_ns, program],
                |r| Ok((r.get(0)?, [r.get(1)?, r.get(2)?, r.get(3)?])),
            )
            .optional()
            .map_err(fail(&self.path))?;
        Ok(row.and_then(
            |(sha256, [inspected, reason, outcome])| match (inspected, reason) {
                // A row that does not parse is as good as none: the clip is read again.
                (Some(json), _) => Some((sha256, Ok(serde_json::from_str(&json).ok()?))),
                (None, Some(text)) => {
                    let nothing = outcome.as_deref().and_then(Nothing::from_key);
                    let nothing = nothing.unwrap_or(Nothing::Failed);
                    Some((sha256, Err(Refusal { nothing, text })))
                }
                (None, None) => None,
            },
        ))
    }

    pub fn keep_clip(
        &self,
        mark: FileMark,
        program: &str,
        facts: &ClipFacts,
    ) -> Result<(), BatchError> {
        let ClipFacts {
            relative,
            sha256,
            found,
        } = facts;
        let json = found.as_ref().ok().map(serde_json::to_string);
        let json = json.and_then(Result::ok);
        let refusal = found.as_ref().err();
        let (reason, outcome) = (refusal.map(|r| &r.text), refusal.map(|r| r.nothing.key()));
        self.change(
            "insert or replace into clips (path, bytes, modified_ns, sha256, program, inspected, reason, outcome)
             values (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
            params![bytes(relative), mark.bytes, mark.modified_ns, sha256, program, json, reason, outcome],
        )
    }

    /// All swings by identity.
    pub fn swings(&self) -> Result<BTreeMap<String, Entry>, BatchError> {
        let entry = |r: &Row<'_>| {
            let state: String = r.get(2)?;
            let entry = Entry {
                name: r.get(1)?,
                // The table allows no other words.
                state: State::from_key(&state).unwrap_or(State::UnderWay),
                fingerprint: r.get(3)?,
                reason: r.get(4)?,
                completed: r.get(5)?,
                seconds: r.get(6)?,
            };
            Ok((r.get(0)?, entry))
        };
        let db = self.db();
        db.prepare(
            "select identity, name, state, fingerprint, reason, completed, seconds from swings",
        )
        .and_then(|mut query| query.query_map([], entry)?.collect())
        .map_err(fail(&self.path))
    }

    /// A worker is about to get the swing.
    pub fn begin(&self, identity: &str, name: &str, fingerprint: &str) -> Result<(), BatchError> {
        self.change(
            "insert into swings (identity, name, state, fingerprint) values (?1, ?2, 'under_way', ?3)
             on conflict (identity) do update set
                 name = excluded.name, state = 'under_way', reason = null,
                 completed = case when fingerprint = excluded.fingerprint then completed else 0 end,
                 fingerprint = excluded.fingerprint, changed = current_timestamp",
            params![identity, name, fingerprint],
        )
    }

    /// The result stands in its place.
    pub fn done(&self, identity: &str, seconds: Option<f64>) -> Result<(), BatchError> {
        self.change(
            "update swings set state = 'done', completed = completed + 1,
                 seconds = coalesce(?2, seconds), changed = current_timestamp
             where identity = ?1 and state = 'under_way'",
            params![identity, seconds],
        )
    }

    /// There is no result, and why.
    pub fn nothing(&self, identity: &str, refusal: &Refusal) -> Result<(), BatchError> {
        self.change(
            "update swings set state = ?2, reason = ?3, changed = current_timestamp
             where identity = ?1",
            params![identity, refusal.nothing.key(), refusal.text],
        )
    }
}

fn fail(path: &Path) -> impl Fn(rusqlite::Error) -> BatchError {
    |source| BatchError::Journal {
        path: path.to_owned(),
        source,
    }
}

/// The file and its version, 0 for a new one.
fn opened(path: &Path) -> rusqlite::Result<(Connection, i64)> {
    let db = Connection::open(path)?;
    db.pragma_update(None, "journal_mode", "wal")?;
    // A commit is on the disk when it returns.
    db.pragma_update(None, "synchronous", "full")?;
    let found = db.query_row("pragma user_version", [], |r| r.get(0))?;
    Ok((db, found))
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

    const MARK: FileMark = FileMark {
        bytes: 10,
        modified_ns: 5,
    };

    fn refusal(nothing: Nothing, text: &str) -> Refusal {
        let text = text.to_owned();
        Refusal { nothing, text }
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
        let facts = ClipFacts {
            relative: "a.mp4".into(),
            sha256: "abc".into(),
            found: Err(refusal(Nothing::NobodyFound, "empty")),
        };
        j.keep_clip(MARK, "1", &facts).expect("keeps");
        let read = |mark, program| j.clip(Path::new("a.mp4"), mark, program).expect("reads");
        let changed = FileMark {
            modified_ns: 6,
            ..MARK
        };
        assert_eq!((read(changed, "1"), read(MARK, "2")), (None, None));
        assert_eq!(read(MARK, "1"), Some(("abc".into(), facts.found)));
    }

    #[test]
    fn a_clip_without_a_swing_is_remembered_as_one() {
        let (_folder, j) = journal();
        j.begin("id", "walk", "f1").expect("begins");
        let none = refusal(Nothing::NoSwing, "walk.mp4: none.");
        j.nothing("id", &none).expect("ends");
        let e = &j.swings().expect("reads")["id"];
        assert_eq!(e.state, State::Nothing(Nothing::NoSwing));
        assert_eq!(e.reason.as_deref(), Some("walk.mp4: none."));
    }

    /// A journal that version 0.1 left: its rows are kept, and clips without a swing can be added.
    #[test]
    fn an_older_journal_is_taken_over() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("journal.sqlite");
        let old = Connection::open(&path).expect("opens");
        old.execute_batch(
            "create table clips (
                 path blob primary key, bytes integer not null, modified_ns integer not null,
                 sha256 text not null, program text not null, inspected text, reason text) strict;
             create table swings (
                 identity text primary key, name text not null unique collate nocase,
                 state text not null check (state in ('under_way', 'done', 'failed')),
                 fingerprint text not null, reason text,
                 completed integer not null default 0, seconds real,
                 changed text not null default current_timestamp) strict;
             insert into clips values (cast('a.mp4' as blob), 10, 5, 'abc', '1', null, 'unreadable');
             insert into swings (identity, name, state, fingerprint, completed) values
                 ('id', 'anna-1', 'done', 'f1', 1);
             pragma user_version = 1;",
        )
        .expect("made");
        drop(old);
        for _ in 0..2 {
            let j = Journal::open(&path).expect("opens");
            let e = &j.swings().expect("reads")["id"];
            assert_eq!((e.state, e.completed), (State::Done, 1));
            let (_, found) = j
                .clip(Path::new("a.mp4"), MARK, "1")
                .expect("reads")
                .expect("kept");
            assert_eq!(found, Err(Refusal::failed("unreadable")));
            j.begin("walk", "walk", "f1").expect("begins");
            j.nothing("walk", &refusal(Nothing::NoSwing, "none"))
                .expect("the new state is allowed");
        }
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
