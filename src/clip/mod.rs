//! In: one clip file. Out: frames in display orientation with true timestamps, its sound, and
//! what the container says of it (size, rate, rotation, creation time, focal length).
//! Nothing here knows about people or golf, except that a strike is a short loud sound.
#![cfg_attr(not(test), deny(clippy::indexing_slicing))]

mod budget;
mod chosen;
mod error;
mod frame_pool;
mod frame_times;
mod info;
mod metadata;
mod orientation;
mod picture;
mod reader;
mod rows;
mod sound;
mod source;
mod strike;
mod timestamps;
mod whole;

pub use chosen::ChosenFrames;
pub use error::ClipError;
pub use frame_times::FrameTimes;
pub use info::{ClipInfo, Frame, Sound, Strike};
pub use metadata::Tags;
pub use orientation::Orientation;
pub use picture::Picture;
pub use reader::{FrameReader, probe};
pub use rows::Rows;
pub use sound::read_sound;
pub use strike::find_strikes;
pub use whole::breaks_off;
