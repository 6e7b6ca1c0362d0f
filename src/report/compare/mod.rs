//! Two measured swings side by side: what changed from the first to the second, and how sure.

mod page;
mod pictures;
mod shared;

use std::path::Path;

pub use pictures::{Film, films, films_json, moments, seconds, steps, when};
pub use shared::Errors;

use serde::Serialize;

use super::ReportError;
use super::first::at;
use super::page::typed_by_name;
use super::untold::{self, CANT_TELL};
use crate::config::{Pipeline, ReportConfig};
use crate::file_error::At;
use crate::progress::{Cancel, Progress};
use crate::result::{Estimate, StoredSwing, SwingResult, write_by_rename, write_json};
use crate::terms::{Event, Measure};

/// Schema of `comparison.json`.
pub const SCHEMA: &str = "quarterturn.comparison/2";

/// What can be said about a difference.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub enum Word {
    /// The whole interval of the difference lies on one side of zero.
    #[serde(rename = "changed")]
    Changed,
    /// It holds zero and stays within what counts as the same.
    #[serde(rename = "not changed")]
    NotChanged,
    /// Everything else.
    #[serde(rename = "can't tell")]
    CantTell,
}

impl Word {
    /// The word for people.
    pub fn text(self) -> &'static str {
        match self {
            Self::Changed => "changed",
            Self::NotChanged => "not changed",
            Self::CantTell => CANT_TELL,
        }
    }

    /// `same_deg`: a difference that stays within this many degrees counts as none.
    pub fn of(difference: &Estimate, same_deg: f64) -> Self {
        match difference.told() {
            Some((_, low, high)) if low > 0.0 || high < 0.0 => Self::Changed,
            Some((_, low, high)) if low >= -same_deg && high <= same_deg => Self::NotChanged,
            _ => Self::CantTell,
        }
    }
}

/// One measure at one event in both swings. Degrees.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Difference {
    /// At which event.
    pub event: Event,
    /// Of which measure.
    pub measure: Measure,
    /// In the first swing.
    pub first: Estimate,
    /// In the second swing.
    pub second: Estimate,
    /// Second less first.
    pub difference: Estimate,
    /// What can be said of it.
    pub word: Word,
}

/// Everything that a comparison says.
#[derive(Clone, Debug, Serialize)]
pub struct TwoSwings {
    /// [`SCHEMA`].
    pub schema: &'static str,
    /// Version of the program that compared.
    pub tool_version: &'static str,
    /// Name of the first swing.
    pub first: String,
    /// Name of the second swing.
    pub second: String,
    /// How differences and words come about, in sentences.
    pub rule: String,
    /// The sequence of the angles.
    pub angle_order: String,
    /// Every measure at every event that either shows.
    pub differences: Vec<Difference>,
    /// What the coach typed in: name, first, second.
    pub typed_in: Vec<TypedPair>,
    /// What the turns at the top say together.
    pub sentences: Vec<String>,
    /// Doubts about either swing, each with its name.
    pub warnings: Vec<String>,
}

/// One thing that the coach typed in.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TypedPair {
    /// What it is.
    pub name: &'static str,
    /// With the first swing.
    pub first: Option<String>,
    /// With the second swing.
    pub second: Option<String>,
}

/// The difference of two estimates: half-widths add in quadrature, side by side, times `scale`, which
/// is 1 where their errors are independent. Where one of them can't be told, their difference can't.
pub fn difference(first: &Estimate, second: &Estimate, scale: f64) -> Estimate {
    let (Some((a, a_low, a_high)), Some((b, b_low, b_high))) = (first.told(), second.told()) else {
        return Estimate::default().because(first.untold().or(second.untold()));
    };
    let d = b - a;
    Estimate::new(
        d,
        d - scale * (b - b_low).hypot(a_high - a),
        d + scale * (b_high - b).hypot(a - a_low),
    )
}

/// The rule behind the words, for the page and the file.
pub fn rule(errors: Errors, config: &ReportConfig) -> String {
    format!(
        "The difference is the second swing less the first. {} \"Changed\": the whole interval of the \
         difference lies on one side of 0°. \"Not changed\": it holds 0° and stays within ±{:.0}°. \
         \"Can't tell\": everything else, and wherever one of the two numbers can't be told.",
        errors.words(),
        config.compare_same_deg
    )
}

/// Compares two results; reads nothing and writes nothing.
pub fn compare(first: &SwingResult, second: &SwingResult, pipeline: &Pipeline) -> TwoSwings {
    let config = &pipeline.report;
    let errors = Errors::of(first, second, config);
    let mut differences = Vec::new();
    // A moment that only one of them shows is told of: there is nothing to set beside it.
    let seen = |event: &Event| [first, second].iter().any(|s| s.at.contains_key(event));
    for event in Event::ALL.into_iter().filter(seen) {
        for measure in Measure::ALL {
            let (a, b) = (at(first, event, measure), at(second, event, measure));
            let d = difference(&a, &b, errors.scale(&pipeline.learned, measure, event));
            differences.push(Difference {
                event,
                measure,
                first: a,
                second: b,
                difference: d,
                word: Word::of(&d, config.compare_same_deg),
            });
        }
    }
    let [a, b] = [first, second].map(|s| typed_by_name(&s.typed_in));
    let typed_in = std::iter::zip(a, b)
        .filter(|((_, a), (_, b))| a.is_some() || b.is_some())
        .map(|((name, first), (_, second))| TypedPair {
            name,
            first,
            second,
        })
        .collect();
    let mut warnings = Vec::new();
    if first.handedness != second.handedness {
        warnings.push("One swing is right-handed, the other left-handed: angles mean the same for both, but they are hardly one player's.".to_owned());
    }
    for s in [first, second] {
        warnings.extend(untold::doubt(s).map(|told| format!("{}: {told}", s.name)));
        warnings.extend(s.warnings.iter().map(|w| format!("{}: {}", s.name, w.text)));
        warnings.extend(untold::untold(s).iter().map(|u| {
            let (names, advice) = (untold::listed(&u.names), untold::advice(u.why, s));
            format!("{}: can't tell {names}. {advice}", s.name)
        }));
    }
    TwoSwings {
        schema: SCHEMA,
        tool_version: env!("CARGO_PKG_VERSION"),
        first: first.name.clone(),
        second: second.name.clone(),
        rule: rule(errors, config),
        angle_order: first.angle_order.clone(),
        sentences: sentences(&differences),
        differences,
        typed_in,
        warnings,
    }
}

/// What the turns at the top say together; only from differences that hold.
fn sentences(differences: &[Difference]) -> Vec<String> {
    let sign = |m: Measure| -> i32 {
        differences
            .iter()
            .find(|d| d.event == Event::Top && d.measure == m && d.word == Word::Changed)
            .and_then(|d| d.difference.deg)
            .map_or(0, |deg| if deg > 0.0 { 1 } else { -1 })
    };
    let lost = |m: Measure| {
        !differences
            .iter()
            .any(|d| d.event == Event::Top && d.measure == m && d.difference.told().is_some())
    };
    let turns = [
        (Measure::PelvisTurnFromAddress, "hips"),
        (Measure::ThoraxTurnFromAddress, "shoulders (rib cage)"),
    ];
    if turns.iter().any(|(m, _)| lost(*m)) {
        // What can't be told must not read as "no change".
        return turns
            .into_iter()
            .map(|(m, name)| match (lost(m), sign(m)) {
                (true, _) => {
                    format!("Whether the {name} turned differently at the top can't be told.")
                }
                (_, 1) => format!("At the top the {name} have turned further in the second swing."),
                (_, -1) => {
                    format!("At the top the {name} have turned less far in the second swing.")
                }
                _ => format!("At the top no change of the {name} shows beyond the intervals."),
            })
            .collect();
    }
    let hips = sign(Measure::PelvisTurnFromAddress);
    let shoulders = sign(Measure::ThoraxTurnFromAddress);
    let separation = sign(Measure::Separation);
    let mut out = Vec::new();
    match (hips, shoulders) {
        (1, 1) => out.push("At the top both hips and shoulders (rib cage) have turned further in the second swing."),
        (-1, -1) => out.push("At the top both hips and shoulders (rib cage) have turned less far in the second swing."),
        (1, 0) => out.push("At the top the hips have turned further in the second swing; a change of the shoulders (rib cage) does not show."),
        (0, 1) => out.push("At the top the shoulders (rib cage) have turned further in the second swing; a change of the hips does not show."),
        (-1, 0) => out.push("At the top the hips have turned less far in the second swing; a change of the shoulders (rib cage) does not show."),
        (0, -1) => out.push("At the top the shoulders (rib cage) have turned less far in the second swing; a change of the hips does not show."),
        (1, -1) => out.push("At the top the hips have turned further and the shoulders (rib cage) less far in the second swing."),
        (-1, 1) => out.push("At the top the hips have turned less far and the shoulders (rib cage) further in the second swing."),
        _ => out.push("At the top no change of the two turns shows beyond their intervals."),
    }
    match (separation, hips, shoulders) {
        (1, -1, 0 | -1) => out.push(
            "The larger separation comes from holding the hips back. That alone is no achievement.",
        ),
        (1, 0 | 1, 1) => {
            out.push("The larger separation comes from the shoulders (rib cage) turning further.")
        }
        (-1, 1, 0 | 1) => out
            .push("Separation is smaller because the hips turn along. That is no loss in itself."),
        _ => {}
    }
    out.into_iter().map(str::to_owned).collect()
}

/// Writes `comparison.html` and `comparison.json` into `folder`, which must be empty or absent.
///
/// # Errors
/// [`ReportError`] where a video can't be read again, or something can't be drawn or written.
pub fn write_comparison(
    folder: &Path,
    both: [&StoredSwing; 2],
    pipeline: &Pipeline,
    progress: &dyn Progress,
    cancel: &Cancel,
) -> Result<TwoSwings, ReportError> {
    let (comparison, html) = comparison_page(both, pipeline, progress, cancel)?;
    std::fs::create_dir_all(folder).at(folder)?;
    write_json(&folder.join("comparison.json"), &comparison)?;
    write_by_rename(&folder.join("comparison.html"), html.as_bytes())?;
    Ok(comparison)
}

/// The comparison and its page, which writes nothing.
///
/// # Errors
/// [`ReportError`] where a video can't be read again or a picture can't be drawn.
pub fn comparison_page(
    both: [&StoredSwing; 2],
    pipeline: &Pipeline,
    progress: &dyn Progress,
    cancel: &Cancel,
) -> Result<(TwoSwings, String), ReportError> {
    let [first, second] = both.map(|m| &m.swing);
    let comparison = compare(first, second, pipeline);
    let folders = both.map(|m| (m.folder.as_path(), &m.swing));
    let films = films(&folders, pipeline, progress, cancel)?;
    let html = page::page(&comparison, both, &films, &pipeline.report)?;
    Ok((comparison, html))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::result::Why;

    #[test]
    fn half_widths_add_in_quadrature_on_their_own_sides() {
        let d = difference(
            &Estimate::new(10.0, 7.0, 14.0),
            &Estimate::new(30.0, 26.0, 33.0),
            1.0,
        );
        let (deg, low, high) = d.parts().expect("a difference");
        assert!((deg - 20.0).abs() < 1e-9);
        assert!((low - (20.0 - 32.0_f64.sqrt())).abs() < 1e-9);
        assert!((high - (20.0 + 18.0_f64.sqrt())).abs() < 1e-9);
        let none = difference(&Estimate::default(), &Estimate::new(1.0, 0.0, 2.0), 1.0);
        assert_eq!((none.deg, none.untold()), (None, Some(Why::NotSeen)));
        // Numbers far apart, of which one is too wide to be of use.
        let wide = Estimate::new(90.0, 60.0, 120.0).because(Why::OneView);
        let d = difference(&Estimate::new(10.0, 7.0, 14.0), &wide, 1.0);
        assert_eq!((d.deg, d.untold()), (None, Some(Why::OneView)));
        assert_eq!(Word::of(&d, 10.0), Word::CantTell);
    }

    #[test]
    fn the_words_follow_the_rule() {
        let word = |low: f64, high: f64| {
            Word::of(&Estimate::new(f64::midpoint(low, high), low, high), 10.0)
        };
        assert_eq!(word(1.0, 9.0), Word::Changed);
        assert_eq!(word(-9.0, -1.0), Word::Changed);
        assert_eq!(word(-6.0, 6.0), Word::NotChanged);
        assert_eq!(word(-2.0, 14.0), Word::CantTell);
        assert_eq!(Word::of(&Estimate::default(), 10.0), Word::CantTell);
    }

    #[test]
    fn held_hips_are_told_as_held_hips() {
        let d = |measure, deg: f64| Difference {
            event: Event::Top,
            measure,
            first: Estimate::new(0.0, 0.0, 0.0),
            second: Estimate::new(deg, deg, deg),
            difference: Estimate::new(deg, deg - 5.0, deg + 5.0),
            word: Word::of(&Estimate::new(deg, deg - 5.0, deg + 5.0), 10.0),
        };
        let told = |hips, shoulders, separation| {
            sentences(&[
                d(Measure::PelvisTurnFromAddress, hips),
                d(Measure::ThoraxTurnFromAddress, shoulders),
                d(Measure::Separation, separation),
            ])
            .join(" ")
        };
        assert!(told(-25.0, -10.0, 15.0).contains("no achievement"));
        assert!(told(0.0, 20.0, 20.0).contains("shoulders (rib cage) turning further"));
        assert!(told(20.0, 3.0, -17.0).contains("no loss"));
        assert!(told(1.0, 1.0, 0.0).contains("no change"));
        let hips_only = sentences(&[d(Measure::PelvisTurnFromAddress, -25.0)]).join(" ");
        assert!(
            hips_only.contains("the hips have turned less far"),
            "{hips_only}"
        );
        let lost = "Whether the shoulders (rib cage) turned differently at the top can't be told.";
        assert!(hips_only.contains(lost), "{hips_only}");
    }
}
