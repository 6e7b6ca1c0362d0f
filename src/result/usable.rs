//! "Can't tell" is an answer: which numbers of a result are of use, and why the others are not.
//!
//! A number is of use when its 95 % interval is no wider than the step that a coach decides with it
//! (the pipeline's `[usable]` section, one limit a kind of number), its moments were seen, the pictures
//! are of the kind that intervals were calibrated on, and, for durations and speeds, the clock is known. Values and intervals stay in the file either way.

use std::collections::BTreeMap;

use super::clock::Clock;
use super::curves::Curves;
use super::numbers::{Estimate, Moment, Quantity};
use super::swing_file::SwingResult;
use super::why::Why;
use crate::config::UsableConfig;
use crate::terms::{Event, Measure, Tells, Unit};
use crate::warning::{ODD_DOWNSWING, ODD_PICTURES, ROLE_DOUBT, VIEWS_DISAGREE};

/// Widest interval of a measure that is of use, degrees.
pub fn widest_deg(measure: Measure, limits: &UsableConfig) -> f64 {
    match measure.spec().tells {
        Tells::HipTurn => limits.hip_turn_deg,
        Tells::ChestTurn => limits.chest_turn_deg,
        Tells::TurnToLine => limits.turn_to_line_deg,
        Tells::Separation => limits.separation_deg,
        Tells::Bend => limits.bend_deg,
        Tells::Knee => limits.knee_deg,
    }
}

/// Marks every number of a result that can't be told, with the reason, and clears the marks of all
/// others. Doing it again changes nothing.
pub fn judge(swing: &mut SwingResult, curves: &mut Curves, limits: &UsableConfig) {
    let judge = Judge {
        one_view: swing.views.len() == 1,
        odd: swing.warnings.iter().any(|w| w.code == ODD_PICTURES),
        contradicting: Event::ALL
            .into_iter()
            .filter(|e| {
                swing
                    .warnings
                    .iter()
                    .any(|w| w.code == VIEWS_DISAGREE && w.at.is_none_or(|at| at == *e))
            })
            .collect(),
        address: swing.events.contains_key(&Event::Address),
        clock: swing.real_time.known,
        placed: swing.warnings.iter().all(|w| w.code != ROLE_DOUBT),
        limits,
    };
    for (event, at) in &mut swing.at {
        let moment = swing.events.get(event);
        for (measure, e) in at.iter_mut() {
            let unsure = moment.is_some_and(|m| mostly_timing(*measure, e, m, curves));
            e.why = judge.angle(*measure, e, Some(*event), unsure);
        }
    }
    for between in &mut swing.between {
        for (e, widest) in [
            (&mut between.pelvis_turn, limits.hip_turn_deg),
            (&mut between.thorax_turn, limits.chest_turn_deg),
        ] {
            e.why = judge.wide(e, widest, Some(between.to), false);
        }
    }
    if let Some(e) = &mut swing.peak_separation {
        // Its interval is the curve's; where separation can't be told at the top, its peak can't.
        let at_top = at_event(&swing.at, Event::Top, Measure::Separation);
        let own = judge.angle(Measure::Separation, e, Some(Event::Top), false);
        e.why = at_top.and_then(|e| e.why).or(own);
    }
    for q in swing.sway.values_mut().flatten() {
        q.why = judge.quantity(q, None);
    }
    if let Some(t) = &mut swing.tempo {
        t.backswing.why = judge.quantity(&t.backswing, Some(limits.backswing_s));
        t.downswing.why = judge.quantity(&t.downswing, Some(limits.downswing_s));
        t.ratio.why = judge.quantity(&t.ratio, None);
    }
    if let Some(t) = &mut swing.turn_speed {
        for q in [&mut t.pelvis, &mut t.thorax, &mut t.pelvis_before_thorax] {
            q.why = judge.quantity(q, None);
        }
        if judge.odd {
            t.first = "can't tell".to_owned();
            t.pelvis_before_thorax.why.get_or_insert(Why::OddPictures);
        }
    }
    let near: Vec<(Event, f64)> = Event::ALL
        .into_iter()
        .filter_map(|e| Some((e, swing.events.get(&e)?.s?)))
        .collect();
    for (measure, series) in &mut curves.series {
        for (e, t) in series.iter_mut().zip(&curves.time_s) {
            let own = judge.angle(*measure, e, None, false);
            let at = near
                .iter()
                .find(|(_, s)| (t - s).abs() <= limits.near_moment_s);
            let there = at.and_then(|(event, _)| at_event(&swing.at, *event, *measure)?.why);
            e.why = own.or(there);
        }
    }
}

type AtEvents = BTreeMap<Event, BTreeMap<Measure, Estimate>>;

fn at_event(at: &AtEvents, event: Event, measure: Measure) -> Option<&Estimate> {
    at.get(&event)?.get(&measure)
}

/// Marks curves alone, as far as they tell: for files of version 1, which hold no marks.
pub fn judge_curves(curves: &mut Curves, limits: &UsableConfig) {
    for (measure, series) in &mut curves.series {
        let widest = widest_deg(*measure, limits);
        for e in series {
            e.why = match e.parts() {
                None => Some(Why::NotSeen),
                Some((_, low, high)) => (high - low > widest).then_some(Why::TooWide),
            };
        }
    }
}

/// The clock of a file of version 1, which tells of a doubt by a warning only.
pub fn clock_of_version_1(swing: &SwingResult) -> Clock {
    let doubted = swing.warnings.iter().any(|w| w.code == ODD_DOWNSWING);
    Clock {
        known: !doubted,
        ..Clock::default()
    }
}

struct Judge<'a> {
    one_view: bool,
    odd: bool,
    contradicting: Vec<Event>,
    /// Whether there is an address to count from.
    address: bool,
    clock: bool,
    /// Whether the cameras stand where they can tell of the target line.
    placed: bool,
    limits: &'a UsableConfig,
}

impl Judge<'_> {
    fn angle(
        &self,
        measure: Measure,
        e: &Estimate,
        event: Option<Event>,
        unsure: bool,
    ) -> Option<Why> {
        if e.parts().is_none() {
            let spec = measure.spec();
            return Some(if spec.from_address && !self.address {
                Why::MomentNotSeen
            } else if spec.needs_two_views && self.one_view {
                Why::OneView
            } else {
                Why::NotSeen
            });
        }
        // Its interval holds for a golfer who stands about square to a camera in its place.
        let unplaced = !self.placed && measure.spec().tells == Tells::TurnToLine;
        let wide = self.wide(e, widest_deg(measure, self.limits), event, unsure);
        wide.or(unplaced.then_some(Why::CameraInDoubt))
    }

    /// The reason, where an angle's interval is wider than `widest_deg`.
    fn wide(
        &self,
        e: &Estimate,
        widest_deg: f64,
        event: Option<Event>,
        unsure: bool,
    ) -> Option<Why> {
        let Some((_, low, high)) = e.parts() else {
            return Some(Why::NotSeen);
        };
        if high - low <= widest_deg {
            // The interval was calibrated on pictures of another kind: it can't be stood by.
            return self.odd.then_some(Why::OddPictures);
        }
        Some(if event.is_some_and(|e| self.contradicting.contains(&e)) {
            Why::ViewsContradict
        } else if self.odd {
            Why::OddPictures
        } else if unsure {
            Why::MomentUnsure
        } else if self.one_view {
            Why::OneView
        } else {
            Why::TooWide
        })
    }

    /// `widest`: the limit where the unit alone does not give it.
    fn quantity(&self, q: &Quantity, widest: Option<f64>) -> Option<Why> {
        let timed = matches!(q.unit, Unit::Seconds | Unit::DegreesPerSecond);
        if timed && !self.clock {
            return Some(Why::ClockInDoubt);
        }
        let (Some(low), Some(high), Some(_)) = (q.low, q.high, q.value) else {
            return Some(Why::NotSeen);
        };
        let l = self.limits;
        let widest = widest.unwrap_or(match q.unit {
            Unit::Degrees => l.hip_turn_deg,
            Unit::DegreesPerSecond => l.speed_deg_s,
            Unit::Seconds => l.lead_s,
            Unit::BackToDown => l.ratio,
            Unit::StanceWidthPercent => l.sway_percent,
            Unit::Centimetres => l.sway_cm,
        });
        // Moments alone make these; neither a second view nor better pictures help much.
        let of_moments = matches!(q.unit, Unit::Seconds | Unit::BackToDown);
        if self.odd && !of_moments {
            return Some(Why::OddPictures);
        }
        if high - low <= widest {
            return None;
        }
        Some(if of_moments {
            Why::MomentUnsure
        } else if self.one_view {
            Why::OneView
        } else {
            Why::TooWide
        })
    }
}

/// True where what the angle does within the moment's own interval makes up more than half of the
/// squared width.
fn mostly_timing(measure: Measure, e: &Estimate, m: &Moment, curves: &Curves) -> bool {
    let (Some((_, low, high)), Some(from), Some(to)) = (e.parts(), m.low, m.high) else {
        return false;
    };
    let Some(series) = curves.series.get(&measure) else {
        return false;
    };
    let at = |t: f64| {
        let i = curves.time_s.partition_point(|x| *x < t);
        series.get(i.min(series.len().saturating_sub(1)))?.deg
    };
    let (Some(a), Some(b)) = (at(from), at(to)) else {
        return false;
    };
    2.0 * (b - a).powi(2) > (high - low).powi(2)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::Pipeline;
    use crate::warning::Warning;

    const TOP: Event = Event::Top;
    const HIPS: Measure = Measure::PelvisTurnFromAddress;

    fn limits() -> UsableConfig {
        Pipeline::default().usable
    }

    /// A swing of two views with one angle at the top, `width` degrees wide.
    fn swing(measure: Measure, width: f64) -> SwingResult {
        let mut swing = crate::result::old_swing();
        let e = Estimate::new(40.0, 40.0 - width / 2.0, 40.0 + width / 2.0);
        swing.at = BTreeMap::from([(TOP, BTreeMap::from([(measure, e)]))]);
        swing.warnings.clear();
        swing
    }

    fn judged(swing: &mut SwingResult, measure: Measure) -> Option<Why> {
        judge(swing, &mut Curves::default(), &limits());
        swing.at[&TOP][&measure].untold()
    }

    /// Widths that plain clips give at the top: 16 deg from two views, 21 to 28 from one
    /// (docs/accuracy.md).
    #[test]
    fn what_good_clips_give_is_of_use_and_48_degrees_are_not() {
        for measure in [HIPS, Measure::ThoraxTurnFromAddress] {
            for width in [16.0, 21.0, 28.0] {
                assert_eq!(judged(&mut swing(measure, width), measure), None, "{width}");
            }
            let mut wide = swing(measure, 48.0);
            assert_eq!(judged(&mut wide, measure), Some(Why::TooWide));
            assert!(wide.at[&TOP][&measure].parts().is_some(), "the value stays");
        }
    }

    #[test]
    fn every_measure_has_a_limit_that_is_the_last_width_of_use() {
        for measure in Measure::ALL {
            let widest = widest_deg(measure, &limits());
            assert_eq!(judged(&mut swing(measure, widest - 0.01), measure), None);
            let wide = judged(&mut swing(measure, widest + 0.01), measure);
            assert_eq!(wide, Some(Why::TooWide), "{measure}");
        }
    }

    #[test]
    fn the_reason_is_the_one_that_can_be_mended() {
        let reason = |change: &dyn Fn(&mut SwingResult)| {
            let mut s = swing(HIPS, 48.0);
            change(&mut s);
            judged(&mut s, HIPS)
        };
        let one_view = |s: &mut SwingResult| s.views.truncate(1);
        assert_eq!(reason(&one_view), Some(Why::OneView));
        let odd = |s: &mut SwingResult| {
            one_view(s);
            s.warnings.push(Warning::new(ODD_PICTURES, ""));
        };
        assert_eq!(reason(&odd), Some(Why::OddPictures));
        // However narrow: what it was calibrated on looked otherwise.
        let mut narrow = swing(HIPS, 4.0);
        odd(&mut narrow);
        assert_eq!(judged(&mut narrow, HIPS), Some(Why::OddPictures));
        let here = |s: &mut SwingResult| s.warnings.push(Warning::at(TOP, VIEWS_DISAGREE, ""));
        assert_eq!(reason(&here), Some(Why::ViewsContradict));
        let elsewhere = |s: &mut SwingResult| {
            s.warnings
                .push(Warning::at(Event::Finish, VIEWS_DISAGREE, ""));
        };
        assert_eq!(reason(&elsewhere), Some(Why::TooWide));
    }

    #[test]
    fn a_camera_out_of_its_place_leaves_turns_from_address_and_takes_those_to_the_line() {
        for (measure, why) in [
            (HIPS, None),
            (Measure::Separation, None),
            (Measure::PelvisTurn, Some(Why::CameraInDoubt)),
            (Measure::ThoraxTurn, Some(Why::CameraInDoubt)),
        ] {
            let mut s = swing(measure, 16.0);
            s.warnings.push(Warning::new(ROLE_DOUBT, ""));
            assert_eq!(judged(&mut s, measure), why, "{measure}");
        }
    }

    #[test]
    fn a_moment_that_is_not_sharp_is_named_where_it_makes_the_width() {
        let mut s = swing(HIPS, 48.0);
        s.events.insert(
            TOP,
            Moment {
                s: Some(1.0),
                low: Some(0.9),
                high: Some(1.1),
            },
        );
        // 400 degrees a second: 80 within the moment's interval, against 48 in all.
        let mut curves = Curves {
            time_s: vec![0.9, 1.0, 1.1],
            ..Curves::default()
        };
        let at = |deg: f64| Estimate::new(deg, deg - 1.0, deg + 1.0);
        curves
            .series
            .insert(HIPS, vec![at(80.0), at(40.0), at(0.0)]);
        judge(&mut s, &mut curves, &limits());
        assert_eq!(s.at[&TOP][&HIPS].untold(), Some(Why::MomentUnsure));
    }

    #[test]
    fn a_curve_and_its_peak_say_no_more_than_the_number_at_the_moment() {
        let separation = Measure::Separation;
        let mut s = swing(separation, 60.0);
        s.peak_separation = Some(Estimate::new(45.0, 40.0, 50.0));
        let top_s = s.events[&TOP].s.expect("a top");
        let narrow = Estimate::new(40.0, 35.0, 45.0);
        let mut curves = Curves {
            time_s: vec![top_s - 0.5, top_s - 0.02, top_s],
            series: BTreeMap::from([(separation, vec![narrow; 3])]),
        };
        judge(&mut s, &mut curves, &limits());
        let told: Vec<_> = curves.series[&separation]
            .iter()
            .map(Estimate::untold)
            .collect();
        assert_eq!(told, [None, Some(Why::TooWide), Some(Why::TooWide)]);
        assert_eq!(
            s.peak_separation.and_then(|e| e.untold()),
            Some(Why::TooWide)
        );
    }

    #[test]
    fn without_an_address_there_is_no_turn_from_it_and_the_others_stay() {
        let mut s = swing(HIPS, 10.0);
        s.events.remove(&Event::Address);
        let at = s.at.get_mut(&TOP).expect("the top");
        at.insert(HIPS, Estimate::default());
        at.insert(Measure::PelvisTurn, Estimate::new(40.0, 25.0, 55.0));
        at.insert(Measure::LeadKneeFlexion, Estimate::default());
        judge(&mut s, &mut Curves::default(), &limits());
        let at = &s.at[&TOP];
        assert_eq!(at[&HIPS].untold(), Some(Why::MomentNotSeen));
        assert_eq!(at[&Measure::PelvisTurn].untold(), None);
        assert_eq!(at[&Measure::LeadKneeFlexion].untold(), Some(Why::NotSeen));
    }

    #[test]
    fn judging_again_clears_what_no_longer_holds() {
        let mut s = swing(HIPS, 48.0);
        assert!(judged(&mut s, HIPS).is_some());
        let e = s.at.get_mut(&TOP).and_then(|at| at.get_mut(&HIPS));
        *e.expect("there") = Estimate::new(40.0, 35.0, 45.0).because(Why::TooWide);
        assert_eq!(judged(&mut s, HIPS), None);
        let before = s.clone();
        judge(&mut s, &mut Curves::default(), &limits());
        assert_eq!(s, before);
    }

    #[test]
    fn the_file_says_of_every_number_whether_it_is_of_use() {
        let wide = Estimate::new(10.0, -20.0, 40.0).because(Why::OneView);
        let json = serde_json::to_value(wide).expect("JSON");
        assert_eq!(json["usable"], false);
        assert_eq!(json["why"], "one_view");
        assert_eq!(json["deg"], 10.0);
        assert_eq!(
            serde_json::from_value::<Estimate>(json).expect("reads"),
            wide
        );
        let json = serde_json::to_value(Estimate::new(1.0, 0.0, 2.0)).expect("JSON");
        assert_eq!((&json["usable"], json.get("why")), (&true.into(), None));
        for why in Why::ALL {
            assert_eq!(Why::from_key(why.key()), Some(why));
            assert_eq!(serde_json::to_value(why).expect("JSON"), why.key());
        }
    }
}
