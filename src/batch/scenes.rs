//! Which clips show the same scene: by name, by the phones' clocks, by sound.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use super::clock::{self, Match};
use super::facts::ClipFacts;
use super::names;
use super::planned::slashed;
use crate::config::BatchConfig;
use crate::result::{split_role, stem};
use crate::terms::Role;

/// Two clips of one scene, or one.
pub(super) struct Scene {
    pub first: usize,
    pub second: Option<usize>,
    pub why: String,
}

pub(super) fn pair_of(a: usize, b: usize, why: String) -> Scene {
    Scene {
        first: a.min(b),
        second: Some(a.max(b)),
        why,
    }
}

pub(super) fn single(a: usize, why: &str) -> Scene {
    Scene {
        first: a,
        second: None,
        why: why.to_owned(),
    }
}

/// Two clips whose names differ in the role only.
pub(super) fn pair_by_name(
    clips: &[ClipFacts],
    free: &mut BTreeSet<usize>,
    scenes: &mut Vec<Scene>,
) {
    let mut groups: BTreeMap<(PathBuf, String), Vec<(usize, Role)>> = BTreeMap::new();
    for &i in free.iter() {
        let Some(relative) = clips.get(i).map(|c| &c.relative) else {
            continue;
        };
        if let (base, Some(role)) = split_role(&stem(relative))
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
pub(super) fn pair_by_clock(
    clips: &[ClipFacts],
    free: &mut BTreeSet<usize>,
    scenes: &mut Vec<Scene>,
    notes: &mut Vec<String>,
    config: &BatchConfig,
) {
    let created = |i: &usize| clips.get(*i)?.created_unix_s();
    let dated: Vec<usize> = free
        .iter()
        .copied()
        .filter(|i| created(i).is_some())
        .collect();
    let time = |i: &usize| created(i).unwrap_or(0.0);
    let phones: Vec<Vec<usize>> = phones(clips, &dated);
    let mut options: Vec<(&[usize], &[usize], clock::Clocks)> = Vec::new();
    for (k, a) in phones.iter().enumerate() {
        for b in phones.iter().skip(k + 1) {
            let first: Vec<f64> = a.iter().map(time).collect();
            let second: Vec<f64> = b.iter().map(time).collect();
            let found = clock::align(
                &first,
                &second,
                config.clock_search_s,
                config.clock_tolerance_s,
            );
            // One pair alone can't show how the clocks differ, unless its sounds do.
            let heard = |m: &Match| {
                both(a, b, m).is_some_and(|(i, j)| strikes_agree(clips, i, j, 2, config))
            };
            options.extend(
                found
                    .filter(|c| {
                        c.matches.len() > 1
                            || c.ahead_s.abs() <= config.clock_lone_s
                            || c.matches.first().is_some_and(heard)
                    })
                    .map(|c| (a.as_slice(), b.as_slice(), c)),
            );
        }
    }
    options.sort_by_key(|o| std::cmp::Reverse(o.2.matches.len()));
    for (a, b, clocks) in options {
        let mut paired = 0;
        for (i, j) in clocks.matches.iter().filter_map(|m| both(a, b, m)) {
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

/// The two clips of a match of two phones' clips.
fn both(a: &[usize], b: &[usize], m: &Match) -> Option<(usize, usize)> {
    Some((*a.get(m.first)?, *b.get(m.second)?))
}

fn same_known_role(clips: &[ClipFacts], i: usize, j: usize) -> bool {
    let role = |k: usize| names::role_of(&clips.get(k)?.relative);
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
        let found = clips.get(k).and_then(|c| c.found.as_ref().ok());
        found.map_or_else(Vec::new, |f| f.strikes.iter().map(|s| s.time_s).collect())
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
            let Some(c) = clips.get(i) else { continue };
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
                names::letters(&stem(&c.relative)).to_lowercase(),
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
