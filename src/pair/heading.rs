//! Heading of the pelvis and thorax as one camera sees it, and how fast it changes: enough to tell
//! roles, handedness and the fast part of a swing before any camera is known.

use nalgebra::Matrix3;

use crate::math::rotation::unwrap;
use crate::pose::ViewTrack;

/// Headings over the frames that have a reading.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Heading {
    /// Seconds of playback.
    pub time_s: Vec<f64>,
    /// Azimuth of the segment's left axis in the crop camera, radians, unwrapped: 0 points right in
    /// the picture, +π/2 into the scene. Pelvis, thorax.
    pub angle: [Vec<f64>; 2],
}

/// Heading of one reading: azimuth of its left axis, x right and z into the scene.
pub fn heading_of(crop_from_segment: &Matrix3<f64>) -> f64 {
    crop_from_segment[(2, 0)].atan2(crop_from_segment[(0, 0)])
}

/// Headings of every frame of a track that was read itself (not repeated from a neighbour).
pub fn headings(track: &ViewTrack) -> Heading {
    let mut h = Heading::default();
    for o in track.observations.iter().filter(|o| !o.repeated) {
        let Some(torso) = o.person.as_ref().and_then(|p| p.torso.as_ref()) else {
            continue;
        };
        h.time_s.push(o.time_s);
        for s in 0..2 {
            h.angle[s].push(heading_of(&torso.crop_from_segment[s]));
        }
    }
    for a in &mut h.angle {
        unwrap(a);
    }
    h
}

/// Slope of a least-squares line through the samples within ±`half_s` of each, and at least through
/// its neighbours: at 24 frames a second none may lie within.
pub fn local_slope(times: &[f64], values: &[f64], half_s: f64) -> Vec<f64> {
    times
        .iter()
        .enumerate()
        .map(|(i, t)| {
            let a = times
                .partition_point(|x| *x < t - half_s)
                .min(i.saturating_sub(1));
            let b = times
                .partition_point(|x| *x <= t + half_s)
                .max((i + 2).min(times.len()));
            let n = (b - a) as f64;
            let (ts, vs) = (&times[a..b], &values[a..b]);
            let (mt, mv) = (ts.iter().sum::<f64>() / n, vs.iter().sum::<f64>() / n);
            let sxx: f64 = ts.iter().map(|x| (x - mt).powi(2)).sum();
            let sxy: f64 = ts.iter().zip(vs).map(|(x, y)| (x - mt) * (y - mv)).sum();
            if sxx > 1e-9 { sxy / sxx } else { 0.0 }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_has_its_slope_everywhere() {
        let t: Vec<f64> = (0..30).map(|i| i as f64 / 60.0).collect();
        let v: Vec<f64> = t.iter().map(|t| 3.0 * t - 1.0).collect();
        for s in local_slope(&t, &v, 0.04) {
            assert!((s - 3.0).abs() < 1e-9);
        }
    }
}
