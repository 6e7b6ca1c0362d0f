//! How a clip is read, and what reading it gave.

use std::path::Path;

use super::choose::Chosen;
use super::error::PoseError;
use super::grid::Window;
use super::observation::{Observation, Region, ViewTrack};
use super::runners::{Lane, Runners};
use super::tracker::Tracker;
use crate::config::Pipeline;

/// What asks for closer looks: what was seen so far in, the parts to be read closely out.
pub type Closer<'a> = &'a (dyn Fn(&ViewTrack) -> Vec<Window> + Sync);

/// What tells whether a track shows a swing.
pub type Shows<'a> = &'a (dyn Fn(&ViewTrack) -> bool + Sync);

/// How a clip is to be read.
#[derive(Clone, Copy)]
pub struct Reading<'a> {
    /// Read every frame, also where nothing moves and nothing is added.
    pub every_frame: bool,
    /// Only this part of the clip, from and to, seconds of playback. Times stay the clip's own.
    pub part: Option<(f64, f64)>,
    /// The threads that run the torso network.
    pub runners: &'a Runners,
    /// What asks for closer looks at what a sparse one saw.
    pub closer: Closer<'a>,
    /// Whether the person who was followed swings; where not, others are.
    pub shows: Shows<'a>,
}

/// A clip that is read, perhaps more than once.
pub(super) struct Clip<'a> {
    pub path: &'a Path,
    pub pipeline: &'a Pipeline,
    pub reading: Reading<'a>,
    pub span_s: (f64, f64),
    pub name: &'a str,
}

impl Clip<'_> {
    /// A way to the torso network for all crops of the clip.
    pub fn lane(&self) -> Lane<'_> {
        self.reading.runners.lane(&self.pipeline.pose)
    }

    /// Whether one network reads landmarks and torso: where it can, and is to.
    pub fn one_network(&self) -> bool {
        self.pipeline.pose.one_network && self.reading.runners.give_landmarks()
    }
}

/// What following one person through the clip gave.
pub(super) struct Pass<'a> {
    pub tracker: Tracker<'a>,
    pub observations: Vec<Observation>,
    pub end: Result<(), PoseError>,
}

impl Pass<'_> {
    /// Where the person who was followed was first seen; `None` where nobody was.
    pub fn first_region(&self) -> Option<Region> {
        let mut seen = self.observations.iter().filter_map(|o| o.person.as_ref());
        seen.next().map(|p| p.region)
    }

    /// Whether this is the person who was followed.
    pub fn followed(&self, chosen: &Chosen) -> bool {
        let then = self
            .observations
            .iter()
            .filter(|o| o.time_s >= chosen.since_s)
            .find_map(|o| o.person.as_ref());
        then.is_some_and(|p| p.region.holds_whom(&chosen.region))
    }
}
