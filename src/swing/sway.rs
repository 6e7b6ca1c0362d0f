//! How far the hips shift along the target line.

use std::collections::BTreeMap;

use super::events::Events;
use super::tempo::Sure;
use crate::body::WorldJoints;
use crate::config::SwingConfig;
use crate::math::series::nearest;
use crate::pair::ViewSeries;
use crate::pose::TorsoPoint;
use crate::terms::Event;

const HIPS: [TorsoPoint; 2] = [TorsoPoint::HipL, TorsoPoint::HipR];
const ANKLES: [TorsoPoint; 2] = [TorsoPoint::AnkleL, TorsoPoint::AnkleR];
/// A place is the mean of seven readings, so many of them a second.
const READINGS_PER_S: f64 = 60.0;

/// A shift of the hip midpoint from address, positive towards the target.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sway {
    /// Hundredths of the distance between the ankles at address.
    pub percent_of_stance: Sure,
    /// Centimetres.
    pub cm: Sure,
}

/// The sway at each moment that was seen, `view` being the one that carries the clock; empty where the
/// stance was not.
pub fn sway(
    view: &ViewSeries,
    joints: &WorldJoints<'_>,
    events: &Events,
    config: &SwingConfig,
) -> BTreeMap<Event, Sway> {
    let times: Vec<f64> = view.instants.iter().map(|i| i.time_s).collect();
    let mean = |t: f64, pair: [TorsoPoint; 2]| -> Option<(f64, f64)> {
        let at = |k: i32| {
            let i = nearest(&times, t + f64::from(k) / READINGS_PER_S)?;
            joints.along_line(view.instants.get(i)?, pair)
        };
        let seen: Vec<(f64, f64)> = (-3..=3).filter_map(at).collect();
        let n = seen.len() as f64;
        let mean = |of: fn(&(f64, f64)) -> f64| seen.iter().map(of).sum::<f64>() / n;
        (n > 0.0).then(|| (mean(|s| s.0), mean(|s| s.1)))
    };
    let at_address = || {
        let t = events.address?.time_s - config.sway_before_takeaway_s;
        Some((mean(t, HIPS)?, mean(t, ANKLES)?))
    };
    let Some((hips, ankles)) = at_address() else {
        return BTreeMap::new();
    };
    let stance = (ankles.0 - ankles.1).abs();
    if stance < config.least_stance_m {
        return BTreeMap::new();
    }
    let one = |(event, t): (Event, f64)| {
        let now = mean(t, HIPS)?;
        let shift_m = (now.0 + now.1 - hips.0 - hips.1) / 2.0;
        let cm = if event == Event::Address {
            Sure {
                value: 0.0,
                sigma: 0.0,
            }
        } else {
            Sure {
                value: 100.0 * shift_m,
                sigma: 100.0 * config.sway_sigma_m,
            }
        };
        let percent_of_stance = Sure {
            value: cm.value / stance,
            sigma: cm.sigma / stance,
        };
        Some((
            event,
            Sway {
                percent_of_stance,
                cm,
            },
        ))
    };
    let seen = events.seen().map(|(event, at)| (event, at.time_s));
    seen.filter_map(one).collect()
}
