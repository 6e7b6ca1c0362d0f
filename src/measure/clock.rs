//! What the seconds of a result rest on: the user's word, the file's, or nothing but the swing's own
//! pace, which gives a probability and never a factor.

use super::options::Options;
use crate::clip::ClipInfo;
use crate::config::FindConfig;
use crate::find::Phases;
use crate::result::{Clock, ClockFrom};
use crate::warning::{ODD_DOWNSWING, Warning};

/// Code of the warning that a swing is slow.
const SLOW_SWING: &str = "slow_swing";

/// Playback seconds for each real second, where user or file tell them.
pub fn told(options: &Options, info: &ClipInfo, config: &FindConfig) -> Option<(f64, ClockFrom)> {
    if let Some(scale) = options.time_scale {
        return Some((scale, ClockFrom::User));
    }
    let filmed = info.capture_fps.filter(|_| info.fps > 1.0)? / info.fps;
    (filmed > config.clock_filmed_faster).then_some((filmed, ClockFrom::File))
}

/// What makes a swing as slow as it plays: how much longer than a full swing's its back- and downswing
/// are, the spread of that (of the logarithm), and how often it is so before the clip is seen.
struct Pace {
    back: f64,
    down: f64,
    spread: f64,
    share: f64,
    real: bool,
    slow: bool,
}

impl Pace {
    /// How probable it is together with such times of back- and downswing, up to a factor.
    fn weight(&self, back_s: Option<f64>, down_s: Option<f64>, config: &FindConfig) -> f64 {
        let off = |taken: Option<f64>, usual: f64| {
            taken.map_or(1.0, |t| {
                let z = (t.max(1e-6) / usual).ln() / self.spread;
                // A Student density of five degrees of freedom: an odd swing is not impossible.
                (1.0 + z * z / 5.0).powf(-3.0) / self.spread
            })
        };
        let back = off(back_s, self.back * config.usual_backswing_s);
        self.share * back * off(down_s, self.down * config.usual_downswing_s)
    }
}

fn paces(struck: bool, config: &FindConfig) -> Vec<Pace> {
    let pace = |times, spread, share, real, slow| Pace {
        back: times,
        down: times,
        spread,
        share,
        real,
        slow,
    };
    let s = config.clock_swing_spread;
    // A rehearsal strikes nothing.
    let rehearsed = config.clock_rehearsal_share * if struck { 0.2 } else { 1.0 };
    let edited = config.clock_stretched_share;
    let mut all = vec![
        pace(1.0, s, 1.0 - rehearsed - 2.0 * edited, true, false),
        pace(2.0, 2.0 * s, rehearsed, true, true),
        pace(0.5, s, 0.1 * edited, false, false),
        pace(0.25, s, 0.1 * edited, false, false),
    ];
    all.extend([2.0, 4.0, 8.0].map(|times| pace(times, s, edited / 3.0, false, false)));
    // Edited to change speed on the way, mostly at the top: one of the two is a full swing's.
    all.extend([0.5, 2.0, 4.0, 8.0].into_iter().flat_map(|times| {
        [(1.0, times), (times, 1.0)].map(|(back, down)| Pace {
            back,
            down,
            ..pace(1.0, s, 0.1 * edited, false, false)
        })
    }));
    all
}

/// The clock of a swing on the time that was told, or on playback where nothing tells.
pub fn clock(
    told: Option<ClockFrom>,
    swing: &Phases,
    struck: bool,
    config: &FindConfig,
    warnings: &mut Vec<Warning>,
) -> Clock {
    let (back_s, down_s) = (swing.moving_back_s(), swing.down_s());
    let all = paces(struck, config);
    let sum = |which: &dyn Fn(&Pace) -> bool| -> f64 {
        let kept = all.iter().filter(|p| which(p));
        kept.map(|p| p.weight(back_s, down_s, config)).sum()
    };
    let real = sum(&|p| p.real).max(f64::MIN_POSITIVE);
    let probability = told.map_or(real / sum(&|_| true).max(f64::MIN_POSITIVE), |_| 1.0);
    let known = probability >= config.clock_least_probability;
    let times = match (back_s, down_s) {
        (Some(b), Some(d)) => format!("{b:.2} s back and {d:.2} s down"),
        (None, Some(d)) => format!("{d:.2} s down"),
        _ => "a time that was not seen whole".into(),
    };
    if !known {
        let usual = config.usual_downswing_s;
        let hint = down_s
            .and_then(|d| {
                let near = |f: &f64| ((d / f / usual).ln()).abs();
                let best = [2.0, 4.0, 8.0]
                    .into_iter()
                    .min_by(|a, b| near(a).total_cmp(&near(b)))?;
                // Worth a hint only where it would make the swing more usual than it is.
                (d > usual && near(&best) < 0.7 && near(&best) < near(&1.0)).then_some(best)
            })
            .map_or_else(String::new, |f| {
                format!(" If it is slow motion, --time-scale {f:.0} would make it a usual swing.")
            });
        warnings.push(Warning::new(
            ODD_DOWNSWING,
            format!("The clip's clock is in doubt: the swing takes {times} as it plays, and nothing tells how fast it was filmed; that it plays in real time is {:.0} % probable. Turns, their order and the tempo's ratio stand; seconds and speeds can't be told.{hint}", 100.0 * probability),
        ));
    }
    if sum(&|p| p.real && p.slow) > 0.5 * real && (known || probability > 0.5) {
        warnings.push(Warning::new(
            SLOW_SWING,
            format!("A slow practice swing: it takes {times}, where full swings take about {:.2} s and {:.2} s.", config.usual_backswing_s, config.usual_downswing_s),
        ));
    }
    Clock {
        known,
        from: told.unwrap_or(ClockFrom::Assumed),
        probability: Some(probability),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::Pipeline;

    /// A swing of so many seconds back and down.
    fn swing(back_s: f64, down_s: f64) -> Phases {
        Phases::made([1.0, 1.0 + back_s, 1.0 + back_s + down_s])
    }

    fn judge(
        told: Option<ClockFrom>,
        back_s: f64,
        down_s: f64,
        struck: bool,
    ) -> (Clock, Vec<String>) {
        let mut warnings = Vec::new();
        let swing = swing(back_s, down_s);
        let clock = clock(
            told,
            &swing,
            struck,
            &Pipeline::default().find,
            &mut warnings,
        );
        (clock, warnings.into_iter().map(|w| w.code).collect())
    }

    #[test]
    fn a_usual_swing_plays_in_real_time() {
        for (back, down) in [(0.85, 0.27), (0.7, 0.24), (1.0, 0.31)] {
            let (clock, said) = judge(None, back, down, true);
            assert!(clock.known && said.is_empty(), "{clock:?} {said:?}");
        }
    }

    #[test]
    fn slow_motion_that_nothing_tells_of_is_doubted_and_never_believed() {
        for times in [2.0, 4.0, 8.0] {
            let (clock, said) = judge(None, 0.85 * times, 0.27 * times, true);
            assert!(
                !clock.known && said.contains(&ODD_DOWNSWING.to_owned()),
                "{times}: {clock:?}"
            );
        }
        // A quick backswing with a usual downswing is doubted, and twice as quick a one no likelier.
        let mut warnings = Vec::new();
        clock(
            None,
            &swing(0.45, 0.28),
            true,
            &Pipeline::default().find,
            &mut warnings,
        );
        assert!(
            warnings.iter().all(|w| !w.text.contains("--time-scale")),
            "{warnings:?}"
        );
        // Real time to the top, then four times slower; a calm practice swing without a ball.
        assert!(!judge(None, 0.85, 1.08, true).0.known);
        assert!(!judge(None, 1.4, 0.49, false).0.known);
    }

    #[test]
    fn a_slow_practice_swing_is_called_so() {
        let (clock, said) = judge(Some(ClockFrom::User), 2.0, 0.6, false);
        assert!(clock.known && said == [SLOW_SWING], "{said:?}");
    }
}
