//! From clips to swings: which clips belong together, where they are cut, what each is called.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use super::corrections::Corrections;
use super::cutting::cut;
use super::facts::ClipFacts;
use super::names::numbered;
use super::planned::{Plan, PlannedSwing, Skipped, Unreadable, slashed};
use super::player;
use super::scenes::{Scene, pair_by_clock, pair_by_name, pair_of, single};
use crate::config::BatchConfig;
use crate::result::{NamePattern, Told, swing_name};

/// What the coach says of the swings of a folder.
#[derive(Clone, Debug, Default)]
pub struct Said {
    /// How names of folders and files are read.
    pub names: Option<NamePattern>,
    /// Of every swing that says nothing else.
    pub of_all: Told,
}

/// Makes the plan. Files that corrections name and that are not there are noted. Of whose swing it is
/// and what was tried, the corrections file is asked first, then `names`, then what was said of all.
pub fn make_plan(
    clips: &[ClipFacts],
    corrections: &Corrections,
    said: &Said,
    config: &BatchConfig,
) -> Plan {
    let mut plan = Plan::default();
    let by_name: BTreeMap<String, usize> = clips
        .iter()
        .enumerate()
        .map(|(i, c)| (slashed(&c.relative), i))
        .collect();
    note_unknown(corrections, &by_name, &mut plan.notes);
    let find = |name: &String| by_name.get(name).copied();
    let skip: BTreeSet<usize> = corrections.skip.iter().filter_map(find).collect();
    let mut free: BTreeSet<usize> = BTreeSet::new();
    for (i, clip) in clips.iter().enumerate() {
        let path = clip.relative.clone();
        match clip.found.clone() {
            _ if skip.contains(&i) => plan.skipped.push(Skipped { path }),
            Ok(_) => {
                free.insert(i);
            }
            Err(refusal) => plan.unreadable.push(Unreadable { path, refusal }),
        }
    }
    let mut scenes: Vec<Scene> = Vec::new();
    for [a, b] in &corrections.pairs {
        if let (Some(a), Some(b)) = (find(a), find(b))
            && a != b
            && free.contains(&a)
            && free.contains(&b)
        {
            free.remove(&a);
            free.remove(&b);
            scenes.push(pair_of(a, b, "paired by the corrections file".into()));
        }
    }
    for a in corrections.alone.iter().filter_map(find) {
        if free.remove(&a) {
            scenes.push(single(a, "alone by the corrections file"));
        }
    }
    pair_by_name(clips, &mut free, &mut scenes);
    pair_by_clock(clips, &mut free, &mut scenes, &mut plan.notes, config);
    scenes.extend(free.iter().map(|i| single(*i, "no clip belongs to it")));
    scenes.sort_by_key(|s| s.first);

    let players = player::players(clips.iter().map(|c| c.relative.as_path()));
    let by_pattern: Vec<Option<Told>> = clips
        .iter()
        .map(|c| said.names.as_ref()?.read(&c.relative))
        .collect();
    for scene in &scenes {
        let mut swings = cut(clips, scene, corrections, config);
        for s in &mut swings {
            // What one clip of a swing does not say, the other may.
            let ask = |say: &dyn Fn(&str) -> Option<Told>| {
                s.clips
                    .iter()
                    .filter_map(|c| say(&slashed(&c.relative)))
                    .fold(Told::default(), Told::or)
            };
            let corrected = ask(&|name| corrections.told.get(name).cloned());
            let named = ask(&|name| by_pattern.get(*by_name.get(name)?)?.clone());
            let guessed = ask(&|name| {
                let player = players.get(*by_name.get(name)?)?.clone();
                Some(Told {
                    player,
                    ..Told::default()
                })
            });
            s.told = corrected.or(named).or(said.of_all.clone()).or(guessed);
        }
        plan.swings.append(&mut swings);
    }
    note_unnamed(clips, said, &by_pattern, &mut plan.notes);
    make_names_distinct(&mut plan.swings);
    plan
}

/// Clips that the pattern does not fit.
fn note_unnamed(
    clips: &[ClipFacts],
    said: &Said,
    by_pattern: &[Option<Told>],
    notes: &mut Vec<String>,
) {
    let mut unlike = clips.iter().zip(by_pattern).filter(|(_, t)| t.is_none());
    if said.names.is_some()
        && let Some((first, _)) = unlike.next()
    {
        let others = match unlike.count() {
            0 => String::new(),
            1 => " and one more".into(),
            n => format!(" and {n} more"),
        };
        notes.push(format!(
            "{}{others}: the name does not follow the pattern of --names.",
            slashed(&first.relative)
        ));
    }
}

fn note_unknown(
    corrections: &Corrections,
    known: &BTreeMap<String, usize>,
    notes: &mut Vec<String>,
) {
    let all = corrections
        .pairs
        .iter()
        .flatten()
        .chain(&corrections.alone)
        .chain(&corrections.skip)
        .chain(corrections.roles.keys())
        .chain(corrections.told.keys())
        .chain(corrections.cuts.keys());
    let missing: BTreeSet<&String> = all.filter(|n| !known.contains_key(*n)).collect();
    for name in missing {
        notes.push(format!(
            "The corrections file names {name}, which is not in the folder."
        ));
    }
}

/// Names that occur twice get their folder in front, then a number behind.
fn make_names_distinct(swings: &mut [PlannedSwing]) {
    let count = |swings: &[PlannedSwing]| {
        let mut n: BTreeMap<String, usize> = BTreeMap::new();
        for s in swings {
            *n.entry(s.name.to_lowercase()).or_default() += 1;
        }
        n
    };
    let often = count(swings);
    for s in swings.iter_mut() {
        if often.get(&s.name.to_lowercase()).is_some_and(|n| *n > 1)
            && let Some(folder) = s.clips.first().and_then(|c| c.relative.parent())
            && folder != Path::new("")
        {
            let folder = slashed(folder).replace('/', "-");
            s.name = swing_name(&[Path::new(&format!("{folder}-{}.x", s.name))]);
        }
    }
    let mut taken: BTreeSet<String> = BTreeSet::new();
    for s in swings.iter_mut() {
        s.name = numbered(&s.name, |name| taken.insert(name.to_lowercase()));
    }
}

#[cfg(test)]
mod tests {
    use std::path::PathBuf;

    use super::super::facts::Inspected;
    use super::super::planned::{PlannedClip, SwingKind};
    use super::super::scan::FoundSwing;
    use super::*;
    use crate::clip::{ClipInfo, Strike};
    use crate::config::Pipeline;

    fn clip(name: &str, created: Option<f64>, strikes: &[f64], swings: &[f64]) -> ClipFacts {
        ClipFacts {
            relative: PathBuf::from(name),
            sha256: name.into(),
            found: Ok(Inspected {
                info: ClipInfo {
                    file: PathBuf::from(name),
                    fps: 60.0,
                    duration_s: Some(4.0),
                    created_unix_s: created,
                    has_sound: true,
                    ..ClipInfo::default()
                },
                strikes: strikes
                    .iter()
                    .map(|t| Strike {
                        time_s: *t,
                        sigma_s: 0.001,
                        prominence_db: 30.0,
                    })
                    .collect(),
                swings: swings
                    .iter()
                    .map(|t| FoundSwing {
                        impact_s: *t,
                        from_s: t - 3.0,
                        to_s: t + 2.0,
                    })
                    .collect(),
            }),
        }
    }

    fn plan(clips: &[ClipFacts], corrections: &str) -> Plan {
        let config = Pipeline::default().batch;
        let corrections = Corrections::parse(corrections).expect("valid");
        make_plan(clips, &corrections, &Said::default(), &config)
    }

    #[test]
    fn corrections_come_before_names_and_names_before_what_is_said_of_all() {
        let clips = [
            clip("Anna/hips_held_1.mov", None, &[], &[]),
            clip("Anna/hips_held_2.mov", None, &[], &[]),
            clip("ben/x.mov", None, &[], &[]),
        ];
        let said = Said {
            names: NamePattern::parse("{player}/{label}_{number}").ok(),
            of_all: Told {
                lesson: "2026-05-14".parse().ok(),
                label: Some("as usual".into()),
                ..Told::default()
            },
        };
        let corrections =
            Corrections::parse("label: Anna/hips_held_2.mov = hips free").expect("valid");
        let p = make_plan(&clips, &corrections, &said, &Pipeline::default().batch);
        let told: Vec<_> = p
            .swings
            .iter()
            .map(|s| (s.told.player.as_deref(), s.told.label.as_deref()))
            .collect();
        assert_eq!(
            told,
            [
                (Some("Anna"), Some("hips held")),
                (Some("Anna"), Some("hips free")),
                (Some("ben"), Some("as usual"))
            ]
        );
        assert!(p.swings.iter().all(|s| s.told.lesson == said.of_all.lesson));
        assert_eq!(p.notes.len(), 1, "{:?}", p.notes);
        assert!(p.notes[0].starts_with("ben/x.mov: "), "{:?}", p.notes);
    }

    #[test]
    fn two_phones_are_paired_by_their_clocks() {
        let times = [1e9, 1e9 + 70.0, 1e9 + 190.0];
        let mut clips: Vec<ClipFacts> = times
            .iter()
            .enumerate()
            .map(|(i, t)| clip(&format!("IMG_{i}.mov"), Some(*t), &[1.5], &[]))
            .collect();
        clips.extend(
            times
                .iter()
                .enumerate()
                .map(|(i, t)| clip(&format!("PXL_{i}.mp4"), Some(t + 200.0), &[1.1], &[])),
        );
        let p = plan(&clips, "");
        assert_eq!(p.swings.len(), 3, "{p:?}");
        for s in &p.swings {
            assert_eq!(s.clips.len(), 2);
            assert_eq!(s.kind, SwingKind::Ball);
            let number =
                |c: &PlannedClip| slashed(&c.relative).replace(|c: char| !c.is_numeric(), "");
            assert_eq!(number(&s.clips[0])[..1], number(&s.clips[1])[..1]);
        }
    }

    #[test]
    fn one_phone_that_films_both_views_in_turn_gives_single_swings() {
        let clips = [
            clip("IMG_1.mov", Some(1e9), &[1.5], &[]),
            clip("IMG_2.mov", Some(1e9 + 40.0), &[1.5], &[]),
        ];
        let p = plan(&clips, "");
        assert_eq!(p.swings.len(), 2);
        assert!(p.swings.iter().all(|s| s.clips.len() == 1));
    }

    #[test]
    fn practice_swings_are_cut_off_and_told_by_the_missing_strike() {
        let clips = [
            clip("a_face_on.mp4", None, &[21.1], &[6.0, 21.0]),
            clip("a_down_the_line.mp4", None, &[19.0], &[3.9, 18.9]),
        ];
        let p = plan(&clips, "");
        let told: Vec<_> = p.swings.iter().map(|s| (s.name.as_str(), s.kind)).collect();
        assert_eq!(
            told,
            [("a-1", SwingKind::Practice), ("a-2", SwingKind::Ball)]
        );
        assert!(p.swings.iter().all(|s| s.clips.len() == 2));
        let (from_s, to_s) = p.swings[1].clips[1].part.expect("a cut");
        assert!((from_s - 15.9).abs() < 1e-9 && (to_s - 20.9).abs() < 1e-9);
    }

    #[test]
    fn a_lone_pair_with_far_clocks_needs_two_strikes_that_agree() {
        let pair = |second: &[f64]| {
            [
                clip("IMG_1.mov", Some(1e9), &[8.0, 30.0], &[8.0, 30.0]),
                clip("PXL_1.mp4", Some(1e9 + 124.0), second, &[9.0, 31.0]),
            ]
        };
        assert_eq!(plan(&pair(&[9.0, 31.0]), "").swings[0].clips.len(), 2);
        assert_eq!(plan(&pair(&[9.0, 27.0]), "").swings[0].clips.len(), 1);
    }

    #[test]
    fn corrections_win_and_names_stay_distinct() {
        let clips = [
            clip("x/IMG_1.mov", None, &[1.0], &[]),
            clip("y/IMG_1.mov", None, &[1.0], &[]),
            clip("y/b_face_on.mov", None, &[1.0], &[]),
            clip("y/b_down_the_line.mov", None, &[1.0], &[]),
        ];
        let p = plan(
            &clips,
            "alone: y/b_face_on.mov\ncut: x/IMG_1.mov = 1 to 4.5\n",
        );
        let names: BTreeSet<_> = p.swings.iter().map(|s| s.name.clone()).collect();
        assert_eq!(names.len(), 4, "{names:?}");
        assert!(p.swings.iter().any(|s| s.clips[0].part == Some((1.0, 4.5))));
        assert_eq!(p.swings[0].told.player.as_deref(), Some("x"));
    }
}
