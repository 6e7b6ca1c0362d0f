//! Where a scene is cut into swings, and whether a ball was struck in each.

use std::path::Path;

use super::clock;
use super::corrections::Corrections;
use super::facts::{ClipFacts, Inspected, time_scale};
use super::names;
use super::planned::{PlannedClip, PlannedSwing, SwingKind, slashed};
use super::scan::FoundSwing;
use super::scenes::Scene;
use crate::config::BatchConfig;
use crate::result::{Told, swing_name};

/// The swings of a scene, each with its windows.
pub(super) fn cut(
    clips: &[ClipFacts],
    scene: &Scene,
    corrections: &Corrections,
    config: &BatchConfig,
) -> Vec<PlannedSwing> {
    let members: Vec<&ClipFacts> = std::iter::once(scene.first)
        .chain(scene.second)
        .filter_map(|i| clips.get(i))
        .collect();
    let found: Vec<(&ClipFacts, &Inspected)> = members
        .iter()
        .filter_map(|c| Some((*c, c.found.as_ref().ok()?)))
        .collect();
    let windows: Vec<Vec<FoundSwing>> = found
        .iter()
        .map(|(c, f)| match corrections.cuts.get(&slashed(&c.relative)) {
            Some(cuts) => cuts
                .iter()
                .map(|(from_s, to_s)| FoundSwing {
                    impact_s: 0.5 * (from_s + to_s),
                    from_s: *from_s,
                    to_s: *to_s,
                })
                .collect(),
            None => f.swings.clone(),
        })
        .collect();
    // One entry a swing: for each member the window, or `None` for the whole clip.
    type Parts<'a> = Vec<(&'a ClipFacts, Option<FoundSwing>)>;
    let mut swings: Vec<Parts<'_>> = Vec::new();
    match (found.as_slice(), windows.as_slice()) {
        ([a, b], [wa, wb]) if !wa.is_empty() && !wb.is_empty() => {
            for (x, y) in match_windows(a.1, wa, b.1, wb, config) {
                let of_a = x.map(|w| (a.0, Some(w)));
                let of_b = y.map(|w| (b.0, Some(w)));
                swings.push(of_a.into_iter().chain(of_b).collect());
            }
        }
        ([a, b], [wa, wb]) if wa.len() <= 1 && wb.len() <= 1 => {
            swings.push(vec![(a.0, wa.first().copied()), (b.0, wb.first().copied())]);
        }
        _ => {
            // A clip of several swings beside one of a single one: which is which is not known.
            for ((c, _), w) in found.iter().zip(&windows) {
                if w.is_empty() {
                    swings.push(vec![(*c, None)]);
                }
                swings.extend(w.iter().map(|w| vec![(*c, Some(*w))]));
            }
        }
    }
    let paths: Vec<&Path> = members.iter().map(|c| c.relative.as_path()).collect();
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
                told: Told::default(),
                created_unix_s: parts
                    .iter()
                    .find_map(|(c, w)| Some(c.created_unix_s()? + w.map_or(0.0, |w| w.from_s))),
                kind: kind(parts, config),
                clips: parts
                    .iter()
                    .map(|(c, w)| {
                        let relative = c.relative.clone();
                        PlannedClip {
                            role: corrections
                                .roles
                                .get(&slashed(&relative))
                                .copied()
                                .or_else(|| names::role_of(&relative)),
                            sha256: c.sha256.clone(),
                            part: w.map(|w| (w.from_s, w.to_s)),
                            relative,
                        }
                    })
                    .collect(),
                why: scene.why.clone(),
                length_s: parts
                    .iter()
                    .map(|(c, w)| match (w, &c.found) {
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
    let times = |w: &[FoundSwing]| w.iter().map(|w| w.impact_s).collect::<Vec<_>>();
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
            let off = |v: &FoundSwing| (v.impact_s - w.impact_s - ahead).abs();
            let near = wb
                .iter()
                .zip(&mut used)
                .filter(|(_, used)| !**used)
                .min_by(|x, y| off(x.0).total_cmp(&off(y.0)))
                .filter(|(v, _)| off(v) <= config.hands_agree_s);
            let other = near.map(|(v, used)| {
                *used = true;
                *v
            });
            (Some(*w), other)
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

fn kind(parts: &[(&ClipFacts, Option<FoundSwing>)], config: &BatchConfig) -> SwingKind {
    let mut sound = false;
    for (c, window) in parts {
        let Ok(f) = &c.found else { continue };
        sound |= f.info.has_sound;
        let struck = f.strikes.iter().any(|s| match window {
            Some(w) => {
                let reach = config.strike_reach_s * time_scale(&f.info);
                (s.time_s - w.impact_s).abs() <= reach
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
