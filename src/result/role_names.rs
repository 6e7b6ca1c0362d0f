//! How file names write a role.

use std::ops::Range;

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
    match place(&lower) {
        Some((at, role)) => (without(&lower, &at).unwrap_or_default(), Some(role)),
        None => (lower, None),
    }
}

/// The name without the role in it, otherwise as it is written.
pub fn without_role(name: &str) -> String {
    let lower = name.to_lowercase();
    let Some((at, _)) = place(&lower) else {
        return name.to_owned();
    };
    // Some capitals have small letters of another length: then the small ones do.
    let written = Some(name).filter(|n| n.len() == lower.len());
    let kept = written.and_then(|n| without(n, &at));
    kept.or_else(|| without(&lower, &at)).unwrap_or_default()
}

/// Where a name in lower case writes a role as a word of its own.
fn place(lower: &str) -> Option<(Range<usize>, Role)> {
    let free = |c: Option<char>| c.is_none_or(|c| !c.is_alphabetic());
    WAYS.into_iter().find_map(|(way, role)| {
        let at = lower.find(way)?;
        let end = at + way.len();
        let alone = free(lower[..at].chars().next_back()) && free(lower[end..].chars().next());
        alone.then_some((at..end, role))
    })
}

/// What stands on both sides of that place.
fn without(name: &str, at: &Range<usize>) -> Option<String> {
    let separates = |c: char| SEPARATORS.contains(c);
    let left = name.get(..at.start)?.trim_end_matches(separates);
    let right = name.get(at.end..)?.trim_start_matches(separates);
    let lone = left.is_empty() || right.is_empty();
    Some(format!("{left}{}{right}", if lone { "" } else { "_" }))
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
