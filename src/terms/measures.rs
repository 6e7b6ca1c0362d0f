//! The table of measures: one row says all that any room needs to know of one.

use std::fmt;

use serde::{Deserialize, Serialize};

use super::Unit;

/// The angles that are read from a body at an instant; every measure is made of these.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[repr(usize)]
pub enum Angle {
    /// Azimuth of the pelvis's left-right axis.
    PelvisTurn = 0,
    /// Second angle of the pelvis.
    PelvisSide = 1,
    /// Third angle of the pelvis.
    PelvisForward = 2,
    /// Azimuth of the thorax's left-right axis.
    ThoraxTurn = 3,
    /// Second angle of the thorax.
    ThoraxSide = 4,
    /// Third angle of the thorax.
    ThoraxForward = 5,
    /// Flexion of the knee nearer the target.
    LeadKnee = 6,
    /// Flexion of the knee farther from it.
    TrailKnee = 7,
    /// Azimuth of the line through the shoulder joints.
    ShoulderLine = 8,
}

/// Number of [`Angle`]s.
pub const ANGLES: usize = 9;

/// What more and less of a measure are called, where "above" and "below" could mislead.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MoreLess {
    /// More and less of a value above zero.
    pub plus: (&'static str, &'static str),
    /// More and less of a value below zero.
    pub minus: (&'static str, &'static str),
}

/// How a measure is called where it is shown large, in curves and in lists.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Headline {
    /// The name in a legend.
    pub short: &'static str,
    /// The class of its stroke in charts, and its name in the data of a page.
    pub class: &'static str,
}

/// What is decided with a measure. Each has a widest interval of its own in the pipeline's `[usable]`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tells {
    /// How far the hips turned: held from free.
    HipTurn,
    /// How far the shoulders (rib cage) turned: 90° from 60°.
    ChestTurn,
    /// Where a segment points against the target line.
    TurnToLine,
    /// How far the chest ran ahead of the hips.
    Separation,
    /// How far a segment is tipped.
    Bend,
    /// Whether a knee keeps its bend.
    Knee,
}

/// One row of the table.
#[derive(Clone, Copy, Debug)]
pub struct MeasureSpec {
    /// The name in files.
    pub key: &'static str,
    /// The name for people.
    pub name: &'static str,
    /// One sentence that says what it is and what its sign means.
    pub explanation: &'static str,
    /// The angle that it is.
    pub angle: Angle,
    /// The angle that is taken off, where it is a difference.
    pub less: Option<Angle>,
    /// Whether each angle counts from its own value at address, so that it is zero there.
    pub from_address: bool,
    /// What more and less of it are called.
    pub more_less: Option<MoreLess>,
    /// Set where it is shown large and along the curve.
    pub headline: Option<Headline>,
    /// What a coach decides with it, which sets how wide its interval may be.
    pub tells: Tells,
    /// Whether one view shows nothing of it.
    pub needs_two_views: bool,
}

const TURN: Option<MoreLess> = Some(MoreLess {
    plus: ("more closed", "less closed"),
    minus: ("less open", "more open"),
});

/// Makes the enumeration and its table from the rows, so that neither can lack one.
macro_rules! measures {
    ($($(#[$about:meta])* $name:ident = $key:literal { $($field:ident: $value:expr),* $(,)? })*) => {
        /// Every measure at an event and along the curve.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        pub enum Measure {
            $($(#[$about])* #[serde(rename = $key)] $name,)*
        }

        impl Measure {
            /// The unit of every one, in files and on pages: all are angles.
            pub const UNIT: Unit = Unit::Degrees;
            /// The pelvis's angles in their sequence.
            pub const PELVIS: [Self; 3] = [Self::PelvisTurn, Self::PelvisSideBend, Self::PelvisForwardBend];
            /// The rib cage's angles in their sequence.
            pub const THORAX: [Self; 3] = [Self::ThoraxTurn, Self::ThoraxSideBend, Self::ThoraxForwardBend];

            /// All, in the order in which they are shown.
            pub const ALL: [Self; [$($key),*].len()] = [$(Self::$name),*];

            /// What there is to know of it.
            pub fn spec(self) -> &'static MeasureSpec {
                match self {
                    $(Self::$name => &const { MeasureSpec {
                        $($field: $value,)*
                        ..MeasureSpec { key: $key, ..BLANK }
                    } },)*
                }
            }
        }
    };
}

/// What a row says where it says nothing.
const BLANK: MeasureSpec = MeasureSpec {
    key: "",
    name: "",
    explanation: "",
    angle: Angle::PelvisTurn,
    less: None,
    from_address: false,
    more_less: None,
    headline: None,
    tells: Tells::HipTurn,
    needs_two_views: false,
};

measures! {
    /// The headline figure of the hips, free of where the phone stood.
    PelvisTurnFromAddress = "pelvis_turn_from_address" {
        name: "Hip turn",
        explanation: "How far the hips have turned since address, seen from above: plus is away from the target (closed), minus is towards it (open).",
        angle: Angle::PelvisTurn,
        from_address: true,
        more_less: TURN,
        headline: Some(Headline { short: "hips", class: "pelvis" }),
    }
    /// The headline figure of the shoulders (rib cage).
    ThoraxTurnFromAddress = "thorax_turn_from_address" {
        name: "Shoulder turn (rib cage)",
        explanation: "How far the rib cage has turned since address, seen from above: plus is away from the target (closed), minus is towards it (open).",
        angle: Angle::ThoraxTurn,
        from_address: true,
        more_less: TURN,
        headline: Some(Headline { short: "shoulders (rib cage)", class: "thorax" }),
        tells: Tells::ChestTurn,
    }
    /// Thorax turn less pelvis turn.
    Separation = "separation" {
        name: "Separation",
        explanation: "Shoulder turn (rib cage) less hip turn: plus means that the shoulders are more closed than the hips.",
        angle: Angle::ThoraxTurn,
        less: Some(Angle::PelvisTurn),
        headline: Some(Headline { short: "separation", class: "separation" }),
        tells: Tells::Separation,
    }
    /// The same with both turns from address.
    SeparationFromAddress = "separation_from_address" {
        name: "Separation, less address",
        explanation: "Shoulder turn (rib cage) since address less hip turn since address: free of how the player stood and of where the phone stood.",
        angle: Angle::ThoraxTurn,
        less: Some(Angle::PelvisTurn),
        from_address: true,
        tells: Tells::Separation,
    }
    /// Azimuth of the pelvis to the target line.
    PelvisTurn = "pelvis_turn" {
        name: "Hips to the target line",
        explanation: "Where the hips point against the target line, seen from above: 0° is square to it, plus is closed, minus is open.",
        angle: Angle::PelvisTurn,
        more_less: TURN,
        tells: Tells::TurnToLine,
    }
    /// Azimuth of the thorax to the target line.
    ThoraxTurn = "thorax_turn" {
        name: "Shoulders (rib cage) to the target line",
        explanation: "Where the rib cage points against the target line, seen from above: 0° is square to it, plus is closed, minus is open.",
        angle: Angle::ThoraxTurn,
        more_less: TURN,
        tells: Tells::TurnToLine,
    }
    /// Second angle of the pelvis.
    PelvisSideBend = "pelvis_side_bend" {
        name: "Hip side bend",
        explanation: "How far the hips are tipped sideways after their turn is taken out: plus is towards the lead side.",
        angle: Angle::PelvisSide,
        tells: Tells::Bend,
    }
    /// Third angle of the pelvis.
    PelvisForwardBend = "pelvis_forward_bend" {
        name: "Hip forward bend",
        explanation: "How far the hips are tipped forward after turn and side bend are taken out: plus is towards the ball.",
        angle: Angle::PelvisForward,
        tells: Tells::Bend,
    }
    /// Second angle of the thorax.
    ThoraxSideBend = "thorax_side_bend" {
        name: "Shoulder (rib cage) side bend",
        explanation: "How far the rib cage is tipped sideways after its turn is taken out: plus is towards the lead side.",
        angle: Angle::ThoraxSide,
        tells: Tells::Bend,
    }
    /// Third angle of the thorax.
    ThoraxForwardBend = "thorax_forward_bend" {
        name: "Shoulder (rib cage) forward bend",
        explanation: "How far the rib cage is tipped forward after turn and side bend are taken out: plus is towards the ball.",
        angle: Angle::ThoraxForward,
        tells: Tells::Bend,
    }
    /// 180° less the angle hip-knee-ankle of the leg nearer the target.
    LeadKneeFlexion = "lead_knee_flexion" {
        name: "Lead knee bend",
        explanation: "How far the knee nearer the target is bent: 0° is straight.",
        angle: Angle::LeadKnee,
        tells: Tells::Knee,
    }
    /// The same of the other leg.
    TrailKneeFlexion = "trail_knee_flexion" {
        name: "Trail knee bend",
        explanation: "How far the knee farther from the target is bent: 0° is straight.",
        angle: Angle::TrailKnee,
        tells: Tells::Knee,
    }
    /// Turn of the line through the two shoulder joints; shown beside the thorax's.
    ShoulderLineTurnFromAddress = "shoulder_line_turn_from_address" {
        name: "Turn of the line between the shoulder joints",
        explanation: "Turn of the line through the two shoulder joints since address: the shoulder blades slide, so it runs ahead of the rib cage at the top.",
        angle: Angle::ShoulderLine,
        from_address: true,
        more_less: TURN,
        needs_two_views: true,
        tells: Tells::ChestTurn,
    }
}

impl Measure {
    /// The name in files.
    pub fn key(self) -> &'static str {
        self.spec().key
    }

    /// The name for people.
    pub fn words(self) -> &'static str {
        self.spec().name
    }

    /// Those that are shown large and along the curve.
    pub fn headlines() -> impl Iterator<Item = (Self, Headline)> {
        Self::ALL
            .into_iter()
            .filter_map(|m| Some((m, m.spec().headline?)))
    }

    /// The measure that is `angle`, or `angle` less another; `None` where the table has none.
    pub fn of(angle: Angle, less: Option<Angle>, from_address: bool) -> Option<Self> {
        Self::ALL.into_iter().find(|m| {
            let s = m.spec();
            (s.angle, s.less, s.from_address) == (angle, less, from_address)
        })
    }

    /// The name in a legend or a table's head.
    pub fn short(self) -> &'static str {
        self.spec().headline.map_or(self.words(), |h| h.short)
    }
}

impl fmt::Display for Measure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.key())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_row_is_whole_and_its_key_is_its_name_in_files() {
        for m in Measure::ALL {
            let s = m.spec();
            assert!(!s.name.is_empty() && s.explanation.ends_with('.'), "{m}");
            let written = serde_json::to_value(m).expect("a name");
            assert_eq!(written.as_str(), Some(s.key));
            assert_eq!(Measure::of(s.angle, s.less, s.from_address), Some(m));
        }
    }

    #[test]
    fn the_schema_of_the_result_names_every_measure() {
        let schema: serde_json::Value =
            serde_json::from_str(include_str!("../../docs/swing.schema.json")).expect("JSON");
        let named = schema
            .pointer("/$defs/measures/propertyNames/enum")
            .and_then(|v| v.as_array())
            .expect("a list");
        let keys: Vec<_> = Measure::ALL.iter().map(|m| m.key()).collect();
        assert_eq!(
            named.iter().filter_map(|v| v.as_str()).collect::<Vec<_>>(),
            keys
        );
    }
}
