//! How file names write a role.

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
pub fn split_role(name: &str) -> (String, Option<Role>) {
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

/// The name without the role in it, otherwise as it is written.
pub fn without_role(name: &str) -> String {
    let (rest, role) = split_role(name);
    let lower = name.to_lowercase();
    if role.is_none() || lower.len() != name.len() {
        // Some capitals have small letters of another length: then the small ones do.
        return if role.is_none() {
            name.to_owned()
        } else {
            rest
        };
    }
    let trimmed = |c: char| SEPARATORS.contains(c);
    WAYS.iter()
        .filter_map(|(way, _)| Some((lower.find(way)?, way.len())))
        .find_map(|(at, length)| {
            let left = name.get(..at)?.trim_end_matches(trimmed);
            let right = name.get(at + length..)?.trim_start_matches(trimmed);
            let joined = match (left.is_empty(), right.is_empty()) {
                (false, false) => format!("{left}_{right}"),
                _ => format!("{left}{right}"),
            };
            (joined.to_lowercase() == rest).then_some(joined)
        })
        .unwrap_or(rest)
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
        for (name, without) in [
            ("Anna_Hips held_FACE_ON", "Anna_Hips held"),
            ("DTL-Anna-7", "Anna-7"),
            ("Anna-down-the-line-7", "Anna_7"),
            ("OutDTLx", "OutDTLx"),
        ] {
            assert_eq!(without_role(name), without);
        }
    }
}
