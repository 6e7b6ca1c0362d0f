//! The golfer's head made unrecognisable in a frame before anything is drawn or scaled, so that no
//! still, video or picture of a page shows it. Only the pictures in memory change, never a clip.

use image::RgbImage;
use image::imageops::{self, FilterType};
use serde::{Deserialize, Serialize};

use crate::body::OverlayFrame;
use crate::config::ReportConfig;
use crate::math::stats::quantile;
use crate::pose::TorsoPoint;

/// A disc of the picture, display pixels.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Disc {
    centre: [f64; 2],
    radius: f64,
}

/// Where the head was whenever it was seen.
#[derive(Clone, Debug)]
pub struct Faces {
    seen: Vec<HeadPlace>,
    radius_px: f64,
    drift_px_per_s: f64,
    cells: f64,
}

impl Faces {
    /// From the tracks of one view.
    pub fn new(frames: &[OverlayFrame], config: &ReportConfig) -> Self {
        let trunks: Vec<f64> = frames.iter().filter_map(trunk_px).collect();
        // A bent trunk looks short: a length that few frames exceed is the whole one. Without any,
        // the size of the head is not known, and all of the picture is hidden.
        let trunk_px = quantile(&trunks, 0.9).unwrap_or(f64::INFINITY);
        let mut seen: Vec<HeadPlace> = frames.iter().filter_map(seen).collect();
        seen.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
        Self {
            seen,
            radius_px: trunk_px * config.face_blur_radius,
            drift_px_per_s: trunk_px * config.face_blur_drift,
            cells: config.face_blur_cells,
        }
    }

    /// Washes the head's place out. Where it was not seen at `time_s`, the nearest place
    /// counts, wider by what a head can have moved; where it was never seen, the whole picture.
    pub fn hide(&self, picture: &mut RgbImage, time_s: f64) {
        let disc = self.disc(picture, time_s);
        wash_out(picture, disc, self.cells);
    }

    fn disc(&self, picture: &RgbImage, time_s: f64) -> Disc {
        let off = |s: &HeadPlace| (s.time_s - time_s).abs();
        let nearest = self.seen.iter().min_by(|a, b| off(a).total_cmp(&off(b)));
        let (w, h) = (f64::from(picture.width()), f64::from(picture.height()));
        let whole = w.hypot(h);
        match nearest {
            Some(seen) if self.radius_px.is_finite() => {
                let moved = self.drift_px_per_s * off(seen);
                Disc {
                    centre: seen.centre,
                    radius: (self.radius_px + seen.doubt_px + moved).min(whole),
                }
            }
            _ => Disc {
                centre: [w / 2.0, h / 2.0],
                radius: whole,
            },
        }
    }
}

/// What [`Faces`] hold, to be kept in a file.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct HeadTrack {
    /// Size of the picture that the places are counted in, pixels.
    pub width: u32,
    /// The same down.
    pub height: u32,
    /// What is hidden around the head's middle, pixels; none where the size of the head is not known.
    pub radius_px: Option<f64>,
    /// How far a head may move meanwhile, pixels a second.
    pub drift_px_per_s: Option<f64>,
    /// Seconds on the result's clock, across, down and doubt, pixels, growing in time.
    pub seen: Vec<[f64; 4]>,
}

impl HeadTrack {
    /// From what was drawn of one view whose picture has this size.
    pub fn new(faces: &Faces, (width, height): (u32, u32)) -> Self {
        let finite = |v: f64| Some(v).filter(|v| v.is_finite());
        let short = |v: f64| (v * 1000.0).round() / 1000.0;
        Self {
            width,
            height,
            radius_px: finite(faces.radius_px).map(short),
            drift_px_per_s: finite(faces.drift_px_per_s).map(short),
            seen: faces
                .seen
                .iter()
                .map(|s| [s.time_s, s.centre[0], s.centre[1], s.doubt_px].map(short))
                .collect(),
        }
    }

    /// For pictures of another size but the same shape; `cells` mean colours across what is hidden.
    pub fn for_size(&self, (width, height): (u32, u32), cells: f64) -> Faces {
        let across = f64::from(width) / f64::from(self.width.max(1));
        let down = f64::from(height) / f64::from(self.height.max(1));
        let scale = across.max(down);
        let unknown = |v: Option<f64>| v.map_or(f64::INFINITY, |v| v * scale);
        let seen = self.seen.iter().map(|[time_s, x, y, doubt]| HeadPlace {
            time_s: *time_s,
            centre: [x * across, y * down],
            doubt_px: doubt * scale,
        });
        Faces {
            seen: seen.collect(),
            radius_px: unknown(self.radius_px),
            drift_px_per_s: unknown(self.drift_px_per_s),
            cells,
        }
    }
}

/// The head in one frame.
#[derive(Clone, Debug)]
struct HeadPlace {
    /// Seconds on the result's clock.
    time_s: f64,
    centre: [f64; 2],
    /// Half the distance between the two networks' heads.
    doubt_px: f64,
}

/// The head's middle by either network: each covers the other's slip.
fn seen(frame: &OverlayFrame) -> Option<HeadPlace> {
    let finite = |c: &[f64; 2]| c.iter().all(|v| v.is_finite());
    let head = at(frame, TorsoPoint::Head);
    let n = frame.face_px.len() as f64;
    let face = frame
        .face_px
        .iter()
        .copied()
        .reduce(|s, p| [s[0] + p[0], s[1] + p[1]])
        .map(|sum| [sum[0] / n, sum[1] / n]);
    let (head, face) = (head.filter(finite), face.filter(finite));
    let (a, b) = (head.or(face)?, face.or(head)?);
    Some(HeadPlace {
        time_s: frame.time_s,
        centre: [f64::midpoint(a[0], b[0]), f64::midpoint(a[1], b[1])],
        doubt_px: (a[0] - b[0]).hypot(a[1] - b[1]) / 2.0,
    })
}

fn at(frame: &OverlayFrame, p: TorsoPoint) -> Option<[f64; 2]> {
    frame.points_px.get(p as usize).copied().flatten()
}

/// Length of the trunk in the picture, middle of the hips to middle of the shoulders.
fn trunk_px(frame: &OverlayFrame) -> Option<f64> {
    use TorsoPoint as P;
    let at = |p: P| at(frame, p);
    let (left_hip, right_hip) = (at(P::HipL)?, at(P::HipR)?);
    let (left, right) = (at(P::ShoulderL)?, at(P::ShoulderR)?);
    let x = (left_hip[0] + right_hip[0] - left[0] - right[0]) / 2.0;
    let y = (left_hip[1] + right_hip[1] - left[1] - right[1]) / 2.0;
    Some(x.hypot(y)).filter(|l| l.is_finite() && *l > 1.0)
}

/// More cells than this across would show a face again.
const MOST_CELLS: f64 = 12.0;

/// Fills a disc with what is left of it in a grid of `cells` mean colours across, run into each
/// other: hard edges would be new detail.
fn wash_out(picture: &mut RgbImage, disc: Disc, cells: f64) {
    let ([x, y], radius) = (disc.centre, disc.radius);
    let within = |centre: f64, most: u32| {
        let edge = |v: f64| v.clamp(0.0, f64::from(most)) as u32;
        edge((centre - radius).floor())..edge((centre + radius).ceil())
    };
    let (across, down) = (within(x, picture.width()), within(y, picture.height()));
    let (width, height) = (across.len() as u32, down.len() as u32);
    if width == 0 || height == 0 {
        return;
    }
    // A disc cut off by the picture's edge keeps cells of the whole one's size.
    let side = 2.0 * radius / cells.clamp(1.0, MOST_CELLS).round();
    let few = |pixels: u32| (f64::from(pixels) / side).round().max(1.0) as u32;
    let part = imageops::crop_imm(picture, across.start, down.start, width, height).to_image();
    let coarse = imageops::resize(&part, few(width), few(height), FilterType::Triangle);
    let smooth = imageops::resize(&coarse, width, height, FilterType::Triangle);
    for (i, j, colour) in smooth.enumerate_pixels() {
        let at = [across.start + i, down.start + j];
        let off = at.map(|v| f64::from(v) + 0.5);
        if (off[0] - x).hypot(off[1] - y) <= radius {
            picture.put_pixel(at[0], at[1], *colour);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::Pipeline;
    use image::Rgb;

    fn config() -> ReportConfig {
        Pipeline::default().report
    }

    /// A golfer whose trunk is 100 pixels long, the head at `head`; nobody without one.
    fn frame(time_s: f64, head: Option<[f64; 2]>) -> OverlayFrame {
        let mut points_px = vec![Some([100.0, 200.0]); TorsoPoint::COUNT];
        for p in [TorsoPoint::ShoulderL, TorsoPoint::ShoulderR] {
            points_px[p as usize] = Some([100.0, 100.0]);
        }
        if head.is_some() {
            points_px[TorsoPoint::Head as usize] = head;
        } else {
            points_px.clear();
        }
        OverlayFrame {
            index: 0,
            clip_time_s: time_s,
            time_s,
            segments: [None, None],
            points_px,
            face_px: Vec::new(),
        }
    }

    fn checks() -> RgbImage {
        RgbImage::from_fn(200, 300, |x, y| Rgb([((x + y) % 2 * 255) as u8; 3]))
    }

    /// The checks with the head of these frames hidden.
    fn hidden(frames: &[OverlayFrame], time_s: f64) -> RgbImage {
        let mut picture = checks();
        Faces::new(frames, &config()).hide(&mut picture, time_s);
        picture
    }

    /// Pixels that are as they were.
    fn kept(picture: &RgbImage) -> usize {
        let plain = checks();
        let both = picture.pixels().zip(plain.pixels());
        both.filter(|(a, b)| a == b).count()
    }

    /// Farthest changed pixel from a point.
    fn reach(hidden: &RgbImage, from: [f64; 2]) -> f64 {
        let plain = checks();
        hidden
            .enumerate_pixels()
            .filter(|(x, y, p)| plain.get_pixel(*x, *y) != *p)
            .map(|(x, y, _)| (f64::from(x) - from[0]).hypot(f64::from(y) - from[1]))
            .fold(0.0, f64::max)
    }

    #[test]
    fn the_head_loses_its_detail_and_nothing_else_changes() {
        let picture = hidden(&[frame(0.0, Some([100.0, 70.0]))], 0.0);
        let radius = 100.0 * config().face_blur_radius;
        assert!((reach(&picture, [100.0, 70.0]) - radius).abs() < 2.0);
        let near =
            |(x, y): (u32, u32)| (f64::from(x) - 100.0).hypot(f64::from(y) - 70.0) < radius - 2.0;
        for (x, y, p) in picture.enumerate_pixels() {
            // Fine checks average to grey.
            assert!(
                !near((x, y)) || (120..136).contains(&p.0[0]),
                "{x} {y} {p:?}"
            );
        }
    }

    #[test]
    fn a_head_that_was_not_seen_is_hidden_where_it_was_last_and_wider() {
        let config = config();
        let frames = [frame(0.0, Some([100.0, 70.0])), frame(0.1, None)];
        let picture = hidden(&frames, 0.1);
        let radius = 100.0 * (config.face_blur_radius + 0.1 * config.face_blur_drift);
        assert!((reach(&picture, [100.0, 70.0]) - radius).abs() < 2.0);
    }

    #[test]
    fn a_kept_track_hides_the_same_in_a_smaller_picture() {
        let config = config();
        let faces = Faces::new(&[frame(0.0, Some([100.0, 70.0]))], &config);
        let track = HeadTrack::new(&faces, (400, 600));
        let text = serde_json::to_string(&track).expect("JSON");
        let track: HeadTrack = serde_json::from_str(&text).expect("reads");
        let mut picture = checks();
        let small = track.for_size((200, 300), config.face_blur_cells);
        small.hide(&mut picture, 0.0);
        let radius = 50.0 * config.face_blur_radius;
        assert!((reach(&picture, [50.0, 35.0]) - radius).abs() < 2.0);
        let nobody = HeadTrack::new(&Faces::new(&[], &config), (400, 600));
        let mut picture = checks();
        nobody.for_size((200, 300), 5.0).hide(&mut picture, 0.0);
        assert_eq!(kept(&picture), 0, "no size known: all is hidden");
    }

    #[test]
    fn where_no_head_was_ever_seen_the_whole_picture_is_hidden() {
        assert_eq!(kept(&hidden(&[frame(0.0, None)], 0.0)), 0);
    }

    #[test]
    fn a_head_at_the_edge_or_outside_does_no_harm() {
        for head in [[0.0, 0.0], [199.0, 299.0], [-500.0, 9000.0]] {
            let faces = Faces::new(&[frame(0.0, Some(head))], &config());
            faces.hide(&mut checks(), 0.0);
            faces.hide(&mut RgbImage::new(1, 1), 0.0);
        }
    }

    #[test]
    fn the_face_of_the_other_network_is_hidden_too() {
        let mut both = frame(0.0, Some([100.0, 70.0]));
        both.face_px = vec![[140.0, 70.0], [160.0, 70.0]];
        let (picture, plain) = (hidden(&[both], 0.0), checks());
        for at in [[100, 70], [101, 70], [150, 70], [151, 70]] {
            assert_ne!(
                picture.get_pixel(at[0], at[1]),
                plain.get_pixel(at[0], at[1])
            );
        }
    }
}
