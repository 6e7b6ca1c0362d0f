//! The page, the stills and the videos of a whole swing, from real clip files.

mod common;

use quarterturn::terms::{Event, Role};

#[test]
fn a_swing_gets_a_page_stills_and_playable_videos() {
    let folder = match std::env::var_os("QUARTERTURN_KEEP_REPORT") {
        Some(f) => std::path::PathBuf::from(f),
        None => tempfile::tempdir().expect("a folder").keep(),
    };
    common::write_all(&folder, "first-lesson");
    let page = std::fs::read_to_string(folder.join("report.html")).expect("a page");
    assert!(page.len() < 3_000_000, "{} bytes", page.len());
    for part in ["http://", "https://", "url(http", "@import", "srcset"] {
        assert!(!page.contains(part), "{part} in the page");
    }
    let swing = quarterturn::result::read_swing(&folder.join("swing.json")).expect("a result");
    for (event, at) in &swing.at {
        for (measure, e) in at {
            let deg = e.deg.expect("given");
            let mark = format!("value=\"{deg}\" data-event=\"{event}\" data-measure=\"{measure}\"");
            assert!(page.contains(&mark), "{mark}");
        }
    }
    for caution in quarterturn::report::cautions::CAUTIONS {
        assert!(page.contains(caution), "{caution}");
    }
    for role in Role::ALL {
        for event in Event::ALL {
            let still = folder.join(format!("stills/{}_{}.jpg", role.key(), event.key()));
            let picture = image::open(&still).expect("a picture");
            assert_eq!((picture.width(), picture.height()), (540, 960));
        }
        let length = |name: String| {
            let info = ffmpeg_next::format::input(&folder.join(name)).expect("a video");
            info.duration() as f64 / 1e6
        };
        let (real, slow) = (
            length(format!("{}.mp4", role.key())),
            length(format!("{}_slow.mp4", role.key())),
        );
        assert!(real > 2.0 && real < 2.6, "{real}");
        assert!((slow / real - 4.0).abs() < 0.2, "{slow} to {real}");
    }
    if std::env::var_os("QUARTERTURN_KEEP_REPORT").is_none() {
        std::fs::remove_dir_all(&folder).expect("removes");
    }
}
