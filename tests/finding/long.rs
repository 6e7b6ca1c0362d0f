//! The long checks: thousands of warped takes. `QUARTERTURN_TRACKS` names a folder of tracks that the
//! example `observe` wrote, each `NAME.json` beside its truth `NAME.truth.json` with `events`;
//! without it, tracks projected from the sample swings' truth.
//!
//! cargo test --test finding -- --ignored --nocapture

use std::path::Path;

use quarterturn::config::Pipeline;
use quarterturn::find::find_take;
use quarterturn::pose::ViewTrack;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

use crate::cases::{Tally, base, random_case};
use crate::others;
use crate::warp::{Case, case};

fn number(v: &serde_json::Value, key: &str) -> Option<f64> {
    v["events"][key].as_f64()
}

/// Tracks of a folder with their truth.
pub fn of_folder(folder: &Path) -> Vec<Case> {
    let mut names: Vec<String> = std::fs::read_dir(folder)
        .expect("a folder")
        .filter_map(|e| e.ok()?.file_name().into_string().ok())
        .filter_map(|n| n.strip_suffix(".truth.json").map(str::to_owned))
        .collect();
    names.sort();
    let read = |name: String| std::fs::read(folder.join(name)).expect("a file");
    names
        .iter()
        .filter_map(|name| {
            let truth: serde_json::Value =
                serde_json::from_slice(&read(format!("{name}.truth.json"))).expect("truth");
            let track: ViewTrack =
                serde_json::from_slice(&read(format!("{name}.json"))).expect("a track");
            let by_turns = 1.0 / track.info.fps < Pipeline::default().pose.mirror_alternate_s;
            let moment = |key| number(&truth, key);
            let (takeaway, top, impact) = (moment("addr")?, moment("top")?, moment("imp")?);
            Some(Case {
                by_turns,
                ..case(name, track, takeaway, top, impact)
            })
        })
        .collect()
}

#[test]
#[ignore = "minutes"]
fn thousands_of_warped_takes() {
    let bases = match std::env::var_os("QUARTERTURN_TRACKS") {
        Some(folder) => of_folder(Path::new(&folder)),
        None => base(),
    };
    let config = crate::config();
    let mut tally = Tally::default();
    let found: Vec<_> = (0..2400u64)
        .into_par_iter()
        .map(|seed| {
            let mut rng = ChaCha8Rng::seed_from_u64(90_000 + seed);
            let case = random_case(&bases, &mut rng);
            let take = find_take(&case.track, &config);
            (case, take)
        })
        .collect();
    for (case, take) in &found {
        tally.add(case, take);
    }
    println!("{tally}");
    assert!(tally.share(|c| c.number_right) >= 0.97, "number of swings");
}

#[test]
#[ignore = "minutes"]
fn thousands_of_other_takes() {
    let config = crate::config();
    let mut wrong = Vec::new();
    for (k, doing) in others::ALL.into_iter().enumerate() {
        let mut most: f64 = 0.0;
        for n in 0..250 {
            let seed = 100_000 + 1000 * k as u64 + n;
            let take = find_take(&others::take(doing, seed), &config);
            most = most.max(take.likeliest);
            if !take.swings.is_empty() {
                wrong.push((doing, seed, take.likeliest));
            }
        }
        println!("{doing:?}: likeliest {most:.3}");
    }
    println!("{} of 2000: {wrong:?}", wrong.len());
    assert!(wrong.is_empty());
}
