//! The residuals of the camera search, each divided by its standard deviation.

use nalgebra::{DVector, Matrix3, Rotation3, Vector2, Vector3};

use super::model::Camera;
use super::problem::Problem;
use super::view_data::{JOINTS, StillPoint};
use crate::config::Segment;
use crate::math::rotation::log;
use crate::math::series::between;
use crate::math::stats::student_weight;

/// Residuals with the group sizes that share one robust weight.
#[derive(Clone, Debug, Default)]
pub struct Residuals {
    pub values: Vec<f64>,
    /// Each group that may hold an outlier.
    pub robust: Vec<Group>,
}

/// Residuals that share one robust weight.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Group {
    pub start: usize,
    pub len: usize,
    /// What the residuals were divided by, beyond their standard deviation, because their
    /// neighbours err alike. Whether one is an outlier is asked before that.
    pub deflated: f64,
}

impl Residuals {
    fn push(&mut self, value: f64) {
        self.values.push(value);
    }

    /// `values` in standard deviations, to count as `deflated` times less sure.
    fn push_robust(&mut self, values: &[f64], deflated: f64) {
        self.robust.push(Group {
            start: self.values.len(),
            len: values.len(),
            deflated,
        });
        self.values.extend(values.iter().map(|v| v / deflated));
    }

    /// Square roots of Student weights for the robust groups, 1 elsewhere.
    pub fn weights(&self, nu: f64) -> DVector<f64> {
        let mut w = DVector::from_element(self.values.len(), 1.0);
        for g in &self.robust {
            let squares = self.values[g.start..g.start + g.len].iter();
            let d2: f64 = squares.map(|v| (v * g.deflated).powi(2)).sum();
            let weight = student_weight(d2, g.len as f64, nu).min(1.0).sqrt();
            w.rows_mut(g.start, g.len).fill(weight);
        }
        w
    }
}

/// A residual this large (in standard deviations) stands for "behind the camera".
const BEHIND: f64 = 50.0;

impl Problem<'_> {
    /// All residuals at `x`. Their number and order depend on the problem only, never on `x`.
    pub fn residuals(&self, x: &DVector<f64>) -> Residuals {
        let mut r = Residuals::default();
        let cameras: Vec<Camera> = (0..self.views.len()).map(|v| self.camera(x, v)).collect();
        self.priors(x, &cameras, &mut r);
        self.still_points(x, &cameras, &mut r);
        if let [a, b] = cameras.as_slice() {
            let offset = self.layout().offset().map_or(0.0, |i| x[i]);
            r.push((offset - self.offset_s) / self.offset_sigma_s);
            self.rotations_agree(a, b, offset, &mut r);
            self.joints_agree(a, b, offset, &mut r);
        }
        r
    }

    fn priors(&self, x: &DVector<f64>, cameras: &[Camera], r: &mut Residuals) {
        let c = self.config;
        for (v, camera) in cameras.iter().enumerate() {
            let attitude = self.attitude(x, v);
            let round = attitude.azimuth - self.views[v].azimuth;
            r.push(round / c.azimuth_sigma_deg.to_radians());
            r.push(attitude.pitch / c.pitch_sigma_deg.to_radians());
            r.push(attitude.roll / c.roll_sigma_deg.to_radians());
            let (focal, spread) = self.focal_prior(v);
            r.push((camera.focal_px / focal).ln() / spread);
            r.push((camera.position_m.z - c.height_prior_m) / c.height_sigma_m);
            let distance = camera.position_m.xy().norm().max(0.1);
            r.push((distance / c.distance_prior_m).ln() / c.distance_spread);
        }
        for p in StillPoint::ALL {
            let (at, spread) = self.point_prior(p);
            let d = self.point(x, p) - at;
            for k in 0..3 {
                r.push(d[k] / spread[k]);
            }
        }
        // The world's origin lies midway between the ankles; its X runs along the target line, to
        // which golfers set feet roughly parallel.
        let middle =
            (self.point(x, StillPoint::AnkleLead) + self.point(x, StillPoint::AnkleTrail)) / 2.0;
        r.push(middle.x / 0.01);
        r.push(middle.y / 0.01);
        use StillPoint as P;
        for (lead, trail, sigma_deg) in [
            (P::AnkleLead, P::AnkleTrail, c.ankle_line_sigma_deg),
            (P::ToeLead, P::ToeTrail, c.toe_line_sigma_deg),
        ] {
            let line = self.point(x, lead) - self.point(x, trail);
            // The sine against the prior's length, not the angle itself: an angle has no gradient
            // worth following when the search passes near feet together.
            let length = self.point_prior(lead).0.x - self.point_prior(trail).0.x;
            r.push(line.y / length / sigma_deg.to_radians());
        }
    }

    fn still_points(&self, x: &DVector<f64>, cameras: &[Camera], r: &mut Residuals) {
        for (view, camera) in self.views.iter().zip(cameras) {
            for p in StillPoint::ALL {
                let Some((seen, sigma)) = view.still[p as usize] else {
                    continue;
                };
                let e = camera
                    .project(&self.point(x, p))
                    .map_or(Vector2::repeat(BEHIND), |at| (at - seen) / sigma);
                r.push_robust(&[e.x, e.y], 1.0);
            }
        }
    }

    /// Both views must read the same rotation of each segment at each instant.
    fn rotations_agree(&self, a: &Camera, b: &Camera, offset: f64, r: &mut Residuals) {
        let [va, vb] = self.views else { return };
        let times: Vec<f64> = vb.rotations.iter().map(|s| s.time_s).collect();
        let n = va.rotations.len().max(1) as f64;
        // Errors of neighbouring frames are alike: the samples count as this many independent ones.
        let inflate = (n / self.config.independent_rotations).sqrt().max(1.0);
        for sample in &va.rotations {
            let at = between(&times, sample.time_s - offset, self.config.max_gap_s);
            for segment in Segment::ALL {
                let residual = at.and_then(|(i, next, f)| {
                    let (s0, s1) = (vb.rotations.get(i)?, vb.rotations.get(next)?);
                    let (r0, cov) = b.world_from_segment(s0, segment);
                    let (r1, _) = b.world_from_segment(s1, segment);
                    let rb = Rotation3::from_scaled_axis(log(&(r1 * r0.inverse())) * f) * r0;
                    let (ra, cov_a) = a.world_from_segment(sample, segment);
                    let d = log(&(ra * rb.inverse()));
                    whiten(&d, &(cov + cov_a))
                });
                let e = residual.unwrap_or_else(Vector3::zeros);
                r.push_robust(&[e.x, e.y, e.z], inflate);
            }
        }
    }

    /// The two rays to a joint must meet: distance from the epipolar line, in pixels over sigma.
    fn joints_agree(&self, a: &Camera, b: &Camera, offset: f64, r: &mut Residuals) {
        let [va, vb] = self.views else { return };
        let times: Vec<f64> = vb.joints.iter().map(|s| s.time_s).collect();
        let n = va.joints.len().max(1) as f64;
        let inflate = (n / self.config.independent_joints).sqrt().max(1.0);
        for sample in &va.joints {
            let at = between(&times, sample.time_s - offset, self.config.max_gap_s);
            for j in 0..JOINTS {
                let residual = at.and_then(|(i, next, f)| {
                    let (s0, s1) = (vb.joints.get(i)?, vb.joints.get(next)?);
                    let (p0, sigma_b) = s0.points[j]?;
                    let (p1, _) = s1.points[j].unwrap_or((p0, sigma_b));
                    let (pa, sigma_a) = sample.points[j]?;
                    epipolar(a, b, &pa, sigma_a, &(p0 + (p1 - p0) * f), sigma_b)
                });
                r.push_robust(&[residual.unwrap_or(0.0)], inflate);
            }
        }
    }
}

/// `d` whitened by the Cholesky factor of its covariance; `None` where that is not positive.
fn whiten(d: &Vector3<f64>, covariance: &Matrix3<f64>) -> Option<Vector3<f64>> {
    let l = covariance.cholesky()?.l();
    l.solve_lower_triangular(d)
}

/// Signed epipolar misfit over its standard deviation; `None` where the rays are nearly parallel
/// to the baseline and tell nothing.
pub fn epipolar(
    a: &Camera,
    b: &Camera,
    pa: &Vector2<f64>,
    sigma_a: f64,
    pb: &Vector2<f64>,
    sigma_b: f64,
) -> Option<f64> {
    let baseline = (b.position_m - a.position_m).try_normalize(1e-6)?;
    let (ra, rb) = (a.ray(pa), b.ray(pb));
    let volume = ra.cross(&rb).dot(&baseline);
    // Angle errors of each ray, radians, and how much each moves the triple product.
    let (ea, eb) = (sigma_a / a.focal_px, sigma_b / b.focal_px);
    let (ga, gb) = (rb.cross(&baseline).norm(), baseline.cross(&ra).norm());
    let sigma = (ea * ga).hypot(eb * gb);
    (sigma > 1e-9).then_some(volume / sigma)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Deflation for alike neighbours must not hide an outlier: 5 standard deviations of a rotation
    /// keep (ν + 3) / (ν + 25) of their weight, 0.24 at ν = 4.
    #[test]
    fn an_outlier_is_known_by_its_own_standard_deviation() {
        for deflated in [1.0, 5f64.sqrt(), 3.0] {
            let mut r = Residuals::default();
            r.push_robust(&[5.0, 0.0, 0.0], deflated);
            assert!((r.values[0] - 5.0 / deflated).abs() < 1e-12);
            let weight = r.weights(4.0)[0].powi(2);
            assert!((weight - 7.0 / 29.0).abs() < 1e-9, "{deflated}: {weight}");
        }
    }
}
