//! Measures swings from tracks that `observe` wrote, without the networks: for work on geometry,
//! events and intervals, and for calibration.
//!
//! usage: replay TRACKS_DIR OUT_DIR two|face_on|down_the_line [--uncalibrated]

use std::path::{Path, PathBuf};

use quarterturn::measure::{Options, measure_tracks};
use quarterturn::pose::ViewTrack;
use quarterturn::result::write_result;
use rayon::prelude::*;

fn track(path: &Path) -> Option<ViewTrack> {
    serde_json::from_slice(&std::fs::read(path).ok()?).ok()
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    tracing_subscriber::fmt()
        .with_env_filter(tracing_subscriber::EnvFilter::from_default_env())
        .init();
    let args: Vec<String> = std::env::args().skip(1).collect();
    let [folder, out, mode, rest @ ..] = args.as_slice() else {
        return Err(
            "usage: replay TRACKS_DIR OUT_DIR two|face_on|down_the_line [--uncalibrated]".into(),
        );
    };
    let uncalibrated = rest.iter().any(|a| a == "--uncalibrated");
    let mut names: Vec<String> = std::fs::read_dir(folder)?
        .filter_map(|e| e.ok()?.file_name().into_string().ok())
        .filter_map(|n| n.strip_suffix("_face_on.json").map(str::to_owned))
        .collect();
    names.sort();
    names.par_iter().for_each(|name| {
        let path = |role: &str| PathBuf::from(folder).join(format!("{name}_{role}.json"));
        let roles: &[&str] = match mode.as_str() {
            "two" => &["face_on", "down_the_line"],
            "face_on" => &["face_on"],
            _ => &["down_the_line"],
        };
        let tracks: Vec<ViewTrack> = roles.iter().filter_map(|r| track(&path(r))).collect();
        let options = Options {
            name: name.clone(),
            clips: tracks.iter().map(|t| (t.info.file.clone(), None)).collect(),
            uncalibrated,
            ..Options::default()
        };
        match measure_tracks(&tracks, &options) {
            Ok(m) => {
                if let Err(e) = write_result(&PathBuf::from(out).join(name), &m.result, &m.curves) {
                    eprintln!("{name}: {e}");
                }
                for w in m.result.warnings.iter().filter(|w| w.code != "single_view") {
                    eprintln!("{name}: {} {}", w.code, w.text);
                }
            }
            Err(e) => eprintln!("{name}: {e}"),
        }
    });
    Ok(())
}
