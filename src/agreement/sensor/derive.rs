//! What follows from the measures that a sensor gives.

use super::SensorSwing;
use crate::math::rotation::wrap;
use crate::terms::Measure;

/// Turns are azimuths and may jump at ±180°: makes each continuous across samples.
pub fn unwrap_turns(swing: &mut SensorSwing) {
    use Measure as M;
    for m in [
        M::PelvisTurn,
        M::ThoraxTurn,
        M::PelvisTurnFromAddress,
        M::ThoraxTurnFromAddress,
        M::ShoulderLineTurnFromAddress,
    ] {
        if let Some(series) = swing.series.get_mut(&m) {
            unwrap_degrees(series);
        }
    }
}

/// Steps of more than 180° between neighbouring values are taken as wraps; gaps stay.
pub fn unwrap_degrees(series: &mut [Option<f64>]) {
    let mut last: Option<f64> = None;
    for v in series.iter_mut().flatten() {
        if let Some(l) = last {
            *v = l + wrap((*v - l).to_radians()).to_degrees();
        }
        last = Some(*v);
    }
}
