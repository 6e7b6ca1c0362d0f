//! In: one clip file. Out: frames in display orientation with true timestamps, its sound, and
//! what the container says of it (size, rate, rotation, creation time, focal length).
//! Nothing here knows about people or golf, except that a strike is a short loud sound.

mod info;

pub use info::{ClipInfo, Frame, Sound, Strike};
