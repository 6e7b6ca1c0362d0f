//! In: bytes of a C3D file, or tracks to store. Out: tracks, rate and events, or bytes.
//!
//! Own code because the crate c3dio (0.8) takes event times from the header alone, so that those
//! of present-day files come out as 0 s, writes no rate, and panics on damaged bytes.
//! The C3D file format user guide (2021 edition, c3d.org) is followed for Intel, DEC and MIPS
//! files, integer and float. The reader is pure over bytes and never allocates more than a small
//! multiple of their number.

mod number;
mod parameters;
mod read;
mod write;

pub use number::Processor;
pub use parameters::{Group, Value};
pub use read::read;
pub use write::{C3dWriter, TooLarge};

/// A moment that the file names.
#[derive(Clone, Debug, PartialEq)]
pub struct C3dEvent {
    /// The file's word for it.
    pub label: String,
    /// Seconds; frame 1 is at 0 s.
    pub time_s: f64,
}

/// One marker, joint or angle triple over time, in the file's units.
#[derive(Clone, Debug, PartialEq)]
pub struct Track {
    /// The point's name, without trailing blanks.
    pub label: String,
    /// What the file says of the point, often nothing.
    pub description: String,
    /// `None` where the file says the point was not seen.
    pub points: Vec<Option<[f32; 3]>>,
}

/// What is kept of a C3D file: no analogue channels.
#[derive(Clone, Debug, PartialEq)]
pub struct C3dFile {
    /// How the file stores its numbers.
    pub processor: Processor,
    /// Frames a second.
    pub rate_hz: f64,
    /// Number of the first stored frame; frame 1 is at 0 s.
    pub first_frame: u32,
    /// Unit of the points, as the file states it ("mm").
    pub units: String,
    /// The points, in the file's order.
    pub tracks: Vec<Track>,
    /// The moments that the file names.
    pub events: Vec<C3dEvent>,
    /// All parameters, as stored.
    pub groups: Vec<Group>,
}

impl C3dFile {
    /// Time of a stored frame, seconds; frame 1 of the recording is at 0 s.
    pub fn time_s(&self, index: usize) -> f64 {
        (f64::from(self.first_frame.max(1) - 1) + index as f64) / self.rate_hz
    }

    /// A parameter by the names of its group and its own, in any case of letters.
    pub fn parameter(&self, group: &str, name: &str) -> Option<&Value> {
        parameters::find(&self.groups, group, name)
    }
}
