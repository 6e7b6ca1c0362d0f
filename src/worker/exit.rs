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
    /// Stopped by the user.
    Stopped = 130,
}

impl Exit {
    /// For `--help` and the manual page.
    pub const HELP: &str = "Exit codes: 0 done; 1 nothing could be measured; 2 wrong usage; \
        3 some clips failed, the reasons are in the output; 130 stopped by you.";
}

impl From<Exit> for std::process::ExitCode {
    fn from(exit: Exit) -> Self {
        Self::from(exit as u8)
    }
}
