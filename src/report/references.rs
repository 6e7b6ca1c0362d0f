//! Reference ranges: read from a file, each with its source, and set beside a measure in words.

use std::path::Path;

use serde::{Deserialize, Serialize};

use super::untold::CANT_TELL;
use crate::file_error::{At, FileError};
use crate::result::Estimate;
use crate::terms::{Event, Measure};

const BUILT_IN: &str = include_str!("../../docs/references.toml");
/// The words that stand where a number has no source.
pub const NO_SOURCE: &str = "common practice, no source";

/// Why a file of ranges can't be used.
#[derive(Debug, thiserror::Error)]
pub enum ReferencesError {
    /// The file can't be read.
    #[error("{0}. Check the name given with --ranges.")]
    Io(#[from] FileError),
    /// The file can't be understood, or a range in it makes no sense.
    #[error("{origin}: {detail}. Compare it with docs/references.toml, which explains every name.")]
    Bad {
        /// Which file, or the built-in one.
        origin: String,
        /// What is wrong, with the line.
        detail: String,
    },
}

/// Everything a references file holds.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct References {
    /// Ranges of measures at events.
    #[serde(rename = "range")]
    pub ranges: Vec<Range>,
    /// Durations to set beside the tempo.
    pub tempo: Vec<TempoReference>,
    /// Facts told in words.
    #[serde(rename = "note")]
    pub notes: Vec<Note>,
}

/// What others turn at one event.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Range {
    /// Of which measure.
    pub measure: Measure,
    /// At which event.
    pub event: Event,
    /// Who was measured.
    pub label: String,
    /// Where the numbers come from: a publication, or [`NO_SOURCE`].
    pub source: String,
    /// `men` or `women`, where they were told apart.
    pub sex: Option<String>,
    /// The club, where the range holds for one.
    pub club: Option<String>,
    mean_deg: Option<f64>,
    sd_deg: Option<f64>,
    low_deg: Option<f64>,
    high_deg: Option<f64>,
    about_deg: Option<f64>,
}

/// A duration and a ratio to set beside the tempo.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TempoReference {
    /// Who was measured.
    pub label: String,
    /// Where the numbers come from.
    pub source: String,
    /// Takeaway to top, seconds.
    pub backswing_s: f64,
    /// Top to impact, seconds.
    pub downswing_s: f64,
    /// The first over the second.
    pub ratio: f64,
}

/// A fact told in words.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Note {
    /// The fact.
    pub text: String,
    /// Where it comes from.
    pub source: String,
}

/// What is drawn for a range, degrees.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Extent {
    /// From low to high.
    Strip {
        /// Low end.
        low: f64,
        /// High end.
        high: f64,
    },
    /// A single number, drawn as a line.
    About(f64),
}

/// How an estimate lies to a strip.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// The whole whisker lies in the strip.
    Inside,
    /// The whole whisker lies above it.
    Above,
    /// The whole whisker lies below it.
    Below,
    /// The whisker crosses an edge of the strip, or the number itself can't be told.
    CantTell,
}

impl Verdict {
    /// The word for people.
    pub fn word(self) -> &'static str {
        match self {
            Self::Inside => "inside",
            Self::Above => "above",
            Self::Below => "below",
            Self::CantTell => CANT_TELL,
        }
    }

    /// How the whisker lies to a strip from `low` to `high`, degrees.
    pub fn of(e: &Estimate, low: f64, high: f64) -> Self {
        let Some((_, e_low, e_high)) = e.told() else {
            return Self::CantTell;
        };
        if e_low >= low && e_high <= high {
            Self::Inside
        } else if e_low > high {
            Self::Above
        } else if e_high < low {
            Self::Below
        } else {
            Self::CantTell
        }
    }
}

impl Range {
    /// What is drawn of it.
    pub fn extent(&self) -> Extent {
        match (
            self.mean_deg.zip(self.sd_deg),
            self.low_deg.zip(self.high_deg),
            self.about_deg,
        ) {
            (Some((mean, sd)), _, _) => Extent::Strip {
                low: mean - sd,
                high: mean + sd,
            },
            (_, Some((low, high)), _) => Extent::Strip { low, high },
            (_, _, about) => Extent::About(about.unwrap_or_default()),
        }
    }

    /// The numbers in words: "42° ± 7°", "35° to 49°", "about 45°".
    pub fn words(&self) -> String {
        use super::words::degrees;
        match (self.mean_deg.zip(self.sd_deg), self.extent()) {
            (Some((mean, sd)), _) => format!("{}\u{a0}±\u{a0}{}", degrees(mean), degrees(sd)),
            (None, Extent::Strip { low, high }) => {
                format!("{} to {}", degrees(low), degrees(high))
            }
            (None, Extent::About(at)) => format!("about {}", degrees(at)),
        }
    }

    fn check(&self) -> Result<(), String> {
        let numbers = [
            self.mean_deg,
            self.sd_deg,
            self.low_deg,
            self.high_deg,
            self.about_deg,
        ];
        let given: Vec<bool> = numbers.iter().map(Option::is_some).collect();
        let whole = matches!(
            given[..],
            [true, true, false, false, false]
                | [false, false, true, true, false]
                | [false, false, false, false, true]
        );
        if !whole {
            return Err(
                "give mean_deg and sd_deg, or low_deg and high_deg, or about_deg, and nothing else"
                    .into(),
            );
        }
        if numbers
            .iter()
            .flatten()
            .any(|v| !v.is_finite() || v.abs() > 360.0)
        {
            return Err("a number is not an angle between −360 and 360 degrees".into());
        }
        if self.sd_deg.is_some_and(|sd| sd <= 0.0) {
            return Err("sd_deg must be greater than 0".into());
        }
        if let (Some(low), Some(high)) = (self.low_deg, self.high_deg)
            && low >= high
        {
            return Err("low_deg must be less than high_deg".into());
        }
        if let Some(sex) = &self.sex
            && !matches!(sex.as_str(), "men" | "women")
        {
            return Err("sex must be \"men\" or \"women\", or be left out".into());
        }
        text_given(&self.label, "label")?;
        text_given(&self.source, "source")
    }
}

fn text_given(text: &str, name: &str) -> Result<(), String> {
    if text.trim().is_empty() {
        return Err(format!(
            "{name} is empty; a source may be the words \"{NO_SOURCE}\""
        ));
    }
    Ok(())
}

impl References {
    /// The user's file where given, or the ranges that come with the program.
    ///
    /// # Errors
    /// [`ReferencesError`] where the file can't be read, or what [`parse`](Self::parse) says.
    pub fn load(user_file: Option<&Path>) -> Result<Self, ReferencesError> {
        let Some(path) = user_file else {
            return Self::parse(BUILT_IN, "docs/references.toml");
        };
        let text = std::fs::read_to_string(path).at(path)?;
        Self::parse(&text, &path.display().to_string())
    }

    /// Parses and checks; `origin` is for messages only.
    ///
    /// # Errors
    /// [`ReferencesError::Bad`] with the line that can't be understood, or the range that makes no sense.
    pub fn parse(text: &str, origin: &str) -> Result<Self, ReferencesError> {
        let bad = |detail: String| ReferencesError::Bad {
            origin: origin.to_owned(),
            detail,
        };
        let read: Self = toml::from_str(text).map_err(|e| bad(one_line(&e, text)))?;
        for (i, range) in read.ranges.iter().enumerate() {
            range.check().map_err(|e| {
                bad(format!(
                    "range {} ({} at {}): {e}",
                    i + 1,
                    range.measure,
                    range.event
                ))
            })?;
        }
        for (i, tempo) in read.tempo.iter().enumerate() {
            let numbers = [tempo.backswing_s, tempo.downswing_s, tempo.ratio];
            if numbers.iter().any(|v| !v.is_finite() || *v <= 0.0) {
                return Err(bad(format!(
                    "tempo {}: every number must be greater than 0",
                    i + 1
                )));
            }
            text_given(&tempo.source, "source")
                .map_err(|e| bad(format!("tempo {}: {e}", i + 1)))?;
        }
        for (i, note) in read.notes.iter().enumerate() {
            text_given(&note.text, "text")
                .and_then(|()| text_given(&note.source, "source"))
                .map_err(|e| bad(format!("note {}: {e}", i + 1)))?;
        }
        Ok(read)
    }

    /// The ranges for a measure at an event. A range for a club is left out for another club, and
    /// kept when no club was typed in, because its label says whom it holds for.
    pub fn for_measure<'a>(
        &'a self,
        measure: Measure,
        event: Event,
        club: Option<&'a str>,
    ) -> impl Iterator<Item = &'a Range> {
        self.ranges.iter().filter(move |r| {
            r.measure == measure
                && r.event == event
                && match (&r.club, club) {
                    (Some(theirs), Some(ours)) => theirs.eq_ignore_ascii_case(ours.trim()),
                    _ => true,
                }
        })
    }
}

/// The parser's message on one line, with the line that it means.
fn one_line(e: &toml::de::Error, text: &str) -> String {
    let line = e
        .span()
        .and_then(|s| text.get(..s.start))
        .map(|before| before.matches('\n').count() + 1);
    let message = e.message().trim().replace('\n', " ");
    match line {
        Some(line) => format!("line {line}: {message}"),
        None => message,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::result::Why;

    const GOOD: &str = "[[range]]\nmeasure = \"pelvis_turn\"\nevent = \"top\"\nlabel = \"x\"\nsource = \"y\"\nlow_deg = 1.0\nhigh_deg = 5.0\n";

    #[test]
    fn built_in_ranges_are_those_of_the_paper() {
        let r = References::load(None).expect("built in");
        let top: Vec<_> = r
            .for_measure(Measure::PelvisTurnFromAddress, Event::Top, None)
            .map(Range::extent)
            .collect();
        assert!(top.contains(&Extent::Strip {
            low: 35.0,
            high: 49.0
        }));
        assert!(top.contains(&Extent::Strip {
            low: 41.0,
            high: 57.0
        }));
        for range in &r.ranges {
            assert!(range.source == NO_SOURCE || range.source.contains("doi"));
        }
    }

    #[test]
    fn bad_files_are_refused_with_the_place_and_the_reason() {
        let expect = |text: &str, part: &str| {
            let e = References::parse(text, "mine.toml").expect_err("must be refused");
            assert!(e.to_string().contains(part), "{e}");
            assert!(e.to_string().starts_with("mine.toml"), "{e}");
        };
        assert!(References::parse(GOOD, "mine.toml").is_ok());
        expect(&GOOD.replace("pelvis_turn", "pelvis_trun"), "line 2");
        expect(&GOOD.replace("source = \"y\"\n", ""), "source");
        expect(&GOOD.replace("\"y\"", "\" \""), "source is empty");
        expect(&GOOD.replace("5.0", "0.5"), "low_deg must be less");
        expect(&GOOD.replace("5.0", "nan"), "not an angle");
        expect(
            &GOOD.replace("high_deg = 5.0\n", ""),
            "low_deg and high_deg",
        );
        expect("[[rnage]]\n", "rnage");
    }

    #[test]
    fn the_word_follows_the_whisker_and_not_the_dot() {
        let word = |low, high| {
            Verdict::of(
                &Estimate::new(f64::midpoint(low, high), low, high),
                35.0,
                49.0,
            )
        };
        assert_eq!(word(36.0, 48.0), Verdict::Inside);
        assert_eq!(word(50.0, 55.0), Verdict::Above);
        assert_eq!(word(20.0, 30.0), Verdict::Below);
        assert_eq!(word(40.0, 52.0), Verdict::CantTell);
        assert_eq!(word(30.0, 60.0), Verdict::CantTell);
        let none = Verdict::of(&Estimate::default(), 0.0, 1.0);
        assert_eq!(none, Verdict::CantTell);
        // A dot far above a strip whose whisker is too wide to be of use.
        let wide = Estimate::new(90.0, 60.0, 120.0).because(Why::TooWide);
        assert_eq!(Verdict::of(&wide, 35.0, 49.0), Verdict::CantTell);
    }

    #[test]
    fn a_club_is_matched_only_where_both_name_one() {
        let text = GOOD.replace("label", "club = \"driver\"\nlabel");
        let r = References::parse(&text, "mine.toml").expect("good");
        let count = |club| r.for_measure(Measure::PelvisTurn, Event::Top, club).count();
        assert_eq!(
            (count(None), count(Some("Driver")), count(Some("wedge"))),
            (1, 1, 0)
        );
    }
}
