//! A set for those who compute on: two columns of names and values, and all its swings in one C3D
//! file. docs/sets.md describes both.

use super::figure::Figure;
use super::set::{Row, SwingSet};
use super::typed;
use crate::agreement::c3d::{C3dEvent, C3dWriter, Processor, TooLarge, Track};
use crate::report::compare::seconds;
use crate::report::page::event_times;
use crate::result::{Curves, Why, no_formula as plain};
use crate::terms::{Event, Measure, Measure as M, Unit};

/// Columns of the table.
const HEADER: [&str; 2] = ["name", "value"];

fn unit_key(unit: Unit) -> &'static str {
    match unit {
        Unit::Degrees => "deg",
        Unit::DegreesPerSecond => "deg_per_s",
        Unit::Seconds => "s",
        Unit::BackToDown => "ratio",
        Unit::StanceWidthPercent => "percent_of_stance",
        Unit::Centimetres => "cm",
    }
}

/// The table of a set.
///
/// # Errors
/// Where it can't be written, which memory alone decides.
pub fn to_csv(set: &SwingSet, rows: &[Row]) -> Result<Vec<u8>, csv::Error> {
    let mut w = csv::Writer::from_writer(Vec::new());
    w.write_record(HEADER)?;
    let mut put = |name: &str, value: String| w.write_record([name, &value]);
    let number = |v: f64| format!("{v:.4}");
    put("set", plain(&set.name))?;
    put(
        "lesson",
        set.lesson().map_or_else(String::new, |l| l.to_string()),
    )?;
    put("swings", set.swings.len().to_string())?;
    put(
        "caution",
        "estimated from video; no clinical measurement".into(),
    )?;
    for (i, s) in set.swings.iter().enumerate() {
        let i = i + 1;
        let t = &s.swing.typed_in;
        put(&format!("swing{i}.name"), plain(&s.id))?;
        for (key, text) in [
            ("player", &t.player),
            ("label", &t.label),
            ("club", &t.club),
            ("ball_speed", &t.ball_speed),
            ("carry", &t.carry),
        ] {
            if let Some(text) = text {
                put(&format!("swing{i}.{key}"), plain(text))?;
            }
        }
        if let Some(day) = s.swing.lesson() {
            put(&format!("swing{i}.lesson"), day.to_string())?;
        }
    }
    // A number that can't be told is left out: a spreadsheet would compute with it.
    let mut told = |name: String, found: Result<(f64, f64, f64), &str>| match found {
        Ok((value, low, high)) => [("", value), (".low", low), (".high", high)]
            .into_iter()
            .try_for_each(|(part, v)| put(&format!("{name}{part}"), number(v))),
        Err(why) => put(&format!("{name}.why"), why.into()),
    };
    for row in rows {
        let base = format!("{}_{}", row.number.key(), unit_key(row.number.unit()));
        for (i, q) in row.each.iter().enumerate() {
            let why = || q.untold().map_or("", Why::key);
            told(format!("swing{}.{base}", i + 1), q.told().ok_or_else(why))?;
        }
        for (what, figure) in [("mean", row.mean), ("spread", row.spread)] {
            let found = match figure {
                Figure::Told(t) => Ok((t.value, t.low, t.high)),
                Figure::Untold { why } => Err(why),
            };
            told(format!("{what}.{base}"), found)?;
        }
    }
    for m in typed::means(set) {
        if let Some((mean, least, most, unit)) = &m.mean {
            let name = format!("typed.{}", m.name.replace(' ', "_"));
            put(&format!("{name}.unit"), plain(unit))?;
            for (part, v) in [("mean", mean), ("least", least), ("most", most)] {
                put(&format!("{name}.{part}"), number(*v))?;
            }
        }
    }
    w.into_inner().map_err(|e| e.into_error().into())
}

/// Frames of each of the three parts of a swing.
const PART: usize = 50;

/// What a swing's tracks hold: up to three measures each, nought where there are fewer.
const TRACKS: [(&str, &[Measure], &str); 4] = [
    (
        "PELVIS_ANGLES",
        &Measure::PELVIS,
        "deg: turn, side bend, forward bend",
    ),
    (
        "THORAX_ANGLES",
        &Measure::THORAX,
        "deg: turn, side bend, forward bend",
    ),
    (
        "TURNS_FROM_ADDRESS",
        &[
            M::PelvisTurnFromAddress,
            M::ThoraxTurnFromAddress,
            M::Separation,
        ],
        "deg: pelvis, thorax, separation",
    ),
    (
        "KNEE_ANGLES",
        &[M::LeadKneeFlexion, M::TrailKneeFlexion],
        "deg: lead, trail, 0",
    ),
];

/// All swings of a set on one clock that counts events: address at 0 s, the top at 1 s, impact at 2 s, the
/// finish at 3 s, so that frame by frame they can be averaged. `curves` are those of the set's swings.
///
/// # Errors
/// [`TooLarge`] for more swings than the format has room for, about sixty.
pub fn to_c3d(set: &SwingSet, curves: &[Curves]) -> Result<Vec<u8>, TooLarge> {
    let moments: Vec<f64> = (0..=3 * PART).map(|i| i as f64 / PART as f64).collect();
    let mut tracks = Vec::new();
    let mut texts = vec![
        (
            "CLOCK".to_owned(),
            "Time counts events: address 0 s, top 1 s, impact 2 s, finish 3 s.".to_owned(),
        ),
        (
            "CAUTION".to_owned(),
            "Estimated from video; no clinical measurement.".to_owned(),
        ),
    ];
    for (i, (s, curves)) in set.swings.iter().zip(curves).enumerate() {
        let times = event_times(&s.swing);
        texts.push((format!("SWING{}", i + 1), s.id.clone()));
        for (name, measures, about) in TRACKS {
            tracks.push(Track {
                label: format!("S{}_{name}", i + 1),
                description: about.to_owned(),
                points: moments
                    .iter()
                    .map(|m| {
                        let t = seconds(&times, *m)?;
                        let mut point = [0.0; 3];
                        for (to, measure) in point.iter_mut().zip(measures) {
                            *to = told_at(curves, *measure, t)?;
                        }
                        Some(point)
                    })
                    .collect(),
            });
        }
    }
    C3dWriter {
        processor: Processor::Intel,
        rate_hz: PART as f64,
        first_frame: 1,
        angles: tracks.iter().map(|t| t.label.clone()).collect(),
        tracks,
        events: Event::ALL
            .into_iter()
            .enumerate()
            .map(|(i, e)| C3dEvent {
                label: e.key().to_owned(),
                time_s: i as f64,
            })
            .collect(),
        texts: ("QUARTERTURN".into(), texts),
    }
    .to_bytes()
}

/// A curve between two neighbouring samples that are both told.
fn told_at(curves: &Curves, measure: Measure, t: f64) -> Option<f32> {
    let series = curves.series.get(&measure)?;
    let after = curves.time_s.partition_point(|s| *s < t);
    let sample = |i: usize| Some((*curves.time_s.get(i)?, series.get(i)?.told()?.0));
    let (t1, b) = sample(after)?;
    if t1 == t || after == 0 {
        return (t1 == t).then_some(b as f32);
    }
    let (t0, a) = sample(after - 1)?;
    // Across a gap the body may have been anywhere.
    (t1 - t0 < 0.2).then(|| (a + (b - a) * (t - t0) / (t1 - t0)) as f32)
}
