//! Angles with intervals: the networks' part, the geometry's, the events' and the views'
//! disagreement, put together and scaled by the calibrated factors.

use nalgebra::DVector;
use serde::Serialize;

use super::evidence::{Facts, evidence, segments_of};
use super::factors::{Factors, Z95};
use crate::camera::CameraFit;
use crate::config::{Evidence, Feature, IntervalConfig};
use crate::math::rotation::wrap;
use crate::pair::ViewSeries;
use crate::swing::{AngleTable, Body, EventTime, Read};
use crate::terms::{ANGLES, Angle, Event, Measure, ViewMode};

/// A number with its 95 % interval; angles in degrees.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Ranged {
    /// The best estimate.
    pub value: f64,
    /// Low end of the interval.
    pub low: f64,
    /// High end of the interval.
    pub high: f64,
}

impl Ranged {
    /// A value with as much to either side.
    pub fn around(value: f64, half: f64) -> Self {
        Self {
            value,
            low: value - half,
            high: value + half,
        }
    }
}

/// Angles at a list of times with everything that widens them.
pub struct Estimator<'a> {
    /// The body under the cameras as found.
    pub body: Body,
    fit: &'a CameraFit,
    config: &'a IntervalConfig,
    factors: Factors,
    mode: ViewMode,
    /// Bodies under each parameter of the fit's covariance moved by one step.
    moved: Vec<(Body, f64)>,
    /// Each angle at address, averaged over the still stretch, by placement (first: the fit's own).
    address: Vec<[Option<Read>; ANGLES]>,
    /// A few moments of that stretch.
    address_s: Vec<f64>,
    facts: Facts,
}

impl<'a> Estimator<'a> {
    /// `body`: under the cameras as found; `moved`: under each parameter of their covariance moved by
    /// a step, with that step. `address_s`: moments of the still stretch at address, seconds.
    pub fn new(
        views: &[ViewSeries],
        fit: &'a CameraFit,
        body: Body,
        moved: Vec<(Body, f64)>,
        config: &'a IntervalConfig,
        factors: Factors,
        address_s: &[f64],
    ) -> Self {
        let address = std::iter::once(&body)
            .chain(moved.iter().map(|m| &m.0))
            .map(|b| mean_row(&b.angles(address_s)))
            .collect();
        Self {
            body,
            fit,
            config,
            factors,
            mode: ViewMode::of(views.iter().map(|v| v.role)),
            moved,
            address,
            address_s: spread(address_s),
            facts: Facts::of(views, fit, address_s.last().copied().unwrap_or(0.0)),
        }
    }

    /// Estimates of every measure at `times` (increasing). `event`: the event and its time's
    /// standard deviation, when the times are that event's; `None` for the curve.
    pub fn at(
        &self,
        times: &[f64],
        event: Option<(Event, f64)>,
    ) -> Vec<Vec<(Measure, Option<Ranged>)>> {
        let tables = Tables {
            own: self.body.angles(times),
            moved: self.moved.iter().map(|(b, _)| b.angles(times)).collect(),
            around: event.and_then(|(_, sigma_s)| {
                let t = *times.first()?;
                let nodes = NORMAL_NODES.map(|(x, _)| t + x * sigma_s);
                Some(self.body.angles(&nodes))
            }),
        };
        let event = event.map(|e| e.0);
        (0..times.len())
            .map(|i| {
                Measure::ALL
                    .into_iter()
                    .map(|m| (m, self.one(m, i, times[i], &tables, event)))
                    .collect()
            })
            .collect()
    }

    fn one(
        &self,
        measure: Measure,
        i: usize,
        t: f64,
        tables: &Tables,
        event: Option<Event>,
    ) -> Option<Ranged> {
        let at_address = event == Some(Event::Address);
        let value = self.value(measure, i, &tables.own, 0, at_address)?;
        let gradient: Vec<f64> = tables
            .moved
            .iter()
            .enumerate()
            .map(|(k, table)| {
                let v = self
                    .value(measure, i, table, k + 1, at_address)
                    .map_or(value.value, |v| v.value);
                wrap(v - value.value) / self.moved[k].1
            })
            .collect();
        let geometry = self.geometry(gradient);
        let timing = tables
            .around
            .as_ref()
            .map_or(0.0, |a| self.timing(measure, value.value, a, at_address));
        let (own, apart) = self.own(measure, t, at_address);
        let floor = self.config.sigma_floor_deg.to_radians().powi(2);
        let networks = own.unwrap_or(value.variance);
        let sigma = (networks + geometry + timing + apart + floor).sqrt();
        let mut evidence = self.evidence(measure, t);
        tell_sigma(&mut evidence, sigma);
        let half = Z95 * sigma * self.factors.scale(self.mode, measure, event, &evidence);
        interval(value.value, half)
    }

    /// How far a segment's turn goes from one moment to a later one. The camera's azimuth cancels,
    /// and no address is needed.
    pub fn between(
        &self,
        angle: Angle,
        from: (Event, EventTime),
        to: (Event, EventTime),
    ) -> Option<Ranged> {
        let times = [from.1.time_s, to.1.time_s];
        let turned = |body: &Body| -> Option<(f64, Read, Read)> {
            let table = body.angles(&times);
            let (a, b) = (table.get(0, angle)?, table.get(1, angle)?);
            Some((wrap(b.value - a.value), a, b))
        };
        let (value, a, b) = turned(&self.body)?;
        let gradient: Vec<f64> = self
            .moved
            .iter()
            .map(|(body, step)| turned(body).map_or(0.0, |t| wrap(t.0 - value) / step))
            .collect();
        let timing = (a.rate * from.1.sigma_s).powi(2) + (b.rate * to.1.sigma_s).powi(2);
        let measure = Measure::of(angle, None, true)?;
        let (since, [belief]) = (&times[..1], segments_of(measure)) else {
            return None;
        };
        let belief = &self.body.beliefs[*belief as usize];
        let own = belief.variance_since(0, times[1], since);
        let networks = own.unwrap_or(a.variance + b.variance) + belief.excess(0, times[1], since);
        let floor = self.config.sigma_floor_deg.to_radians().powi(2);
        let sigma = (networks + self.geometry(gradient) + timing + floor).sqrt();
        // Two readings less one another as a turn from address is, so its factor holds.
        let mut evidence = evidence(&self.facts, &self.body, measure, times[1], since);
        tell_sigma(&mut evidence, sigma);
        let half = Z95
            * sigma
            * self
                .factors
                .scale(self.mode, measure, Some(to.0), &evidence);
        interval(value, half)
    }

    /// The cameras' part of a variance: gradient times covariance times gradient.
    fn geometry(&self, gradient: Vec<f64>) -> f64 {
        let g = DVector::from_vec(gradient);
        g.dot(&(&self.fit.covariance * &g))
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
        // Turns run on: the branch nearest to what is taken off, so that no wrap hides.
        let minus = |a: Option<Read>, b: Option<Read>| {
            let (a, b) = (a?, b?);
            Some(Read {
                value: wrap(a.value - b.value),
                variance: a.variance + b.variance,
                rate: a.rate - b.rate,
            })
        };
        let spec = measure.spec();
        let nought = Read {
            value: 0.0,
            variance: 0.0,
            rate: 0.0,
        };
        let read = |a: Angle| match spec.from_address {
            true if at_address => address[a as usize].map(|_| nought),
            true => minus(get(a), address[a as usize]),
            false => get(a),
        };
        match spec.less {
            Some(less) => minus(read(spec.angle), read(less)),
            None => read(spec.angle),
        }
    }

    /// Variance for the event's time: the mean square of what the curve moves by over that time's
    /// spread. Near a reversal the rate is nought and the curve still falls away on both sides.
    fn timing(&self, measure: Measure, value: f64, around: &AngleTable, at_address: bool) -> f64 {
        let read = |i: usize| Some(self.value(measure, i, around, 0, at_address)?.value);
        spread_of(value, &[0, 1, 2, 3, 4].map(read))
    }

    /// For turns: the networks' variance with what moments share taken off (`None` for the rest),
    /// and what the views differ by beyond what is usual.
    fn own(&self, measure: Measure, t: f64, at_address: bool) -> (Option<f64>, f64) {
        if !matches!(measure.spec().angle, Angle::PelvisTurn | Angle::ThoraxTurn) {
            return (None, 0.0);
        }
        let since = self.since(measure);
        let beliefs = || {
            segments_of(measure)
                .iter()
                .map(|s| &self.body.beliefs[*s as usize])
        };
        if at_address && !since.is_empty() {
            return (Some(0.0), 0.0);
        }
        let own = (!since.is_empty()).then(|| {
            beliefs()
                .map(|b| b.variance_since(0, t, since))
                .sum::<Option<f64>>()
        });
        let apart = beliefs().map(|b| b.excess(0, t, since)).sum();
        (own.flatten(), apart)
    }

    /// Moments of address for measures that count from there.
    fn since(&self, measure: Measure) -> &[f64] {
        if measure.spec().from_address {
            &self.address_s
        } else {
            &[]
        }
    }

    /// What the learnt score is told of a measure at `t`, but for the propagated standard deviation.
    pub fn evidence(&self, measure: Measure, t: f64) -> Evidence {
        evidence(&self.facts, &self.body, measure, t, self.since(measure))
    }

    /// Largest disagreement of the views in turn at `t`, in the network's standard deviations.
    pub fn disagreement_ratio(&self, t: f64) -> Option<f64> {
        self.body
            .beliefs
            .iter()
            .filter_map(|b| b.inconsistency_by_network(0, t))
            .max_by(f64::total_cmp)
    }
}

fn tell_sigma(evidence: &mut Evidence, sigma: f64) {
    let ln = sigma.to_degrees().max(0.1).ln();
    if ln.is_finite() {
        evidence[Feature::Sigma as usize] = ln;
    }
}

/// Degrees from radians; nothing where either is not finite.
fn interval(value: f64, half: f64) -> Option<Ranged> {
    let (value, half) = (value.to_degrees(), half.to_degrees());
    (half.is_finite() && value.is_finite()).then(|| Ranged::around(value, half))
}

/// Angles at the times that are asked for.
struct Tables {
    own: AngleTable,
    /// Under each moved placement.
    moved: Vec<AngleTable>,
    /// Over the spread of an event's time, at [`NORMAL_NODES`].
    around: Option<AngleTable>,
}

/// Nodes and weights of Gauss and Hermite's quadrature for a standard normal variable (Abramowitz
/// and Stegun 1964, table 25.10, n = 5, nodes times the root of 2, weights over the root of pi).
const NORMAL_NODES: [(f64, f64); 5] = [
    (-2.856_970, 0.011_257_4),
    (-1.355_626, 0.222_075_9),
    (0.0, 0.533_333_3),
    (1.355_626, 0.222_075_9),
    (2.856_970, 0.011_257_4),
];

/// Mean square, over a normal spread, of what `nodes` (values at [`NORMAL_NODES`]) differ by from
/// `value`; missing nodes are left out.
fn spread_of(value: f64, nodes: &[Option<f64>; 5]) -> f64 {
    nodes
        .iter()
        .zip(NORMAL_NODES)
        .filter_map(|(then, (_, weight))| Some(weight * wrap((*then)? - value).powi(2)))
        .sum()
}

/// At most five of the times, evenly spread.
fn spread(times: &[f64]) -> Vec<f64> {
    const MOST: usize = 5;
    let last = times.len().saturating_sub(1);
    if last < MOST {
        return times.to_vec();
    }
    (0..MOST).map(|k| times[k * last / (MOST - 1)]).collect()
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

#[cfg(test)]
mod tests {
    use super::*;

    /// A top that may lie 44 ms off costs 2.3° where the rate is nought: for a parabola a t² the mean
    /// square over a normal spread is 3 a² σ⁴ exactly, which first order takes for nothing.
    #[test]
    fn a_reversals_time_costs_what_the_curve_falls_away_by() {
        let (sigma_s, fall) = (0.044, 2.3f64.to_radians());
        let curve = |t: f64| 1.5 - fall * (t / sigma_s).powi(2);
        let nodes = NORMAL_NODES.map(|(x, _)| Some(curve(x * sigma_s)));
        let expected = 3.0 * fall * fall;
        assert!((spread_of(1.5, &nodes) / expected - 1.0).abs() < 1e-3);
        // And a steady turn costs its rate times the spread.
        let nodes = NORMAL_NODES.map(|(x, _)| Some(1.5 + 8.0 * x * sigma_s));
        assert!((spread_of(1.5, &nodes) / (8.0 * sigma_s).powi(2) - 1.0).abs() < 1e-3);
    }
}
