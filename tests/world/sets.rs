//! The statistics of sets against published worked examples and general libraries.
//!
//! tests/reference/sets.json was written by tests/reference/sets_reference.py.

use quarterturn::config::Pipeline;
use quarterturn::sets::mean::{Sessions, Summary, difference, interval, mean, needed};
use quarterturn::sets::reading::{Share, SwingValue};
use quarterturn::sets::spread::{self, between_variance, spread as spread_of};
use quarterturn::terms::{Event, Measure, ViewMode};
use serde_json::Value;

fn reference() -> Value {
    serde_json::from_str(include_str!("../reference/sets.json")).expect("JSON")
}

fn number(v: &Value) -> f64 {
    v.as_f64().expect("a number")
}

fn numbers(v: &Value) -> Vec<f64> {
    v.as_array().expect("a list").iter().map(number).collect()
}

fn near(got: f64, wanted: f64, within: f64) {
    assert!((got - wanted).abs() <= within, "{got} for {wanted}");
}

/// Values whose errors are known: half-width 1.959964 σ.
fn readings(values: &[f64], sigma: f64) -> Vec<SwingValue> {
    values
        .iter()
        .map(|v| SwingValue {
            value: *v,
            half: 1.959_964 * sigma,
        })
        .collect()
}

fn share(all: f64) -> Share {
    Share {
        low: all,
        likely: all,
        high: all,
    }
}

/// Three sets of five: NIST/SEMATECH e-Handbook of Statistical Methods, 7.4.3.3.
fn handbook() -> Vec<Vec<f64>> {
    let all = reference();
    all["handbook"]
        .as_array()
        .expect("sets")
        .iter()
        .map(numbers)
        .collect()
}

/// The handbook's table: between 13.949 with 2 degrees of freedom, within 1.454 with 12, F 9.59 (numbers
/// of the table from memory; statsmodels gives the same).
#[test]
fn the_parts_of_variance_are_those_of_the_handbooks_table() {
    let sets = handbook();
    let all: Vec<Summary> = sets
        .iter()
        .map(|s| Summary::of(&readings(s, 0.0)).expect("a set"))
        .collect();
    let within = all.iter().map(|s| s.s2.expect("five")).sum::<f64>() / 3.0;
    near(within, 1.454, 0.001);
    let means: Vec<f64> = all.iter().map(|s| s.mean).collect();
    let own = [within / 5.0; 3];
    // Balanced: the estimate between is (13.949 − 1.454) / 5, as by restricted maximum likelihood.
    let between = between_variance(&means, &own, &own, &own).expect("three means");
    near(between.value, (13.949 - 1.454) / 5.0, 0.001);
    near(
        between.value,
        number(&reference()["mixed"]["between"]),
        1e-4,
    );
    near((5.0 * between.value + within) / within, 9.59, 0.01);
}

/// A session's mean has the variance that a mixed model gives it: what the session shares, and a fifth
/// of the rest.
#[test]
fn the_mean_of_a_session_has_the_mixed_models_variance() {
    let all = reference();
    let mixed = &all["mixed"];
    let shared = number(&mixed["between"]);
    let mut variance = 0.0;
    for values in handbook() {
        // All of the reading's error is the session's, so that s² is what swings do otherwise.
        let set = readings(&values, shared.sqrt());
        let told = mean(&set, share(1.0)).expect("a mean");
        let s2 = Summary::of(&set).expect("a set").s2.expect("five");
        let df = (shared + s2 / 5.0).powi(2) / ((s2 / 5.0).powi(2) / 4.0);
        let half = interval(0.0, &[(1.0, df)]).high;
        variance += ((told.high - told.value) / half).powi(2);
    }
    // The grand mean of three sessions.
    near(
        (variance / 9.0).sqrt(),
        number(&mixed["standard_error"]),
        1e-4,
    );
}

#[test]
fn without_shared_errors_the_mean_is_students_and_the_difference_welchs() {
    let all = reference();
    let sets = handbook();
    let [a, b] = [&sets[0], &sets[1]].map(|s| readings(s, 0.0));
    let student = mean(&a, share(0.0)).expect("a mean");
    near(student.low, number(&all["student"]["low"]), 1e-9);
    near(student.high, number(&all["student"]["high"]), 1e-9);
    let welch = difference(&a, &b, share(0.0), Sessions::One).expect("a difference");
    near(welch.value, number(&all["welch"]["difference"]), 1e-12);
    near(welch.low, number(&all["welch"]["low"]), 1e-9);
    near(welch.high, number(&all["welch"]["high"]), 1e-9);
}

/// NIST/SEMATECH e-Handbook 1.3.5.3, two samples of cars (from memory): 249 with mean 20.14458 and standard
/// deviation 6.41470, 79 with 30.48101 and 6.10771; T = −12.94627 with 136.8750 degrees of freedom where the
/// variances are not taken for equal.
#[test]
fn unequal_variances_have_the_handbooks_degrees_of_freedom() {
    let parts = [
        (6.414_70_f64.powi(2) / 249.0, 248.0),
        (6.107_71_f64.powi(2) / 79.0, 78.0),
    ];
    let difference = 20.144_58 - 30.481_01;
    let told = interval(difference, &parts);
    let error = difference / -12.946_27;
    let wanted = interval(difference, &[(error * error, 136.875)]);
    near(told.low, wanted.low, 1e-4);
    near(told.high, wanted.high, 1e-4);
}

/// Thirteen trials of a vaccine (Colditz et al. 1994): log relative risks with unequal variances. The R package
/// metafor publishes 0.1197 to 1.1115 for the variance between them (Viechtbauer 2010, doi
/// 10.18637/jss.v036.i03; from memory).
#[test]
fn the_spreads_interval_is_the_published_one_for_unequal_errors() {
    let all = reference();
    let effects = numbers(&all["bcg"]["effects"]);
    let own = numbers(&all["bcg"]["variances"]);
    let told = between_variance(&effects, &own, &own, &own).expect("trials");
    near(told.value, number(&all["bcg"]["paule_mandel"]), 1e-6);
    near(told.low, 0.1197, 5e-5);
    near(told.high, 1.1115, 5e-5);
}

#[test]
fn for_equal_errors_the_spreads_interval_is_that_of_a_variance_less_the_errors() {
    let all = reference();
    let values = [38.0, 42.5, 47.0, 40.0, 51.5];
    let set = readings(&values, 2.0);
    let s2 = Summary::of(&set).expect("a set").s2.expect("five");
    let told = spread_of(&set, share(0.0)).expect("a spread");
    let chi = |key: &str| numbers(&all["spread"][key])[3];
    near(told.value, (s2 - 4.0).sqrt(), 1e-6);
    near(
        told.low,
        (4.0 * s2 / chi("chi_square_0.975") - 4.0).sqrt(),
        1e-6,
    );
    near(
        told.high,
        (4.0 * s2 / chi("chi_square_0.025") - 4.0).sqrt(),
        1e-6,
    );
}

#[test]
fn errors_that_a_session_shares_do_not_average_away() {
    let many: Vec<f64> = (0..400).map(|i| 40.0 + f64::from(i % 2)).collect();
    let set = readings(&many, 6.0);
    let half = |s: f64| {
        let t = mean(&set, share(s)).expect("a mean");
        t.high - t.value
    };
    // Half the variance is shared: the half-width stays at that part's.
    near(
        half(0.5),
        1.959_964 * (18.0_f64 + 18.0 / 400.0).sqrt(),
        0.02,
    );
    assert!(half(0.0) < 0.7, "{}", half(0.0));
    // In one session it goes out of a difference, between two it does not.
    let d = |sessions| {
        let t = difference(&set, &set, share(0.5), sessions).expect("a difference");
        t.high - t.value
    };
    assert!(d(Sessions::One) < 0.9, "{}", d(Sessions::One));
    assert!(d(Sessions::Two) > 11.0, "{}", d(Sessions::Two));
}

#[test]
fn one_and_two_and_no_swings_are_told_as_what_they_are() {
    let one = readings(&[41.0], 3.0);
    let told = mean(&one, share(0.6)).expect("its own value");
    near(told.high - told.low, 2.0 * 1.959_964 * 3.0, 1e-3);
    assert!(mean(&[], share(0.5)).is_none() && spread_of(&one, share(0.5)).is_none());
    // Two alike: no narrower than the errors allow.
    let two = readings(&[41.0, 41.0], 3.0);
    let told = mean(&two, share(0.0)).expect("a mean");
    assert!(told.high - told.value >= 1.95 * 3.0 / 2.0_f64.sqrt());
    // A lone swing borrows the other set's variance.
    let five = readings(&[30.0, 35.0, 28.0, 33.0, 31.0], 1.0);
    let told = difference(&one, &five, share(0.5), Sessions::One).expect("a difference");
    assert!(told.low < -9.6 && told.high > -9.6 && told.high - told.low > 10.0);
    assert!(difference(&[], &five, share(0.5), Sessions::One).is_none());
}

#[test]
fn more_swings_are_asked_for_until_they_tell() {
    let [a, b] = [[40.0, 44.0, 37.0], [43.0, 47.0, 39.0]].map(|v| readings(&v, 2.0));
    let n = |half: f64| needed((&a, &b), share(0.5), Sessions::One, half, 40);
    let (six, three) = (n(6.0).expect("enough"), n(3.0).expect("enough"));
    assert!(six < three, "{six} {three}");
    // What two sessions share stays, however many there are.
    assert_eq!(needed((&a, &b), share(0.5), Sessions::Two, 3.0, 40), None);
}

#[test]
fn the_difference_of_two_spreads_holds_nought_where_they_are_one() {
    let set = readings(&[38.0, 42.5, 47.0, 40.0, 51.5], 2.0);
    let own = spread_of(&set, share(0.3)).expect("a spread");
    let d = spread::difference(own, own);
    assert!(d.value.abs() < 1e-12 && d.low < 0.0 && d.high > 0.0);
}

#[test]
fn what_a_session_shares_was_learnt_for_every_way_of_filming() {
    let learned = Pipeline::default().learned;
    for mode in [ViewMode::TwoView, ViewMode::FaceOn, ViewMode::DownTheLine] {
        for measure in [
            Measure::PelvisTurnFromAddress,
            Measure::ThoraxTurnFromAddress,
            Measure::Separation,
        ] {
            let found = Share::learnt(&learned, mode, measure, Event::Top, true);
            assert!(
                0.0 < found.low
                    && found.low < found.likely
                    && found.likely < found.high
                    && found.high < 1.0,
                "{mode:?} {measure:?} {found:?}"
            );
            let elsewhere = Share::learnt(&learned, mode, measure, Event::Top, false);
            assert_eq!((elsewhere.low, elsewhere.high), (0.0, found.high));
        }
    }
}

/// Sessions drawn from the model, of which the intervals must hold the truth about as often as they say.
#[test]
fn intervals_of_means_spreads_and_differences_hold_what_they_say() {
    use rand::SeedableRng;
    use rand_distr::{Distribution, StandardNormal};
    let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(7);
    let mut normal = || -> f64 { StandardNormal.sample(&mut rng) };
    let (sigma, shared, between) = (5.0_f64, 0.6_f64, 4.0_f64);
    let draws = 3000;
    for n in [3_usize, 5, 8] {
        let mut held = [0; 3];
        for _ in 0..draws {
            let session = shared.sqrt() * sigma * normal();
            let mut set = |mean: f64| -> Vec<SwingValue> {
                let values: Vec<f64> = (0..n)
                    .map(|_| {
                        mean + session
                            + between * normal()
                            + (1.0 - shared).sqrt() * sigma * normal()
                    })
                    .collect();
                readings(&values, sigma)
            };
            let (a, b) = (set(40.0), set(47.0));
            let inside =
                |low: f64, truth: f64, high: f64| usize::from(low <= truth && truth <= high);
            let m = mean(&a, share(shared)).expect("a mean");
            let s = spread_of(&a, share(shared)).expect("a spread");
            let d = difference(&a, &b, share(shared), Sessions::One).expect("a difference");
            held[0] += inside(m.low, 40.0, m.high);
            held[1] += inside(s.low, between, s.high);
            held[2] += inside(d.low, 7.0, d.high);
        }
        for (what, count) in ["mean", "spread", "difference"].iter().zip(held) {
            let covered = count as f64 / f64::from(draws);
            // Two standard errors of 3000 draws are 0.8 %; small sets may be held a little oftener.
            assert!(
                (0.935..=0.985).contains(&covered),
                "{what} of {n}: {covered}"
            );
        }
    }
}

mod properties {
    use super::*;
    use proptest::prelude::*;

    fn some() -> impl Strategy<Value = Vec<SwingValue>> {
        prop::collection::vec((-90.0..90.0_f64, 0.5..20.0_f64), 1..12).prop_map(|all| {
            all.into_iter()
                .map(|(value, half)| SwingValue { value, half })
                .collect()
        })
    }

    proptest! {
        #[test]
        fn moving_all_values_moves_the_mean_and_leaves_the_spread(set in some(), by in -50.0..50.0_f64, s in 0.0..1.0_f64) {
            let moved: Vec<SwingValue> = set.iter().map(|r| SwingValue { value: r.value + by, ..*r }).collect();
            let (a, b) = (mean(&set, share(s)), mean(&moved, share(s)));
            let (a, b) = (a.expect("a mean"), b.expect("a mean"));
            prop_assert!((b.low - a.low - by).abs() < 1e-6 && (b.high - a.high - by).abs() < 1e-6);
            if let (Some(a), Some(b)) = (spread_of(&set, share(s)), spread_of(&moved, share(s))) {
                prop_assert!((a.value - b.value).abs() < 1e-4 && (a.high - b.high).abs() < 1e-3 * (1.0 + a.high));
            }
        }

        #[test]
        fn ends_stand_on_their_sides_and_are_numbers(set in some(), other in some(), s in 0.0..1.0_f64) {
            let all = [mean(&set, share(s)), spread_of(&set, share(s)), difference(&set, &other, share(s), Sessions::One), difference(&set, &other, share(s), Sessions::Two)];
            for t in all.into_iter().flatten() {
                prop_assert!(t.low <= t.value && t.value <= t.high && (t.high - t.low).is_finite(), "{t:?}");
            }
        }

        #[test]
        fn the_order_of_swings_changes_nothing(set in some(), s in 0.0..1.0_f64) {
            let turned: Vec<SwingValue> = set.iter().rev().copied().collect();
            let (a, b) = (mean(&set, share(s)).expect("a mean"), mean(&turned, share(s)).expect("a mean"));
            prop_assert!((a.low - b.low).abs() < 1e-6);
        }
    }
}
