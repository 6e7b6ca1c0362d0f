//! Uploads that are small and unpack to enormous work.

use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};

use crate::http::Show;
use crate::memory::{Children, peak_kb};
use crate::program::bomb::{Index, reindexed};
use crate::program::{mp4, sample};
use crate::{AGREED, names};

/// Opening a clip and drawing one picture of 36 million pixels; unpacked, each would take far more. One
/// thread has its torso networks in memory by then, the other opens them at its first crop.
const MOST_MEASURING_KB: u64 = 520_000;
const MOST_PAGE_KB: u64 = 100_000;
/// A refusal takes a moment; unpacked, each would take many minutes.
const LONGEST: Duration = Duration::from_secs(30);

/// One grey picture as a clip.
fn grey(folder: &Path, size: &str) -> Vec<u8> {
    let out = folder.join("grey.mp4");
    let ended = Command::new("ffmpeg")
        .args(["-v", "error", "-nostdin", "-y", "-threads", "1"])
        .args(["-f", "lavfi", "-i", &format!("color=gray:s={size}:r=120")])
        .args(["-frames:v", "1", "-c:v", "libx264", "-preset", "ultrafast"])
        .args(["-pix_fmt", "yuv420p"])
        .arg(&out)
        .status()
        .unwrap_or_else(|e| panic!("ffmpeg does not run ({e}); install the package ffmpeg"));
    assert!(ended.success(), "{ended}");
    std::fs::read(&out).expect("a clip")
}

#[test]
fn files_that_unpack_to_enormous_work_are_refused_before_it() {
    let folder = tempfile::tempdir().expect("a folder");
    let results = folder.path().join("results");
    let largest = grey(folder.path(), "6000x6000");
    let index = |samples, per_chunk, bytes_each| Index {
        samples,
        per_chunk,
        bytes_each,
        ticks: 128,
    };
    let swing = std::fs::read(sample("sixth-lesson_face_on.mp4")).expect("a clip");
    let bombs = [
        (
            "holds 100,000 pictures of 36 million pixels",
            reindexed(&largest, index(100_000, 1, None)),
            "more than can be read",
        ),
        (
            "claims 20 million pictures",
            reindexed(&largest, index(20_000_000, 20_000_000, Some(1))),
            "more than can be read",
        ),
        (
            "holds 30,000 pictures of 67 million pixels",
            reindexed(&grey(folder.path(), "8192x8192"), index(30_000, 1, None)),
            "more than the limit",
        ),
        (
            "claims to last 10 hours",
            mp4::claiming(swing, 36_000),
            "claims to last 36000 s, more than the limit",
        ),
    ];
    let show = Show::start(&results, &[]);
    let watched = Children::watch(show.pid());
    for (what, clip, words) in &bombs {
        assert!(clip.len() < 1_000_000, "{what}: {} bytes", clip.len());
        let began = Instant::now();
        let (kind, body) = Show::form(&AGREED, &[("face_on", "swing.mp4", clip)]);
        let sent = show.post("/upload", &kind, &body, Some(&show.own_origin()));
        assert_eq!(sent.status, 303, "{what}: {}", sent.body);
        let location = sent.header("location").expect("a job");
        let id = location.trim_start_matches("/job/");
        let state = show.wait_for_job(id, LONGEST);
        let line = state["line"].as_str().expect("a sentence");
        eprintln!(
            "{what}, {} KB: {:.1} s, {line}",
            clip.len() / 1000,
            began.elapsed().as_secs_f64()
        );
        assert_eq!(state["stage"], "failed", "{what}");
        assert!(
            line.contains(words) && line.ends_with('.'),
            "{what}: {line}"
        );
    }
    assert_eq!(show.get("/").status, 200);
    assert!(names(&results).is_empty());
    let (measuring, page) = (watched.most_kb(), peak_kb(show.pid()));
    eprintln!("peak memory: measuring {measuring} KB, page {page} KB");
    assert!(measuring > 0, "no measuring process was seen");
    assert!(measuring < MOST_MEASURING_KB, "{measuring} KB");
    assert!(page < MOST_PAGE_KB, "{page} KB");
}
