//! In: the tracks of one or two clips. Out: [`ViewSeries`]: each with its role, on real time, as a
//! right-hander's (a left-hander is mirrored), and the time offset between phones.

mod heading;
mod offset;
mod role;
mod sample;
mod view_series;

pub use heading::{Heading, heading_of, headings, local_slope};
pub use offset::{Clocked, Moving, Offset, OffsetFrom, find_offset};
pub use role::{RoleError, Seat, heading_between, seat_views};
pub use sample::{RotationSample, Seen};
pub use view_series::{Instant, ViewSeries};
