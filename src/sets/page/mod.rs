//! The pages of sets: one set, two sets compared, one player's progress. Each is one file with all
//! inside, in the frame and style that every page shares.

mod films;
mod pieces;
mod progress;
mod set;
mod two;

pub use progress::progress_page;
pub use set::set_page;
pub use two::two_page;

use crate::config::Pipeline;
use crate::progress::{Cancel, Progress};

/// What drawing a page needs.
pub struct Drawing<'a> {
    /// Of pictures.
    pub pipeline: &'a Pipeline,
    /// Where a swing's own page is; `None` where pages do not link.
    pub swing_page: Option<&'a dyn Fn(&str) -> String>,
    /// Told how far it is.
    pub progress: &'a dyn Progress,
    /// Asked whether to stop.
    pub cancel: &'a Cancel,
}
