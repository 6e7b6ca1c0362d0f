//! What is shown first of a swing: the figures at the top, or at the next moment that was seen.

use crate::result::{Estimate, SwingResult, Why};
use crate::terms::{Event, Measure};

/// The figures that stand first.
#[derive(Clone, Debug, PartialEq)]
pub struct First {
    /// The moment.
    pub event: Event,
    /// Measures and their values there, in the order in which they are shown.
    pub figures: Vec<(Measure, Estimate)>,
}

/// Moments in the order in which they are wanted.
const WANTED: [Event; 3] = [Event::Top, Event::Impact, Event::Finish];

/// `None` where no moment of the swing itself was seen.
pub fn first(swing: &SwingResult) -> Option<First> {
    WANTED.into_iter().find_map(|e| figures(swing, e))
}

/// The figures of one moment, where it was seen. Without an address turns are told against the
/// target line.
pub fn figures(swing: &SwingResult, event: Event) -> Option<First> {
    let at = swing.at.get(&event)?;
    let address = swing.events.contains_key(&Event::Address);
    let shown = |m: Measure| {
        let spec = m.spec();
        let to_line = || Measure::of(spec.angle, spec.less, false);
        if spec.from_address && !address {
            to_line().unwrap_or(m)
        } else {
            m
        }
    };
    let figures = Measure::headlines()
        .map(|(m, _)| shown(m))
        .filter_map(|m| Some((m, *at.get(&m)?)))
        .collect();
    Some(First { event, figures })
}

/// A measure at a moment, or that the moment was not seen.
pub fn at(swing: &SwingResult, event: Event, measure: Measure) -> Estimate {
    match swing.at.get(&event) {
        Some(at) => at.get(&measure).copied().unwrap_or_default(),
        None => Estimate::default().because(Why::MomentNotSeen),
    }
}

/// The heading over the figures.
pub fn heading(event: Event) -> &'static str {
    match event {
        Event::Address => "At address",
        Event::Top => "At the top of the backswing",
        Event::Impact => "At impact",
        Event::Finish => "At the finish",
    }
}
