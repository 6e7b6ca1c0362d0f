//! Angles with intervals: the networks' part, the geometry's, the events' and the views'
//! disagreement, put together and scaled by the calibrated factors.

use nalgebra::DMatrix;

use super::geometry::joint;
use super::prepare::Prepared;
use crate::body::{
    ViewReadings, WorldJoint, disagreement, expected_disagreement, fuse, knee_flexion, triangulate,
};
use crate::camera::{Attitude, Camera, CameraFit};
use crate::config::Pipeline;
use crate::interval::{Factors, Z95};
use crate::math::rotation::wrap;
use crate::math::series::locate;
use crate::pair::{Instant, RotationSample, ViewSeries};
use crate::pose::landmark;
use crate::result::Estimate;
use crate::swing::{AngleTable, Body, EventTime, Limbs, Read, line_turn};
use crate::terms::{ANGLES, Angle, Event, Measure, ViewMode};

/// Attitudes and offset that a body is built with: the fit's, or moved a little.
#[derive(Clone, Debug)]
pub struct Placement {
    pub cameras: Vec<Camera>,
    pub offset_s: f64,
}

impl Placement {
    pub fn of(fit: &CameraFit) -> Self {
        Self {
            cameras: fit.views.iter().map(|v| v.camera).collect(),
            offset_s: fit.offset_s,
        }
    }

    /// The fit with parameter `k` of its covariance moved by `step`.
    fn moved(fit: &CameraFit, prepared: &Prepared, k: usize, step: f64) -> Self {
        let mut p = Self::of(fit);
        let view = k / 3;
        match (fit.views.get(view), prepared.views.get(view)) {
            (Some(fitted), Some(series)) => {
                let mut a: Attitude = fitted.attitude;
                match k % 3 {
                    0 => a.azimuth += step,
                    1 => a.pitch += step,
                    _ => a.roll += step,
                }
                p.cameras[view].world_from_camera = a.world_from_camera(series.role);
            }
            _ => p.offset_s += step,
        }
        p
    }
}

/// Builds the body from the views under a placement.
pub fn build_body(prepared: &Prepared, placement: &Placement, pipeline: &Pipeline) -> Body {
    let samples: Vec<Vec<RotationSample>> = prepared
        .views
        .iter()
        .map(|v| {
            v.instants
                .iter()
                .filter_map(|i| i.rotation.clone())
                .collect()
        })
        .collect();
    let readings: Vec<ViewReadings<'_>> = samples
        .iter()
        .zip(&placement.cameras)
        .enumerate()
        .map(|(i, (s, camera))| ViewReadings {
            samples: s,
            camera,
            offset_s: if i == 0 { 0.0 } else { placement.offset_s },
        })
        .collect();
    Body {
        pelvis: fuse(&readings, 0, &pipeline.body),
        thorax: fuse(&readings, 1, &pipeline.body),
        limbs: limbs(prepared, placement, pipeline),
        instant_s: pipeline.body.instant_s,
        limb_half_s: pipeline.swing.limb_half_window_s,
    }
}

/// A joint of two views at an instant of the first.
pub fn world_joint(
    views: &[ViewSeries],
    placement: &Placement,
    times_b: &[f64],
    instant: &Instant,
    j: usize,
    max_gap_s: f64,
) -> Option<WorldJoint> {
    let [_, second] = views else { return None };
    let (i, f) = locate(times_b, instant.time_s - placement.offset_s)?;
    let (s0, s1) = (
        second.instants.get(i)?,
        second.instants.get(i + 1).or(second.instants.get(i))?,
    );
    if s1.time_s - s0.time_s > max_gap_s {
        return None;
    }
    let (pa, sigma_a) = joint(instant, j)?;
    let (p0, sigma_b) = joint(s0, j)?;
    let (p1, _) = joint(s1, j)?;
    let pb = p0 + (p1 - p0) * f;
    triangulate(&[
        (placement.cameras.first()?, pa, sigma_a),
        (placement.cameras.get(1)?, pb, sigma_b),
    ])
}

fn limbs(prepared: &Prepared, placement: &Placement, pipeline: &Pipeline) -> Limbs {
    let mut out = Limbs::default();
    let Some(first) = prepared.views.first() else {
        return out;
    };
    let two = prepared.views.get(1);
    let times_b: Vec<f64> =
        two.map_or_else(Vec::new, |v| v.instants.iter().map(|i| i.time_s).collect());
    for instant in &first.instants {
        out.time_s.push(instant.time_s);
        if two.is_some() {
            let at = |j| {
                world_joint(
                    &prepared.views,
                    placement,
                    &times_b,
                    instant,
                    j,
                    pipeline.body.max_gap_s,
                )
            };
            let knee = |hip, knee, ankle| knee_flexion(&at(hip)?, &at(knee)?, &at(ankle)?);
            out.series[0].push(knee(0, 2, 4));
            out.series[1].push(knee(1, 3, 5));
            out.series[2].push(at(6).zip(at(7)).and_then(|(l, t)| line_turn(&l, &t)));
        } else {
            let sigma = pipeline.swing.single_view_knee_sigma_deg.to_radians();
            for side in 0..2 {
                out.series[side].push(world_knee(instant, side).map(|v| (v, sigma * sigma)));
            }
            out.series[2].push(None);
        }
    }
    out
}

/// Knee flexion from the landmark network's own 3D points, radians.
fn world_knee(instant: &Instant, side: usize) -> Option<f64> {
    let at = |l: [usize; 2]| instant.world_m.get(l[side]);
    let (hip, knee, ankle) = (
        at(landmark::HIP)?,
        at(landmark::KNEE)?,
        at(landmark::ANKLE)?,
    );
    let u = (hip - knee).try_normalize(1e-6)?;
    let w = (ankle - knee).try_normalize(1e-6)?;
    Some(std::f64::consts::PI - u.dot(&w).clamp(-1.0, 1.0).acos())
}

/// Angles at a list of times with everything that widens them.
pub struct Estimator<'a> {
    pub body: Body,
    fit: &'a CameraFit,
    pipeline: &'a Pipeline,
    factors: Factors,
    mode: ViewMode,
    /// Bodies under each parameter of the fit's covariance moved by one step.
    moved: Vec<(Body, f64)>,
    /// Each angle at address, averaged over the still stretch, by placement (first: the fit's own).
    address: Vec<[Option<Read>; ANGLES]>,
}

impl<'a> Estimator<'a> {
    pub fn new(
        prepared: &Prepared,
        fit: &'a CameraFit,
        pipeline: &'a Pipeline,
        factors: Factors,
        address_s: &[f64],
    ) -> Self {
        let body = build_body(prepared, &Placement::of(fit), pipeline);
        let moved: Vec<(Body, f64)> = (0..fit.covariance.nrows())
            .map(|k| {
                let step = fit.covariance[(k, k)].max(0.0).sqrt().max(1e-6) * 0.5;
                (
                    build_body(
                        prepared,
                        &Placement::moved(fit, prepared, k, step),
                        pipeline,
                    ),
                    step,
                )
            })
            .collect();
        let address = std::iter::once(&body)
            .chain(moved.iter().map(|m| &m.0))
            .map(|b| mean_row(&b.angles(address_s)))
            .collect();
        Self {
            body,
            fit,
            pipeline,
            factors,
            mode: ViewMode::of(prepared.views.iter().map(|v| v.role)),
            moved,
            address,
        }
    }

    /// Estimates of every measure at `times` (increasing). `event`: the event and its time's
    /// standard deviation, when the times are that event's; `None` for the curve.
    pub fn at(&self, times: &[f64], event: Option<(Event, f64)>) -> Vec<Vec<(Measure, Estimate)>> {
        let own = self.body.angles(times);
        let moved: Vec<AngleTable> = self.moved.iter().map(|(b, _)| b.angles(times)).collect();
        (0..times.len())
            .map(|i| {
                Measure::ALL
                    .into_iter()
                    .map(|m| (m, self.one(m, i, times[i], &own, &moved, event)))
                    .collect()
            })
            .collect()
    }

    fn one(
        &self,
        measure: Measure,
        i: usize,
        t: f64,
        own: &AngleTable,
        moved: &[AngleTable],
        event: Option<(Event, f64)>,
    ) -> Estimate {
        let at_address = event.is_some_and(|(e, _)| e == Event::Address);
        let Some(value) = self.value(measure, i, own, 0, at_address) else {
            return Estimate::default();
        };
        let gradient: Vec<f64> = moved
            .iter()
            .enumerate()
            .map(|(k, table)| {
                let v = self
                    .value(measure, i, table, k + 1, at_address)
                    .map_or(value.value, |v| v.value);
                wrap(v - value.value) / self.moved[k].1
            })
            .collect();
        let geometry = self.geometry(&gradient);
        let timing = event.map_or(0.0, |(_, s)| value.rate * s).powi(2);
        let apart = self.disagreement(measure, t);
        let floor = self.pipeline.interval.sigma_floor_deg.to_radians().powi(2);
        let sigma = (value.variance + geometry + timing + apart + floor).sqrt();
        let half = Z95 * sigma * self.factors.scale(self.mode, measure, event.map(|e| e.0));
        interval(value.value, half)
    }

    /// How far a segment's turn goes from one moment to a later one. The camera's azimuth cancels,
    /// and no address is needed.
    pub fn between(
        &self,
        angle: Angle,
        from: (Event, EventTime),
        to: (Event, EventTime),
    ) -> Estimate {
        let times = [from.1.time_s, to.1.time_s];
        let turned = |body: &Body| -> Option<(f64, Read, Read)> {
            let table = body.angles(&times);
            let (a, b) = (table.get(0, angle)?, table.get(1, angle)?);
            Some((wrap(b.value - a.value), a, b))
        };
        let Some((value, a, b)) = turned(&self.body) else {
            return Estimate::default();
        };
        let gradient: Vec<f64> = self
            .moved
            .iter()
            .map(|(body, step)| turned(body).map_or(0.0, |t| wrap(t.0 - value) / step))
            .collect();
        let timing = (a.rate * from.1.sigma_s).powi(2) + (b.rate * to.1.sigma_s).powi(2);
        let Some(measure) = Measure::of(angle, None, true) else {
            return Estimate::default();
        };
        let apart = self.disagreement(measure, times[0]) + self.disagreement(measure, times[1]);
        let floor = self.pipeline.interval.sigma_floor_deg.to_radians().powi(2);
        let sigma =
            (a.variance + b.variance + self.geometry(&gradient) + timing + apart + floor).sqrt();
        // The same two readings less one another as a turn from address, so its factor holds.
        let half = Z95 * sigma * self.factors.scale(self.mode, measure, Some(to.0));
        interval(value, half)
    }

    /// The cameras' part of a variance: gradient times covariance times gradient.
    fn geometry(&self, gradient: &[f64]) -> f64 {
        let g = DMatrix::from_row_slice(1, gradient.len(), gradient);
        (&g * &self.fit.covariance * g.transpose())[(0, 0)]
    }

    /// A measure's value, variance (networks' part) and rate. `placement` 0 is the fit's own.
    fn value(
        &self,
        measure: Measure,
        i: usize,
        table: &AngleTable,
        placement: usize,
        at_address: bool,
    ) -> Option<Read> {
        let address = self.address.get(placement)?;
        let get = |a: Angle| {
            if at_address {
                address[a as usize]
            } else {
                table.get(i, a)
            }
        };
        let from_address = |a: Angle| -> Option<Read> {
            let (now, then) = (get(a)?, address[a as usize]?);
            if at_address {
                return Some(Read {
                    value: 0.0,
                    variance: 0.0,
                    rate: 0.0,
                });
            }
            // Turns run on from address: take the branch nearest to it, so that no wrap hides.
            Some(Read {
                value: wrap(now.value - then.value),
                variance: now.variance + then.variance,
                rate: now.rate,
            })
        };
        let minus = |a: Option<Read>, b: Option<Read>| {
            let (a, b) = (a?, b?);
            Some(Read {
                value: wrap(a.value - b.value),
                variance: a.variance + b.variance,
                rate: a.rate - b.rate,
            })
        };
        let spec = measure.spec();
        let read = |a: Angle| {
            if spec.from_address {
                from_address(a)
            } else {
                get(a)
            }
        };
        match spec.less {
            Some(less) => minus(read(spec.angle), read(less)),
            None => read(spec.angle),
        }
    }

    /// Variance for the two views' disagreement beyond what their sigmas allow.
    fn disagreement(&self, measure: Measure, t: f64) -> f64 {
        let excess = |fused: &crate::body::Fused| -> f64 {
            let Some(d) = disagreement(fused, t, self.body.instant_s) else {
                return 0.0;
            };
            let expected = expected_disagreement(fused, t, self.body.instant_s).unwrap_or(d.abs());
            (d.abs() - expected).max(0.0).powi(2) / 4.0
        };
        let spec = measure.spec();
        let parts = std::iter::once(spec.angle).chain(spec.less);
        parts
            .map(|angle| match angle {
                Angle::PelvisTurn => excess(&self.body.pelvis),
                Angle::ThoraxTurn => excess(&self.body.thorax),
                _ => 0.0,
            })
            .sum()
    }

    /// Largest disagreement over its standard deviation at `t`, of pelvis and thorax.
    pub fn disagreement_ratio(&self, t: f64) -> Option<f64> {
        [&self.body.pelvis, &self.body.thorax]
            .into_iter()
            .filter_map(|f| {
                let d = disagreement(f, t, self.body.instant_s)?;
                Some(d.abs() / expected_disagreement(f, t, self.body.instant_s)?)
            })
            .max_by(f64::total_cmp)
    }
}

/// Degrees from radians; nothing where either is not finite.
fn interval(value: f64, half: f64) -> Estimate {
    if !half.is_finite() || !value.is_finite() {
        return Estimate::default();
    }
    let (d, h) = (value.to_degrees(), half.to_degrees());
    Estimate::new(d, d - h, d + h)
}

/// Mean of each angle over the rows of a table; variances are averaged, not reduced: the networks'
/// errors are alike over a still stretch.
fn mean_row(table: &AngleTable) -> [Option<Read>; ANGLES] {
    let mut out = [None; ANGLES];
    for (a, slot) in out.iter_mut().enumerate() {
        let reads: Vec<Read> = table.rows.iter().filter_map(|r| r[a]).collect();
        let n = reads.len() as f64;
        if !reads.is_empty() {
            *slot = Some(Read {
                value: reads.iter().map(|r| r.value).sum::<f64>() / n,
                variance: reads.iter().map(|r| r.variance).sum::<f64>() / n,
                rate: 0.0,
            });
        }
    }
    out
}
