//! A clip read in passes: a sparse look over all of it, then, as often as what was seen asks for it,
//! closer looks at parts. Each pass decodes only what it reads.

use std::collections::{BTreeMap, BTreeSet};

use super::choose::Chosen;
use super::error::PoseError;
use super::flips::FlipAugmentation;
use super::grid::Grid;
use super::observation::Observation;
use super::reading::{Clip, Pass};
use super::runners::Lane;
use super::search::Finder;
use super::sight::Spot;
use super::torso;
use super::tracker::{Pace, Tracker};
use crate::clip::{ChosenFrames, Frame, FrameTimes, Strike};
use crate::progress::{Cancel, Progress};

/// Share of the bar for the sparse look.
const SPARSE_SHARE: f64 = 0.6;
/// Share of what is left of it that each closer look leaves to those after it.
const LATER_SHARE: f64 = 0.2;

/// Share of the frames asked for that the decoder gives at least.
const LEAST_SHARE: f64 = 0.8;

/// One clip on its way through the passes.
pub(super) struct Passes<'a, 'f> {
    clip: &'a Clip<'a>,
    chosen: Option<Chosen>,
    times: &'a FrameTimes,
    grid: Grid,
    part: std::ops::Range<usize>,
    tracker: Tracker<'a, 'f>,
    seen: BTreeMap<usize, Observation>,
    spots: BTreeMap<usize, Spot>,
    /// Where frames are read that one network has not told about yet.
    asked: BTreeMap<usize, Spot>,
    /// The picture's width and height, pixels.
    size: [u32; 2],
}

impl<'a, 'f> Passes<'a, 'f> {
    pub fn new(
        clip: &'a Clip<'a>,
        (times, grid): (&'a FrameTimes, Grid),
        chosen: Option<Chosen>,
        finder: &'a mut Finder<'f>,
    ) -> Self {
        let mut tracker = Tracker::new(finder, Pace::Chosen, clip.one_network());
        if let Some(chosen) = chosen {
            tracker.start_from(chosen);
        }
        let (from_s, to_s) = clip.span_s;
        Self {
            clip,
            chosen,
            times,
            grid,
            part: times.within(from_s, to_s),
            tracker,
            seen: BTreeMap::new(),
            spots: BTreeMap::new(),
            asked: BTreeMap::new(),
            size: [0; 2],
        }
    }

    /// All passes, with the strikes heard; `None` where the decoder gives other frames than the container tells, and
    /// all of them must be read.
    pub fn run(
        mut self,
        strikes: &[Strike],
        progress: &dyn Progress,
        cancel: &Cancel,
    ) -> Result<Option<Pass>, PoseError> {
        let mut lane = self.clip.lane();
        let frames = self.part.len() as f64;
        let tell = |share: f64| progress.advance(self.clip.name, (share * frames) as u64);
        let sparse = self.grid.sparse(self.part.clone());
        let mut end = self.look(&sparse, &mut lane, cancel, |share| {
            tell(SPARSE_SHARE * share);
        })?;
        if end.is_ok() && (self.seen.len() as f64) < LEAST_SHARE * sparse.len() as f64 {
            return Ok(None);
        }
        let may = end.is_ok() && {
            let seen: Vec<Observation> = self.seen.values().cloned().collect();
            (self.clip.reading.may_show)(&seen, strikes, self.clip.pipeline)
        };
        if may && let Some(crops) = lane.leave_second() {
            if self.clip.one_network() {
                // Where the crops lay was that network's word too.
                let (clip, at, chosen) = (self.clip, (self.times, self.grid), self.chosen);
                self = Self::new(clip, at, chosen, self.tracker.finder);
                end = self.look(&sparse, &mut lane, cancel, |share| {
                    tell(SPARSE_SHARE * share);
                })?;
            } else {
                end = self.again(&crops, &mut lane, cancel)?;
            }
        }
        let told = |what: &str, runs: [usize; 2], torso: usize, read: usize| {
            let [detector, landmarks] = runs;
            tracing::debug!(
                detector,
                landmarks,
                torso,
                read,
                "runs of the networks, {what}"
            );
        };
        told(
            "sparse",
            self.tracker.finder.runs,
            lane.runs,
            self.seen.len(),
        );
        for round in 0..self.clip.pipeline.pose.look_rounds {
            if end.is_err() {
                break;
            }
            let seen: Vec<Observation> = self.seen.values().cloned().collect();
            let windows = (self.clip.reading.closer)(&seen, strikes, self.clip.pipeline);
            let wanted: Vec<usize> = self
                .grid
                .close(&windows, self.times, self.part.clone())
                .into_iter()
                .filter(|f| !self.seen.contains_key(f))
                .collect();
            tracing::debug!(round, frames = wanted.len(), ?windows, "a closer look");
            if wanted.is_empty() {
                break;
            }
            let from = 1.0 - (1.0 - SPARSE_SHARE) * LATER_SHARE.powi(round as i32);
            let more = (1.0 - from) * (1.0 - LATER_SHARE);
            end = self.look(&wanted, &mut lane, cancel, |share| {
                tell(from + more * share);
            })?;
        }
        tell(1.0);
        told(
            "in all",
            self.tracker.finder.runs,
            lane.runs,
            self.seen.len(),
        );
        tracing::debug!(
            read = self.seen.len(),
            of = self.part.len(),
            "frames were read"
        );
        let observations = self.all_frames();
        Ok(Some(self.tracker.pass(observations, end)))
    }

    /// Reads frames; what came of it is an end of the clip, or of the patience, before its time. Only a
    /// network that fails is an error.
    fn look(
        &mut self,
        wanted: &[usize],
        lane: &mut Lane<'_>,
        cancel: &Cancel,
        tell: impl Fn(f64),
    ) -> Result<Result<(), PoseError>, PoseError> {
        let planned: BTreeSet<usize> = wanted.iter().copied().collect();
        let first = self.seen.is_empty();
        let mut done = 0;
        let end = self.each(wanted.to_vec(), cancel, |passes, frame| {
            let number = frame.index;
            let observation = if first {
                passes.sparsely(frame, lane)?
            } else {
                passes.closely(frame, &planned, lane)?
            };
            if let Some(spot) = passes.tracker.spot {
                passes.spots.insert(number, spot);
            }
            passes.seen.insert(number, observation);
            done += 1;
            tell(f64::from(done) / wanted.len().max(1) as f64);
            Ok(())
        })?;
        for (number, read) in lane.readings()? {
            let Some(observation) = self.seen.get_mut(&number) else {
                continue;
            };
            let Some(near) = self.asked.remove(&number) else {
                if let Some(p) = observation.person.as_mut() {
                    p.torso = read.torso;
                }
                continue;
            };
            if let Some((person, spot)) = self.tracker.beside(read, &near, self.size) {
                observation.person = Some(person);
                self.spots.insert(number, spot);
            }
        }
        Ok(end)
    }

    /// Decodes frames one by one for `then`; what ends that before its time is no error.
    fn each(
        &mut self,
        wanted: Vec<usize>,
        cancel: &Cancel,
        mut then: impl FnMut(&mut Self, Frame) -> Result<(), PoseError>,
    ) -> Result<Result<(), PoseError>, PoseError> {
        let (path, config) = (self.clip.path, &self.clip.pipeline.clip);
        let frames = match ChosenFrames::open(path, config, self.times.clone(), wanted) {
            Ok(frames) => frames,
            Err(e) => return Ok(Err(e.into())),
        };
        for frame in frames {
            if cancel.requested() {
                return Ok(Err(PoseError::Stopped));
            }
            match frame {
                Ok(frame) => then(self, frame)?,
                Err(e) => return Ok(Err(e.into())),
            }
        }
        Ok(Ok(()))
    }

    /// Reads crops again where they lay, each in the images asked for.
    fn again(
        &mut self,
        crops: &BTreeMap<usize, FlipAugmentation>,
        lane: &mut Lane<'_>,
        cancel: &Cancel,
    ) -> Result<Result<(), PoseError>, PoseError> {
        let wanted = crops.keys().copied().collect();
        let end = self.each(wanted, cancel, |passes, frame| {
            let crop = passes.spots.get(&frame.index).and_then(|s| s.crop);
            if let Some((crop, images)) = crop.zip(crops.get(&frame.index)) {
                let rows = torso::rows(&frame.image, &crop);
                lane.send(frame.index, rows, crop, *images)?;
            }
            Ok(())
        })?;
        for (number, read) in lane.readings()? {
            let seen = self.seen.get_mut(&number);
            if let Some(person) = seen.and_then(|o| o.person.as_mut()) {
                person.torso = read.torso;
            }
        }
        Ok(end)
    }

    /// A frame of the sparse look: followed from the one before it.
    fn sparsely(&mut self, frame: Frame, lane: &mut Lane<'_>) -> Result<Observation, PoseError> {
        let (number, time_s) = (frame.index, frame.time_s);
        let before = self.spots.last_key_value().map(|(_, s)| s.time_s);
        let images = self.images(number, before.map(|b| time_s - b));
        self.tracker.step(frame, Some(images), (number, lane))
    }

    /// A frame of a closer look: from the nearest that was read. Where nobody is, or somebody was
    /// lost, nothing is found by looking closer.
    fn closely(
        &mut self,
        frame: Frame,
        planned: &BTreeSet<usize>,
        lane: &mut Lane<'_>,
    ) -> Result<Observation, PoseError> {
        let (number, time_s) = (frame.index, frame.time_s);
        let before = self.spots.range(..number).next_back().map(|(_, s)| *s);
        let after = self.spots.range(number..).next().map(|(_, s)| *s);
        let gap = |s: &Spot| (s.time_s - time_s).abs();
        let near = [before, after]
            .into_iter()
            .flatten()
            .min_by(|a, b| gap(a).total_cmp(&gap(b)));
        let most_s = self.clip.pipeline.body.max_gap_s;
        let Some(near) = near.filter(|s| gap(s) < most_s) else {
            return Ok(Observation::nobody(&frame));
        };
        // A neighbour that is read next counts as one that was read.
        let next = planned.range(number + 1..).next();
        let next_s = next.and_then(|n| self.times.time_s(*n));
        let alone_s = next_s.map_or(gap(&near), |t| (t - time_s).min(gap(&near)));
        let images = self.images(number, Some(alone_s));
        if !self.clip.one_network() {
            let at = (number, lane);
            return self.tracker.step_beside(frame, &near, images, at);
        }
        let spot = match before.zip(after).filter(|(_, a)| gap(a) < most_s) {
            Some((b, a)) => b.between(&a, time_s),
            None => Spot { time_s, ..near },
        };
        self.size = [frame.image.width(), frame.image.height()];
        if spot.crop.is_some() {
            self.asked.insert(number, spot);
        }
        let at = (number, lane);
        self.tracker.step_beside(frame, &spot, images, at)
    }

    fn images(&self, number: usize, gap_s: Option<f64>) -> FlipAugmentation {
        self.grid.images(number, gap_s, &self.clip.pipeline.pose)
    }

    /// What was seen, with the frames between that were not read.
    fn all_frames(&mut self) -> Vec<Observation> {
        let end = self.seen.keys().next_back().map_or(0, |last| last + 1);
        (self.part.start..end)
            .filter_map(|index| {
                let unread = || {
                    Some(Observation {
                        index,
                        time_s: self.times.time_s(index)?,
                        person: None,
                        repeated: true,
                    })
                };
                self.seen.remove(&index).or_else(unread)
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::super::observe::observe;
    use super::super::reading::Reading;
    use super::super::runners::Runners;
    use super::super::session::ModelFiles;
    use super::*;
    use crate::config::Pipeline;
    use crate::progress::Silent;

    #[test]
    fn where_two_networks_contradict_each_other_a_third_reads_for_one_of_them() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-clips");
        let path = folder.join("sixth-lesson_face_on.mp4");
        let mut pipeline = Pipeline::default();
        // Any two readings lie farther apart than this, and enough crops are read by both.
        pipeline.pose.networks_apart_deg = 1e-3;
        pipeline.pose.contradiction_every = 4;
        let files = ModelFiles::find().expect("the models");
        let runners = Runners::start(&files, 2).expect("they start");
        let reading = Reading {
            every_frame: false,
            part: Some((0.5, 1.5)),
            runners: &runners,
            closer: |_, _, _| Vec::new(),
            shows: |_, _, _| true,
            may_show: |_, _, _| true,
        };
        let track = observe(
            &path,
            &files,
            &pipeline,
            reading,
            &Silent,
            &Cancel::default(),
        )
        .expect("it is read");
        let times = FrameTimes::read(&path).expect("it opens").expect("sound");
        let grid = Grid::of(&times, &pipeline.pose).expect("sparse");
        let mut seen: BTreeMap<usize, _> = track
            .observations
            .iter()
            .filter_map(|o| Some((o.index, o.person.as_ref()?.torso.as_ref()?)))
            .collect();
        // The first one is read in both images.
        seen.pop_first();
        assert!(seen.len() > 15, "{}", seen.len());
        let wanted = seen.keys().copied().collect();
        let mut session = torso::open(&files).expect("it opens");
        let mut mirrored = 0;
        for frame in ChosenFrames::open(&path, &pipeline.clip, times, wanted).expect("it opens") {
            let frame = frame.expect("decoded");
            let images = grid.images(frame.index, Some(0.05), &pipeline.pose);
            let there = seen.get(&frame.index).expect("asked for");
            let rows = torso::rows(&frame.image, &there.region);
            let read = torso::read_crop(&mut session, &rows, &there.region, images, true);
            let read = read.expect("read").torso.expect("finite");
            for (a, b) in read.crop_from_segment.iter().zip(&there.crop_from_segment) {
                assert!((a - b).norm() < 1e-5, "frame {} {images:?}", frame.index);
            }
            mirrored += usize::from(images == FlipAugmentation::Mirrored);
        }
        assert!(mirrored > 6, "{mirrored}");
    }
}
