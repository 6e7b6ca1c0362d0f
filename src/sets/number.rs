//! The numbers of a swing that sets are made of.

use crate::config::UsableConfig;
use crate::report::first::at;
use crate::result::{Estimate, Quantity, SwingResult, Why, widest_deg};
use crate::terms::{Event, Measure, Unit};

/// One number that every swing may have.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Number {
    /// A measure at an event.
    At(Event, Measure),
    /// Duration of the backswing over that of the downswing.
    Tempo,
    /// The hips' fastest opening in the downswing.
    PelvisSpeed,
    /// The rib cage's.
    ThoraxSpeed,
}

impl Number {
    /// All, in the order in which they are shown.
    pub fn all() -> Vec<Self> {
        let angles = Event::ALL
            .into_iter()
            .flat_map(|e| Measure::ALL.into_iter().map(move |m| Self::At(e, m)))
            // From address to address there is nothing.
            .filter(|n| !matches!(n, Self::At(Event::Address, m) if m.spec().from_address));
        angles
            .chain([Self::Tempo, Self::PelvisSpeed, Self::ThoraxSpeed])
            .collect()
    }

    /// The name in files: `top_pelvis_turn_from_address`.
    pub fn key(self) -> String {
        match self {
            Self::At(event, measure) => format!("{}_{}", event.key(), measure.key()),
            Self::Tempo => "tempo".into(),
            Self::PelvisSpeed => "pelvis_peak_turn_speed".into(),
            Self::ThoraxSpeed => "thorax_peak_turn_speed".into(),
        }
    }

    /// The name for people.
    pub fn words(self) -> &'static str {
        match self {
            Self::At(_, measure) => measure.words(),
            Self::Tempo => "Tempo, backswing to downswing",
            Self::PelvisSpeed => "Fastest opening of the hips",
            Self::ThoraxSpeed => "Fastest opening of the shoulders (rib cage)",
        }
    }

    /// What it is, in a sentence.
    pub fn explanation(self) -> &'static str {
        match self {
            Self::At(_, measure) => measure.spec().explanation,
            Self::Tempo => "How many times as long the backswing takes as the downswing.",
            Self::PelvisSpeed | Self::ThoraxSpeed => {
                "The largest speed of turning towards the target on the way down."
            }
        }
    }

    /// Its unit.
    pub fn unit(self) -> Unit {
        match self {
            Self::At(..) => Unit::Degrees,
            Self::Tempo => Unit::BackToDown,
            Self::PelvisSpeed | Self::ThoraxSpeed => Unit::DegreesPerSecond,
        }
    }

    /// The width of an interval from which this number is of no use.
    pub fn widest(self, limits: &UsableConfig) -> f64 {
        match self {
            Self::At(_, measure) => widest_deg(measure, limits),
            Self::Tempo => limits.ratio,
            Self::PelvisSpeed | Self::ThoraxSpeed => limits.speed_deg_s,
        }
    }

    /// The number of a swing.
    pub fn of(self, swing: &SwingResult) -> Quantity {
        let found = match self {
            Self::At(event, measure) => {
                Some(Quantity::of(at(swing, event, measure), Unit::Degrees))
            }
            Self::Tempo => swing.tempo.as_ref().map(|t| t.ratio.clone()),
            Self::PelvisSpeed => swing.turn_speed.as_ref().map(|s| s.pelvis.clone()),
            Self::ThoraxSpeed => swing.turn_speed.as_ref().map(|s| s.thorax.clone()),
        };
        let none = Estimate::default().because(Why::MomentNotSeen);
        found.unwrap_or_else(|| Quantity::of(none, self.unit()))
    }
}
