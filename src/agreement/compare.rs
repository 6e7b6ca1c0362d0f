//! All swings together: statistics of each measure at events and over the curve.

use std::collections::BTreeMap;

use serde::Serialize;

use super::pairing::{Pair, SwingComparison, pair};
use super::sensor::{Mapping, SensorSwing};
use super::stats::{
    Coverage, Icc, LIMIT_FACTOR, Limits, clustered, cmc, coverage, icc_a1, mean, simple,
};
use crate::math::stats::median;
use crate::result::StoredSwing;
use crate::terms::{Event, Measure};

/// Agreement at one event: one reading a swing.
#[derive(Clone, Debug, Serialize)]
pub struct AtEvent {
    /// Bias and limits of agreement, degrees.
    pub limits: Limits,
    /// `simple` or `clustered by player`.
    pub form: &'static str,
    /// Root of the mean square of the differences, degrees.
    pub rmse_deg: f64,
    /// Mean of the differences without sign, degrees.
    pub mae_deg: f64,
    /// Agreement of single readings; `None` for fewer than three swings.
    pub icc: Option<Icc>,
    /// Share of sensor readings inside our intervals.
    pub coverage: Option<Coverage>,
}

/// Agreement from address to finish: every frame, grouped by player or swing.
#[derive(Clone, Debug, Serialize)]
pub struct CurveAgreement {
    /// Swings that the curve holds.
    pub swings: usize,
    /// Bias and limits of agreement, degrees.
    pub limits: Limits,
    /// `clustered by player` or `clustered by swing`.
    pub form: &'static str,
    /// Root of the mean square of the differences, degrees.
    pub rmse_deg: f64,
    /// Mean of the differences without sign, degrees.
    pub mae_deg: f64,
    /// Share of sensor readings inside our intervals.
    pub coverage: Option<Coverage>,
    /// Coefficient of multiple correlation of each swing; its middle value.
    pub cmc_median: Option<f64>,
    /// Its lowest value.
    pub cmc_lowest: Option<f64>,
}

/// Where the zeros of the two systems differ, told apart from the rest.
#[derive(Clone, Debug, Serialize)]
pub struct ZeroOffset {
    /// Estimate less sensor while still at address: one value a swing.
    pub at_address: Limits,
    /// What is left over the curve once both are set to zero there.
    pub bias_after_deg: Option<f64>,
    /// The same with its limits, over swings.
    pub bias_after: Option<Limits>,
}

/// All that is told of one measure.
#[derive(Clone, Debug, Default, Serialize)]
pub struct MeasureAgreement {
    /// At each event that both saw.
    pub at: BTreeMap<Event, AtEvent>,
    /// From address to finish.
    pub curve: Option<CurveAgreement>,
    /// Where the two zeros differ; `None` for measures that are zero at address by definition.
    pub zero: Option<ZeroOffset>,
}

/// A whole session compared.
#[derive(Clone, Debug)]
pub struct Comparison {
    /// The swings that were compared.
    pub swings: Vec<SwingComparison>,
    /// Agreement by measure, of those that both know.
    pub measures: BTreeMap<Measure, MeasureAgreement>,
    /// Swings that could not be compared, and why.
    pub left_out: Vec<(String, String)>,
    /// What was assumed, in sentences.
    pub notes: Vec<String>,
    /// Players told apart; 0 when nobody was named.
    pub players: usize,
}

/// Pairs measured and sensor swings by name and compares them.
pub fn compare(measured: &[StoredSwing], sensor: &[SensorSwing], mapping: &Mapping) -> Comparison {
    let mut left_out = Vec::new();
    let mut notes = Vec::new();
    let mut swings = Vec::new();
    let one_each = measured.len() == 1 && sensor.len() == 1;
    for m in measured {
        let name = m.name();
        let names = [name.as_str(), m.swing.name.as_str()];
        let mut found = sensor.iter().filter(|s| names.contains(&s.name.as_str()));
        let mut partner = found.next();
        if found.next().is_some() {
            notes.push(format!(
                "{}: the sensor files hold more than one swing of this name; the first was used.",
                name
            ));
        }
        if partner.is_none() && one_each {
            partner = sensor.first();
            notes.push(format!(
                "{}: there was one measured swing and one sensor swing, so they were taken to be the same.",
                name
            ));
        }
        let Some(partner) = partner else {
            left_out.push((name.clone(), "the sensor files hold no swing of this name. Name it with a `# swing:` line or under [swings] of the mapping".to_owned()));
            continue;
        };
        let player = mapping
            .players
            .get(&name)
            .cloned()
            .or_else(|| m.swing.typed_in.player.clone())
            .filter(|p| !p.trim().is_empty());
        match pair(m, partner, player) {
            Ok(s) => swings.push(s),
            Err(why) => left_out.push((name.clone(), why)),
        }
    }
    for s in sensor {
        let used = measured
            .iter()
            .any(|m| m.name() == s.name || m.swing.name == s.name);
        if !used && !one_each {
            left_out.push((
                s.name.clone(),
                "a sensor swing without a measured swing of this name".to_owned(),
            ));
        }
    }
    summarise(swings, left_out, notes)
}

/// Statistics of swings that are already paired; used again by learning.
pub(super) fn summarise(
    swings: Vec<SwingComparison>,
    left_out: Vec<(String, String)>,
    notes: Vec<String>,
) -> Comparison {
    let players: std::collections::BTreeSet<&str> =
        swings.iter().filter_map(|s| s.player.as_deref()).collect();
    let players = players.len();
    let measures = Measure::ALL
        .into_iter()
        .filter_map(|m| Some((m, one_measure(&swings, m)?)))
        .collect();
    Comparison {
        swings,
        measures,
        left_out,
        notes,
        players,
    }
}

fn one_measure(swings: &[SwingComparison], measure: Measure) -> Option<MeasureAgreement> {
    let mut out = MeasureAgreement::default();
    for event in Event::ALL {
        let with: Vec<(&SwingComparison, &Pair)> = swings
            .iter()
            .filter_map(|s| Some((s, s.at.get(&event)?.get(&measure)?)))
            .collect();
        if let Some(a) = at_event(&with) {
            out.at.insert(event, a);
        }
    }
    let with: Vec<(&SwingComparison, &Vec<Pair>)> = swings
        .iter()
        .filter_map(|s| Some((s, s.curve.get(&measure)?)))
        .collect();
    out.curve = over_curve(&with);
    out.zero = zero_offset(&with, measure);
    (!out.at.is_empty() || out.curve.is_some()).then_some(out)
}

fn at_event(with: &[(&SwingComparison, &Pair)]) -> Option<AtEvent> {
    let d: Vec<f64> = with.iter().map(|(_, p)| p.difference()).collect();
    let groups = group(with.iter().map(|(s, p)| (*s, vec![p.difference()])));
    let by_player =
        groups.len() >= 2 && groups.len() < d.len() && all_named(with.iter().map(|w| w.0));
    let limits = if by_player {
        clustered(&groups)?
    } else {
        simple(&d, LIMIT_FACTOR)?
    };
    let values: Vec<(f64, f64)> = with.iter().map(|(_, p)| (p.deg, p.sensor)).collect();
    let inside: Vec<bool> = with.iter().filter_map(|(_, p)| p.inside()).collect();
    Some(AtEvent {
        limits,
        form: if by_player {
            "clustered by player"
        } else {
            "simple"
        },
        rmse_deg: rms(&d)?,
        mae_deg: mean(&d.iter().map(|v| v.abs()).collect::<Vec<_>>())?,
        icc: icc_a1(&values),
        coverage: coverage(&inside, true),
    })
}

fn over_curve(with: &[(&SwingComparison, &Vec<Pair>)]) -> Option<CurveAgreement> {
    let d: Vec<f64> = with
        .iter()
        .flat_map(|(_, p)| p.iter().map(Pair::difference))
        .collect();
    let (groups, form) = curve_groups(with, |_| 0.0);
    let limits = clustered(&groups)?;
    let inside: Vec<bool> = with
        .iter()
        .flat_map(|(_, p)| p.iter().filter_map(Pair::inside))
        .collect();
    let cmcs: Vec<f64> = with
        .iter()
        .filter_map(|(_, p)| cmc(&p.iter().map(|p| (p.deg, p.sensor)).collect::<Vec<_>>()))
        .collect();
    Some(CurveAgreement {
        swings: with.len(),
        limits,
        form,
        rmse_deg: rms(&d)?,
        mae_deg: mean(&d.iter().map(|v| v.abs()).collect::<Vec<_>>())?,
        coverage: coverage(&inside, false),
        cmc_median: median(&cmcs),
        cmc_lowest: cmcs.iter().copied().min_by(f64::total_cmp),
    })
}

fn zero_offset(with: &[(&SwingComparison, &Vec<Pair>)], measure: Measure) -> Option<ZeroOffset> {
    let zeros: Vec<f64> = with
        .iter()
        .filter_map(|(s, _)| s.zero_deg.get(&measure).copied())
        .collect();
    let at_address = simple(&zeros, LIMIT_FACTOR)?;
    let known: Vec<_> = with
        .iter()
        .filter(|(s, _)| s.zero_deg.contains_key(&measure))
        .copied()
        .collect();
    let zero_of = |s: &SwingComparison| s.zero_deg.get(&measure).copied().unwrap_or(0.0);
    let (groups, _) = curve_groups(&known, zero_of);
    let bias_after = clustered(&groups);
    Some(ZeroOffset {
        at_address,
        bias_after_deg: bias_after.as_ref().map(|l| l.bias),
        bias_after,
    })
}

/// Differences over the curve less `zero` of each swing, grouped by player where players are
/// named and there are two or more, otherwise by swing.
fn curve_groups(
    with: &[(&SwingComparison, &Vec<Pair>)],
    zero: impl Fn(&SwingComparison) -> f64,
) -> (Vec<Vec<f64>>, &'static str) {
    let each = || {
        with.iter()
            .map(|(s, p)| (*s, p.iter().map(|p| p.difference() - zero(s)).collect()))
    };
    let by_player = group(each());
    if by_player.len() >= 2 && all_named(with.iter().map(|w| w.0)) {
        (by_player, "clustered by player")
    } else {
        (each().map(|(_, d)| d).collect(), "clustered by swing")
    }
}

fn group<'a>(each: impl Iterator<Item = (&'a SwingComparison, Vec<f64>)>) -> Vec<Vec<f64>> {
    let mut groups: BTreeMap<&str, Vec<f64>> = BTreeMap::new();
    for (s, d) in each {
        groups
            .entry(s.player.as_deref().unwrap_or(""))
            .or_default()
            .extend(d);
    }
    groups.into_values().collect()
}

fn all_named<'a>(mut swings: impl Iterator<Item = &'a SwingComparison>) -> bool {
    swings.all(|s| s.player.is_some())
}

fn rms(d: &[f64]) -> Option<f64> {
    Some(mean(&d.iter().map(|v| v * v).collect::<Vec<_>>())?.sqrt())
}
