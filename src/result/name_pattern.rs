//! What names of folders and files say of a swing, by a pattern that the coach gives.
//!
//! `{player}/{lesson} {label}/{skip}` reads `Student 7/2026-05-14 hips held/IMG_1.mov`. A pattern
//! names the last so many parts of a clip's path, the file's without its ending and role. Fields:
//! `{player}`, `{lesson}` (a day: 2026-05-14, 20260514), `{label}`, `{club}`, `{number}` (digits that
//! are passed over) and `{skip}` (any text that is passed over). Each takes as little as it can, the
//! last in a name the rest; all else must stand in the name as it is written. `_` in a player, label
//! or club is read as a space.

use std::path::Path;

use regex::Regex;

use super::role_names::without_role;
use super::told::Told;
use super::typed_in::TypedIn;

/// Longest pattern, bytes: more is a mistake.
const LONGEST: usize = 400;

/// A pattern that was understood.
#[derive(Clone, Debug)]
pub struct NamePattern(Regex);

/// One piece of a pattern.
enum Piece<'a> {
    Text(&'a str),
    Field(&'a str),
}

fn pieces(pattern: &str) -> Result<Vec<Piece<'_>>, String> {
    let mut out = Vec::new();
    let mut rest = pattern;
    while !rest.is_empty() {
        let Some((text, after)) = rest.split_once('{') else {
            out.push(Piece::Text(rest));
            break;
        };
        let (field, after) = after
            .split_once('}')
            .ok_or("a `{` is not closed by a `}`")?;
        if !text.is_empty() {
            out.push(Piece::Text(text));
        }
        out.push(Piece::Field(field));
        rest = after;
    }
    Ok(out)
}

impl NamePattern {
    /// Reads a pattern.
    ///
    /// # Errors
    /// What is wrong with it, and what to write.
    pub fn parse(pattern: &str) -> Result<Self, String> {
        if pattern.len() > LONGEST {
            return Err(format!(
                "a pattern of more than {LONGEST} characters is a mistake"
            ));
        }
        let pattern = pattern.trim_matches('/');
        let mut expression = String::from("(?:^|/)");
        let mut seen: Vec<&str> = Vec::new();
        for piece in pieces(pattern)? {
            match piece {
                Piece::Text(text) if text.contains('}') => {
                    return Err("a `}` stands without its `{`".into());
                }
                Piece::Text(text) => expression += &regex::escape(text),
                Piece::Field(field @ ("player" | "label" | "club" | "lesson")) => {
                    if seen.contains(&field) {
                        return Err(format!("{{{field}}} stands twice"));
                    }
                    seen.push(field);
                    let what = if field == "lesson" {
                        "[0-9]{4}[-_.]?[0-9]{2}[-_.]?[0-9]{2}"
                    } else {
                        "[^/]+?"
                    };
                    expression += &format!("(?P<{field}>{what})");
                }
                Piece::Field("number") => expression += "[0-9]+",
                Piece::Field("skip") => expression += "[^/]*?",
                Piece::Field(other) => {
                    return Err(format!(
                        "{{{other}}} is not known; there are {{player}}, {{lesson}}, {{label}}, {{club}}, {{number}} and {{skip}}"
                    ));
                }
            }
        }
        if seen.is_empty() {
            return Err(
                "nothing in it is read; write for example \"{player}/{lesson} {label}/{skip}\""
                    .into(),
            );
        }
        expression.push('$');
        Regex::new(&expression)
            .map(Self)
            .map_err(|_| "it can't be used; write it more simply".into())
    }

    /// What the path of a clip below the folder says; `None` where it does not follow the pattern.
    pub fn read(&self, relative: &Path) -> Option<Told> {
        let file = without_role(&relative.file_stem()?.to_string_lossy());
        let path = relative
            .parent()
            .filter(|p| *p != Path::new(""))
            .map_or_else(
                || file.clone(),
                |p| format!("{}/{file}", p.to_string_lossy().replace('\\', "/")),
            );
        let found = self.0.captures(&path)?;
        let text = |field: &str| Some(found.name(field)?.as_str().replace('_', " "));
        let lesson = match found.name("lesson") {
            // Eight digits that are no day are something else.
            Some(day) => Some(day.as_str().parse().ok()?),
            None => None,
        };
        let typed = TypedIn {
            player: text("player"),
            lesson,
            label: text("label"),
            club: text("club"),
            ..TypedIn::default()
        };
        Some(typed.tidied().into())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn read(pattern: &str, path: &str) -> Option<[String; 4]> {
        let pattern = NamePattern::parse(pattern).expect(pattern);
        let told = pattern.read(Path::new(path))?;
        let text = |t: Option<String>| t.unwrap_or_default();
        Some([
            text(told.player),
            told.lesson.map_or_else(String::new, |l| l.to_string()),
            text(told.label),
            text(told.club),
        ])
    }

    fn is(a: &str, b: &str, c: &str, d: &str) -> Option<[String; 4]> {
        Some([a, b, c, d].map(str::to_owned))
    }

    #[test]
    fn folders_and_file_names_are_read() {
        assert_eq!(
            read(
                "{player}/{lesson} {label}/{skip}",
                "Student 7/2026-05-14 hips held/IMG_1.mov"
            ),
            is("Student 7", "2026-05-14", "hips held", "")
        );
        assert_eq!(
            read(
                "{player}_{label}_{number}",
                "a/b/Anna_hips_held_12_face_on.mp4"
            ),
            is("Anna", "", "hips held", "")
        );
        assert_eq!(
            read("{lesson}-{player}-{club}", "20260514-ben-7 iron-DTL.mov"),
            is("ben", "2026-05-14", "", "7 iron")
        );
        assert_eq!(
            read("lessons/{player}/{skip}", "x/lessons/Eve/clip.mp4"),
            is("Eve", "", "", "")
        );
    }

    #[test]
    fn what_does_not_follow_the_pattern_says_nothing() {
        assert_eq!(read("{player}/{lesson}/{skip}", "Anna/May/IMG_1.mov"), None);
        assert_eq!(
            read("{player}/{lesson}/{skip}", "Anna/2026-02-31/IMG_1.mov"),
            None
        );
        assert_eq!(read("{player}/{skip}", "IMG_1.mov"), None);
        assert_eq!(
            read("lessons/{player}/{skip}", "mylessons/Eve/clip.mp4"),
            None
        );
    }

    #[test]
    fn a_wrong_pattern_is_refused_with_what_to_write() {
        for (pattern, part) in [
            ("", "nothing in it"),
            ("{skip}", "nothing in it"),
            ("{name}", "{name} is not known"),
            ("{player", "not closed"),
            ("{player}}", "without its"),
            ("{player}/{player}", "twice"),
        ] {
            let told = NamePattern::parse(pattern).expect_err(pattern);
            assert!(told.contains(part), "{pattern}: {told}");
        }
        assert!(NamePattern::parse(&"a".repeat(500)).is_err());
    }

    proptest! {
        /// What a pattern's own fields are filled with comes out again.
        #[test]
        fn a_name_made_from_a_pattern_is_read_back(
            player in "[A-Za-z]{1,8}( [A-Za-z]{1,6})?", label in "[a-z]{1,8}( [a-z]{1,8})?",
            (y, m, d) in (1990..2100_i32, 1..13_i32, 1..29_i32), role in 0..3_usize,
        ) {
            let role = ["", "_face_on", "-down-the-line"][role];
            let path = format!("{player}/{y}-{m:02}-{d:02}/{label}_7{role}.mp4");
            let told = read("{player}/{lesson}/{label}_{number}", &path);
            prop_assert_eq!(told, is(&player, &format!("{y}-{m:02}-{d:02}"), &label, ""));
        }
    }
}
