//! Swings found in takes on any clock, and none found where nobody swings. Tracks are made from truth
//! by projection, or read from a folder of what `observe` wrote.

mod cases;
mod long;
mod others;
#[path = "../common/synthetic.rs"]
mod synthetic;
mod warp;

use cases::{Tally, base, random_case};
use quarterturn::config::{FindConfig, Pipeline};
use quarterturn::find::find_take;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

fn config() -> FindConfig {
    Pipeline::default().find
}

#[test]
fn swings_on_any_clock_are_found_and_their_moments_with_them() {
    let (config, bases) = (config(), base());
    let mut tally = Tally::default();
    for seed in 0..240 {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let case = random_case(&bases, &mut rng);
        tally.add(&case, &find_take(&case.track, &config));
    }
    println!("{tally}");
    assert!(tally.share(|c| c.number_right) >= 0.99, "{tally}");
    assert!(tally.share(|c| c.top) >= 0.95, "{tally}");
    assert!(tally.share(|c| c.takeaway) >= 0.93, "{tally}");
    assert!(tally.share(|c| c.impact) >= 0.80, "{tally}");
}

#[test]
fn nobody_who_does_something_else_swings() {
    let config = config();
    let mut found = Vec::new();
    for (k, doing) in others::ALL.into_iter().enumerate() {
        for n in 0..25 {
            let seed = 1000 * k as u64 + n;
            let take = find_take(&others::take(doing, seed), &config);
            if !take.swings.is_empty() {
                found.push((doing, seed, take.likeliest));
            }
        }
    }
    assert!(found.is_empty(), "{found:?}");
}
