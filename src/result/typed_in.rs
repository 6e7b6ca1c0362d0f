//! What the coach typed in about a swing, never computed.

use std::fmt;
use std::str::FromStr;

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// Longest notes, bytes.
pub const NOTES_MAX: usize = 20_000;
/// Longest of the other texts, bytes.
pub const TEXT_MAX: usize = 200;

/// The day of a lesson, written `2026-05-14`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Lesson(Date);

impl Lesson {
    /// The day of an instant, seconds since 1970, in UTC; `None` for one that no calendar has.
    pub fn of_unix_s(unix_s: f64) -> Option<Self> {
        let at = jiff::Timestamp::from_second(unix_s.floor() as i64).ok()?;
        Some(Self(jiff::tz::Offset::UTC.to_datetime(at).date()))
    }

    /// "14 May 2026".
    pub fn written(self) -> String {
        self.0.strftime("%-d %B %Y").to_string()
    }
}

/// A text that is no day of the calendar.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("\"{0}\" is no day of the calendar; write it like 2026-05-14")]
pub struct NoDay(String);

impl FromStr for Lesson {
    type Err = NoDay;

    /// Year, month and day, in this order, with `-`, `_`, `.` or nothing between them.
    fn from_str(text: &str) -> Result<Self, NoDay> {
        let wrong = || NoDay(text.chars().take(40).collect());
        let digits: String = text
            .trim()
            .chars()
            .filter(|c| !"-_.".contains(*c))
            .collect();
        if digits.len() != 8 || !digits.bytes().all(|b| b.is_ascii_digit()) {
            return Err(wrong());
        }
        Date::strptime("%Y%m%d", &digits)
            .map(Self)
            .map_err(|_| wrong())
    }
}

impl fmt::Display for Lesson {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl TryFrom<String> for Lesson {
    type Error = NoDay;
    fn try_from(text: String) -> Result<Self, NoDay> {
        text.parse()
    }
}

impl From<Lesson> for String {
    fn from(lesson: Lesson) -> Self {
        lesson.to_string()
    }
}

/// What the coach typed in, never computed. Texts are as typed; [`tidied`](Self::tidied) bounds them.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct TypedIn {
    /// Whose swing it is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub player: Option<String>,
    /// The day of the lesson. Where it is missing, [`lesson`](super::SwingResult::lesson) takes the day of filming.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lesson: Option<Lesson>,
    /// What was tried: "hips held".
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub label: Option<String>,
    /// With which club.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub club: Option<String>,
    /// Anything else, several lines perhaps.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub notes: Option<String>,
    /// The player's stature, centimetres.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stature_cm: Option<f64>,
    /// As typed, with its unit: "52 m/s".
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ball_speed: Option<String>,
    /// As typed, with its unit: "142 m".
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub carry: Option<String>,
}

impl TypedIn {
    /// The player's name without blanks round it, or an empty text.
    pub fn player(&self) -> &str {
        self.player.as_deref().map_or("", str::trim)
    }

    /// What was tried, likewise.
    pub fn label(&self) -> &str {
        self.label.as_deref().map_or("", str::trim)
    }

    /// This, and what `next` says where this says nothing.
    pub fn or(self, next: Self) -> Self {
        Self {
            player: self.player.or(next.player),
            lesson: self.lesson.or(next.lesson),
            label: self.label.or(next.label),
            club: self.club.or(next.club),
            notes: self.notes.or(next.notes),
            stature_cm: self.stature_cm.or(next.stature_cm),
            ball_speed: self.ball_speed.or(next.ball_speed),
            carry: self.carry.or(next.carry),
        }
    }

    /// Without blanks at the ends, control characters, empty texts, and what goes beyond
    /// [`TEXT_MAX`] and [`NOTES_MAX`].
    pub fn tidied(self) -> Self {
        let text = |t: Option<String>| {
            let line = t?.replace(char::is_control, " ");
            let kept = bounded(line.trim(), TEXT_MAX).trim_end().to_owned();
            (!kept.is_empty()).then_some(kept)
        };
        let notes = self.notes.and_then(|n| {
            let plain = n.replace("\r\n", "\n");
            let plain = plain.replace(|c: char| c.is_control() && c != '\n' && c != '\t', " ");
            let kept = bounded(plain.trim(), NOTES_MAX).trim_end().to_owned();
            (!kept.is_empty()).then_some(kept)
        });
        Self {
            player: text(self.player),
            lesson: self.lesson,
            label: text(self.label),
            club: text(self.club),
            notes,
            stature_cm: self.stature_cm,
            ball_speed: text(self.ball_speed),
            carry: text(self.carry),
        }
    }
}

/// The start of a text, at most so many bytes, cut between characters.
fn bounded(text: &str, most: usize) -> &str {
    text.get(..text.floor_char_boundary(most))
        .unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_day_is_read_as_file_names_write_it() {
        for text in ["2026-05-14", "20260514", "2026_05_14", " 2026.05.14 "] {
            let day: Lesson = text.parse().expect(text);
            assert_eq!(day.to_string(), "2026-05-14");
        }
        for text in [
            "",
            "14.05.2026",
            "2026-13-01",
            "2026-02-30",
            "2026-05-14T10",
            "２０２６0514",
        ] {
            assert!(text.parse::<Lesson>().is_err(), "{text}");
        }
        assert_eq!(
            Lesson::of_unix_s(951_782_399.0).expect("a day").to_string(),
            "2000-02-28"
        );
        assert_eq!(Lesson::of_unix_s(f64::MAX), None);
    }

    #[test]
    fn what_one_leaves_empty_is_taken_from_the_next() {
        let typed = |player: &str, club: Option<&str>| TypedIn {
            player: Some(player.into()),
            club: club.map(Into::into),
            ..TypedIn::default()
        };
        let both = typed("Ann", None).or(typed("ann", Some("7 iron")));
        assert_eq!(both, typed("Ann", Some("7 iron")));
    }

    #[test]
    fn texts_are_bounded_and_empty_ones_go() {
        let typed = TypedIn {
            player: Some(" A\u{0}B\n".into()),
            label: Some("   ".into()),
            club: Some("é".repeat(TEXT_MAX)),
            notes: Some(format!("one\r\ntwo\u{7}{}", "x".repeat(NOTES_MAX))),
            ..TypedIn::default()
        }
        .tidied();
        assert_eq!(typed.player.as_deref(), Some("A B"));
        assert_eq!(typed.label, None);
        assert_eq!(typed.club.map(|c| c.len()), Some(TEXT_MAX));
        let notes = typed.notes.expect("notes");
        assert!(notes.starts_with("one\ntwo ") && notes.len() == NOTES_MAX);
    }
}
