//! Texts that come from a client, made safe for what they are used for.

use std::time::{SystemTime, UNIX_EPOCH};

/// One line without control letters, at most `max` letters.
pub fn one_line(text: &str, max: usize) -> String {
    text.chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .take(max)
        .collect::<String>()
        .trim()
        .to_owned()
}

/// The name of a new result's folder: the player's plain letters, the moment (UTC), and
/// eight letters of the upload's own number: a hundred phones may send in one second.
pub fn swing_name(player: &str, now: SystemTime, id: &str) -> String {
    let mut slug = String::new();
    for c in player.chars().take(40) {
        if c.is_ascii_alphanumeric() {
            slug.push(c.to_ascii_lowercase());
        } else if !slug.ends_with('-') {
            slug.push('-');
        }
    }
    let slug = slug.trim_matches('-');
    let slug = if slug.is_empty() { "swing" } else { slug };
    let s = now.duration_since(UNIX_EPOCH).map_or(0, |d| d.as_secs());
    let (y, m, d) = date(s / 86_400);
    let (hh, mm, ss) = (s / 3600 % 24, s / 60 % 60, s % 60);
    let tail: String = id.chars().filter(char::is_ascii_hexdigit).take(8).collect();
    format!("{slug}-{y:04}{m:02}{d:02}-{hh:02}{mm:02}{ss:02}-{tail}")
}

/// Civil date of a day counted from 1970-01-01.
fn date(days: u64) -> (u64, u64, u64) {
    // Days from 0000-03-01, so that the leap day comes last in its year.
    let z = days + 719_468;
    let (era, doe) = (z / 146_097, z % 146_097);
    let yoe = (doe - doe / 1460 + doe / 36_524 - doe / 146_096) / 365;
    let doy = doe - (365 * yoe + yoe / 4 - yoe / 100);
    let mp = (5 * doy + 2) / 153;
    let d = doy - (153 * mp + 2) / 5 + 1;
    let m = if mp < 10 { mp + 3 } else { mp - 9 };
    (era * 400 + yoe + u64::from(m <= 2), m, d)
}

/// A path segment with everything but plain letters escaped.
pub fn segment(text: &str) -> String {
    text.bytes()
        .map(|b| match b {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'-' | b'_' | b'~' => (b as char).to_string(),
            // A lone "." or ".." would be taken for a folder.
            b => format!("%{b:02X}"),
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::Duration;

    #[test]
    fn names_are_plain_whatever_was_typed() {
        let now = UNIX_EPOCH + Duration::from_secs(1_709_210_096);
        assert_eq!(
            swing_name("../Ann Ö. O'Neil/", now, "beef990011"),
            "ann-o-neil-20240229-123456-beef9900"
        );
        assert_eq!(
            swing_name("李", now, "beef990011"),
            "swing-20240229-123456-beef9900"
        );
    }

    #[test]
    fn dates_are_right_around_leap_days() {
        assert_eq!(date(0), (1970, 1, 1));
        assert_eq!(date(11_016), (2000, 2, 29));
        assert_eq!(date(11_017), (2000, 3, 1));
        assert_eq!(date(20_782), (2026, 11, 25));
    }

    #[test]
    fn one_line_has_no_line_breaks() {
        assert_eq!(one_line(" a\r\nSet-Cookie: x\0 ", 80), "a  Set-Cookie: x");
        assert_eq!(one_line("abcdef", 3), "abc");
        assert_eq!(segment("../a b"), "%2E%2E%2Fa%20b");
    }
}
