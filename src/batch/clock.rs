//! Which clips of two phones belong together, by their clocks. Phones' clocks differ by seconds to
//! minutes, so the difference is found from all clips of both together.

use crate::math::stats::median;
use std::collections::BTreeSet;

/// Two clips of two phones that were filmed together, by their places in the lists given.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Match {
    pub first: usize,
    pub second: usize,
    /// Seconds from the first to the second, each by its own clock.
    pub apart_s: f64,
}

/// How two phones' clocks stand to each other.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Clocks {
    /// Seconds that the second phone's clock is ahead.
    pub ahead_s: f64,
    pub matches: Vec<Match>,
    /// Another difference would fit nearly as well.
    pub doubtful: bool,
}

/// Finds the difference of two phones' clocks and the clips that belong together.
///
/// `first`, `second`: creation times, seconds. `search_s`: largest difference of the clocks.
/// `tolerance_s`: how far two clips of one swing may then still be apart. `None` where nothing fits.
pub(super) fn align(
    first: &[f64],
    second: &[f64],
    search_s: f64,
    tolerance_s: f64,
) -> Option<Clocks> {
    // Each pair of clips proposes a difference; sorted, so that close proposals are tried once.
    let mut proposals: Vec<f64> = first
        .iter()
        .flat_map(|a| second.iter().map(move |b| b - a))
        .filter(|d| d.abs() <= search_s)
        .collect();
    proposals.sort_by(f64::total_cmp);
    proposals.dedup_by(|a, b| (*a - *b).abs() < 0.05 * tolerance_s);
    // More matches first; among equals the tighter fit, then clocks that agree.
    let score = |d: f64| {
        let m = matches(first, second, d, tolerance_s);
        let spread: f64 = m
            .iter()
            .map(|m| ((m.apart_s - d) / tolerance_s).powi(2))
            .sum();
        m.len() as f64 - 0.25 * spread - 0.2 * d.abs() / search_s
    };
    let scored: Vec<(f64, f64)> = proposals.iter().map(|d| (*d, score(*d))).collect();
    let best = scored.iter().max_by(|a, b| a.1.total_cmp(&b.1))?;
    let rival = scored
        .iter()
        .filter(|p| (p.0 - best.0).abs() > 2.0 * tolerance_s)
        .map(|p| p.1)
        .fold(f64::NEG_INFINITY, f64::max);
    let found = matches(first, second, best.0, tolerance_s);
    if found.is_empty() {
        return None;
    }
    let differences: Vec<f64> = found.iter().map(|m| m.apart_s).collect();
    let ahead_s = median(&differences)?;
    Some(Clocks {
        ahead_s,
        matches: matches(first, second, ahead_s, tolerance_s),
        doubtful: rival > best.1 - 0.25 * found.len() as f64,
    })
}

/// Nearest clips first, each used once.
fn matches(first: &[f64], second: &[f64], ahead_s: f64, tolerance_s: f64) -> Vec<Match> {
    let mut near: Vec<(f64, Match)> = Vec::new();
    let mut order: Vec<(usize, f64)> = second.iter().copied().enumerate().collect();
    order.sort_by(|a, b| a.1.total_cmp(&b.1));
    for (i, a) in first.iter().enumerate() {
        let from = order.partition_point(|(_, b)| *b < a + ahead_s - tolerance_s);
        for (k, b) in order.iter().skip(from) {
            let off = b - a - ahead_s;
            if off > tolerance_s {
                break;
            }
            let found = Match {
                first: i,
                second: *k,
                apart_s: b - a,
            };
            near.push((off.abs(), found));
        }
    }
    near.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.first.cmp(&b.1.first)));
    let (mut used_a, mut used_b) = (BTreeSet::new(), BTreeSet::new());
    let mut out = Vec::new();
    for (_, found) in near {
        if !used_a.contains(&found.first) && used_b.insert(found.second) {
            used_a.insert(found.first);
            out.push(found);
        }
    }
    out.sort_by_key(|m| m.first);
    out
}

/// Seconds to add to times of `first` to get those of `second`, by moments seen in both (strikes,
/// fastest hands): the shift at which most agree within `tolerance_s`, and how many do.
pub(super) fn shift(first: &[f64], second: &[f64], tolerance_s: f64) -> Option<(f64, usize)> {
    first
        .iter()
        .flat_map(|a| second.iter().map(move |b| b - a))
        .map(|d| (d, matches(first, second, d, tolerance_s).len()))
        .max_by(|a, b| a.1.cmp(&b.1).then(b.0.abs().total_cmp(&a.0.abs())))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_clock_two_minutes_ahead_is_found() {
        let first = [0.0, 61.0, 150.0, 205.0, 322.0];
        let noise = [0.4, -1.1, 0.9, 0.0, 2.0];
        let second: Vec<f64> = first
            .iter()
            .zip(noise)
            .map(|(t, n)| t + 127.0 + n)
            .collect();
        let c = align(&first, &second, 900.0, 8.0).expect("aligned");
        assert!((c.ahead_s - 127.0).abs() < 2.0);
        assert_eq!(c.matches.len(), 5);
        assert!(c.matches.iter().all(|m| m.first == m.second));
    }

    #[test]
    fn a_clip_that_one_phone_missed_stays_alone() {
        let first = [0.0, 60.0, 131.0, 220.0];
        let second = [-30.0, 101.0, 190.0];
        let c = align(&first, &second, 900.0, 8.0).expect("aligned");
        assert_eq!(c.matches.len(), 3);
        assert!(c.matches.iter().all(|m| m.first != 1));
    }

    #[test]
    fn clips_hours_apart_are_none() {
        assert!(align(&[0.0], &[7200.0], 900.0, 8.0).is_none());
        assert!(align(&[0.0], &[20.0], 900.0, 8.0).is_some());
        assert!(align(&[], &[1.0], 900.0, 8.0).is_none());
    }

    #[test]
    fn evenly_spaced_clips_leave_a_doubt() {
        let first: Vec<f64> = (0..6).map(|i| f64::from(i) * 60.0).collect();
        let second: Vec<f64> = (0..6).map(|i| f64::from(i) * 60.0 + 30.0).collect();
        assert!(
            align(&first, &second, 900.0, 8.0)
                .expect("aligned")
                .doubtful
        );
    }

    proptest! {
        #[test]
        fn any_offset_and_jitter_is_recovered(
            gaps in proptest::collection::vec(31.0f64..200.0, 6..20),
            ahead in -600.0f64..600.0,
            seed in 0u64..1000,
        ) {
            let mut t = 0.0;
            let first: Vec<f64> = gaps.iter().map(|g| { t += g; t }).collect();
            let jitter = |i: usize| ((i as f64 * 12.9898 + seed as f64).sin() * 43758.5453).fract();
            let second: Vec<f64> = first.iter().enumerate().map(|(i, t)| t + ahead + jitter(i)).collect();
            let c = align(&first, &second, 900.0, 8.0).expect("aligned");
            prop_assert!((c.ahead_s - ahead).abs() < 2.0, "{} {}", c.ahead_s, ahead);
            prop_assert_eq!(c.matches.len(), first.len());
        }
    }
}
