//! From clips to swings: which clips belong together, where they are cut, what each is called.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use serde::Serialize;

use super::clock;
use super::corrections::Corrections;
use super::facts::{ClipFacts, FoundSwing, Inspected};
use super::{names, player};
use crate::cli::swing_name;
use crate::config::BatchConfig;
use crate::result::Role;

/// Whether a ball was struck, by the sound.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum SwingKind {
    /// A strike was heard.
    Ball,
    /// There is sound, and no strike in it.
    Practice,
    /// There is no sound to tell by.
    NoSound,
}

impl SwingKind {
    pub fn words(self) -> &'static str {
        match self {
            Self::Ball => "ball",
            Self::Practice => "practice (no strike heard)",
            Self::NoSound => "no sound",
        }
    }
}

/// One view of a planned swing.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PlannedClip {
    pub relative: PathBuf,
    pub sha256: String,
    /// `None`: found from the pictures.
    pub role: Option<Role>,
    /// From and to, seconds of playback; `None` for the whole clip.
    pub part: Option<(f64, f64)>,
}

#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PlannedSwing {
    pub name: String,
    pub player: Option<String>,
    /// When filming began, seconds since 1970, where a clip tells.
    pub created_unix_s: Option<f64>,
    pub kind: SwingKind,
    pub clips: Vec<PlannedClip>,
    /// Why these clips belong together, for the coach.
    pub why: String,
    /// Seconds of clip that are to be read.
    pub length_s: f64,
}

#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Plan {
    pub swings: Vec<PlannedSwing>,
    /// Clips that can't be read, and why.
    pub unreadable: Vec<(PathBuf, String)>,
    pub skipped: Vec<PathBuf>,
    pub notes: Vec<String>,
}

/// Two clips of one scene, or one.
struct Scene {
    first: usize,
    second: Option<usize>,
    why: String,
}

/// Makes the plan. Files that corrections name and that are not there are noted.
pub fn make_plan(clips: &[ClipFacts], corrections: &Corrections, config: &BatchConfig) -> Plan {
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
        match &clip.found {
            _ if skip.contains(&i) => plan.skipped.push(clip.relative.clone()),
            Ok(_) => {
                free.insert(i);
            }
            Err(why) => plan.unreadable.push((clip.relative.clone(), why.clone())),
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
    for scene in &scenes {
        let mut swings = cut(clips, scene, corrections, config);
        for s in &mut swings {
            s.player = s
                .clips
                .iter()
                .filter_map(|c| by_name.get(&slashed(&c.relative)))
                .find_map(|i| {
                    corrections
                        .players
                        .get(&slashed(&clips[*i].relative))
                        .cloned()
                        .or_else(|| players[*i].clone())
                });
        }
        plan.swings.append(&mut swings);
    }
    make_names_distinct(&mut plan.swings);
    plan
}

pub(super) fn slashed(path: &Path) -> String {
    path.to_string_lossy().replace('\\', "/")
}

fn pair_of(a: usize, b: usize, why: String) -> Scene {
    Scene {
        first: a.min(b),
        second: Some(a.max(b)),
        why,
    }
}

fn single(a: usize, why: &str) -> Scene {
    Scene {
        first: a,
        second: None,
        why: why.to_owned(),
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
        .chain(corrections.players.keys())
        .chain(corrections.cuts.keys());
    let missing: BTreeSet<&String> = all.filter(|n| !known.contains_key(*n)).collect();
    for name in missing {
        notes.push(format!(
            "The corrections file names {name}, which is not in the folder."
        ));
    }
}

/// Two clips whose names differ in the role only.
fn pair_by_name(clips: &[ClipFacts], free: &mut BTreeSet<usize>, scenes: &mut Vec<Scene>) {
    let mut groups: BTreeMap<(PathBuf, String), Vec<(usize, Role)>> = BTreeMap::new();
    for &i in free.iter() {
        let relative = &clips[i].relative;
        if let (base, Some(role)) = names::split_role(&names::stem(relative))
            && !base.is_empty()
        {
            let folder = relative.parent().map(Path::to_path_buf).unwrap_or_default();
            groups.entry((folder, base)).or_default().push((i, role));
        }
    }
    for group in groups.values() {
        if let [(a, role_a), (b, role_b)] = group.as_slice()
            && role_a != role_b
        {
            free.remove(a);
            free.remove(b);
            scenes.push(pair_of(*a, *b, "paired by their names".into()));
        }
    }
}

/// Clips of two phones that were filmed together by the phones' clocks.
fn pair_by_clock(
    clips: &[ClipFacts],
    free: &mut BTreeSet<usize>,
    scenes: &mut Vec<Scene>,
    notes: &mut Vec<String>,
    config: &BatchConfig,
) {
    let dated: Vec<usize> = free
        .iter()
        .copied()
        .filter(|i| clips[*i].created_unix_s().is_some())
        .collect();
    let time = |i: &usize| clips[*i].created_unix_s().unwrap_or(0.0);
    let phones: Vec<Vec<usize>> = phones(clips, &dated);
    let mut options: Vec<(usize, usize, clock::Clocks)> = Vec::new();
    for a in 0..phones.len() {
        for b in a + 1..phones.len() {
            let first: Vec<f64> = phones[a].iter().map(time).collect();
            let second: Vec<f64> = phones[b].iter().map(time).collect();
            let found = clock::align(
                &first,
                &second,
                config.clock_search_s,
                config.clock_tolerance_s,
            );
            // One pair alone can't show how the clocks differ, unless its sounds do.
            options.extend(found.map(|c| (a, b, c)).filter(|(a, b, c)| {
                c.matches.len() > 1
                    || c.ahead_s.abs() <= config.clock_lone_s
                    || c.matches.first().is_some_and(|m| {
                        strikes_agree(clips, phones[*a][m.first], phones[*b][m.second], 2, config)
                    })
            }));
        }
    }
    options.sort_by_key(|o| std::cmp::Reverse(o.2.matches.len()));
    for (a, b, clocks) in options {
        let mut paired = 0;
        for m in &clocks.matches {
            let (i, j) = (phones[a][m.first], phones[b][m.second]);
            if !(free.contains(&i) && free.contains(&j)) || same_known_role(clips, i, j) {
                continue;
            }
            free.remove(&i);
            free.remove(&j);
            paired += 1;
            let heard = if strikes_agree(clips, i, j, 1, config) {
                " and the strike's sound"
            } else {
                ""
            };
            let why = format!(
                "paired by creation time{heard} (clocks differ by {:.0} s)",
                clocks.ahead_s
            );
            scenes.push(pair_of(i, j, why));
        }
        if paired > 0 && clocks.doubtful {
            notes.push(format!(
                "The difference of the two phones' clocks ({:.0} s) is doubtful: another one fits nearly as well. Check the pairs below.",
                clocks.ahead_s
            ));
        }
    }
}

fn same_known_role(clips: &[ClipFacts], i: usize, j: usize) -> bool {
    let role = |k: usize| names::role_of(&clips[k].relative);
    role(i).is_some() && role(i) == role(j)
}

/// At least `fewest` strikes of two clips fall together: two or more with the same time between
/// them wherever both clips have several.
fn strikes_agree(
    clips: &[ClipFacts],
    i: usize,
    j: usize,
    fewest: usize,
    config: &BatchConfig,
) -> bool {
    let heard = |k: usize| -> Vec<f64> {
        clips[k].found.as_ref().map_or_else(
            |_| Vec::new(),
            |f| f.strikes.iter().map(|s| s.time_s).collect(),
        )
    };
    let (a, b) = (heard(i), heard(j));
    let several = if a.len() > 1 && b.len() > 1 { 2 } else { 1 };
    clock::shift(&a, &b, config.strike_agree_s).is_some_and(|(_, n)| n >= fewest.max(several))
}

/// Clips by the phone that filmed them, as far as names and formats tell.
fn phones(clips: &[ClipFacts], among: &[usize]) -> Vec<Vec<usize>> {
    let group = |with_folder: bool| {
        let mut groups: BTreeMap<String, Vec<usize>> = BTreeMap::new();
        for &i in among {
            let c = &clips[i];
            let Ok(f) = &c.found else { continue };
            let folder = c
                .relative
                .parent()
                .filter(|_| with_folder)
                .map(slashed)
                .unwrap_or_default();
            let side = |a: u32, b: u32| format!("{}x{}", a.min(b), a.max(b));
            let key = format!(
                "{folder}|{}|{:?}|{}|{}",
                names::prefix(&c.relative),
                names::role_of(&c.relative),
                f.info.codec,
                side(f.info.width, f.info.height),
            );
            groups.entry(key).or_default().push(i);
        }
        groups.into_values().collect::<Vec<_>>()
    };
    let plain = group(false);
    if plain.len() > 1 {
        return plain;
    }
    // Two phones of one kind, each copied into a folder of its own.
    let by_folder = group(true);
    if by_folder.len() == 2 {
        by_folder
    } else {
        plain
    }
}

/// The swings of a scene, each with its windows.
fn cut(
    clips: &[ClipFacts],
    scene: &Scene,
    corrections: &Corrections,
    config: &BatchConfig,
) -> Vec<PlannedSwing> {
    let members: Vec<usize> = std::iter::once(scene.first).chain(scene.second).collect();
    let found: Vec<(usize, &Inspected)> = members
        .iter()
        .filter_map(|i| Some((*i, clips[*i].found.as_ref().ok()?)))
        .collect();
    let windows: Vec<Vec<FoundSwing>> = found
        .iter()
        .map(
            |(i, f)| match corrections.cuts.get(&slashed(&clips[*i].relative)) {
                Some(cuts) => cuts
                    .iter()
                    .map(|(from_s, to_s)| FoundSwing {
                        fastest_s: 0.5 * (from_s + to_s),
                        from_s: *from_s,
                        to_s: *to_s,
                    })
                    .collect(),
                None => f.swings.clone(),
            },
        )
        .collect();
    // One entry a swing: for each member the window, or `None` for the whole clip.
    type Parts = Vec<(usize, Option<FoundSwing>)>;
    let mut swings: Vec<Parts> = Vec::new();
    match (found.as_slice(), windows.as_slice()) {
        ([a, b], [wa, wb]) if !wa.is_empty() && !wb.is_empty() => {
            for (x, y) in match_windows(a.1, wa, b.1, wb, config) {
                let one = |i: usize, w: Option<FoundSwing>| w.map(|w| (i, Some(w)));
                swings.push(one(a.0, x).into_iter().chain(one(b.0, y)).collect());
            }
        }
        ([a, b], [wa, wb]) if wa.len() <= 1 && wb.len() <= 1 => {
            swings.push(vec![(a.0, wa.first().copied()), (b.0, wb.first().copied())]);
        }
        _ => {
            // A clip of several swings beside one of a single one: which is which is not known.
            for ((i, _), w) in found.iter().zip(&windows) {
                if w.is_empty() {
                    swings.push(vec![(*i, None)]);
                }
                swings.extend(w.iter().map(|w| vec![(*i, Some(*w))]));
            }
        }
    }
    let paths: Vec<&Path> = members
        .iter()
        .map(|i| clips[*i].relative.as_path())
        .collect();
    let several = swings.len() > 1;
    swings
        .iter()
        .enumerate()
        .map(|(k, parts)| {
            let base = swing_name(&paths);
            PlannedSwing {
                name: if several {
                    format!("{base}-{}", k + 1)
                } else {
                    base
                },
                player: None,
                created_unix_s: parts.iter().find_map(|(i, w)| {
                    Some(clips[*i].created_unix_s()? + w.map_or(0.0, |w| w.from_s))
                }),
                kind: kind(clips, parts, config),
                clips: parts
                    .iter()
                    .map(|(i, w)| {
                        let relative = clips[*i].relative.clone();
                        PlannedClip {
                            role: corrections
                                .roles
                                .get(&slashed(&relative))
                                .copied()
                                .or_else(|| names::role_of(&relative)),
                            sha256: clips[*i].sha256.clone(),
                            part: w.map(|w| (w.from_s, w.to_s)),
                            relative,
                        }
                    })
                    .collect(),
                why: scene.why.clone(),
                length_s: parts
                    .iter()
                    .map(|(i, w)| match (w, &clips[*i].found) {
                        (Some(w), _) => w.to_s,
                        (None, Ok(f)) => f.info.duration_s.unwrap_or(60.0),
                        (None, Err(_)) => 0.0,
                    })
                    .sum(),
            }
        })
        .collect()
}

/// Windows of two clips of one scene that show the same swing.
fn match_windows(
    a: &Inspected,
    wa: &[FoundSwing],
    b: &Inspected,
    wb: &[FoundSwing],
    config: &BatchConfig,
) -> Vec<(Option<FoundSwing>, Option<FoundSwing>)> {
    let times = |w: &[FoundSwing]| w.iter().map(|w| w.fastest_s).collect::<Vec<_>>();
    let heard = |f: &Inspected| f.strikes.iter().map(|s| s.time_s).collect::<Vec<_>>();
    let (ta, tb) = (times(wa), times(wb));
    // The strike is the sharper clock; the hands tell where nothing was struck.
    let by_sound = clock::shift(&heard(a), &heard(b), config.strike_agree_s).filter(|s| s.1 >= 2);
    let by_hands = clock::shift(&ta, &tb, config.hands_agree_s);
    let ahead = by_sound.or(by_hands).map_or(0.0, |s| s.0);
    let mut used = vec![false; wb.len()];
    let mut out: Vec<(Option<FoundSwing>, Option<FoundSwing>)> = wa
        .iter()
        .map(|w| {
            let near = (0..wb.len())
                .filter(|k| !used[*k])
                .min_by(|x, y| {
                    let off = |k: usize| (wb[k].fastest_s - w.fastest_s - ahead).abs();
                    off(*x).total_cmp(&off(*y))
                })
                .filter(|k| (wb[*k].fastest_s - w.fastest_s - ahead).abs() <= config.hands_agree_s);
            if let Some(k) = near {
                used[k] = true;
            }
            (Some(*w), near.map(|k| wb[k]))
        })
        .collect();
    out.extend(
        wb.iter()
            .zip(&used)
            .filter(|(_, used)| !**used)
            .map(|(w, _)| (None, Some(*w))),
    );
    out
}

fn kind(
    clips: &[ClipFacts],
    parts: &[(usize, Option<FoundSwing>)],
    config: &BatchConfig,
) -> SwingKind {
    let mut sound = false;
    for (i, window) in parts {
        let Ok(f) = &clips[*i].found else { continue };
        sound |= f.info.has_sound;
        let struck = f.strikes.iter().any(|s| match window {
            Some(w) => {
                let reach = config.strike_reach_s * super::facts::time_scale(&f.info);
                (s.time_s - w.fastest_s).abs() <= reach
            }
            None => true,
        });
        if struck {
            return SwingKind::Ball;
        }
    }
    if sound {
        SwingKind::Practice
    } else {
        SwingKind::NoSound
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
        if often[&s.name.to_lowercase()] > 1
            && let Some(folder) = s.clips.first().and_then(|c| c.relative.parent())
            && folder != Path::new("")
        {
            let folder = slashed(folder).replace('/', "-");
            s.name = swing_name(&[Path::new(&format!("{folder}-{}.x", s.name))]);
        }
    }
    let mut taken: BTreeSet<String> = BTreeSet::new();
    for s in swings.iter_mut() {
        let base = s.name.clone();
        let mut n = 2;
        while !taken.insert(s.name.to_lowercase()) {
            s.name = format!("{base}-{n}");
            n += 1;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::clip::{ClipInfo, Strike};
    use crate::config::{BuiltIn, Pipeline};

    fn clip(name: &str, created: Option<f64>, strikes: &[f64], swings: &[f64]) -> ClipFacts {
        ClipFacts {
            relative: PathBuf::from(name),
            sha256: name.into(),
            found: Ok(Inspected {
                info: ClipInfo {
                    file: PathBuf::from(name),
                    width: 1080,
                    height: 1920,
                    rotation_deg: 0,
                    mirrored: false,
                    fps: 60.0,
                    capture_fps: None,
                    duration_s: Some(4.0),
                    created_unix_s: created,
                    focal_35mm: None,
                    codec: "h264".into(),
                    bits: 8,
                    has_sound: true,
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
                        fastest_s: *t,
                        from_s: t - 3.0,
                        to_s: t + 2.0,
                    })
                    .collect(),
            }),
        }
    }

    fn plan(clips: &[ClipFacts], corrections: &str) -> Plan {
        let config = Pipeline::load(BuiltIn::TwoView, None)
            .expect("built in")
            .batch;
        let corrections = Corrections::parse(corrections).expect("valid");
        make_plan(clips, &corrections, &config)
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
        assert_eq!(p.swings[1].clips[1].part, Some((15.9, 20.9)));
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
        assert_eq!(p.swings[0].player.as_deref(), Some("x"));
    }
}
