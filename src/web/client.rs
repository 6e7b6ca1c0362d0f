//! Texts that come from a client, made safe for what they are used for.

use std::time::SystemTime;

use jiff::Timestamp;

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
    let time = Timestamp::try_from(now).map_or_else(
        |_| String::new(),
        |t| t.strftime("%Y%m%d-%H%M%S").to_string(),
    );
    let tail: String = id.chars().filter(char::is_ascii_hexdigit).take(8).collect();
    format!("{slug}-{time}-{tail}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::{Duration, UNIX_EPOCH};

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
    fn one_line_has_no_line_breaks() {
        assert_eq!(one_line(" a\r\nSet-Cookie: x\0 ", 80), "a  Set-Cookie: x");
        assert_eq!(one_line("abcdef", 3), "abc");
    }
}
