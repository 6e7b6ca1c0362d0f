//! Where people are in a picture: the cheapest look first. The detector sees the whole picture
//! squeezed, which is enough for a golfer who fills a good part of it. Where that shows nobody, or
//! only somebody small, it looks where something moved, then through tiles. A body that fills a
//! third to a half of the detector's square is seen best, so each find is looked at again that close.

use ort::session::Session;

use super::detector::{self, Detection, Look, detect, merge};
use super::error::PoseError;
use super::landmarks::{self, Landmarks};
use super::moved;
use super::observation::Region;
use super::session::ModelFiles;
use crate::clip::Picture;
use crate::config::PoseConfig;

/// How hard to look.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Effort {
    /// The whole picture and what moved in it.
    Quick,
    /// Tiles too, where the whole picture shows nobody of some size.
    Thorough,
}

/// The two networks that find and follow people.
pub struct Finder<'a> {
    pub config: &'a PoseConfig,
    detector: Session,
    landmarks: Session,
    /// Brightness of the whole picture at the former search.
    before: Option<Vec<f32>>,
    /// Runs of the detector and of the landmark network so far.
    pub runs: [usize; 2],
}

impl<'a> Finder<'a> {
    pub fn open(files: &ModelFiles, config: &'a PoseConfig) -> Result<Self, PoseError> {
        Ok(Self {
            config,
            detector: detector::open(files)?,
            landmarks: landmarks::open(files)?,
            before: None,
            runs: [0; 2],
        })
    }

    /// Looks anew: nothing moved since a picture of before.
    pub fn forget(&mut self) {
        self.before = None;
    }

    /// What the landmark network sees in a region.
    pub fn read(&mut self, image: &Picture, region: &Region) -> Result<Landmarks, PoseError> {
        self.runs[1] += 1;
        landmarks::read(&mut self.landmarks, image, region)
    }

    /// Everyone in a picture, surest first; somebody who only moves outside `known`.
    pub fn people(
        &mut self,
        image: &Picture,
        effort: Effort,
        known: Option<&Region>,
    ) -> Result<Vec<Detection>, PoseError> {
        let c = self.config;
        let whole = Look::at(image, detector::whole(image));
        let cells = whole.cells();
        let before = self.before.replace(cells.clone());
        let mut found = self.seen(image, &whole, c.detector_min_score)?;
        let largest = found.iter().map(|d| d.region.side_px).fold(0.0, f64::max);
        let short = f64::from(image.width().min(image.height()));
        // Who is large and alone fills the usual picture: no more looks.
        if largest < c.search_small_share * short || known.is_some() {
            if let Some(before) = &before {
                for square in moved::squares(before, &cells, image, known, c) {
                    let near = self.seen(image, &Look::at(image, square), c.detector_weak_score)?;
                    if let Some(best) = near.first() {
                        found.extend(self.proven(image, best, c.detector_weak_score)?);
                    }
                }
            }
            if effort == Effort::Thorough {
                found.extend(self.in_tiles(image)?);
            }
        }
        merge(&mut found, c);
        let mut apart: Vec<Detection> = Vec::new();
        for d in found {
            if apart.iter().all(|k| !k.region.holds_whom(&d.region)) {
                apart.push(d);
            }
        }
        tracing::debug!(?effort, found = ?apart, "people in a picture");
        Ok(apart)
    }

    /// The person nearest to where one was last seen, and of about their size: somebody behind or in
    /// front would be of another.
    pub fn near(&mut self, image: &Picture, last: &Region) -> Result<Option<Region>, PoseError> {
        let c = self.config;
        let far = |r: &Region| r.away(last);
        for zoom in [c.search_near_close, c.search_near_wide] {
            let look = Look::at(image, around(last, zoom));
            let found = self.seen(image, &look, c.detector_weak_score)?;
            let nearest = found
                .iter()
                .map(|d| d.region)
                .filter(|r| (0.5..2.0).contains(&(r.side_px / last.side_px)))
                .min_by(|a, b| far(a).total_cmp(&far(b)));
            if nearest.is_some() {
                return Ok(nearest);
            }
        }
        Ok(None)
    }

    /// The detector's score of a person of a region's size there, by closer looks; 0 for nobody.
    pub fn score_there(&mut self, image: &Picture, region: &Region) -> Result<f64, PoseError> {
        let find = Detection {
            score: 0.0,
            box_px: [0.0; 4],
            region: *region,
        };
        let seen = self.close_up(image, &find, self.config.detector_weak_score)?;
        Ok(seen.map_or(0.0, |d| d.score))
    }

    /// Whether the landmark network puts the same body into a find: on a thing it puts one of its own.
    fn agrees(&mut self, image: &Picture, find: &Detection) -> Result<bool, PoseError> {
        let c = self.config;
        let seen = self.read(image, &find.region)?;
        let (a, b) = (find.region, seen.next);
        let roll = (a.roll_rad - b.roll_rad).sin().abs();
        Ok(seen.presence >= c.min_presence
            && a.away(&b) < c.search_agree_sides * a.side_px
            && (b.side_px / a.side_px).ln().abs() < c.search_agree_log_size
            && roll < c.search_agree_roll_deg.to_radians().sin())
    }

    /// What the detector sees in a square, less what has its hips out of the picture: that is no one
    /// who could be measured.
    fn seen(
        &mut self,
        image: &Picture,
        look: &Look,
        least: f64,
    ) -> Result<Vec<Detection>, PoseError> {
        self.runs[0] += 1;
        let mut found = detect(&mut self.detector, look, least, self.config)?;
        let (w, h) = (f64::from(image.width()), f64::from(image.height()));
        found.retain(|d| {
            let [x, y] = d.region.centre_px;
            (0.0..=w).contains(&x)
                && (0.0..=h).contains(&y)
                && d.region.is_plausible([image.width(), image.height()])
        });
        Ok(found)
    }

    /// A find with the score and region that closer looks give it; `None` where none gives `least`.
    fn close_up(
        &mut self,
        image: &Picture,
        find: &Detection,
        least: f64,
    ) -> Result<Option<Detection>, PoseError> {
        let c = self.config;
        let mut best: Option<Detection> = None;
        for zoom in [c.search_near_close, c.search_near_wide] {
            let look = Look::at(image, around(&find.region, zoom));
            for d in self.seen(image, &look, least)? {
                if d.region.holds_whom(&find.region) && best.is_none_or(|b| b.score < d.score) {
                    best = Some(d);
                }
            }
        }
        Ok(best)
    }

    /// A find that holds in closer looks of both networks.
    fn proven(
        &mut self,
        image: &Picture,
        find: &Detection,
        least: f64,
    ) -> Result<Option<Detection>, PoseError> {
        match self.close_up(image, find, least)? {
            Some(seen) if self.agrees(image, &seen)? => Ok(Some(seen)),
            _ => Ok(None),
        }
    }

    /// People that show only in tiles of the picture.
    fn in_tiles(&mut self, image: &Picture) -> Result<Vec<Detection>, PoseError> {
        let c = self.config;
        let mut found: Vec<Detection> = Vec::new();
        for square in tiles(image, c) {
            found.extend(self.seen(image, &Look::at(image, square), c.detector_weak_score)?);
        }
        found.sort_by(|a, b| b.score.total_cmp(&a.score));
        let mut looked_at: Vec<Region> = Vec::new();
        let mut sure = Vec::new();
        // A tile may cut a body: look again with the body in the middle.
        for d in found {
            if looked_at.len() >= c.search_most_tiled {
                break;
            }
            if looked_at.iter().all(|r| !r.holds_whom(&d.region)) {
                looked_at.push(d.region);
                sure.extend(self.proven(image, &d, c.detector_min_score)?);
            }
        }
        Ok(sure)
    }
}

/// The upright square round a region, `zoom` times as large.
fn around(region: &Region, zoom: f64) -> Region {
    Region {
        side_px: zoom * region.side_px,
        roll_rad: 0.0,
        ..*region
    }
}

/// Squares that cover a picture, overlapping by half: of the short side, then smaller ones, each set
/// twice as large as the next, down to `search_tile_px`.
fn tiles(image: &Picture, config: &PoseConfig) -> Vec<Region> {
    let (w, h) = (f64::from(image.width()), f64::from(image.height()));
    let mut sides = vec![w.min(h)];
    let mut least = config.search_tile_px;
    while least < w.min(h) && least > 1.0 {
        sides.push(least);
        least *= 2.0;
    }
    let mut squares = Vec::new();
    for side_px in sides {
        let places = |extent: f64| -> Vec<f64> {
            let steps = ((extent - side_px) / (0.5 * side_px)).ceil().max(0.0);
            (0..=steps as usize)
                .map(|i| side_px / 2.0 + (extent - side_px) * i as f64 / steps.max(1.0))
                .collect()
        };
        for y in places(h) {
            squares.extend(places(w).into_iter().map(|x| Region {
                centre_px: [x, y],
                side_px,
                roll_rad: 0.0,
            }));
        }
    }
    squares
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::Pipeline;

    fn of(width: u32, height: u32) -> Vec<Region> {
        let config = Pipeline::default().pose;
        tiles(&image::RgbImage::new(width, height).into(), &config)
    }

    #[test]
    fn a_golfer_of_150_px_lies_whole_in_a_tile_less_than_three_times_as_large() {
        for (w, h) in [(1280, 720), (1080, 1920), (1920, 1080), (3840, 2160)] {
            let tiles = of(w, h);
            assert!(tiles.len() < 260, "{} tiles", tiles.len());
            for (x, y) in [
                (75.0, 75.0),
                (f64::from(w) / 2.7, f64::from(h) / 1.9),
                (f64::from(w) - 75.0, f64::from(h) - 75.0),
            ] {
                let holds = |t: &&Region| {
                    let reach = t.side_px / 2.0 - 74.9;
                    t.side_px < 450.0
                        && (t.centre_px[0] - x).abs() <= reach
                        && (t.centre_px[1] - y).abs() <= reach
                };
                assert!(tiles.iter().any(|t| holds(&t)), "{w} x {h}: {x} {y}");
            }
        }
    }

    #[test]
    fn tiles_stay_inside_the_picture_and_small_pictures_have_few() {
        for (w, h) in [(96, 96), (640, 360), (540, 960)] {
            let tiles = of(w, h);
            assert!((1..40).contains(&tiles.len()), "{}", tiles.len());
            for t in tiles {
                for (c, extent) in t.centre_px.iter().zip([w, h]) {
                    assert!(c - t.side_px / 2.0 >= -1e-9);
                    assert!(c + t.side_px / 2.0 <= f64::from(extent) + 1e-9);
                }
            }
        }
    }
}
