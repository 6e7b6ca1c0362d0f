//! Whose swing it is, as far as names tell.

use std::collections::BTreeMap;
use std::path::Path;

use super::names::letters;
use crate::result::{split_role, stem};

/// Name starts that cameras and programs write, not people.
const MACHINE_WORDS: [&str; 22] = [
    "img", "vid", "video", "pxl", "mov", "movie", "dsc", "dscn", "dcim", "mvi", "gopr", "gx", "gh",
    "clip", "swing", "bay", "camera", "cam", "phone", "lesson", "trim", "whatsapp",
];

/// Players by clip: the folder that a clip lies in, unless it names a role or a device; otherwise
/// the first word of the file's name, when a number follows it and another clip begins the same.
pub(super) fn players<'a>(clips: impl Iterator<Item = &'a Path> + Clone) -> Vec<Option<String>> {
    let mut starts: BTreeMap<String, usize> = BTreeMap::new();
    for word in clips.clone().filter_map(first_word) {
        *starts.entry(word.to_lowercase()).or_default() += 1;
    }
    clips
        .map(|clip| {
            folder_player(clip).or_else(|| {
                let word = first_word(clip)?;
                (starts.get(&word.to_lowercase()).is_some_and(|n| *n > 1)).then_some(word)
            })
        })
        .collect()
}

fn folder_player(clip: &Path) -> Option<String> {
    let folder = clip.parent()?.file_name()?.to_string_lossy().into_owned();
    if split_role(&folder).1.is_some() || is_machine(&folder) {
        return None;
    }
    folder.chars().any(char::is_alphabetic).then_some(folder)
}

fn first_word(clip: &Path) -> Option<String> {
    let stem = stem(clip);
    let word = letters(&stem);
    let rest = &stem[word.len()..];
    let separated = rest.starts_with(['_', '-', ' ', '.']);
    let numbered = rest.chars().any(|c| c.is_ascii_digit());
    (word.chars().count() >= 2 && separated && numbered && !is_machine(word))
        .then(|| word.to_owned())
}

fn is_machine(word: &str) -> bool {
    MACHINE_WORDS.contains(&letters(word).to_lowercase().as_str())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(clips: &[&str]) -> Vec<Option<String>> {
        players(clips.iter().map(Path::new))
    }

    #[test]
    fn folders_name_players_and_devices_do_not() {
        assert_eq!(
            of(&["Anna/IMG_1.mov", "face_on/IMG_2.mov", "phone 1/x.mov"]),
            [Some("Anna".into()), None, None]
        );
    }

    #[test]
    fn a_repeated_first_word_with_a_number_names_a_player() {
        assert_eq!(
            of(&[
                "ben_01.mp4",
                "ben-02.mp4",
                "eve_1.mp4",
                "IMG_1.mov",
                "IMG_2.mov",
                "big day.mp4",
                "big one.mp4"
            ]),
            [
                Some("ben".into()),
                Some("ben".into()),
                None,
                None,
                None,
                None,
                None
            ]
        );
    }
}
