//! How a clip is read, and what reading it gave.

use std::path::Path;

use super::choose::Chosen;
use super::error::PoseError;
use super::grid::Window;
use super::observation::{Observation, Region};
use super::runners::{Lane, Runners};
use crate::clip::Strike;
use crate::config::Pipeline;
use crate::warning::Warning;

/// What asks for closer looks: what was seen and heard so far in, the parts to be read closely out.
pub type Closer = fn(&[Observation], &[Strike], &Pipeline) -> Vec<Window>;

/// What tells whether what was seen and heard shows a swing.
pub type Shows = fn(&[Observation], &[Strike], &Pipeline) -> bool;

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
    pub closer: Closer,
    /// Whether the person who was followed swings; where not, others are.
    pub shows: Shows,
    /// Whether they may at all, asked so generously that no is no: then nothing more is read of them.
    pub may_show: Shows,
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
pub(super) struct Pass {
    /// Most people who were seen at once.
    pub people_seen: usize,
    /// Somebody else came to be seen while the golfer was followed.
    pub others: bool,
    pub warnings: Vec<Warning>,
    pub observations: Vec<Observation>,
    pub end: Result<(), PoseError>,
}

impl Pass {
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
