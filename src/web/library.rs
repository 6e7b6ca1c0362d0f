//! What lies in the folder of results.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use crate::result::{SwingResult, read_swing, write_by_rename};

/// The coach's notes beside a result.
const NOTES: &str = "notes.txt";
/// Longest notes, bytes.
pub const NOTES_MAX: usize = 20_000;

/// One measured swing. `id` is its folder's name.
pub struct Swing {
    pub id: String,
    pub folder: PathBuf,
    pub result: SwingResult,
    pub notes: String,
}

impl Swing {
    pub fn player(&self) -> &str {
        player_of(&self.result)
    }
}

/// The player's name as typed in, or an empty text.
pub fn player_of(result: &SwingResult) -> &str {
    result.typed_in.player.as_deref().map_or("", str::trim)
}

/// Every readable result, newest first. Folders that are unfinished or not results are passed
/// over; a link is not followed out of the folder.
pub fn scan(results: &Path) -> Vec<Swing> {
    let mut found: Vec<(std::time::SystemTime, Swing)> = folders(results)
        .into_iter()
        .filter_map(|(id, folder)| {
            let file = folder.join("swing.json");
            let when = std::fs::metadata(&file).and_then(|m| m.modified()).ok()?;
            let result = read_swing(&file).ok()?;
            let notes = read_notes(&folder);
            Some((
                when,
                Swing {
                    id,
                    folder,
                    result,
                    notes,
                },
            ))
        })
        .collect();
    found.sort_by(|a, b| b.0.cmp(&a.0).then_with(|| a.1.id.cmp(&b.1.id)));
    found.into_iter().map(|f| f.1).collect()
}

/// The swing with this folder name. The name is only ever compared with names that are there, so
/// it can't lead anywhere else.
pub fn find(results: &Path, id: &str) -> Option<Swing> {
    let (id, folder) = folders(results).into_iter().find(|(name, _)| name == id)?;
    let result = read_swing(&folder.join("swing.json")).ok()?;
    let notes = read_notes(&folder);
    Some(Swing {
        id,
        folder,
        result,
        notes,
    })
}

/// Folders directly inside, by name; hidden ones, links and names that are not UTF-8 left out.
pub fn folders(results: &Path) -> Vec<(String, PathBuf)> {
    let Ok(entries) = std::fs::read_dir(results) else {
        return Vec::new();
    };
    entries
        .flatten()
        .filter(|e| e.file_type().is_ok_and(|t| t.is_dir()))
        .filter_map(|e| Some((e.file_name().into_string().ok()?, e.path())))
        .filter(|(name, _)| !name.starts_with('.'))
        .collect()
}

/// Swings by player, in order of name; those without a name last.
pub fn by_player(swings: Vec<Swing>) -> Vec<(String, Vec<Swing>)> {
    let mut groups: BTreeMap<(bool, String), Vec<Swing>> = BTreeMap::new();
    for swing in swings {
        let player = swing.player().to_owned();
        groups
            .entry((player.is_empty(), player))
            .or_default()
            .push(swing);
    }
    groups
        .into_iter()
        .map(|((_, player), s)| (player, s))
        .collect()
}

fn read_notes(folder: &Path) -> String {
    let mut text = std::fs::read_to_string(folder.join(NOTES)).unwrap_or_default();
    let mut end = text.len().min(NOTES_MAX);
    while !text.is_char_boundary(end) {
        end -= 1;
    }
    text.truncate(end);
    text
}

/// Keeps notes; empty notes remove the file.
pub fn write_notes(folder: &Path, text: &str) -> std::io::Result<()> {
    let path = folder.join(NOTES);
    if text.trim().is_empty() {
        return match std::fs::remove_file(&path) {
            Err(e) if e.kind() != std::io::ErrorKind::NotFound => Err(e),
            _ => Ok(()),
        };
    }
    write_by_rename(&path, text.as_bytes())
}
