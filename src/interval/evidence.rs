//! What an estimate's sureness may depend on beyond its propagated standard deviation: inputs of
//! the learnt score.

use crate::body::Belief;
use crate::camera::CameraFit;
use crate::config::{Evidence, Feature, Segment};
use crate::math::series::nearest;
use crate::pair::ViewSeries;
use crate::pose::TorsoPoint;
use crate::swing::{Body, turn_and_rate};
use crate::terms::{Angle, Measure};

/// What holds for the whole swing, and where the hands were.
#[derive(Clone, Debug)]
pub struct Facts {
    misfit: f64,
    pixels: f64,
    azimuth: f64,
    /// Times and heights over the hips in golfer heights, first view.
    hands: (Vec<f64>, Vec<f64>),
    /// About the takeaway, first view's clock.
    takeaway_s: f64,
}

/// Radians that a chest usually turns while the hands rise by a golfer's height: 90° at the top of a full
/// swing, where they are half a height higher than at address. A scale; what it misses is learnt.
const USUAL_TURN_A_RISE: f64 = std::f64::consts::PI;

impl Facts {
    /// From the views, the first of which carries the clock, and their cameras.
    pub fn of(views: &[ViewSeries], fit: &CameraFit, takeaway_s: f64) -> Self {
        let known = |v: f64| if v.is_finite() { v } else { 0.0 };
        let pixels = views.iter().map(|v| v.body_px);
        let azimuth = fit.views.iter().map(|v| v.attitude.azimuth.abs());
        Self {
            misfit: known(fit.misfit.max(1e-3).ln()),
            pixels: known(pixels.fold(f64::INFINITY, f64::min).max(1.0).ln()),
            azimuth: known(azimuth.fold(0.0, f64::max)),
            hands: views.first().map_or_else(Default::default, hands),
            takeaway_s,
        }
    }
}

fn hands(view: &ViewSeries) -> (Vec<f64>, Vec<f64>) {
    view.instants
        .iter()
        .filter_map(|i| {
            let (l, r) = (i.point(TorsoPoint::HipL)?, i.point(TorsoPoint::HipR)?);
            let hips = (l.0.y + r.0.y) / 2.0;
            Some((i.time_s, (hips - view.hands(i)?.y) / view.body_px))
        })
        .unzip()
}

/// The segments that a measure is read from. Knees go with the pelvis.
pub fn segments_of(measure: Measure) -> &'static [Segment] {
    let spec = measure.spec();
    match spec.angle {
        _ if spec.less.is_some() => &Segment::ALL,
        Angle::ThoraxTurn | Angle::ThoraxSide | Angle::ThoraxForward | Angle::ShoulderLine => {
            &[Segment::Thorax]
        }
        _ => &[Segment::Pelvis],
    }
}

/// Evidence for a measure at `t`; `since` are moments of address, empty where the measure does not
/// count from there.
pub fn evidence(facts: &Facts, body: &Body, measure: Measure, t: f64, since: &[f64]) -> Evidence {
    let mut e = Evidence::default();
    let mut put = |feature: Feature, value: f64| {
        if value.is_finite() {
            e[feature as usize] = value;
        }
    };
    let segments = segments_of(measure);
    let most = |of: &dyn Fn(&Belief) -> f64| {
        let each = segments.iter().map(|s| of(&body.beliefs[*s as usize]));
        each.fold(f64::NEG_INFINITY, f64::max)
    };
    put(
        Feature::Network,
        most(&|b| network(b, t).to_degrees().max(0.1).ln()),
    );
    put(
        Feature::Apart,
        most(&|b| {
            b.view_inconsistency(0, t, since)
                .map_or(0.0, |(d, s)| d.abs() / s)
        }),
    );
    let sides = |b: &Belief| {
        let each = b.curves.iter().map(|c| c.sides_at(t));
        each.fold(0.0, f64::max).to_degrees()
    };
    put(Feature::Sides, most(&sides));
    put(Feature::Misfit, facts.misfit);
    put(Feature::Pixels, facts.pixels);
    put(Feature::Azimuth, facts.azimuth);
    let turned = |b: &Belief| {
        let n = b.curves.len().max(1) as f64;
        (b.curves.iter().map(|c| c.turn_at(t)).sum::<f64>() / n).abs()
    };
    put(Feature::Turn, most(&turned));
    let rate = segments
        .iter()
        .filter_map(|s| turn_and_rate(body.segment(*s), t))
        .map(|r| r.1.abs());
    put(Feature::Rate, rate.fold(0.0, f64::max));
    let (times, heights) = &facts.hands;
    if let Some(i) = nearest(times, t) {
        put(Feature::Hands, heights[i]);
        if let Some(first) = nearest(times, facts.takeaway_s) {
            let rise = heights[i] - heights[first];
            put(Feature::Arms, most(&turned) - USUAL_TURN_A_RISE * rise);
        }
    }
    e
}

/// The network's standard deviation of the turn, views by their weights, radians.
fn network(belief: &Belief, t: f64) -> f64 {
    let w = belief.weights(0, t).unwrap_or([0.5; 2]);
    let each = belief.curves.iter().zip(w);
    each.map(|(c, w)| w * c.sigma_at(0, t)).sum()
}
