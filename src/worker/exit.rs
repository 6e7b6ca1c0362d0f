//! Exit codes, in one place.

/// How a command ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
pub enum Exit {
    Done = 0,
    /// Nothing could be measured.
    Nothing = 1,
    /// Wrong usage; also what clap exits with.
    Usage = 2,
    /// Some clips failed; the reasons are in the output.
    SomeFailed = 3,
    /// Trouble of this machine's and no fault of the clip's: another try, or another machine, can
    /// do it. The number is `EX_TEMPFAIL` of BSD's sysexits.h.
    Again = 75,
    /// Stopped by the user.
    Stopped = 130,
}

impl Exit {
    /// For `--help` and the manual page.
    pub const HELP: &str = "Exit codes: 0 done; 1 nothing could be measured; 2 wrong usage; \
        3 some clips failed, the reasons are in the output; 75 trouble of this machine's, try \
        again (with --plan; else 1); 130 stopped by you.";
}

impl Exit {
    /// As a command that a person typed ends: the sentence tells whose trouble it is.
    pub fn typed(self) -> Self {
        match self {
            Self::Again => Self::Nothing,
            other => other,
        }
    }
}

impl From<Exit> for std::process::ExitCode {
    fn from(exit: Exit) -> Self {
        Self::from(exit as u8)
    }
}
