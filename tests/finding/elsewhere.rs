//! People without a swing, as the referee's bodies do it (models/training/referee): walking, squats,
//! reaching, warming up, teeing a ball up, putting, carrying. Nothing here is shared with `others`.
//!
//! ```text
//! cd models/training/referee && python draw_configs.py CONFIGS none 500
//! TRUTH_RATE=60 PICTURES=no python make_clips.py ../data OUT CONFIGS/*.json
//! QUARTERTURN_TRUTHS=OUT cargo test --test finding -- --ignored --nocapture without_a_swing
//! ```

use std::path::Path;

use quarterturn::find::find_take;
use quarterturn::terms::Role;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use crate::others::outliers;
use crate::synthetic::{Noise, Phone, Swing, mirrored, pose, record};

/// The least that counts as having been looked at.
const FEWEST: usize = 100;

#[test]
#[ignore = "needs a folder of truths, minutes"]
fn takes_of_another_renderer_without_a_swing() {
    let Some(folder) = std::env::var_os("QUARTERTURN_TRUTHS") else {
        panic!("QUARTERTURN_TRUTHS names no folder of truths");
    };
    let config = crate::config();
    let mut names: Vec<_> = std::fs::read_dir(Path::new(&folder))
        .expect("a folder")
        .filter_map(|e| Some(e.ok()?.path()))
        .filter(|p| p.to_string_lossy().ends_with("_truth.json"))
        .collect();
    names.sort();
    let (mut looks, mut wrong) = (0, Vec::new());
    for (k, path) in names.iter().enumerate() {
        let text = std::fs::read_to_string(path).expect("a file");
        let truth: serde_json::Value = serde_json::from_str(&text).expect("truth");
        let swings = truth["swings"].as_array().expect("swings").len();
        assert_eq!(swings, 0, "{}: a swing is in it", path.display());
        let kind = truth["config"]["kind"].as_str().unwrap_or_default();
        let body = Swing::parse(&text);
        for role in Role::ALL {
            let mut rng = ChaCha8Rng::seed_from_u64(2 * k as u64 + u64::from(role == Role::FaceOn));
            let mut u = |a: f64, b: f64| rng.random_range(a..b);
            let mut phone = Phone::square(role).round_the_golfer(u(-35.0, 35.0));
            // Room for people who walk about.
            phone.position_m.x *= 1.8;
            phone.position_m.y *= 1.8;
            phone.focal_px *= 1.4;
            phone.fps = [24.0, 30.0, 60.0][(u(0.0, 3.0)) as usize % 3];
            let noise = Noise {
                seed: k as u64,
                rotation_deg: u(2.0, 8.0),
                point_px: u(2.0, 7.0),
                alike_s: 0.1,
            };
            let at = |t: f64| pose(&body, t);
            let mut track = record(&at, body.end_s(), None, &phone, &noise);
            outliers(&mut track, u(0.0, 0.03), k as u64);
            if u(0.0, 1.0) < 0.5 {
                track = mirrored(&track);
            }
            let take = find_take(&track, &config);
            looks += 1;
            if !take.swings.is_empty() {
                wrong.push(format!(
                    "{} {role} {kind}: {:.3}",
                    path.display(),
                    take.likeliest
                ));
            }
        }
    }
    println!(
        "{} of {looks} looks at {} takes taken for a swing",
        wrong.len(),
        names.len()
    );
    println!("{}", wrong.join("\n"));
    assert!(looks >= FEWEST, "{looks} looks are too few to tell");
    assert!(wrong.len() * 200 <= looks, "more than one in two hundred");
}
