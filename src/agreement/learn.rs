//! Learning a studio calibration from a comparison.
//!
//! For each set-up of phones and measure: the bias is the mean over players, taken only where its
//! 95 % interval (Student's t over players) excludes zero; the interval scale is the 95th
//! percentile of |error| ÷ half-width, where each player's errors are taken with the bias of the
//! others (cross-conformal), so that how much players differ widens the interval. Coverage before
//! and after is measured with each player left out of both steps in turn.

use std::collections::{BTreeMap, BTreeSet};

use super::calibration::{Calibration, Evidence, MeasureRule, SCHEMA, ViewRule};
use super::compare::Comparison;
use super::error::AgreementError;
use super::pairing::{Pair, SwingComparison};
use super::stats::{mean, simple};
use crate::terms::{Event, Measure, ViewMode};

/// Fewer than these teach nothing that would hold for the next student.
pub const MIN_PLAYERS: usize = 3;
pub const MIN_SWINGS: usize = 6;
/// A calibration that leaves fewer readings inside, players left out, is not kept.
const MIN_COVERAGE: f64 = 0.90;
/// Biases smaller than this are not worth moving a value for, degrees.
const MIN_BIAS_DEG: f64 = 0.5;
/// With fewer players than this, intervals are only ever widened.
const PLAYERS_TO_NARROW: usize = 10;

/// A calibration and what was left out of it.
#[derive(Clone, Debug)]
pub struct Learned {
    /// The rules that were learnt.
    pub calibration: Calibration,
    /// Measures and set-ups that were not learnt, and why.
    pub left_out: Vec<String>,
}

/// Learns from swings whose players are named.
///
/// # Errors
/// [`AgreementError::TooLittle`] where too few players or swings were compared, or nothing could be learnt.
pub fn learn(
    c: &Comparison,
    name: &str,
    sensor_files: &[String],
) -> Result<Learned, AgreementError> {
    if c.swings.iter().any(|s| s.already_calibrated) {
        return Err(AgreementError::TooLittle(
            "some of these swings were measured with a calibration already applied. Measure them again without --calibration.".into(),
        ));
    }
    let mut left_out = Vec::new();
    let mut views = Vec::new();
    let set_ups: BTreeSet<ViewMode> = c.swings.iter().map(|s| s.set_up).collect();
    for set_up in set_ups {
        let swings: Vec<&SwingComparison> =
            c.swings.iter().filter(|s| s.set_up == set_up).collect();
        match learn_view(set_up, &swings, &mut left_out) {
            Ok(view) => views.push(view),
            Err(why) => left_out.push(format!("{}: {why}", set_up.words())),
        }
    }
    if views.is_empty() {
        let why = if left_out.is_empty() {
            "no swing was compared".to_owned()
        } else {
            left_out.join("; ")
        };
        return Err(AgreementError::TooLittle(format!("{why}.")));
    }
    Ok(Learned {
        calibration: Calibration {
            schema: SCHEMA.into(),
            tool_version: env!("CARGO_PKG_VERSION").into(),
            name: name.into(),
            sensor_files: sensor_files.to_vec(),
            views,
        },
        left_out,
    })
}

/// One swing's readings of one measure, weighted so that each swing counts once, half of it at
/// the events and half over the curve.
#[derive(Clone)]
struct Readings {
    player: usize,
    /// Mean difference over the curve, degrees.
    mean: f64,
    weighted: Vec<(Pair, f64)>,
}

fn learn_view(
    set_up: ViewMode,
    swings: &[&SwingComparison],
    left_out: &mut Vec<String>,
) -> Result<ViewRule, String> {
    let players: BTreeSet<&str> = swings.iter().filter_map(|s| s.player.as_deref()).collect();
    if swings.iter().any(|s| s.player.is_none()) {
        return Err("not every swing's player is named. Type players in when measuring, or list them under [players] of the mapping".into());
    }
    if players.len() < MIN_PLAYERS || swings.len() < MIN_SWINGS {
        return Err(format!(
            "{} swings of {} players are too little; {MIN_SWINGS} swings of {MIN_PLAYERS} players are the least that can be learnt from",
            swings.len(),
            players.len()
        ));
    }
    let index: BTreeMap<&str, usize> = players.iter().enumerate().map(|(i, p)| (*p, i)).collect();
    let table: BTreeMap<Measure, Vec<Readings>> = Measure::ALL
        .into_iter()
        .map(|m| (m, readings(swings, m, &index)))
        .filter(|(_, r)| player_count(r) >= MIN_PLAYERS && r.len() >= MIN_SWINGS)
        .collect();
    let everyone: Vec<usize> = (0..players.len()).collect();
    let biases = fit_biases(&table, &everyone);
    let mut measures = BTreeMap::new();
    let (mut before_all, mut after_all) = (Vec::new(), Vec::new());
    for (m, all) in &table {
        let (mut before, mut after) = (Vec::new(), Vec::new());
        for out in &everyone {
            let rest: Vec<usize> = everyone.iter().copied().filter(|p| p != out).collect();
            let held_biases = fit_biases(&table, &rest);
            let rule = fit_rule(&table, *m, &held_biases, &rest);
            for r in all.iter().filter(|r| r.player == *out) {
                before.push(inside_share(r, 0.0, 1.0));
                after.push(inside_share(r, rule.0, rule.1));
            }
        }
        let (Some(before), Some(after)) = (mean(&before), mean(&after)) else {
            continue;
        };
        if after < MIN_COVERAGE {
            left_out.push(format!(
                "{}, {}: with each player left out in turn only {:.0} % of readings would be inside; players differ too much to learn from these",
                set_up.words(),
                m.key().replace('_', " "),
                100.0 * after
            ));
            continue;
        }
        let (bias_deg, interval_scale) = fit_rule(&table, *m, &biases, &everyone);
        let seen = player_means(all, &everyone);
        let seen = simple(&seen, 1.96).and_then(|l| l.bias_interval);
        before_all.push(before);
        after_all.push(after);
        measures.insert(
            *m,
            MeasureRule {
                bias_deg: rounded(bias_deg),
                interval_scale: rounded(interval_scale),
                bias_low: rounded(seen.map_or(bias_deg, |i| i.low)),
                bias_high: rounded(seen.map_or(bias_deg, |i| i.high)),
                coverage_before: rounded(before),
                coverage_after: rounded(after),
            },
        );
    }
    let (Some(before), Some(after)) = (mean(&before_all), mean(&after_all)) else {
        return Err("no measure could be learnt".into());
    };
    Ok(ViewRule {
        set_up,
        evidence: Evidence {
            players: players.len(),
            swings: swings.len(),
            coverage_before: rounded(before),
            coverage_after: rounded(after),
        },
        measures,
    })
}

fn rounded(v: f64) -> f64 {
    (v * 1000.0).round() / 1000.0
}

fn readings(
    swings: &[&SwingComparison],
    m: Measure,
    index: &BTreeMap<&str, usize>,
) -> Vec<Readings> {
    let mut all = Vec::new();
    for s in swings {
        let Some(player) = s.player.as_deref().and_then(|p| index.get(p)) else {
            continue;
        };
        let with = |p: &&Pair| p.inside().is_some();
        let curve: Vec<Pair> = s
            .curve
            .get(&m)
            .into_iter()
            .flatten()
            .filter(with)
            .copied()
            .collect();
        let events: Vec<Pair> = Event::ALL
            .iter()
            .filter(|e| !zero_by_definition(m, **e))
            .filter_map(|e| s.at.get(e)?.get(&m))
            .filter(with)
            .copied()
            .collect();
        let share = if curve.is_empty() || events.is_empty() {
            1.0
        } else {
            0.5
        };
        let weighted: Vec<(Pair, f64)> = [&curve, &events]
            .into_iter()
            .flat_map(|part| part.iter().map(move |p| (*p, share / part.len() as f64)))
            .collect();
        let differences: Vec<f64> = weighted.iter().map(|(p, _)| p.difference()).collect();
        if let Some(mean) = mean(&differences) {
            all.push(Readings {
                player: *player,
                mean,
                weighted,
            });
        }
    }
    all
}

/// "From address" is zero at address whatever the system.
fn zero_by_definition(m: Measure, e: Event) -> bool {
    e == Event::Address && m.spec().from_address
}

fn player_count(r: &[Readings]) -> usize {
    r.iter().map(|r| r.player).collect::<BTreeSet<_>>().len()
}

fn player_means(all: &[Readings], players: &[usize]) -> Vec<f64> {
    players
        .iter()
        .filter_map(|p| {
            let own: Vec<f64> = all
                .iter()
                .filter(|r| r.player == *p)
                .map(|r| r.mean)
                .collect();
            mean(&own)
        })
        .collect()
}

/// Bias of each measure where significant. Separation follows from its two turns, so that the
/// three stay consistent.
fn fit_biases(
    table: &BTreeMap<Measure, Vec<Readings>>,
    players: &[usize],
) -> BTreeMap<Measure, f64> {
    let mut biases: BTreeMap<Measure, f64> = table
        .iter()
        .map(|(m, all)| {
            let bias = simple(&player_means(all, players), 1.96)
                // A constant can't be taken off what is zero at address by definition.
                .filter(|_| !m.spec().from_address)
                .and_then(|l| Some((l.bias, l.bias_interval?)))
                .filter(|(b, i)| (i.low > 0.0 || i.high < 0.0) && b.abs() >= MIN_BIAS_DEG)
                .map_or(0.0, |(b, _)| b);
            (*m, bias)
        })
        .collect();
    let turn = |m| biases.get(&m).copied();
    if let (Some(thorax), Some(pelvis)) = (turn(Measure::ThoraxTurn), turn(Measure::PelvisTurn))
        && let Some(separation) = biases.get_mut(&Measure::Separation)
    {
        *separation = thorax - pelvis;
    }
    biases
}

/// Bias and interval scale of one measure.
fn fit_rule(
    table: &BTreeMap<Measure, Vec<Readings>>,
    m: Measure,
    biases: &BTreeMap<Measure, f64>,
    players: &[usize],
) -> (f64, f64) {
    let bias = biases.get(&m).copied().unwrap_or(0.0);
    let Some(all) = table.get(&m) else {
        return (bias, 1.0);
    };
    let mut scores: Vec<(f64, f64)> = Vec::new();
    for out in players {
        // The bias that the others would have taught; none where none is taken at all.
        let rest: Vec<usize> = players.iter().copied().filter(|p| p != out).collect();
        let part = |m: Measure, bias: f64| match table.get(&m).filter(|_| bias != 0.0) {
            Some(all) => mean(&player_means(all, &rest)).unwrap_or(0.0),
            None => 0.0,
        };
        let parts = [Measure::ThoraxTurn, Measure::PelvisTurn].map(|m| Some((m, *biases.get(&m)?)));
        let held = match parts {
            _ if bias == 0.0 => 0.0,
            [Some(thorax), Some(pelvis)] if m == Measure::Separation => {
                part(thorax.0, thorax.1) - part(pelvis.0, pelvis.1)
            }
            _ => mean(&player_means(all, &rest)).unwrap_or(bias),
        };
        for r in all.iter().filter(|r| r.player == *out) {
            scores.extend(
                r.weighted
                    .iter()
                    .filter_map(|(p, w)| Some((score(p, held)?, *w))),
            );
        }
    }
    let scale = weighted_quantile(&mut scores, 0.95).unwrap_or(1.0);
    let least = if players.len() < PLAYERS_TO_NARROW {
        1.0
    } else {
        0.5
    };
    (bias, scale.clamp(least, 50.0))
}

/// Error over the half-width on its side, after taking the bias off.
fn score(p: &Pair, bias: f64) -> Option<f64> {
    let error = p.difference() - bias;
    let half = if error > 0.0 {
        p.deg - p.ours.low?
    } else {
        p.ours.high? - p.deg
    };
    // An interval without width can't be scaled; a thousandth of a degree is below any reading.
    Some(error.abs() / half.max(1e-3))
}

fn inside_share(r: &Readings, bias: f64, scale: f64) -> f64 {
    let inside = r
        .weighted
        .iter()
        .filter(|(p, _)| score(p, bias).is_some_and(|s| s <= scale))
        .map(|(_, w)| w)
        .sum::<f64>();
    inside / r.weighted.iter().map(|(_, w)| w).sum::<f64>()
}

fn weighted_quantile(values: &mut [(f64, f64)], q: f64) -> Option<f64> {
    values.sort_by(|a, b| a.0.total_cmp(&b.0));
    let total: f64 = values.iter().map(|v| v.1).sum();
    let mut sum = 0.0;
    for (v, w) in values.iter() {
        sum += w;
        if sum >= q * total {
            return Some(*v);
        }
    }
    values.last().map(|v| v.0)
}
