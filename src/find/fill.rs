//! Signals of a track of which not every frame was read, on even steps: between readings that are close
//! in time a value lies on the line between theirs. What looks at neighbouring frames then sees the same
//! times as where every frame was read.

use nalgebra::Vector2;

use super::signals::{Signals, close_s};
use crate::config::FindConfig;
use crate::math::stats::quantile;

/// The signals with values between sparse readings; as they are where readings are evenly spaced.
pub fn filled(s: &Signals, config: &FindConfig) -> Signals {
    let steps: Vec<f64> = s.time_s.array_windows().map(|[a, b]| b - a).collect();
    let Some(step) = quantile(&steps, config.short_steps).filter(|step| *step > 0.0) else {
        return s.clone();
    };
    let close_s = close_s(&s.time_s, config);
    let mut out = Signals {
        hands_sigma: s.hands_sigma,
        heading_sigma: s.heading_sigma,
        ..Signals::default()
    };
    for i in 0..s.time_s.len() {
        if let Some(before) = i.checked_sub(1) {
            let gap = s.time_s[i] - s.time_s[before];
            let parts = (gap / step).round().max(1.0) as usize;
            let parts = if gap <= close_s { parts } else { 1 };
            for k in 1..parts {
                out.push(s, before, k as f64 / parts as f64);
            }
        }
        out.push(s, i, 0.0);
    }
    out
}

impl Signals {
    /// Adds the value `share` of the way from sample `i` of `from` to the next.
    fn push(&mut self, from: &Self, i: usize, share: f64) {
        let next = if share > 0.0 { i + 1 } else { i };
        let mix = |v: &[f64]| v[i] + share * (v[next] - v[i]);
        self.time_s.push(mix(&from.time_s));
        for (mine, theirs) in self.heading.iter_mut().zip(&from.heading) {
            mine.push(mix(theirs));
        }
        let place = |v: &[Vector2<f64>]| v[i] + (v[next] - v[i]) * share;
        self.hands.push(place(&from.hands));
        self.feet.push(place(&from.feet));
        self.apart.push(mix(&from.apart));
        self.trunk.push(mix(&from.trunk));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::Pipeline;

    fn fill(times: &[f64]) -> Signals {
        let read = Signals {
            time_s: times.to_vec(),
            heading: [times.to_vec(), times.iter().map(|t| 2.0 * t).collect()],
            hands: times.iter().map(|t| Vector2::new(*t, -*t)).collect(),
            apart: times.to_vec(),
            feet: vec![Vector2::zeros(); times.len()],
            trunk: times.to_vec(),
            hands_sigma: 0.01,
            heading_sigma: 0.02,
        };
        filled(&read, &Pipeline::default().find)
    }

    #[test]
    fn what_was_left_out_is_put_on_the_line_and_a_gap_stays_one() {
        let s = fill(&[0.0, 0.05, 0.1, 0.1167, 0.1333, 0.15, 0.1667, 0.1833, 0.5]);
        let steps: Vec<f64> = s.time_s.array_windows().map(|[a, b]| b - a).collect();
        assert_eq!(s.time_s.len(), 13);
        assert!(
            steps[..11].iter().all(|d| (d - 1.0 / 60.0).abs() < 1e-3),
            "{steps:?}"
        );
        for (i, t) in s.time_s.iter().enumerate() {
            assert!((s.heading[1][i] - 2.0 * t).abs() < 1e-9 && (s.hands[i].y + t).abs() < 1e-9);
        }
    }

    #[test]
    fn even_readings_stay_as_they_are() {
        let times: Vec<f64> = (0..40).map(|i| f64::from(i) / 30.0).collect();
        assert_eq!(fill(&times).time_s, times);
        assert!(fill(&[]).time_s.is_empty());
        assert_eq!(fill(&[1.0]).time_s.len(), 1);
    }
}
