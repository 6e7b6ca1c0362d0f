//! Days and counts as the pages write them.

use jiff::civil::Date;

use crate::result::Lesson;

/// `14 May 2026`, or that no day is known.
pub fn day(lesson: Option<Lesson>) -> String {
    let date = lesson.and_then(|l| l.to_string().parse::<Date>().ok());
    date.map_or_else(
        || "no day known".to_owned(),
        |d| d.strftime("%-d %B %Y").to_string(),
    )
}

/// `1 swing`, `3 swings`.
pub fn counted(n: usize, one: &str) -> String {
    if n == 1 {
        format!("1 {one}")
    } else {
        format!("{n} {one}s")
    }
}

/// A player's name, or what stands in its place.
pub fn named(player: &str) -> &str {
    if player.is_empty() {
        "No name given"
    } else {
        player
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_and_counts_are_written_out() {
        assert_eq!(day("2026-05-04".parse().ok()), "4 May 2026");
        assert_eq!(day(None), "no day known");
        assert_eq!(counted(1, "swing"), "1 swing");
        assert_eq!(counted(0, "lesson"), "0 lessons");
    }
}
