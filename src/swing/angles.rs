//! Every angle at given instants, from the fused segments and the triangulated limbs.

use nalgebra::Vector3;

use crate::body::{Belief, Fused, Smoothed, WorldJoint, angle_gradients, angles_of};
use crate::config::Segment;
use crate::math::rotation::wrap;
use crate::math::series::{locate, within};
use crate::terms::{ANGLES, Angle};

/// One angle with the variance of its reading (networks' part only), rad and rad².
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Read {
    /// The angle, radians.
    pub value: f64,
    /// Variance by the networks alone, rad².
    pub variance: f64,
    /// Radians a second.
    pub rate: f64,
}

/// Angles at a list of instants; `None` in gaps and where not observable.
#[derive(Clone, Debug, Default)]
pub struct AngleTable {
    /// A row an instant, in the order of [`Angle`].
    pub rows: Vec<[Option<Read>; ANGLES]>,
}

/// Limb angles over time, on the result's clock.
#[derive(Clone, Debug, Default)]
pub struct Limbs {
    /// Rising times, seconds on the result's clock.
    pub time_s: Vec<f64>,
    /// Those of [`Limbs::ANGLES`]: value and variance.
    pub series: [Vec<Option<(f64, f64)>>; Limbs::ANGLES.len()],
}

impl Limbs {
    /// What the series hold, in their order.
    pub const ANGLES: [Angle; 3] = [Angle::LeadKnee, Angle::TrailKnee, Angle::ShoulderLine];
}

/// What the angles are read from.
#[derive(Clone, Debug)]
pub struct Body {
    /// The pelvis over time.
    pub pelvis: Fused,
    /// The thorax over time.
    pub thorax: Fused,
    /// What each view tells of pelvis and thorax, and how its errors are alike over time.
    pub beliefs: [Belief; 2],
    /// Knees and the line of the shoulder joints.
    pub limbs: Limbs,
    /// Half-width of the limb smoothing, seconds.
    pub limb_half_s: f64,
}

impl Body {
    /// The fused rotation of a segment.
    pub fn segment(&self, segment: Segment) -> &Fused {
        match segment {
            Segment::Pelvis => &self.pelvis,
            Segment::Thorax => &self.thorax,
        }
    }

    /// All angles at `times` (increasing, seconds on the result's clock). Turns are continuous.
    pub fn angles(&self, times: &[f64]) -> AngleTable {
        let mut rows: Vec<[Option<Read>; ANGLES]> = times.iter().map(|t| self.row(*t)).collect();
        for turn in [Angle::PelvisTurn, Angle::ThoraxTurn, Angle::ShoulderLine] {
            let mut last: Option<f64> = None;
            for row in &mut rows {
                if let Some(read) = &mut row[turn as usize] {
                    let value = match last {
                        Some(l) => l + wrap(read.value - l),
                        None => read.value,
                    };
                    read.value = value;
                    last = Some(value);
                }
            }
        }
        AngleTable { rows }
    }

    fn row(&self, t: f64) -> [Option<Read>; ANGLES] {
        let mut row = [None; ANGLES];
        use Angle as A;
        for (segment, angles) in [
            (
                Segment::Pelvis,
                [A::PelvisTurn, A::PelvisSide, A::PelvisForward],
            ),
            (
                Segment::Thorax,
                [A::ThoraxTurn, A::ThoraxSide, A::ThoraxForward],
            ),
        ] {
            let state = self.segment(segment).at(t);
            let belief = &self.beliefs[segment as usize];
            let reads = state.and_then(|s| segment_reads(&s, belief));
            for (angle, read) in angles.into_iter().zip(reads.into_iter().flatten()) {
                row[angle as usize] = Some(read);
            }
        }
        for (which, angle) in Limbs::ANGLES.into_iter().enumerate() {
            row[angle as usize] = self.limb(which, t);
        }
        row
    }

    /// A limb's angle by a local line over ±`limb_half_s`.
    fn limb(&self, which: usize, t: f64) -> Option<Read> {
        let times = &self.limbs.time_s;
        locate(times, t)?;
        let near: Vec<(f64, f64, f64)> = within(times, t - self.limb_half_s, t + self.limb_half_s)
            .filter_map(|i| {
                let (v, var) = (*self.limbs.series[which].get(i)?)?;
                Some((times[i] - t, v, var))
            })
            .collect();
        let n = near.len() as f64;
        let first = near.first()?.1;
        // The shoulder line is an angle on a circle; knees are far from ±π and not moved by this.
        let value = |v: f64| first + wrap(v - first);
        let (mt, mv) = (
            near.iter().map(|x| x.0).sum::<f64>() / n,
            near.iter().map(|x| value(x.1)).sum::<f64>() / n,
        );
        let sxx: f64 = near.iter().map(|x| (x.0 - mt).powi(2)).sum();
        let sxy: f64 = near.iter().map(|x| (x.0 - mt) * (value(x.1) - mv)).sum();
        let rate = if sxx > 1e-9 { sxy / sxx } else { 0.0 };
        Some(Read {
            value: mv - rate * mt,
            variance: near.iter().map(|x| x.2).sum::<f64>() / n,
            rate,
        })
    }
}

/// Turn, side and forward bend of a smoothed segment, each with variance and rate.
fn segment_reads(state: &Smoothed, belief: &Belief) -> Option<[Read; 3]> {
    let base = angles_of(&state.world_from_segment)?;
    let gradient = angle_gradients(&state.world_from_segment)?;
    let read = |k: usize| {
        Some(Read {
            value: base[k],
            variance: belief.variance(k, state.time_s)?,
            rate: gradient[k].dot(&state.velocity),
        })
    };
    Some([read(0)?, read(1)?, read(2)?])
}

/// Turn of the line through two joints (trail to lead) in the ground plane, and its variance.
pub fn line_turn(lead: &WorldJoint, trail: &WorldJoint) -> Option<(f64, f64)> {
    let d = lead.at - trail.at;
    let flat = d.x * d.x + d.y * d.y;
    if flat < 1e-4 {
        return None;
    }
    let gradient = Vector3::new(d.y / flat, -d.x / flat, 0.0);
    let variance = (gradient.transpose() * (lead.covariance + trail.covariance) * gradient)[0];
    Some((-d.y.atan2(d.x), variance))
}

impl AngleTable {
    /// The angle at row `i`; `None` where it was not seen.
    pub fn get(&self, i: usize, angle: Angle) -> Option<Read> {
        self.rows.get(i)?[angle as usize]
    }
}
