//! How far the turns at the top move when a take is shown on another clock: the same network readings,
//! stretched, rested, cut and thinned out, against what the take gave as it was.
//!
//! QUARTERTURN_TRACKS=FOLDER cargo test --test finding -- --ignored --nocapture turns_at_the_top

use std::collections::BTreeMap;
use std::path::Path;

use quarterturn::math::stats::quantile;
use quarterturn::measure::{Options, measure_tracks};
use quarterturn::pose::ViewTrack;
use quarterturn::terms::{Event, Measure};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

use crate::cases::{AS, base, random_case};
use crate::long::of_folder;

const CASES: u64 = 900;
const TURNS: [Measure; 2] = [
    Measure::PelvisTurnFromAddress,
    Measure::ThoraxTurnFromAddress,
];

/// Turns of pelvis and thorax, degrees, each with half its interval.
type Turns = [(f64, f64); 2];

/// Turns of pelvis and thorax from address at the top, degrees, with half their intervals; and when address
/// and top are, seconds.
fn turns(track: &ViewTrack) -> Option<(Turns, [f64; 2])> {
    let options = Options {
        name: "moved".into(),
        clips: vec![(track.info.file.clone(), None)],
        ..Options::default()
    };
    let result = measure_tracks(std::slice::from_ref(track), &options)
        .ok()?
        .result;
    let at = result.at.get(&Event::Top)?;
    let [pelvis, thorax] = TURNS.map(|m| {
        let e = at.get(&m)?;
        Some((e.deg?, (e.high? - e.low?) / 2.0))
    });
    let when = |e: Event| result.events.get(&e)?.s;
    Some((
        [pelvis?, thorax?],
        [when(Event::Address)?, when(Event::Top)?],
    ))
}

#[test]
#[ignore = "minutes"]
fn turns_at_the_top_stay_where_they_are_on_any_clock() {
    let bases = match std::env::var_os("QUARTERTURN_TRACKS") {
        Some(folder) => of_folder(Path::new(&folder)),
        None => base(),
    };
    let plain: BTreeMap<&str, _> = bases
        .par_iter()
        .map(|b| (b.name.as_str(), turns(&b.track)))
        .collect();
    let mut by_kind: BTreeMap<String, Vec<f64>> = BTreeMap::new();
    let (mut whole, mut untold, mut shares) = (Vec::new(), 0, Vec::new());
    let moved: Vec<_> = (0..CASES)
        .into_par_iter()
        .filter_map(|seed| {
            let mut rng = ChaCha8Rng::seed_from_u64(70_000 + seed);
            let case = random_case(&bases, &mut rng);
            let (name, kind) = case.name.rsplit_once(AS)?;
            let before = plain.get(name).copied().flatten()?;
            // Of several swings in one take a whole measurement takes the likeliest: not the question here.
            (case.swings.len() == 1)
                .then(|| (case.clone(), kind.to_owned(), before, turns(&case.track)))
        })
        .collect();
    let all = std::env::var_os("FINDING_TELL_ALL").is_some();
    for (case, kind, before, after) in moved {
        let name = &case.name;
        let Some(after) = after else {
            untold += 1;
            println!("  {name}: no turns at the top");
            continue;
        };
        let (before, [_, was_s]) = before;
        let (after, [address_s, top_s]) = after;
        let s = &case.swings[0];
        if all {
            println!(
                "  {name}: moved {:+.1} {:+.1} address {address_s:.3} of {:.3}..{:.3}, top {top_s:.3} (was {was_s:.3}) of {:.3}..{:.3}, impact {:.3}, {} readings",
                after[0].0 - before[0].0,
                after[1].0 - before[1].0,
                s.takeaway.0,
                s.takeaway.1,
                s.top.0,
                s.top.1,
                s.impact,
                case.track
                    .observations
                    .iter()
                    .filter(|o| o.person.is_some())
                    .count(),
            );
        }
        for ((b, a), segment) in before.iter().zip(after).zip(["hips", "chest"]) {
            let by = (a.0 - b.0).abs();
            whole.push(by);
            shares.push(by / b.1);
            for group in [kind.as_str(), segment] {
                by_kind.entry(group.to_owned()).or_default().push(by);
            }
            if by > 10.0 {
                println!("  {name}: {:.1} after {:.1}", a.0, b.0);
            }
        }
    }
    let share =
        |v: &[f64], of: f64| 100.0 * v.iter().filter(|d| **d < of).count() as f64 / v.len() as f64;
    for (kind, v) in &by_kind {
        println!(
            "{kind}: {} turns, {:.0} % move by less than 2 deg, 95 % by less than {:.1}",
            v.len(),
            share(v, 2.0),
            quantile(v, 0.95).unwrap_or(f64::NAN)
        );
    }
    println!(
        "{} turns: {:.1} % move by less than 2 deg, {:.1} % by less than half their interval, median {:.2}; {untold} takes without",
        whole.len(),
        share(&whole, 2.0),
        share(&shares, 1.0),
        quantile(&whole, 0.5).unwrap_or(f64::NAN)
    );
    assert!(
        share(&shares, 1.0) >= 95.0,
        "moved by more than half an interval"
    );
}
