//! The small text file in which a coach corrects the plan.

use std::collections::BTreeMap;
use std::path::Path;

use super::error::BatchError;
use crate::file_error::At;
use crate::result::{NoDay, Told};
use crate::terms::Role;

/// Its name, in the folder of clips.
pub const CORRECTIONS_FILE: &str = "quarterturn.txt";

/// What the coach says. File names are as below the folder of clips, with `/` between folders.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Corrections {
    pub pairs: Vec<[String; 2]>,
    pub alone: Vec<String>,
    pub skip: Vec<String>,
    pub roles: BTreeMap<String, Role>,
    /// What is said of a clip's swing.
    pub told: BTreeMap<String, Told>,
    /// From and to, seconds of playback; replaces the swings found in the clip.
    pub cuts: BTreeMap<String, Vec<(f64, f64)>>,
}

impl Corrections {
    /// Reads the file where there is one.
    ///
    /// # Errors
    /// [`BatchError::Corrections`] with the line that can't be understood.
    pub fn read(folder: &Path) -> Result<Self, BatchError> {
        let path = folder.join(CORRECTIONS_FILE);
        let text = match std::fs::read_to_string(&path) {
            Ok(text) => text,
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(Self::default()),
            Err(e) => return Ok(Err(e).at(&path)?),
        };
        Self::parse(&text).map_err(|(line, detail)| BatchError::Corrections { path, line, detail })
    }

    /// Parses the text; on failure the line's number, from 1, and what is wrong with it.
    pub fn parse(text: &str) -> Result<Self, (usize, String)> {
        let mut all = Self::default();
        for (i, raw) in text.trim_start_matches('\u{feff}').lines().enumerate() {
            let line = raw.trim();
            if line.is_empty() || line.starts_with('#') {
                continue;
            }
            all.add(line).map_err(|detail| (i + 1, detail))?;
        }
        Ok(all)
    }

    fn add(&mut self, line: &str) -> Result<(), String> {
        let (word, rest) = line
            .split_once(':')
            .ok_or("begin with `pair:`, `alone:`, `skip:`, `face-on:`, `down-the-line:`, `player:`, `lesson:`, `label:`, `club:` or `cut:`")?;
        let file = |text: &str| {
            let name = text.trim().replace('\\', "/");
            if name.is_empty() {
                Err("a file name is missing".to_owned())
            } else {
                Ok(name)
            }
        };
        let valued = || -> Result<(String, &str), String> {
            let (name, value) = rest
                .rsplit_once('=')
                .ok_or("write `FILE = VALUE` after the colon")?;
            let value = value.trim();
            if value.is_empty() {
                return Err("nothing stands after `=`".into());
            }
            Ok((file(name)?, value))
        };
        match word.trim().to_lowercase().as_str() {
            "pair" => {
                let (a, b) = rest
                    .split_once(" + ")
                    .ok_or("write `pair: A.mp4 + B.mp4`, with a space on each side of the +")?;
                self.pairs.push([file(a)?, file(b)?]);
            }
            "alone" => self.alone.push(file(rest)?),
            "skip" => self.skip.push(file(rest)?),
            "face-on" => {
                self.roles.insert(file(rest)?, Role::FaceOn);
            }
            "down-the-line" => {
                self.roles.insert(file(rest)?, Role::DownTheLine);
            }
            word @ ("player" | "label" | "club") => {
                let (name, text) = valued()?;
                let told = self.told.entry(name).or_default();
                let place = match word {
                    "player" => &mut told.player,
                    "label" => &mut told.label,
                    _ => &mut told.club,
                };
                *place = Some(text.to_owned());
            }
            "lesson" => {
                let (name, day) = valued()?;
                let day = day.parse().map_err(|e: NoDay| e.to_string())?;
                self.told.entry(name).or_default().lesson = Some(day);
            }
            "cut" => {
                let (name, span) = valued()?;
                let (from, to) = span
                    .split_once("to")
                    .ok_or("write `cut: A.mp4 = 12.5 to 18`")?;
                let number = |t: &str| {
                    t.trim()
                        .parse::<f64>()
                        .ok()
                        .filter(|v| v.is_finite() && *v >= 0.0)
                        .ok_or_else(|| format!("\"{}\" is not a number of seconds", t.trim()))
                };
                let (from, to) = (number(from)?, number(to)?);
                if to <= from {
                    return Err("a cut must end after it begins".into());
                }
                self.cuts.entry(name).or_default().push((from, to));
            }
            other => return Err(format!("\"{other}\" is not known here")),
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn every_kind_of_line_is_read() {
        let text = "# Tuesday\n\npair: a 1.mp4 + sub/b.mov\nalone: c.mp4\nSkip: d.mp4\n\
                    face-on: a 1.mp4\ndown-the-line: sub\\b.mov\nplayer: c.mp4 = Student 7\n\
                    lesson: c.mp4 = 2026-05-14\nlabel: c.mp4 = hips held\nclub: c.mp4 = 7 iron\n\
                    cut: e.mp4 = 12.5 to 18\ncut: e.mp4 = 30 to 36.5\n";
        let c = Corrections::parse(text).expect("valid");
        assert_eq!(c.pairs, [["a 1.mp4".to_owned(), "sub/b.mov".to_owned()]]);
        assert_eq!(c.alone, ["c.mp4"]);
        assert_eq!(c.skip, ["d.mp4"]);
        assert_eq!(c.roles["sub/b.mov"], Role::DownTheLine);
        let told = &c.told["c.mp4"];
        assert_eq!(told.player.as_deref(), Some("Student 7"));
        assert_eq!(told.lesson, "2026-05-14".parse().ok());
        assert_eq!(told.label.as_deref(), Some("hips held"));
        assert_eq!(told.club.as_deref(), Some("7 iron"));
        assert_eq!(c.cuts["e.mp4"], [(12.5, 18.0), (30.0, 36.5)]);
    }

    #[test]
    fn a_wrong_line_is_named() {
        for (text, line) in [
            ("pair: a.mp4", 1),
            ("\nfoo: a", 2),
            ("skip:", 1),
            ("cut: a = 5 to 3", 1),
            ("cut: a = nan to 3", 1),
            ("hello", 1),
            ("lesson: a = 14 May", 1),
        ] {
            assert_eq!(Corrections::parse(text).expect_err(text).0, line, "{text}");
        }
    }

    proptest! {
        #[test]
        fn any_text_is_survived(text in "\\PC{0,200}") {
            let _ = Corrections::parse(&text);
        }
    }
}
