//! How a command ends that could not do what was asked, in one place.

use super::Exit;
use crate::clip::ClipError;
use crate::config::ConfigError;
use crate::measure::{MeasureError, Refusal};
use crate::pose::PoseError;
use crate::report::ReportError;

/// How the program ends for it, and why.
#[derive(Clone, Debug)]
pub struct Failure {
    pub exit: Exit,
    pub refusal: Refusal,
}

impl Failure {
    pub fn new(exit: Exit, told: impl ToString) -> Self {
        let refusal = Refusal::failed(told.to_string());
        Self { exit, refusal }
    }

    /// What was typed can't be done.
    pub fn usage(told: impl ToString) -> Self {
        Self::new(Exit::Usage, told)
    }

    /// There is nothing to show.
    pub fn nothing(told: impl ToString) -> Self {
        Self::new(Exit::Nothing, told)
    }

    /// Another try, or another machine, can do it.
    pub fn again(told: impl ToString) -> Self {
        Self::new(Exit::Again, told)
    }
}

impl From<ConfigError> for Failure {
    fn from(error: ConfigError) -> Self {
        Self::usage(error)
    }
}

impl From<MeasureError> for Failure {
    fn from(error: MeasureError) -> Self {
        let exit = match error {
            MeasureError::Stopped | MeasureError::Pose(PoseError::Stopped) => Exit::Stopped,
            MeasureError::Clips(_) => Exit::Usage,
            MeasureError::Pose(
                PoseError::Clip(ClipError::Io { .. })
                | PoseError::Missing { .. }
                | PoseError::Runtime { .. }
                | PoseError::Model { .. }
                | PoseError::Network(_),
            ) => Exit::Again,
            _ => Exit::Nothing,
        };
        let refusal = Refusal::from(&error);
        Self { exit, refusal }
    }
}

impl From<ReportError> for Failure {
    fn from(error: ReportError) -> Self {
        let exit = match error {
            ReportError::Stopped => Exit::Stopped,
            // A film breaks off for want of room more often than for its clip, which was read before.
            ReportError::Io { .. }
            | ReportError::Encode(_)
            | ReportError::Clip(ClipError::Io { .. }) => Exit::Again,
            _ => Exit::Nothing,
        };
        Self::new(exit, error)
    }
}
