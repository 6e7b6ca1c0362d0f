//! An optional table of joint positions, for the C3D export.

use std::collections::BTreeMap;

/// Joints over time, metres in the world frame.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Joints {
    /// Seconds on the result's clock, rising.
    pub time_s: Vec<f64>,
    /// Name (`hip_lead`, …) to positions; `None` in a gap. Each has the length of `time_s`.
    pub position_m: BTreeMap<String, Vec<Option<[f64; 3]>>>,
}

impl Joints {
    /// Straight-line position of a joint at `t`, metres; `None` in a gap.
    pub fn at(&self, name: &str, t: f64) -> Option<[f64; 3]> {
        let series = self.position_m.get(name)?;
        let axis = |k: usize| {
            let one: Vec<Option<f64>> = series
                .iter()
                .map(|p| p.and_then(|p| p.get(k).copied()))
                .collect();
            crate::agreement::interpolate::Samples::new(&self.time_s, &one).at(t)
        };
        Some([axis(0)?, axis(1)?, axis(2)?])
    }

    /// The middle of two joints.
    pub fn middle(&self, a: &str, b: &str, t: f64) -> Option<[f64; 3]> {
        let (a, b) = (self.at(a, t)?, self.at(b, t)?);
        let [ax, ay, az] = a;
        let [bx, by, bz] = b;
        Some([(ax + bx) / 2.0, (ay + by) / 2.0, (az + bz) / 2.0])
    }
}
