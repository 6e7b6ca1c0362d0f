//! The name of a swing's result folder.

use std::path::Path;

use super::role_names::without_role;

/// A text for a cell of a table. Spreadsheets run cells that begin like a formula, and names come from
/// files of any origin. A number is no formula.
pub fn no_formula(text: &str) -> String {
    let number = text.parse::<f64>().is_ok();
    if !number && text.starts_with(['=', '+', '-', '@', '\t', '\r']) {
        format!("'{text}")
    } else {
        text.to_owned()
    }
}

/// A file's name without its ending; empty where it has none.
pub fn stem(path: &Path) -> String {
    let stem = path.file_stem().unwrap_or_default();
    stem.to_string_lossy().into_owned()
}

/// The longest common start of the clips' names trimmed of separators, or one clip's name without
/// its ending and role. Never empty, never a path.
pub fn swing_name(clips: &[&Path]) -> String {
    let stems: Vec<String> = clips.iter().map(|c| stem(c)).collect();
    let name = match stems.as_slice() {
        [one] => without_role(one),
        [a, b] => a
            .chars()
            .zip(b.chars())
            .take_while(|(x, y)| x == y)
            .map(|(x, _)| x)
            .collect(),
        _ => String::new(),
    };
    let trimmed = name.trim_matches(|c: char| "_-. ".contains(c));
    let base = if trimmed.is_empty() {
        stems.first().map_or("swing", String::as_str)
    } else {
        trimmed
    };
    as_folder(base)
}

/// Whether a name that somebody typed can be a folder's as it stands.
pub fn is_folder_name(name: &str) -> bool {
    !name.starts_with('.') && as_folder(name) == name
}

/// The nearest name that a folder can have.
fn as_folder(name: &str) -> String {
    let safe: String = name
        .chars()
        .map(|c| {
            if c == '/' || c == '\\' || c.is_control() {
                '_'
            } else {
                c
            }
        })
        .collect();
    // A name is a folder: 200 bytes leave room for endings under the usual limit of 255.
    let end = safe.floor_char_boundary(200);
    match safe.get(..end).unwrap_or_default().trim() {
        "" | "." | ".." => "swing".to_owned(),
        good => good.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn name(clips: &[&str]) -> String {
        swing_name(&clips.iter().map(Path::new).collect::<Vec<_>>())
    }

    #[test]
    fn a_typed_name_may_hold_a_role_and_lead_nowhere_else() {
        for good in ["anna-7_face_on", "dtl", "Anna, 7 iron", "2026.11.27"] {
            assert!(is_folder_name(good), "{good}");
        }
        let long = "a".repeat(300);
        for bad in [
            "",
            ".",
            "..",
            ".hidden",
            "a/b",
            "a\\b",
            " a",
            "a\n",
            long.as_str(),
        ] {
            assert!(!is_folder_name(bad), "{bad}");
        }
    }

    #[test]
    fn names_follow_the_rule() {
        assert_eq!(
            name(&["bay3_0412_face_on.mp4", "bay3_0412_down_the_line.mp4"]),
            "bay3_0412"
        );
        assert_eq!(name(&["x/anna-7_face_on.mov"]), "anna-7");
        assert_eq!(name(&["DTL_Anna.mov"]), "Anna");
        assert_eq!(name(&["anna-7-DownTheLine.mov"]), "anna-7");
        assert_eq!(name(&["a.mp4", "b.mp4"]), "a");
        assert_eq!(name(&["face_on.mp4"]), "face_on");
        assert_eq!(name(&["..mp4"]), "swing");
    }
}
