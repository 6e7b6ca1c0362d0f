//! The folder of results in memory: what the library shows of every swing, read again only where a
//! file changed. Nothing of it is kept on disk: the results' own files alone tell what there is, so
//! that a folder that somebody changed by hand is never shown wrongly.

use std::cmp::Reverse;
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::{Arc, Mutex};

use rayon::prelude::*;

use super::library::{folders, notes_of};
use crate::batch::{FileMark, lock};
use crate::report::first::{First, first};
use crate::report::untold;
use crate::result::{Lesson, SwingResult, TypedIn, read_swing};
use crate::terms::Role;

/// What the library keeps of one swing.
#[derive(Clone, Debug)]
pub struct Entry {
    /// The name of its folder.
    pub id: String,
    pub folder: PathBuf,
    /// The name in the result.
    pub name: String,
    /// What the coach typed in, the notes among it.
    pub typed: TypedIn,
    /// The day of the lesson: typed, else of filming, else of measuring.
    pub lesson: Option<Lesson>,
    /// The figures that are shown first.
    pub first: Option<First>,
    /// Why its pictures are to be doubted.
    pub doubt: Option<String>,
    /// From where it was filmed.
    pub views: Vec<Role>,
    /// Seconds since 1970 at which it was filmed, or else measured.
    at_s: f64,
    /// All that a search looks into, in small letters.
    haystack: String,
}

impl Entry {
    /// From a result and where it lies; `measured_s`: when it was written, seconds since 1970.
    pub fn new(id: String, folder: PathBuf, swing: &SwingResult, measured_s: f64) -> Self {
        let mut typed = swing.typed_in.clone();
        typed.notes = notes_of(&folder, &typed);
        let filmed_s = swing.views.iter().find_map(|v| v.filmed_unix_s);
        let lesson = swing.lesson().or_else(|| Lesson::of_unix_s(measured_s));
        let texts = [
            Some(swing.name.clone()),
            Some(id.clone()),
            lesson.map(|l| l.to_string()),
            typed.player.clone(),
            typed.label.clone(),
            typed.club.clone(),
            typed.notes.clone(),
        ];
        Self {
            name: swing.name.clone(),
            lesson,
            first: first(swing),
            doubt: untold::doubt(swing),
            views: swing.views.iter().map(|v| v.role).collect(),
            at_s: filmed_s.unwrap_or(measured_s),
            haystack: texts
                .into_iter()
                .flatten()
                .collect::<Vec<_>>()
                .join("\n")
                .to_lowercase(),
            id,
            folder,
            typed,
        }
    }

    /// The player's name as typed in, or an empty text.
    pub fn player(&self) -> &str {
        self.typed.player()
    }

    /// What was tried, as typed in, or an empty text.
    pub fn label(&self) -> &str {
        self.typed.label()
    }

    /// Whether every word of `sought`, in small letters, stands somewhere in what is known of it.
    pub fn holds(&self, sought: &str) -> bool {
        sought
            .split_whitespace()
            .all(|word| self.haystack.contains(word))
    }
}

/// A file as it was last seen; no entry where it can't be read.
type Known = (FileMark, Option<Arc<Entry>>);

/// All readable results of one folder.
pub struct Index {
    results: PathBuf,
    known: Mutex<BTreeMap<String, Known>>,
}

impl Index {
    /// Of a folder of results; reads nothing yet.
    pub fn new(results: PathBuf) -> Self {
        Self {
            results,
            known: Mutex::default(),
        }
    }

    /// Every readable result, the newest lesson first and within it the newest swing. Folders that
    /// are unfinished or not results are passed over; a link is not followed out of the folder.
    pub fn swings(&self) -> Vec<Arc<Entry>> {
        let mut known = lock(&self.known);
        let fresh: BTreeMap<String, Known> = folders(&self.results)
            .into_par_iter()
            .filter_map(|(id, folder)| {
                let now = FileMark::of(&folder.join("swing.json")).ok()?;
                let entry = match known.get(&id) {
                    Some((seen, entry)) if *seen == now => entry.clone(),
                    _ => read(&id, folder).map(Arc::new),
                };
                Some((id, (now, entry)))
            })
            .collect();
        *known = fresh;
        let mut all: Vec<Arc<Entry>> = known.values().filter_map(|k| k.1.clone()).collect();
        drop(known);
        all.sort_by(|a, b| {
            (Reverse(a.lesson), Reverse(order(a.at_s)))
                .cmp(&(Reverse(b.lesson), Reverse(order(b.at_s))))
                .then_with(|| a.id.cmp(&b.id))
        });
        all
    }
}

/// Seconds in an order that is total.
fn order(s: f64) -> i64 {
    (s * 1000.0) as i64
}

fn read(id: &str, folder: PathBuf) -> Option<Entry> {
    let swing = read_swing(&folder.join("swing.json")).ok()?;
    // Typed texts change swing.json later; the curves are as old as the measurement.
    let mark = |name: &str| FileMark::of(&folder.join(name)).ok();
    let measured = mark("curves.csv").or_else(|| mark("swing.json"))?;
    let id = id.to_owned();
    Some(Entry::new(id, folder, &swing, measured.modified_s()))
}

/// One player and how much there is of them.
#[derive(Clone, Debug)]
pub struct Player {
    /// As typed; empty for swings without a name.
    pub name: String,
    /// The newest swing.
    pub latest: Arc<Entry>,
    /// How many swings there are.
    pub swings: usize,
    /// On how many days.
    pub lessons: usize,
}

/// Players in the order of their last lesson, the newest first; those without a name last.
/// `swings` as [`Index::swings`] gives them.
pub fn players(swings: &[Arc<Entry>]) -> Vec<Player> {
    let mut found: BTreeMap<&str, (Player, Option<Lesson>)> = BTreeMap::new();
    for swing in swings {
        let (player, last) = found.entry(swing.player()).or_insert_with(|| {
            let player = Player {
                name: swing.player().to_owned(),
                latest: swing.clone(),
                swings: 0,
                lessons: 0,
            };
            (player, None)
        });
        if player.swings == 0 || *last != swing.lesson {
            player.lessons += 1;
        }
        player.swings += 1;
        *last = swing.lesson;
    }
    let mut all: Vec<Player> = found.into_values().map(|f| f.0).collect();
    all.sort_by(|a, b| {
        let key = |p: &Player| (p.name.is_empty(), Reverse(p.latest.lesson), p.name.clone());
        key(a).cmp(&key(b))
    });
    all
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    /// An entry without a file behind it.
    pub fn entry(id: &str, player: &str, lesson: &str, label: &str) -> Arc<Entry> {
        let mut swing = crate::result::old_swing();
        swing.name = id.into();
        swing.typed_in = TypedIn {
            player: Some(player.into()).filter(|p: &String| !p.is_empty()),
            lesson: lesson.parse().ok(),
            label: Some(label.into()).filter(|l: &String| !l.is_empty()),
            ..TypedIn::default()
        };
        Arc::new(Entry::new(id.into(), PathBuf::from(id), &swing, 0.0))
    }

    #[test]
    fn players_are_counted_and_the_latest_lesson_comes_first() {
        let mut all = vec![
            entry("c", "Ben", "2026-05-20", "hips free"),
            entry("b", "Anna", "2026-05-14", "hips held"),
            entry("d", "Anna", "2026-05-14", ""),
            entry("a", "Anna", "2026-04-02", ""),
            entry("e", "", "2026-06-01", ""),
        ];
        all.sort_by_key(|e| Reverse(e.lesson));
        let told: Vec<_> = players(&all)
            .into_iter()
            .map(|p| (p.name, p.swings, p.lessons))
            .collect();
        let told: Vec<_> = told.iter().map(|(n, s, l)| (n.as_str(), *s, *l)).collect();
        assert_eq!(told, [("Ben", 1, 1), ("Anna", 3, 2), ("", 1, 1)]);
    }

    #[test]
    fn every_word_of_a_search_must_stand_somewhere() {
        let e = entry("swing-1", "Anna Ö.", "2026-05-14", "Hips held");
        assert!(e.holds("anna held") && e.holds("2026-05") && e.holds("ö.") && e.holds(""));
        assert!(!e.holds("anna free"));
    }

    #[test]
    fn a_changed_file_is_read_again_and_a_removed_one_is_gone() {
        let place = tempfile::tempdir().expect("a folder");
        let folder = place.path().join("one");
        std::fs::create_dir(&folder).expect("made");
        let old = crate::result::OLD;
        std::fs::write(folder.join("swing.json"), old).expect("written");
        std::fs::create_dir(place.path().join("no result")).expect("made");
        let index = Index::new(place.path().to_owned());
        let before = index.swings();
        assert_eq!(before.len(), 1);
        assert!(
            Arc::ptr_eq(&before[0], &index.swings()[0]),
            "not read twice"
        );
        crate::result::rewrite_typed_in(&folder, |t| t.player = Some("Somebody Else".into()))
            .expect("rewritten");
        assert_eq!(index.swings()[0].player(), "Somebody Else");
        // The other of two clips that don't belong together stands in the first one's folder.
        let other = folder.join(crate::measure::OTHER_FOLDER);
        std::fs::create_dir(&other).expect("made");
        std::fs::write(other.join("swing.json"), old).expect("written");
        let mut ids: Vec<String> = index.swings().iter().map(|s| s.id.clone()).collect();
        ids.sort();
        assert_eq!(
            ids,
            ["one".to_owned(), crate::web::library::beside_id("one")]
        );
        std::fs::remove_dir_all(&folder).expect("removed");
        assert!(index.swings().is_empty());
    }
}
