//! `report.html`: one file with everything inside, made of sections that each have a file here.

mod frame;
mod headline;
mod link;
mod measures;
mod notes;
mod scrub;
mod share;
mod stills;
mod tempo;
mod through;

use std::collections::BTreeMap;

use maud::{Markup, html};

pub use frame::{Home, content_policy, content_policy_stored, document, document_with};
pub use link::segment;
pub use measures::{explained, explanation};
pub use notes::{cautions, know_first};
pub use scrub::{SCRUB_SCRIPT, scrub_json};
pub use share::share_page;

use super::Films;
use super::film::ViewPictures;
use super::references::References;
use super::{untold, words};
use crate::config::ReportConfig;
use crate::result::{Curves, Moment, SwingResult, TypedIn, Why};
use crate::terms::{Event, Handedness, Measure};

/// What a page is made from.
pub struct PageInput<'a> {
    /// The numbers.
    pub swing: &'a SwingResult,
    /// The curves.
    pub curves: &'a Curves,
    /// The ranges beside them.
    pub references: &'a References,
    /// The pictures of each view.
    pub views: &'a [ViewPictures],
    /// Moments that the scrubber stops at, seconds on the result's clock.
    pub scrub_s: &'a [f64],
    /// How far the videos are.
    pub films: Films,
    /// Sizes, qualities and budgets.
    pub config: &'a ReportConfig,
}

/// The whole page.
///
/// # Errors
/// [`ReportError`](super::ReportError) where a picture can't be resized or encoded.
pub fn report_page(input: &PageInput) -> Result<String, super::ReportError> {
    let swing = input.swing;
    let spans = measures::spans(swing, input.references);
    let stills = stills::section(input)?;
    let through = through::section(input)?;
    let body = html! {
        (super::plot::definitions())
        header.top {
            p.kind { "A swing, measured from video" }
            h1 { (swing.name) }
            (facts(swing))
        }
        main {
            (notes::doubt(swing))
            (notes::warnings(swing))
            (headline::section(input, &spans))
            (stills)
            (through)
            (measures::section(input, &spans))
            (tempo::section(input))
            (notes::reading(swing))
            (notes::references(input.references))
            (notes::cautions())
        }
        footer {
            p {
                "Made by quarterturn " (swing.tool_version) ". Times are " (swing.clock) ". "
                (swing.calibration.as_deref().unwrap_or("No sensor session was used to re-scale the intervals."))
            }
        }
    };
    let title = format!("{}: turn of hips and shoulders", swing.name);
    Ok(document(&title, &body, Some(SCRUB_SCRIPT)))
}

/// Who, with what, and from where; only what is known.
fn facts(swing: &SwingResult) -> Markup {
    let hand = match swing.handedness {
        Handedness::Right => "right-handed",
        Handedness::Left => "left-handed",
    };
    let views: Vec<&str> = swing.views.iter().map(|v| v.role.words()).collect();
    html! {
        ul.facts {
            @for (name, value) in typed(&swing.typed_in) { li { (name) " " b { (value) } } }
            li { (hand) }
            li { (views.join(" and ")) @if views.len() == 1 { " only" } }
        }
    }
}

/// A page with the facts on it replaced by those that the result now has; `None` where the page has
/// no such list. What was typed in can change after the page was made.
pub fn with_facts(page: &str, swing: &SwingResult) -> Option<String> {
    let (before, rest) = page.split_once(FACTS)?;
    let (_, after) = rest.split_once("</ul>")?;
    let now = facts(swing).into_string();
    Some(format!("{before}{now}{after}"))
}

/// How the list of facts begins.
const FACTS: &str = "<ul class=\"facts\">";

/// What the coach typed in, as pairs of a name and a value.
pub fn typed(t: &TypedIn) -> Vec<(&'static str, String)> {
    typed_by_name(t)
        .into_iter()
        .filter_map(|(name, value)| Some((name, value.filter(|v| !v.trim().is_empty())?)))
        .collect()
}

/// All that may be typed in and is shown, in order.
pub fn typed_by_name(t: &TypedIn) -> [(&'static str, Option<String>); 6] {
    [
        ("player", t.player.clone()),
        ("lesson", t.lesson.map(|l| l.to_string())),
        ("tried", t.label.clone()),
        ("club", t.club.clone()),
        ("ball speed", t.ball_speed.clone()),
        ("carry", t.carry.clone()),
    ]
}

/// Times of the events that were found, seconds.
pub fn event_times(swing: &SwingResult) -> BTreeMap<Event, f64> {
    swing
        .events
        .iter()
        .filter_map(|(e, m)| m.s.map(|s| (*e, s)))
        .collect()
}

/// A number of degrees as the page writes it everywhere: with unit, interval and machine values.
pub fn number(event: Event, measure: Measure, e: &crate::result::Estimate) -> Markup {
    // A number that can't be told is in swing.json, not here.
    let raw = |v: Option<f64>| {
        let v = v.filter(|_| e.told().is_some());
        v.map(|v| v.to_string()).unwrap_or_default()
    };
    html! {
        data.number value=(raw(e.deg)) data-event=(event.key()) data-measure=(measure.key())
            data-low=(raw(e.low)) data-high=(raw(e.high)) data-why=[e.untold().map(Why::key)] { (words::estimate(e)) }
    }
}

/// Why a number can't be told, in a word or two behind it.
pub fn reason(why: Option<Why>) -> Markup {
    html! { @if let Some(w) = why { " " span.whynot { (untold::short(w)) } } }
}

/// When a moment is. While the clock is in doubt, it is a place in the film and no time.
pub fn when(swing: &SwingResult, m: &Moment) -> String {
    format!("{}{}", words::moment(m), swing.real_time.of_playback())
}
