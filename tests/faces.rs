//! `--blur-face`: one swing measured with and without it by the built program. Where the truth says
//! the head is, every picture has lost its detail; the rest is the same, and so are the clips.

mod common;
mod program;

use std::path::{Path, PathBuf};

use base64::Engine;
use image::RgbImage;
use quarterturn::body::Overlay;
use quarterturn::clip::FrameReader;
use quarterturn::config::Pipeline;
use quarterturn::pose::TorsoPoint;
use quarterturn::result::read_swing;
use quarterturn::terms::{Event, Role};

const SWING: &str = "first-lesson";

/// Sharpness that may be left at the head: share of the variance of the Laplacian. The rendered
/// head is smooth as it is; what is left is the edge of the disc and the codings' own noise.
const MOST_LEFT: f64 = 0.5;
/// Head from its middle to its crown, metres: an adult's.
const HEAD_M: f64 = 0.11;
/// Farthest from the head's middle that a picture may differ, metres. The largest part of it is for
/// JPEG, which changes whole blocks, and for the distance between the two networks' heads.
const REACH_M: f64 = 0.35;
/// From the middle of a drawn white point past its dark rim, pixels.
const DRAWN_PX: f64 = 6.0;
/// The same in the page's small pictures, whose JPEG leaves noise about a mark.
const DRAWN_SMALL_PX: f64 = 4.2;
/// All colours of a drawn rim are below this; a JPEG's small pictures make black as bright as that.
const RIM: u8 = 60;
/// Levels of a colour that two codings of the same picture may differ by.
const CODING: u8 = 24;

fn measure(out: &Path, more: &[&str]) -> PathBuf {
    let output = program::quarterturn()
        .arg("measure")
        .arg("--face-on")
        .arg(program::sample(&format!("{SWING}_face_on.mp4")))
        .arg("--down-the-line")
        .arg(program::sample(&format!("{SWING}_down_the_line.mp4")))
        .arg("--out")
        .arg(out)
        .args(more)
        .output()
        .expect("the program runs");
    assert!(output.status.success(), "{}", program::stderr(&output));
    out.join(SWING)
}

fn luma(picture: &RgbImage, x: u32, y: u32) -> f64 {
    picture
        .get_pixel(x, y)
        .0
        .iter()
        .map(|v| f64::from(*v))
        .sum::<f64>()
        / 3.0
}

/// Variance of the Laplacian over the pixels that `inside` names.
fn sharpness(picture: &RgbImage, inside: impl Fn(u32, u32) -> bool) -> f64 {
    let (w, h) = picture.dimensions();
    let mut all = Vec::new();
    for y in 1..h - 1 {
        for x in 1..w - 1 {
            if inside(x, y) {
                let l = |dx: i64, dy: i64| {
                    luma(
                        picture,
                        (i64::from(x) + dx) as u32,
                        (i64::from(y) + dy) as u32,
                    )
                };
                all.push(l(-1, 0) + l(1, 0) + l(0, -1) + l(0, 1) - 4.0 * l(0, 0));
            }
        }
    }
    assert!(all.len() > 150, "only {} pixels", all.len());
    let mean = all.iter().sum::<f64>() / all.len() as f64;
    all.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / all.len() as f64
}

fn apart(a: &RgbImage, b: &RgbImage, x: u32, y: u32) -> u8 {
    let (a, b) = (a.get_pixel(x, y).0, b.get_pixel(x, y).0);
    (0..3).map(|c| a[c].abs_diff(b[c])).max().unwrap_or(0)
}

/// The true middle of the head and pixels a metre at a time of the result's clock.
fn head_at(overlay: &Overlay, time_s: f64) -> ([f64; 2], f64) {
    let frame = overlay
        .frames
        .iter()
        .min_by(|a, b| {
            (a.time_s - time_s)
                .abs()
                .total_cmp(&(b.time_s - time_s).abs())
        })
        .expect("a frame");
    let scale = frame.segments[1].as_ref().expect("a thorax").px_per_m;
    let head = frame.points_px[TorsoPoint::Head as usize].expect("a head");
    (head, scale)
}

/// The pixels of the head that nothing is drawn on.
fn head_pixels(picture: &RgbImage, head: ([f64; 2], f64)) -> impl Fn(u32, u32) -> bool {
    let (at, px_per_m) = head;
    let near = move |x: u32, y: u32| {
        (f64::from(x) - at[0]).hypot(f64::from(y) - at[1]) < HEAD_M * px_per_m
    };
    let free = undrawn(picture, DRAWN_PX);
    move |x, y| near(x, y) && free(x, y)
}

/// The pixels farther than `reach_px` from every white or black one: drawn points are white, and they
/// and the bars have a black rim.
fn undrawn(picture: &RgbImage, reach_px: f64) -> impl Fn(u32, u32) -> bool {
    let drawn: Vec<(u32, u32)> = picture
        .enumerate_pixels()
        .filter(|(_, _, p)| p.0.iter().all(|v| *v > 215) || p.0.iter().all(|v| *v < RIM))
        .map(|(x, y, _)| (x, y))
        .collect();
    move |x, y| {
        drawn
            .iter()
            .all(|(a, b)| f64::from(a.abs_diff(x)).hypot(f64::from(b.abs_diff(y))) > reach_px)
    }
}

/// Checks two pictures of one moment against the true place of the head.
fn check(what: &str, plain: &RgbImage, hidden: &RgbImage, head: ([f64; 2], f64)) {
    let (at, px_per_m) = head;
    let from_head = |x: u32, y: u32| (f64::from(x) - at[0]).hypot(f64::from(y) - at[1]) / px_per_m;
    let inside = head_pixels(plain, head);
    let left = sharpness(hidden, &inside) / sharpness(plain, &inside);
    assert!(
        left < MOST_LEFT,
        "{what}: {left:.2} of the head's sharpness is left"
    );
    for (x, y, _) in plain.enumerate_pixels() {
        if apart(plain, hidden, x, y) > CODING {
            let m = from_head(x, y);
            assert!(
                m < REACH_M,
                "{what}: changed at {x}, {y}, {m:.2} m from the head"
            );
        }
    }
}

/// Every picture inside a page.
fn inside(page: &Path) -> Vec<RgbImage> {
    let text = std::fs::read_to_string(page).expect("a page");
    text.split("data:image/jpeg;base64,")
        .skip(1)
        .map(|rest| {
            let end = rest
                .find(|c: char| !(c.is_ascii_alphanumeric() || "+/=".contains(c)))
                .expect("an end");
            let bytes = base64::engine::general_purpose::STANDARD
                .decode(&rest[..end])
                .expect("base64");
            image::load_from_memory(&bytes).expect("a JPEG").to_rgb8()
        })
        .collect()
}

#[test]
fn heads_are_hidden_in_stills_videos_and_page_and_nothing_else_changes() {
    let folder = tempfile::tempdir().expect("a folder");
    let clip = program::sample(&format!("{SWING}_face_on.mp4"));
    let before = std::fs::read(&clip).expect("the clip");
    let plain = measure(&folder.path().join("plain"), &[]);
    let hidden = measure(&folder.path().join("hidden"), &["--blur-face"]);
    assert!(
        before == std::fs::read(&clip).expect("the clip"),
        "the clip was altered"
    );

    let numbers = |f: &Path| std::fs::read(f.join("curves.csv")).expect("curves");
    assert_eq!(
        numbers(&plain),
        numbers(&hidden),
        "the numbers depend on the blur"
    );
    let swing = read_swing(&plain.join("swing.json")).expect("a result");
    let (_, _, truth) = common::Truth::load(SWING).swing(SWING);

    for overlay in &truth {
        for event in Event::ALL {
            let name = format!("stills/{}_{}.jpg", overlay.role.key(), event.key());
            let open = |f: &Path| image::open(f.join(&name)).expect("a still").to_rgb8();
            let time_s = swing.events[&event].s.expect("a time");
            check(
                &name,
                &open(&plain),
                &open(&hidden),
                head_at(overlay, time_s),
            );
        }
    }
    videos(&plain, &hidden, &truth);

    let (a, b) = (
        inside(&plain.join("report.html")),
        inside(&hidden.join("report.html")),
    );
    assert_eq!(a.len(), b.len());
    assert!(a.len() > 60, "{} pictures", a.len());
    // Each has changed over an area as of a head, and lost detail there; what is drawn over the head, in both
    // alike, would make up much of what is left in the small ones.
    let left: Vec<f64> = a
        .iter()
        .zip(&b)
        .map(|(a, b)| {
            let (free, free_before) = (undrawn(b, DRAWN_SMALL_PX), undrawn(a, DRAWN_SMALL_PX));
            let changed =
                |x: u32, y: u32| apart(a, b, x, y) > CODING && free(x, y) && free_before(x, y);
            sharpness(b, changed) / sharpness(a, changed)
        })
        .collect();
    let usual = quarterturn::math::stats::median(&left).expect("pictures");
    let worst = left.iter().copied().fold(0.0, f64::max);
    assert!(usual < 0.5 && worst < 0.95, "left in the page: {left:?}");
    let said = |f: &Path| {
        std::fs::read_to_string(f.join("report.html"))
            .expect("a page")
            .contains("The head is made unrecognisable")
    };
    assert!(said(&hidden) && !said(&plain));
}

/// Every tenth frame of the annotated videos.
fn videos(plain: &Path, hidden: &Path, truth: &[Overlay]) {
    let config = Pipeline::default().clip;
    let films: serde_json::Value =
        serde_json::from_slice(&std::fs::read(plain.join("film.json")).expect("a list"))
            .expect("JSON");
    for overlay in truth {
        let role: Role = overlay.role;
        let entry = films["views"]
            .as_array()
            .and_then(|v| v.iter().find(|v| v["role"] == role.key()))
            .expect("a film");
        let starts_s = entry["starts_s"].as_f64().expect("a start");
        let name = format!("{}.mp4", role.key());
        let open = |f: &Path| FrameReader::open(&f.join(&name), &config).expect("a video");
        let mut seen = 0;
        for (a, b) in open(plain).zip(open(hidden)).step_by(10) {
            let (a, b) = (a.expect("a frame"), b.expect("a frame"));
            let (before, after) = (a.image.shown(), b.image.shown());
            let inside = head_pixels(&before, head_at(overlay, starts_s + a.time_s));
            let left = sharpness(&after, &inside) / sharpness(&before, &inside);
            assert!(
                left < MOST_LEFT,
                "{name} at {:.2} s: {left:.2} is left",
                a.time_s
            );
            seen += 1;
        }
        assert!(seen > 8, "{name}: {seen} frames");
    }
}
