//! The golfer followed from frame to frame: a search in the whole frame at first and after a loss,
//! then the region that the landmark network says to look at next.

use std::sync::Arc;

use super::choose::{Chosen, likely};
use super::error::PoseError;
use super::images::Images;
use super::observation::{Observation, Person, Region};
use super::session::ModelFiles;
use super::stillness::Thumbnail;
use super::{detector, landmarks, torso};
use crate::clip::{Frame, Picture};
use crate::config::PoseConfig;
use crate::warning::Warning;

/// An upright crop that waits for the torso network.
pub struct Crop {
    /// Place of its observation in the track.
    pub index: usize,
    pub image: Arc<Picture>,
    pub region: Region,
    pub images: Images,
}

/// A crop that was given out.
#[derive(Clone, Copy)]
struct Former {
    region: Region,
    time_s: f64,
    images: Images,
}

/// Follows the golfer from frame to frame.
pub struct Tracker<'a> {
    config: &'a PoseConfig,
    every_frame: bool,
    pub detector: ort::session::Session,
    pub landmarks: ort::session::Session,
    region: Option<Region>,
    /// The torso crop before, in the same stretch of tracking.
    crop: Option<Former>,
    frames_lost: usize,
    losses: usize,
    pub people_seen: usize,
    /// Where the one of several people who swings was last seen.
    golfer: Option<Region>,
    last_read: Option<(Thumbnail, f64)>,
}

impl<'a> Tracker<'a> {
    pub fn open(
        files: &ModelFiles,
        config: &'a PoseConfig,
        every_frame: bool,
    ) -> Result<Self, PoseError> {
        Ok(Self {
            config,
            every_frame,
            detector: detector::open(files)?,
            landmarks: landmarks::open(files)?,
            region: None,
            crop: None,
            frames_lost: 0,
            losses: 0,
            people_seen: 0,
            golfer: None,
            last_read: None,
        })
    }

    pub fn step(&mut self, frame: Frame) -> Result<(Observation, Option<Crop>), PoseError> {
        let Frame {
            index,
            time_s,
            image,
        } = frame;
        let empty = Observation {
            index,
            time_s,
            person: None,
            repeated: false,
        };
        if !self.every_frame {
            let thumbnail = Thumbnail::of(&image);
            if let Some((last, at)) = &self.last_read
                && self.region.is_some()
                && time_s - at < self.config.still_every_s
                && thumbnail.change(last) < self.config.still_threshold
            {
                return Ok((
                    Observation {
                        repeated: true,
                        ..empty
                    },
                    None,
                ));
            }
            self.last_read = Some((thumbnail, time_s));
        }
        let region = match self.region {
            Some(r) => r,
            None => match self.search(&image)? {
                Some(r) => r,
                None => return Ok((empty, None)),
            },
        };
        let seen = landmarks::read(&mut self.landmarks, &image, &region)?;
        self.region = seen.next_region(&image, self.config);
        let Some(next) = self.region else {
            self.crop = None;
            self.losses += 1;
            self.frames_lost = 0;
            return Ok((empty, None));
        };
        self.golfer = self.golfer.map(|_| next);
        let crop = torso::upright_region(&seen.keypoints, self.config.torso_crop_scale)
            .map(|now| self.crop(now, time_s));
        let person = Person {
            presence: seen.presence,
            region,
            landmarks: seen.keypoints,
            world_m: seen.world_m,
            torso: None,
        };
        let image = Arc::new(image);
        Ok((
            Observation {
                person: Some(person),
                ..empty
            },
            crop.map(|crop| Crop {
                index,
                image,
                region: crop.region,
                images: crop.images,
            }),
        ))
    }

    /// Damps the crop's jitter and says how to read it.
    fn crop(&mut self, now: Region, time_s: f64) -> Former {
        let k = self.config.crop_inertia;
        let region = match self.crop.map(|c| c.region) {
            Some(was) => Region {
                centre_px: [
                    k * was.centre_px[0] + (1.0 - k) * now.centre_px[0],
                    k * was.centre_px[1] + (1.0 - k) * now.centre_px[1],
                ],
                side_px: k * was.side_px + (1.0 - k) * now.side_px,
                roll_rad: 0.0,
            },
            None => now,
        };
        let former = self.crop.map(|c| (c.time_s, c.images));
        let crop = Former {
            region,
            time_s,
            images: Images::after(former, time_s, self.config),
        };
        self.crop = Some(crop);
        crop
    }

    /// Looks for the golfer in the whole frame: where one of several was chosen, the person nearest
    /// to their last place, else the biggest and most central one.
    fn search(&mut self, image: &Picture) -> Result<Option<Region>, PoseError> {
        self.frames_lost += 1;
        if self.frames_lost > 1
            && !(self.frames_lost - 1).is_multiple_of(self.config.search_every_frames.max(1))
        {
            return Ok(None);
        }
        let found = detector::detect(&mut self.detector, image, self.config)?;
        let likely = likely(found, image, self.config);
        self.people_seen = self.people_seen.max(likely.len());
        let Some(golfer) = self.golfer else {
            return Ok(likely.first().copied());
        };
        let far = |r: &Region| {
            (r.centre_px[0] - golfer.centre_px[0]).hypot(r.centre_px[1] - golfer.centre_px[1])
        };
        Ok(likely.into_iter().min_by(|a, b| far(a).total_cmp(&far(b))))
    }

    /// Sets out from the one of several people who swings.
    pub fn start_from(&mut self, chosen: Chosen) {
        self.people_seen = chosen.people;
        self.golfer = Some(chosen.region);
    }

    pub fn warnings(&self) -> Vec<Warning> {
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
