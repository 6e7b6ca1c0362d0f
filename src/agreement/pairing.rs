//! One measured swing beside its sensor swing: clocks aligned, readings paired.

use std::collections::BTreeMap;

use super::align::{EventPair, NoShift, by_events, by_turn_speed};
use super::interpolate::Samples;
use super::sensor::SensorSwing;
use super::shift::{Shift, TurnPair};
use crate::math::stats::median;
use crate::result::{Curves, Estimate, StoredSwing, SwingResult};
use crate::terms::{Event, Handedness, Measure, ViewMode};

/// Our reading and the sensor's at one instant, degrees.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pair {
    /// Seconds on our clock.
    pub time_s: f64,
    /// Our estimate with its interval.
    pub ours: Estimate,
    /// Its value.
    pub deg: f64,
    /// The sensor's reading at the same instant.
    pub sensor: f64,
}

impl Pair {
    /// Estimate less sensor.
    pub fn difference(&self) -> f64 {
        self.deg - self.sensor
    }

    /// Whether the sensor's reading lies in our interval; `None` where we gave none.
    pub fn inside(&self) -> Option<bool> {
        let (low, high) = (self.ours.low?, self.ours.high?);
        Some((low..=high).contains(&self.sensor))
    }
}

/// One swing, paired with the sensor's.
#[derive(Clone, Debug)]
pub struct SwingComparison {
    /// Name of the measured swing.
    pub name: String,
    /// Who swung, where anyone said.
    pub player: Option<String>,
    /// Which views it was measured from.
    pub set_up: ViewMode,
    /// Sensor's clock less ours.
    pub shift: Shift,
    /// How the shift was found, in words.
    pub shift_from: String,
    /// What was assumed or left out, in sentences.
    pub notes: Vec<String>,
    /// From address to finish, at our frame times.
    pub curve: BTreeMap<Measure, Vec<Pair>>,
    /// At each event that both saw.
    pub at: BTreeMap<Event, BTreeMap<Measure, Pair>>,
    /// Mean difference while standing still at address, degrees: where the two zeros differ.
    pub zero_deg: BTreeMap<Measure, f64>,
    /// Our events, seconds on our clock.
    pub events_s: BTreeMap<Event, f64>,
    /// Whether a studio calibration had been applied when it was measured.
    pub already_calibrated: bool,
}

/// The still stretch at address, seconds before and after the event.
const STILL_S: (f64, f64) = (0.15, 0.02);

/// Pairs a swing. The error is a sentence for the coach.
pub fn pair(
    measured: &StoredSwing,
    sensor: &SensorSwing,
    player: Option<String>,
) -> Result<SwingComparison, String> {
    let result = &measured.swing;
    let events_s: BTreeMap<Event, f64> = result
        .events
        .iter()
        .filter_map(|(e, m)| Some((*e, m.s?)))
        .collect();
    let mut notes = sensor.notes.clone();
    let given = match (&sensor.left_handed_series, result.handedness) {
        (Some(left), Handedness::Left) => left,
        _ => &sensor.series,
    };
    let (shift, shift_from) = find_shift(&measured.curves, given, sensor, result, &mut notes)?;
    if let Some(e) = shift.notable_rate_error() {
        notes.push(format!(
            "The sensor's clock seems to run {:.1} % {} than ours. Time was not stretched: check its rate, or the clip's --time-scale.",
            100.0 * e.abs(),
            if e > 0.0 { "faster" } else { "slower" }
        ));
    }
    let still = events_s
        .get(&Event::Address)
        .map(|a| (a - STILL_S.0, a + STILL_S.1));
    let series = with_derived(
        &sensor.time_s,
        given,
        still.map(|(a, b)| (a + shift.s, b + shift.s)),
        &mut notes,
    );
    let from = events_s.get(&Event::Address).copied().unwrap_or(f64::MIN);
    let to = events_s.get(&Event::Finish).copied().unwrap_or(f64::MAX);

    let mut out = SwingComparison {
        name: measured.name(),
        player,
        set_up: ViewMode::of(result.views.iter().map(|v| v.role)),
        shift,
        shift_from,
        notes,
        curve: BTreeMap::new(),
        at: BTreeMap::new(),
        zero_deg: BTreeMap::new(),
        events_s: events_s.clone(),
        already_calibrated: result.calibration.is_some(),
    };
    for (measure, samples) in &series {
        let Some(points) = measured.curves.series.get(measure) else {
            continue;
        };
        let mut all: Vec<Pair> = measured
            .curves
            .time_s
            .iter()
            .zip(points)
            .filter_map(|(t, ours)| make(*t, *ours, samples.at(t + shift.s)?))
            .collect();
        // An azimuth may be told a whole turn off.
        let turns = whole_turns(&all);
        all.iter_mut().for_each(|p| p.sensor += turns);
        if let (Some((a, b)), true) = (still, !measure.spec().from_address) {
            let d: Vec<f64> = all
                .iter()
                .filter(|p| (a..=b).contains(&p.time_s))
                .map(Pair::difference)
                .collect();
            if let Some(zero) = super::stats::mean(&d) {
                out.zero_deg.insert(*measure, zero);
            }
        }
        for (event, t) in &events_s {
            let ours = result.at.get(event).and_then(|m| m.get(measure));
            if let Some(ours) = ours
                && let Some(sensor) = samples.at(t + shift.s)
                && let Some(p) = make(*t, *ours, sensor + turns)
            {
                out.at.entry(*event).or_default().insert(*measure, p);
            }
        }
        all.retain(|p| (from..=to).contains(&p.time_s));
        if !all.is_empty() {
            out.curve.insert(*measure, all);
        }
    }
    if out.curve.is_empty() && out.at.is_empty() {
        return Err(
            "no measure is known to both at the same instants. Check the columns and the gaps of the sensor file"
                .into(),
        );
    }
    Ok(out)
}

fn make(time_s: f64, ours: Estimate, sensor: f64) -> Option<Pair> {
    Some(Pair {
        time_s,
        ours,
        deg: ours.deg?,
        sensor,
    })
}

fn whole_turns(pairs: &[Pair]) -> f64 {
    let d: Vec<f64> = pairs.iter().map(Pair::difference).collect();
    median(&d).map_or(0.0, |m| 360.0 * (m / 360.0).round())
}

type Series = BTreeMap<Measure, Vec<Option<f64>>>;

/// The sensor's measures with separation and "from address" added where they follow from others.
fn with_derived(
    time_s: &[f64],
    given: &Series,
    still: Option<(f64, f64)>,
    notes: &mut Vec<String>,
) -> BTreeMap<Measure, Samples> {
    let mut all = given.clone();
    let missing = |all: &Series, from_address: bool| -> Vec<Measure> {
        Measure::ALL
            .into_iter()
            .filter(|m| m.spec().from_address == from_address && !all.contains_key(m))
            .collect()
    };
    for m in missing(&all, false) {
        if let Some(s) = difference(&all, m) {
            all.insert(m, s);
        }
    }
    for m in missing(&all, true) {
        let spec = m.spec();
        let Some(series) =
            Measure::of(spec.angle, spec.less, false).and_then(|from| all.get(&from))
        else {
            continue;
        };
        let zero = still.and_then(|(a, b)| {
            let at: Vec<f64> = time_s
                .iter()
                .zip(series)
                .filter(|(t, _)| (a..=b).contains(*t))
                .filter_map(|(_, v)| *v)
                .collect();
            super::stats::mean(&at)
        });
        match zero {
            Some(zero) => {
                let s = series.iter().map(|v| v.map(|v| v - zero)).collect();
                all.insert(m, s);
            }
            None => notes.push(format!(
                "The sensor holds nothing at address, so {m} could not be compared."
            )),
        }
    }
    for m in missing(&all, true) {
        if let Some(s) = difference(&all, m) {
            all.insert(m, s);
        }
    }
    all.iter()
        .map(|(m, s)| (*m, Samples::new(time_s, s)))
        .collect()
}

/// A measure that is a difference of two others, from those.
fn difference(all: &Series, m: Measure) -> Option<Vec<Option<f64>>> {
    let s = m.spec();
    let part = |angle| all.get(&Measure::of(angle, None, s.from_address)?);
    let (a, b) = (part(s.angle)?, part(s.less?)?);
    Some(a.iter().zip(b).map(|(a, b)| Some((*a)? - (*b)?)).collect())
}

/// The shift of the sensor's clock and how it was found.
fn find_shift(
    curves: &Curves,
    given: &Series,
    sensor: &SensorSwing,
    result: &SwingResult,
    notes: &mut Vec<String>,
) -> Result<(Shift, String), String> {
    let [turns, others] =
        [&TURNS[..], &BENDS].map(|angles| pairs(angles, curves, given, &sensor.time_s));
    let shared: Vec<EventPair> = sensor
        .events
        .iter()
        .filter_map(|(event, sensor)| {
            let m = result.events.get(event)?;
            let ours = m.s?;
            let half_width = match (m.low, m.high) {
                (Some(low), Some(high)) if high > low => (high - low) / 2.0,
                // Without an interval of its own a moment is known to a frame at 60 fps or so.
                _ => 1.0 / 60.0,
            };
            Some(EventPair {
                ours,
                half_width,
                sensor: *sensor,
            })
        })
        .collect();
    let Some(named) = by_events(&shared) else {
        let shift = by_turn_speed(&turns, &others, None).map_err(|e| e.to_string())?;
        return Ok((shift, "turn speed".into()));
    };
    // Our events are known to a frame or two, turn speed to a few milliseconds: within what the
    // events allow, turn speed places the shift.
    let reach = named.half_width().max(0.02);
    let near = (named.s - 3.0 * reach, named.s + 3.0 * reach);
    match by_turn_speed(&turns, &others, Some(near)) {
        Ok(fine) if (fine.s - named.s).abs() <= fine.half_width() + reach => {
            Ok((fine, "events, placed finely by turn speed".into()))
        }
        Ok(fine) => {
            notes.push(format!(
                "The named events put the sensor's clock {:+.3} s from ours, turn speed {:+.3} s: they disagree. The events were followed.",
                named.s, fine.s
            ));
            Ok((named, "events".into()))
        }
        Err(NoShift::NothingCommon) => Ok((named, "events".into())),
        Err(e) => {
            notes.push(format!(
                "The clocks were aligned by the named events alone: {e}."
            ));
            Ok((named, "events".into()))
        }
    }
}

/// Names of one turn each, the first that is known counts.
const TURNS: [&[Measure]; 2] = [
    &[Measure::PelvisTurn, Measure::PelvisTurnFromAddress],
    &[Measure::ThoraxTurn, Measure::ThoraxTurnFromAddress],
];
/// Further angles: they help to place the shift finely.
const BENDS: [&[Measure]; 4] = [
    &[Measure::PelvisSideBend],
    &[Measure::PelvisForwardBend],
    &[Measure::ThoraxSideBend],
    &[Measure::ThoraxForwardBend],
];

/// Those of the angles that both know.
fn pairs(angles: &[&[Measure]], curves: &Curves, given: &Series, time_s: &[f64]) -> Vec<TurnPair> {
    let pair = |names: &&[Measure]| {
        let ours = names.iter().find_map(|m| curves.series.get(m))?;
        let theirs = names.iter().find_map(|m| given.get(m))?;
        let ours: Vec<Option<f64>> = ours.iter().map(|e| e.deg).collect();
        Some(TurnPair {
            ours: Samples::new(&curves.time_s, &ours),
            sensor: Samples::new(time_s, theirs),
        })
    };
    angles.iter().filter_map(pair).collect()
}
