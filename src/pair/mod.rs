//! In: the tracks of one or two clips. Out: [`ViewSeries`]: each with its role, on real time, as a
//! right-hander's (a left-hander is mirrored), and the time offset between phones.

mod activity;
mod heading;
mod offset;
mod role;
mod sample;
mod view_series;

pub use activity::{Onset, Rough, finish_onset, has_fast_turn, rough_timing};
pub use heading::{Heading, headings, local_slope};
pub use offset::{Clocked, Offset, OffsetFrom, find_offset};
pub use role::{RoleError, Seat, heading_between, seat_views, swing_hand};
pub use sample::{RotationSample, Seen};
pub use view_series::{Instant, ViewSeries};
