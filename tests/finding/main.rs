//! Swings found in takes on any clock, and none found where nobody swings. Tracks are made from truth
//! by projection, or read from a folder of what `observe` wrote.

mod cases;
mod elsewhere;
mod long;
mod moved;
mod others;
#[path = "../common/synthetic.rs"]
mod synthetic;
mod warp;

use cases::{Tally, base, random_case};
use quarterturn::config::{FindConfig, Pipeline};
use quarterturn::find::find_take;
use quarterturn::measure::may_show_a_swing;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use warp::{step_up, thin};

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

/// Few looks at the joints alone rule no swing out, and rule out who stands.
#[test]
fn who_may_swing_is_told_from_ten_looks_a_second() {
    let pipeline = Pipeline::default();
    let mut rng = ChaCha8Rng::seed_from_u64(3);
    for b in base() {
        let mut few = thin(&b, 10.0, 0.0, &mut rng).track;
        for person in few
            .observations
            .iter_mut()
            .filter_map(|o| o.person.as_mut())
        {
            person.torso = None;
        }
        assert!(
            may_show_a_swing(&few.observations, &[], &pipeline),
            "{}",
            b.name
        );
        few.observations
            .retain(|o| o.time_s < b.swings[0].takeaway.0 - 0.1);
        assert!(
            !may_show_a_swing(&few.observations, &[], &pipeline),
            "{} at address",
            b.name
        );
    }
}

/// A clip that plays backwards may show a swing of the other side; a downswing alone is none that does.
#[test]
fn what_plays_backwards_is_doubted_and_a_downswing_alone_is_not() {
    let config = config();
    let (mut doubted, mut backwards) = (0, 0);
    for b in base() {
        let (from, end) = (b.swings[0].top.0 - 0.05, f64::INFINITY);
        let alone = find_take(&warp::cut(&b, from, end).track, &config);
        for s in alone
            .swings
            .iter()
            .chain(&find_take(&b.track, &config).swings)
        {
            assert!(!s.seems_backwards(&config), "{}: {s:?}", b.name);
        }
        let take = find_take(&warp::reversed(&b).track, &config);
        backwards += take.swings.len();
        doubted += take
            .swings
            .iter()
            .filter(|s| s.seems_backwards(&config))
            .count();
    }
    println!("{doubted} of {backwards} that play backwards");
    assert!(
        backwards > 0 && 2 * doubted >= backwards,
        "{doubted} of {backwards}"
    );
}

/// Hands that come to the ball are no backswing: it begins where they stand last.
#[test]
fn who_steps_up_to_the_ball_begins_where_they_stand() {
    let began = |config: &FindConfig, case: &warp::Case| {
        let take = find_take(&case.track, config);
        let first = take.swings.first().and_then(|s| s.takeaway);
        first.map_or(f64::NEG_INFINITY, |m| m.time_s - case.swings[0].takeaway.1)
    };
    let mut blind = config();
    for asked in [&mut blind.stood, &mut blind.settled, &mut blind.rest_least] {
        *asked = f64::INFINITY;
    }
    let (mut right, mut without, mut all) = (0, 0, 0);
    for b in base() {
        for (k, stands_s) in [0.5, 0.9, 1.5].into_iter().enumerate() {
            let mut rng = ChaCha8Rng::seed_from_u64(k as u64);
            let plain = thin(&b, 30.0, 0.0, &mut rng);
            let case = thin(&step_up(&b, stands_s, &mut rng), 30.0, 0.0, &mut rng);
            // No earlier than without the stepping up, but for what a frame makes.
            let least = began(&config(), &plain) - 0.1;
            all += 1;
            right += usize::from(began(&config(), &case) > least);
            without += usize::from(began(&blind, &case) > least);
        }
    }
    println!("{right} of {all}, without asking {without}");
    assert!(20 * right >= 17 * all, "{right} of {all}");
    assert!(without < right, "{without} of {all} without asking");
}

/// Half way back and later: no address is seen, and the swing is.
#[test]
fn a_clip_that_begins_after_the_takeaway_shows_a_swing_without_an_address() {
    let config = config();
    let (mut found, mut without, mut all) = (0, 0, 0);
    for b in base() {
        let (s, end) = (
            b.swings[0],
            b.track.observations.last().map_or(0.0, |o| o.time_s),
        );
        let back_s = s.top.0 - s.takeaway.0;
        for share in [0.5, 0.7, 0.9] {
            let take = find_take(
                &warp::cut(&b, s.takeaway.0 + share * back_s, end).track,
                &config,
            );
            all += 1;
            if let [one] = take.swings.as_slice()
                && (one.impact.time_s - (s.impact - s.takeaway.0 - share * back_s)).abs() < 0.06
            {
                found += 1;
                without += usize::from(one.takeaway.is_none());
            }
        }
    }
    println!("{found} of {all} found, {without} of them without an address");
    assert!(found * 100 >= all * 95, "{found} of {all}");
    assert!(without * 100 >= found * 95, "{without} of {found}");
}
