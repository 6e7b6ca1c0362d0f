//! Days and counts as the pages write them.

use crate::result::Lesson;

/// `14 May 2026`, or that no day is known.
pub fn day(lesson: Option<Lesson>) -> String {
    lesson.map_or_else(|| "no day known".to_owned(), Lesson::written)
}

/// A player's name, or what stands in its place.
pub fn named(player: &str) -> &str {
    if player.is_empty() {
        "No name given"
    } else {
        player
    }
}

/// What a swing is called: its name, but for one that an upload got by itself, which tells the
/// player and the moment once more, only when it came.
pub fn title(name: &str) -> String {
    let mut parts = name.rsplitn(4, '-');
    let (number, time, day) = (parts.next(), parts.next(), parts.next());
    let digits = |t: Option<&str>, n: usize| {
        t.filter(|t| t.len() == n && t.bytes().all(|b| b.is_ascii_hexdigit()))
            .map(str::to_owned)
    };
    match (digits(number, 8), digits(time, 6), digits(day, 8)) {
        (Some(_), Some(time), Some(_)) => {
            let (hour, minute) = (time.get(..2), time.get(2..4));
            let (hour, minute) = (hour.unwrap_or_default(), minute.unwrap_or_default());
            format!("Sent at {hour}:{minute} UTC")
        }
        _ => name.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_and_counts_are_written_out() {
        assert_eq!(day("2026-05-04".parse().ok()), "4 May 2026");
        assert_eq!(day(None), "no day known");
        assert_eq!(title("ann-o-20261127-155521-79ba3783"), "Sent at 15:55 UTC");
        assert_eq!(title("bay3-0412"), "bay3-0412");
    }
}
