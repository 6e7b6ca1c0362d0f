//! C3D: segment axes, angles and events of one measured swing.
//!
//! Points are millimetres in the world frame at an even rate (the first view's); angles are
//! triples of degrees (turn, side bend, forward bend). Frame and sequence stand in the group
//! QUARTERTURN.

use nalgebra::Vector3;

use super::{FRAME, SEQUENCE};
use crate::agreement::c3d::{C3dEvent, C3dWriter, Processor, TooLarge, Track};
use crate::agreement::interpolate::Samples;
use crate::math::rotation::SegmentAngles;
use crate::math::stats::median;
use crate::result::{Curves, SwingResult};
use crate::terms::{Event, Handedness, Measure};

/// Length of a drawn axis, millimetres.
const AXIS_MM: f64 = 200.0;

struct Segment {
    name: &'static str,
    measures: [Measure; 3],
    /// Where its axes are drawn, as its place isn't known: above the ground.
    height_mm: f64,
}

const SEGMENTS: [Segment; 2] = [
    Segment {
        name: "PELVIS",
        measures: Measure::PELVIS,
        height_mm: 950.0,
    },
    Segment {
        name: "THORAX",
        measures: Measure::THORAX,
        height_mm: 1300.0,
    },
];

/// The bytes of the file.
///
/// # Errors
/// [`TooLarge`] where the swing is longer than the format can count.
pub fn to_c3d(swing: &SwingResult, curves: &Curves) -> Result<Vec<u8>, TooLarge> {
    let rate_hz = rate(swing, curves);
    let start = curves.time_s.first().copied().unwrap_or(0.0);
    let end = curves.time_s.last().copied().unwrap_or(0.0);
    // Frame 1 is at 0 s of the result's clock, or later where the curves begin earlier.
    let offset_s = start.min(0.0);
    let first = ((start - offset_s) * rate_hz).round().clamp(0.0, 60_000.0);
    let frames = ((end - start) * rate_hz).round().clamp(0.0, 65_000.0) as usize + 1;
    let grid: Vec<f64> = (0..frames)
        .map(|i| offset_s + (first + i as f64) / rate_hz)
        .collect();

    let mut tracks = Vec::new();
    let mut angle_labels = Vec::new();
    for segment in &SEGMENTS {
        let angles = segment_angles(segment, curves, &grid);
        axes(&mut tracks, segment, &angles);
        let label = format!("{}_ANGLES", segment.name);
        tracks.push(Track {
            label: label.clone(),
            description: "deg: turn, side bend, forward bend".into(),
            points: angles
                .iter()
                .map(|a| a.map(|a| [a.turn, a.side, a.forward].map(|v| v.to_degrees() as f32)))
                .collect(),
        });
        angle_labels.push(label);
    }
    let knees = [Measure::LeadKneeFlexion, Measure::TrailKneeFlexion];
    for (measure, label) in knees
        .into_iter()
        .zip(["LEAD_KNEE_ANGLE", "TRAIL_KNEE_ANGLE"])
    {
        if let Some(samples) = samples(curves, measure) {
            tracks.push(Track {
                label: label.into(),
                description: "deg: flexion, 0, 0".into(),
                points: grid
                    .iter()
                    .map(|t| samples.at(*t).map(|v| [v as f32, 0.0, 0.0]))
                    .collect(),
            });
            angle_labels.push(label.into());
        }
    }
    let events = Event::ALL
        .into_iter()
        .filter_map(|e| {
            Some(C3dEvent {
                label: e.key().to_owned(),
                time_s: swing.events.get(&e)?.s? - offset_s,
            })
        })
        .collect();
    C3dWriter {
        processor: Processor::Intel,
        rate_hz,
        first_frame: first as u16 + 1,
        tracks,
        events,
        angles: angle_labels,
        texts: ("QUARTERTURN".into(), about(swing, offset_s)),
    }
    .to_bytes()
}

fn about(swing: &SwingResult, offset_s: f64) -> Vec<(String, String)> {
    let side = match swing.handedness {
        Handedness::Right => "right",
        Handedness::Left => "left (world mirrored in X)",
    };
    let clock = format!(
        "Frame 1 is at {offset_s:.6} s of the result's clock ({}).",
        swing.clock
    );
    [
        ("SCHEMA", swing.schema.as_str()),
        ("TOOL_VERSION", swing.tool_version.as_str()),
        ("FRAME", FRAME),
        ("SEQUENCE", SEQUENCE),
        (
            "ANGLES",
            "Degrees, in the components of *_ANGLES and *_ANGLE.",
        ),
        ("HANDEDNESS", side),
        (
            "PLACE",
            "Places of axes are nominal: only their directions were measured.",
        ),
        ("CLOCK", clock.as_str()),
        ("CAUTION", "Estimated from video; no clinical measurement."),
    ]
    .into_iter()
    .map(|(k, v)| (k.to_owned(), v.to_owned()))
    .collect()
}

/// Frames a second of the first view; where it doesn't say, from the median step of the curves.
fn rate(swing: &SwingResult, curves: &Curves) -> f64 {
    let steps: Vec<f64> = curves
        .time_s
        .windows(2)
        .filter_map(|w| Some(w.get(1)? - w.first()?))
        .filter(|d| *d > 0.0)
        .collect();
    let usual = median(&steps).map(|d| 1.0 / d);
    swing
        .views
        .first()
        .map(|v| v.fps)
        .filter(|f| f.is_finite() && *f > 1.0)
        .or(usual)
        .unwrap_or(60.0)
        .min(10_000.0)
}

fn samples(curves: &Curves, m: Measure) -> Option<Samples> {
    let series: Vec<Option<f64>> = curves.series.get(&m)?.iter().map(|e| e.deg).collect();
    Some(Samples::new(&curves.time_s, &series))
}

fn segment_angles(segment: &Segment, curves: &Curves, grid: &[f64]) -> Vec<Option<SegmentAngles>> {
    let [turn, side, forward] = segment.measures.map(|m| samples(curves, m));
    let (Some(turn), Some(side), Some(forward)) = (turn, side, forward) else {
        return vec![None; grid.len()];
    };
    grid.iter()
        .map(|t| {
            Some(SegmentAngles {
                turn: turn.at(*t)?.to_radians(),
                side: side.at(*t)?.to_radians(),
                forward: forward.at(*t)?.to_radians(),
            })
        })
        .collect()
}

/// Origin and the ends of the three axes.
fn axes(tracks: &mut Vec<Track>, segment: &Segment, angles: &[Option<SegmentAngles>]) {
    let origin = Vector3::new(0.0, 0.0, segment.height_mm);
    let point = |p: Vector3<f64>| [p.x as f32, p.y as f32, p.z as f32];
    let ends = [
        ("O", "origin of the axes", Vector3::zeros()),
        ("X", "end of x, to the lead side", Vector3::x()),
        ("Y", "end of y, to the back", Vector3::y()),
        ("Z", "end of z, up", Vector3::z()),
    ];
    for (suffix, about, axis) in ends {
        tracks.push(Track {
            label: format!("{}_{suffix}", segment.name),
            description: format!("{about}, mm"),
            points: angles
                .iter()
                .map(|a| Some(point(origin + (*a)?.compose() * axis * AXIS_MM)))
                .collect(),
        });
    }
}
