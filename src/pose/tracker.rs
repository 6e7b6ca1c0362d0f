//! The golfer followed from frame to frame: a search in the whole frame at first and after a loss,
//! then the region that the landmark network says to look at next.

use super::choose::{Chosen, likely, nearest};
use super::error::PoseError;
use super::flips::FlipAugmentation;
use super::observation::{Observation, Person, Region, TorsoReading};
use super::reading::Pass;
use super::runners::Lane;
use super::search::{Effort, Finder};
use super::sight::{Sight, Spot};
use super::stillness::Thumbnail;
use super::torso::{self, Read};
use crate::clip::{Frame, Picture};
use crate::config::PoseConfig;
use crate::warning::Warning;

/// A crop that was given out.
#[derive(Clone, Copy)]
struct Former {
    region: Region,
    time_s: f64,
    images: FlipAugmentation,
}

/// Frames a second that the weight of the former crop is told for.
const INERTIA_PER_S: f64 = 60.0;

/// Follows the golfer from frame to frame.
pub struct Tracker<'t, 'f> {
    config: &'f PoseConfig,
    pace: Pace,
    /// One network reads landmarks and torso.
    alone: bool,
    pub finder: &'t mut Finder<'f>,
    region: Option<Region>,
    /// The last region that held the golfer.
    last: Option<Region>,
    /// The torso crop before, in the same stretch of tracking.
    crop: Option<Former>,
    frames_lost: usize,
    /// When tiles are searched next, and how long to wait after that, seconds of playback.
    tiles: Option<(f64, f64)>,
    losses: usize,
    people_seen: usize,
    /// Somebody else came to be seen while the golfer was followed.
    others: bool,
    /// Looks round in a row that saw somebody, but nobody where the golfer is thought to be.
    doubts: usize,
    round_s: f64,
    /// Where the one of several people who swings was last seen.
    golfer: Option<Region>,
    /// The golfer is not to be looked for before this, seconds of playback.
    since_s: f64,
    /// Whether they were looked for in the first frame.
    asked: bool,
    /// What the last frame that was read looked like round the golfer, and when that was.
    last_read: Option<(Thumbnail, Region, f64)>,
    /// Where the golfer was in the frame that was read last.
    pub spot: Option<Spot>,
}

/// Which frames the tracker is shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pace {
    /// All, and all are to be read.
    Every,
    /// All; those on which nothing moves are passed over.
    Moving,
    /// Chosen ones; each is to be read.
    Chosen,
}

impl<'t, 'f> Tracker<'t, 'f> {
    /// `alone`: one network reads landmarks and torso, that of the lane; else the finder's landmark
    /// network says where the lane's looks.
    pub fn new(finder: &'t mut Finder<'f>, pace: Pace, alone: bool) -> Self {
        Self {
            config: finder.config,
            pace,
            alone,
            finder,
            region: None,
            last: None,
            crop: None,
            frames_lost: 0,
            tiles: None,
            losses: 0,
            people_seen: 0,
            others: false,
            doubts: 0,
            round_s: f64::NEG_INFINITY,
            golfer: None,
            since_s: f64::NEG_INFINITY,
            asked: false,
            last_read: None,
            spot: None,
        }
    }

    /// Reads a frame; `images`: what of the crop, where it is not for the crop before to say. Where two
    /// networks read, the torso's reading comes back from the lane later, under the number `at`.
    pub fn step(
        &mut self,
        frame: Frame,
        images: Option<FlipAugmentation>,
        (at, lane): (usize, &mut Lane<'_>),
    ) -> Result<Observation, PoseError> {
        let empty = Observation::nobody(&frame);
        let Frame { time_s, image, .. } = frame;
        self.spot = None;
        if time_s < self.since_s && !self.was_there(&image)? {
            return Ok(empty);
        }
        if self.is_still(&image, time_s) {
            return Ok(Observation {
                repeated: true,
                ..empty
            });
        }
        self.look_round(&image, time_s)?;
        let followed = self.region;
        let region = match followed {
            Some(r) => r,
            None => match self.search(&image, time_s)? {
                Some(r) => r,
                None => return Ok(empty),
            },
        };
        let images = images.unwrap_or_else(|| {
            let former = self.crop.map(|c| (c.time_s, c.images));
            FlipAugmentation::after(former, time_s, self.config)
        });
        let former = self.crop.filter(|_| followed.is_some() && self.alone);
        let mut sight = match former {
            Some(former) => self.read(&image, region, former.region, images, lane)?,
            None => self.glance(&image, region)?,
        };
        let mut next = sight.seen.next_region(&image, self.config);
        if followed.is_some()
            && next.is_none()
            && let Some(again) = self.finder.near(&image, &region)?
        {
            sight = self.glance(&image, again)?;
            next = sight.seen.next_region(&image, self.config);
        }
        if next.is_none() {
            self.region = None;
            self.crop = None;
            if followed.is_some() {
                self.losses += 1;
                self.frames_lost = 0;
            }
            return Ok(empty);
        }
        if self.alone {
            sight = self.read_well(&image, sight, images, lane)?;
            next = sight.seen.next_region(&image, self.config).or(next);
        }
        let Some(next) = next else { return Ok(empty) };
        self.region = Some(next);
        self.last = Some(next);
        self.tiles = None;
        self.remember(&image, &next, time_s);
        self.golfer = self.golfer.map(|_| next);
        let crop = sight.upright(self.config).map(|now| {
            let was = self.crop;
            let since_s = was.map_or(0.0, |c| time_s - c.time_s);
            Former {
                region: self.damped(was.map(|c| c.region), now, since_s),
                time_s,
                images,
            }
        });
        self.crop = crop.or(self.crop);
        if let Some(crop) = crop.filter(|_| !self.alone) {
            let rows = torso::rows(&image, &crop.region);
            lane.send(at, rows, crop.region, images)?;
        }
        Ok(self.note(sight, next, crop.map(|c| c.region), empty))
    }

    /// Reads a frame beside one that was read before, where the golfer was then; what is read of its
    /// crop is the caller's to say. It is taken for no loss where they are not seen. Where one network
    /// reads, all comes back from the lane, and is put together by [`Tracker::beside`].
    pub fn step_beside(
        &mut self,
        frame: Frame,
        near: &Spot,
        images: FlipAugmentation,
        (at, lane): (usize, &mut Lane<'_>),
    ) -> Result<Observation, PoseError> {
        let empty = Observation::nobody(&frame);
        let Frame { time_s, image, .. } = frame;
        self.spot = None;
        if self.alone {
            if let Some(crop) = near.crop {
                lane.send(at, torso::rows(&image, &crop), crop, images)?;
            }
            return Ok(empty);
        }
        let sight = self.glance(&image, near.next)?;
        let Some(next) = sight.seen.next_region(&image, self.config) else {
            return Ok(empty);
        };
        let region = sight
            .upright(self.config)
            .map(|now| self.damped(near.crop, now, time_s - near.time_s));
        if let Some(region) = region {
            lane.send(at, torso::rows(&image, &region), region, images)?;
        }
        Ok(self.note(sight, next, region, empty))
    }

    /// Notes where the golfer is in a frame that nobody was told of yet, and tells of them.
    fn note(
        &mut self,
        sight: Sight,
        next: Region,
        crop: Option<Region>,
        empty: Observation,
    ) -> Observation {
        self.spot = Some(Spot {
            time_s: empty.time_s,
            next,
            crop,
        });
        Observation {
            person: Some(sight.person()),
            ..empty
        }
    }

    /// What one network read beside `near`, in a picture of a width and a height; `None` where it
    /// saw nobody.
    pub fn beside(&self, read: Read, near: &Spot, size: [u32; 2]) -> Option<(Person, Spot)> {
        let seen = read.landmarks?;
        let next = seen.next_in(size, self.config)?;
        let sight = Sight {
            region: near.next,
            seen,
            read: near.crop.map(|crop| (crop, read.torso)),
        };
        Some((sight.person(), Spot { next, ..*near }))
    }

    /// What the landmark network sees in a region.
    fn glance(&mut self, image: &Picture, region: Region) -> Result<Sight, PoseError> {
        Ok(Sight {
            region,
            seen: self.finder.read(image, &region)?,
            read: None,
        })
    }

    /// What the one network reads in an upright crop; nobody where it gives nothing.
    fn read(
        &self,
        image: &Picture,
        region: Region,
        crop: Region,
        images: FlipAugmentation,
        lane: &mut Lane<'_>,
    ) -> Result<Sight, PoseError> {
        let read = lane.read(torso::rows(image, &crop), crop, images)?;
        Ok(Sight {
            region,
            seen: read.landmarks.unwrap_or_default(),
            read: Some((crop, read.torso)),
        })
    }

    /// The same sight by the one network, in the crop that its landmarks ask for, where it was not read
    /// yet or in a crop far from that.
    fn read_well(
        &self,
        image: &Picture,
        sight: Sight,
        images: FlipAugmentation,
        lane: &mut Lane<'_>,
    ) -> Result<Sight, PoseError> {
        let Some(now) = sight.upright(self.config) else {
            return Ok(sight);
        };
        let c = self.config;
        let near = |(was, _): &(Region, Option<TorsoReading>)| {
            now.away(was) < c.crop_again_shift * now.side_px
                && (now.side_px / was.side_px).ln().abs() < c.crop_again_log_size
        };
        if sight.read.as_ref().is_some_and(near) {
            return Ok(sight);
        }
        let better = self.read(image, sight.region, now, images, lane)?;
        Ok(match better.seen.next_region(image, c) {
            Some(_) => better,
            None => Sight {
                read: better.read,
                ..sight
            },
        })
    }

    /// Whether nothing moved round the golfer since a frame was read a moment ago.
    fn is_still(&self, image: &Picture, time_s: f64) -> bool {
        let Some((last, part, at_s)) = self.last_read.as_ref().filter(|_| self.region.is_some())
        else {
            return false;
        };
        time_s - at_s < self.config.still_every_s
            && Thumbnail::of(image, part).change(last) < self.config.still_threshold
    }

    fn remember(&mut self, image: &Picture, golfer: &Region, time_s: f64) {
        if self.pace == Pace::Moving {
            let part = Region {
                roll_rad: 0.0,
                ..*golfer
            };
            self.last_read = Some((Thumbnail::of(image, &part), part, time_s));
        }
    }

    /// Whether a golfer who was first seen later stood there from the first frame on.
    fn was_there(&mut self, image: &Picture) -> Result<bool, PoseError> {
        let Some(region) = self
            .region
            .filter(|_| !std::mem::replace(&mut self.asked, true))
        else {
            return Ok(false);
        };
        let there = self.finder.score_there(image, &region)? > 0.0;
        if there {
            self.since_s = f64::NEG_INFINITY;
        }
        Ok(there)
    }

    /// Now and then, whether somebody else is there, and whether the golfer is where they are
    /// thought to be: the landmark network alone may come to follow a thing.
    fn look_round(&mut self, image: &Picture, time_s: f64) -> Result<(), PoseError> {
        let Some(region) = self.region.filter(|_| time_s >= self.round_s) else {
            return Ok(());
        };
        let first = self.round_s == f64::NEG_INFINITY;
        self.round_s = time_s + self.config.look_round_s;
        if first {
            return Ok(());
        }
        let found = self.finder.people(image, Effort::Quick, Some(&region))?;
        let mine = found.iter().any(|d| d.region.holds_whom(&region));
        let others = found
            .iter()
            .filter(|d| d.region.side_px >= self.config.several_share * region.side_px)
            .filter(|d| !d.region.holds_whom(&region))
            .count();
        if others > 0 {
            self.others = true;
            self.people_seen = self.people_seen.max(others + 1);
        }
        self.doubts = if mine || others == 0 {
            0
        } else {
            self.doubts + 1
        };
        if self.doubts >= self.config.look_round_doubts
            && self.finder.score_there(image, &region)? == 0.0
        {
            self.doubts = 0;
            self.region = None;
            self.last = None;
            self.golfer = None;
            self.crop = None;
        }
        Ok(())
    }

    /// A crop steadied by one `since_s` before it, or after: its weight fades with time.
    fn damped(&self, was: Option<Region>, now: Region, since_s: f64) -> Region {
        let Some(was) = was else { return now };
        let k = self.config.crop_inertia.powf(since_s.abs() * INERTIA_PER_S);
        Region {
            centre_px: [
                k * was.centre_px[0] + (1.0 - k) * now.centre_px[0],
                k * was.centre_px[1] + (1.0 - k) * now.centre_px[1],
            ],
            side_px: k * was.side_px + (1.0 - k) * now.side_px,
            roll_rad: 0.0,
        }
    }

    /// Looks for the golfer: where they were last seen, then in the whole picture, and now and then
    /// in tiles, each time after twice the wait.
    fn search(&mut self, image: &Picture, time_s: f64) -> Result<Option<Region>, PoseError> {
        self.frames_lost += 1;
        // Chosen frames are far enough apart for a search in each.
        if self.pace != Pace::Chosen
            && self.frames_lost > 1
            && !(self.frames_lost - 1).is_multiple_of(self.config.search_every_frames.max(1))
        {
            return Ok(None);
        }
        if let Some(last) = self.last
            && let Some(near) = self.finder.near(image, &last)?
        {
            return Ok(Some(near));
        }
        let (due_s, wait_s) = self
            .tiles
            .unwrap_or((f64::NEG_INFINITY, self.config.search_tiles_every_s));
        let effort = if time_s >= due_s {
            self.tiles = Some((time_s + wait_s, 2.0 * wait_s));
            Effort::Thorough
        } else {
            Effort::Quick
        };
        let likely = likely(self.finder.people(image, effort, None)?, image, self.config);
        self.people_seen = self.people_seen.max(likely.len());
        Ok(nearest(likely, self.golfer))
    }

    /// Sets out from the one of several people who swings.
    pub fn start_from(&mut self, chosen: Chosen) {
        self.people_seen = chosen.people;
        self.golfer = (chosen.people > 1).then_some(chosen.region);
        self.region = Some(chosen.region);
        self.since_s = chosen.since_s;
    }

    /// What following gave, which ended with `end`.
    pub fn pass(&self, observations: Vec<Observation>, end: Result<(), PoseError>) -> Pass {
        Pass {
            people_seen: self.people_seen,
            others: self.others,
            warnings: self.warnings(),
            observations,
            end,
        }
    }

    fn warnings(&self) -> Vec<Warning> {
        let mut warnings = Vec::new();
        if self.people_seen > 1 {
            warnings.push(Warning::new(
                "several_people",
                format!(
                    "{} people are in the picture. The one {} was measured; check the stills.",
                    self.people_seen,
                    if self.golfer.is_some() {
                        "whose hands move fastest"
                    } else {
                        "who is biggest and most central"
                    }
                ),
            ));
        }
        if self.losses > 0 {
            warnings.push(Warning::new(
                "golfer_lost",
                format!(
                    "The golfer was lost from sight {} time(s); those moments are left out.",
                    self.losses
                ),
            ));
        }
        warnings
    }
}
