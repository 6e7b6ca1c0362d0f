//! What goes to a terminal in one line, whatever a file is called.

/// Control characters written out (`\n`, `\u{1b}`): a file's name must not break a sentence in two
/// or steer the terminal.
pub fn plain(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        if c.is_control() {
            out.extend(c.escape_default());
        } else {
            out.push(c);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_cannot_break_the_line_or_colour_it() {
        assert_eq!(
            plain("my\nswing\u{1b}[31m.mp4"),
            "my\\nswing\\u{1b}[31m.mp4"
        );
        assert_eq!(plain("Übung „7“.mp4"), "Übung „7“.mp4");
    }
}
