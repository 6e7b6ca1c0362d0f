//! Why a clip gives no result, for whoever sorts clips: a clip without a swing is no failure.

use serde::{Deserialize, Serialize};

use super::options::MeasureError;
use crate::pose::PoseError;
use crate::terms::keyed;

keyed! {
    /// What came of a clip instead of a result, with what stands in front of the reason.
    pub enum Nothing {
        /// People were seen, and none of them swings a club: an answer, not a failure.
        NoSwing = "no_swing" => "no swing",
        /// Nobody was found in the picture.
        NobodyFound = "nobody_found" => "nobody found",
        /// The clip could not be read or measured.
        Failed = "failed" => "not measured",
    }
}

impl From<&PoseError> for Nothing {
    fn from(error: &PoseError) -> Self {
        match error {
            PoseError::Nobody(_) => Self::NobodyFound,
            _ => Self::Failed,
        }
    }
}

impl From<&MeasureError> for Nothing {
    fn from(error: &MeasureError) -> Self {
        match error {
            // Who walks out of the picture makes no failure of the clip.
            MeasureError::NoSwing { .. } | MeasureError::Left { .. } => Self::NoSwing,
            MeasureError::Pose(e) => e.into(),
            _ => Self::Failed,
        }
    }
}

/// A clip without a result: which kind of nothing, and the sentence that tells it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Refusal {
    /// Which kind.
    #[serde(rename = "outcome")]
    pub nothing: Nothing,
    /// What happened, to which file, what to do.
    #[serde(rename = "error")]
    pub text: String,
}

impl Refusal {
    /// A clip that could not be read or measured.
    pub fn failed(text: impl Into<String>) -> Self {
        Self {
            nothing: Nothing::Failed,
            text: text.into(),
        }
    }
}

impl<E: ToString> From<&E> for Refusal
where
    for<'a> &'a E: Into<Nothing>,
{
    fn from(error: &E) -> Self {
        Self {
            nothing: error.into(),
            text: error.to_string(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nobody_no_swing_and_a_failure_are_told_apart() {
        let kinds = [
            (MeasureError::NoSwing { file: "a".into() }, Nothing::NoSwing),
            (
                MeasureError::Left {
                    file: "a".into(),
                    at_s: 1.0,
                    of_s: 2.0,
                },
                Nothing::NoSwing,
            ),
            (
                MeasureError::Pose(PoseError::Nobody("a".into())),
                Nothing::NobodyFound,
            ),
            (MeasureError::Clips(3), Nothing::Failed),
        ];
        for (error, kind) in kinds {
            let refusal = Refusal::from(&error);
            assert_eq!(refusal.nothing, kind);
            let json = serde_json::to_value(&refusal).expect("JSON");
            assert_eq!(json["outcome"], kind.key());
            assert_eq!(Nothing::from_key(kind.key()), Some(kind));
            assert_eq!(
                serde_json::from_value::<Refusal>(json).expect("reads"),
                refusal
            );
        }
    }
}
