//! What file and folder names tell: the role, the swing's own name, the kind of phone.

use std::path::Path;

use crate::terms::Role;

/// Ways of writing a role in a file name, longest first.
const WAYS: [(&str, Role); 9] = [
    ("down_the_line", Role::DownTheLine),
    ("down-the-line", Role::DownTheLine),
    ("down the line", Role::DownTheLine),
    ("downtheline", Role::DownTheLine),
    ("face_on", Role::FaceOn),
    ("face-on", Role::FaceOn),
    ("face on", Role::FaceOn),
    ("faceon", Role::FaceOn),
    ("dtl", Role::DownTheLine),
];

const SEPARATORS: &str = "_-. ";

/// The role in a name and the name without it, in lower case.
pub(super) fn split_role(name: &str) -> (String, Option<Role>) {
    let lower = name.to_lowercase();
    for (way, role) in WAYS {
        let Some(at) = lower.find(way) else { continue };
        let before = lower[..at].chars().next_back();
        let after = lower[at + way.len()..].chars().next();
        let free = |c: Option<char>| c.is_none_or(|c| !c.is_alphabetic());
        if !free(before) || !free(after) {
            continue;
        }
        let is_separator = |c: char| SEPARATORS.contains(c);
        let left = lower[..at].trim_end_matches(is_separator);
        let right = lower[at + way.len()..].trim_start_matches(is_separator);
        let joined = match (left.is_empty(), right.is_empty()) {
            (false, false) => format!("{left}_{right}"),
            _ => format!("{left}{right}"),
        };
        return (joined, Some(role));
    }
    (lower, None)
}

/// The role that a clip's own name or its folder's name tells.
pub(super) fn role_of(relative: &Path) -> Option<Role> {
    split_role(&stem(relative)).1.or_else(|| {
        let folder = relative.parent()?.file_name()?;
        split_role(&folder.to_string_lossy()).1
    })
}

pub(super) fn stem(path: &Path) -> String {
    path.file_stem()
        .map_or_else(String::new, |s| s.to_string_lossy().into_owned())
}

/// The letters that a phone puts before its numbers.
pub(super) fn prefix(relative: &Path) -> String {
    stem(relative)
        .chars()
        .take_while(|c| c.is_alphabetic())
        .collect::<String>()
        .to_lowercase()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn roles_are_found_as_whole_words() {
        let role = |n: &str| split_role(n);
        assert_eq!(
            role("bay3_0412_face_on"),
            ("bay3_0412".into(), Some(Role::FaceOn))
        );
        assert_eq!(
            role("DTL-anna-7"),
            ("anna-7".into(), Some(Role::DownTheLine))
        );
        assert_eq!(
            role("anna-down-the-line-7"),
            ("anna_7".into(), Some(Role::DownTheLine))
        );
        assert_eq!(role("outdtlx"), ("outdtlx".into(), None));
        assert_eq!(role_of(Path::new("face_on/IMG_1.mov")), Some(Role::FaceOn));
    }
}
