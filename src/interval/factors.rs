//! Calibrated scale factors of intervals, by way of filming, measure and event.
//!
//! Split conformal prediction (Vovk et al. 2005; Lei et al. 2018): on calibration clips, the
//! normalised scores |estimate − truth| / (1.96 σ) are ranked, and the ⌈(n+1)·0.95⌉-th is the
//! factor by which 1.96 σ must be scaled for 95 % of new clips of the same kind. σ is the propagated
//! standard deviation times a score that was learnt on other clips: what made it too small or too large.

use crate::config::{Evidence, Learned, Pipeline, Segment};
use crate::terms::{Angle, Event, Measure, ViewMode};

/// Half-width of a normal 95 % interval in standard deviations.
pub const Z95: f64 = 1.959_964;

/// All factors.
#[derive(Clone, Debug, PartialEq)]
pub struct Factors {
    learned: Learned,
    default_scale: f64,
}

impl Factors {
    /// The pipeline's, and its default where none is on record.
    pub fn of(pipeline: &Pipeline) -> Self {
        Self {
            learned: pipeline.learned.clone(),
            default_scale: pipeline.interval.default_scale,
        }
    }

    /// No scaling: propagated variances as they are; for calibration itself.
    pub fn unit() -> Self {
        Self {
            learned: Learned::default(),
            default_scale: 1.0,
        }
    }

    /// Factor for a measure at an event, or on the curve with `None`.
    pub fn scale(
        &self,
        mode: ViewMode,
        measure: Measure,
        event: Option<Event>,
        evidence: &Evidence,
    ) -> f64 {
        let score = self
            .learned
            .scores
            .iter()
            .find(|s| s.mode == mode && s.measures.contains(&measure))
            .map_or(1.0, |s| s.factor(evidence));
        let find = |e: Option<Event>| {
            self.learned
                .factors
                .iter()
                .find(|f| f.mode == mode && f.measure == measure && f.event == e)
                .map(|f| f.scale)
        };
        let factor = event
            .and_then(|e| find(Some(e)))
            .or_else(|| find(None))
            .unwrap_or(self.default_scale);
        factor * score * self.people(measure, evidence)
    }

    /// What a real person's readings are less sure by than rendered ones'; for two segments the more.
    fn people(&self, measure: Measure, evidence: &Evidence) -> f64 {
        use Angle as A;
        let spec = measure.spec();
        let of = |angle: Angle| {
            let segment = match angle {
                A::PelvisTurn | A::PelvisSide | A::PelvisForward => Segment::Pelvis,
                A::ThoraxTurn | A::ThoraxSide | A::ThoraxForward => Segment::Thorax,
                A::LeadKnee | A::TrailKnee | A::ShoulderLine => return 1.0,
            };
            let known = self.learned.people.iter().find(|p| p.segment == segment);
            known.map_or(1.0, |p| p.factor(evidence))
        };
        of(spec.angle).max(spec.less.map_or(1.0, of))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::{Factor, Feature, People, Score, Term};

    #[test]
    fn an_events_own_factor_comes_before_the_general_one() {
        let factor = |event, scale| Factor {
            mode: ViewMode::FaceOn,
            measure: Measure::PelvisTurn,
            event,
            scale,
            n: 16,
        };
        let mut f = Factors::unit();
        f.learned.factors = vec![factor(None, 2.0), factor(Some(Event::Top), 3.0)];
        f.learned.scores.push(Score {
            mode: ViewMode::FaceOn,
            measures: vec![Measure::PelvisTurn],
            terms: vec![Term {
                feature: Feature::Turn,
                weight: std::f64::consts::LN_2,
                low: 0.0,
                high: 1.0,
            }],
        });
        let mut evidence = Evidence::default();
        let scale = |mode, event| f.scale(mode, Measure::PelvisTurn, event, &evidence);
        assert_eq!(scale(ViewMode::FaceOn, Some(Event::Top)), 3.0);
        assert_eq!(scale(ViewMode::FaceOn, Some(Event::Impact)), 2.0);
        assert_eq!(scale(ViewMode::TwoView, None), 1.0);
        // What was never seen while learning counts as the most that was.
        evidence[Feature::Turn as usize] = 9.0;
        let scale = |mode, event| f.scale(mode, Measure::PelvisTurn, event, &evidence);
        assert!((scale(ViewMode::FaceOn, None) - 4.0).abs() < 1e-12);
        assert_eq!(scale(ViewMode::TwoView, None), 1.0);
    }

    #[test]
    fn only_where_the_network_is_as_unsure_as_of_a_real_person_does_their_term_widen() {
        let mut f = Factors::unit();
        f.learned.people.push(People {
            segment: Segment::Thorax,
            network_low_deg: 5.0,
            network_high_deg: 10.0,
            factor: 1.6,
        });
        let scale = |measure, network_deg: f64| {
            let mut evidence = Evidence::default();
            evidence[Feature::Network as usize] = network_deg.ln();
            f.scale(ViewMode::TwoView, measure, None, &evidence)
        };
        assert_eq!(scale(Measure::ThoraxTurn, 4.0), 1.0);
        assert!((scale(Measure::ThoraxTurn, 50f64.sqrt()) - 1.3).abs() < 1e-9);
        assert!((scale(Measure::Separation, 30.0) - 1.6).abs() < 1e-9);
        assert_eq!(scale(Measure::PelvisTurn, 30.0), 1.0);
        assert_eq!(scale(Measure::LeadKneeFlexion, 30.0), 1.0);
    }
}
