//! Deleting for good: a player's swings, clips, notes and comparisons.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::index::Entry;
use super::library;
use super::ticket::Ticket;

/// Everything that is kept of one player.
pub struct Belongings {
    pub swings: Vec<(String, PathBuf)>,
    pub uploads: Vec<PathBuf>,
    /// Comparisons that one of the swings is part of.
    pub comparisons: Vec<(String, PathBuf)>,
}

/// Finds everything of a player; an empty name means the swings without one.
pub fn of_player(all: &[Arc<Entry>], results: &Path, uploads: &Path, player: &str) -> Belongings {
    let swings: Vec<_> = all
        .iter()
        .filter(|s| s.player() == player)
        .map(|s| (s.id.clone(), s.folder.clone()))
        .collect();
    belongings(results, uploads, swings, |ticket| {
        ticket.player.trim() == player
    })
}

/// Everything of one swing alone.
pub fn of_swing(results: &Path, uploads: &Path, id: &str) -> Option<Belongings> {
    let swing = library::find(results, id)?;
    let swings = vec![(swing.id.clone(), swing.folder)];
    Some(belongings(results, uploads, swings, |ticket| {
        ticket.name == swing.id
    }))
}

fn belongings(
    results: &Path,
    uploads: &Path,
    swings: Vec<(String, PathBuf)>,
    mine: impl Fn(&Ticket) -> bool,
) -> Belongings {
    let ours = |name: &str| swings.iter().any(|(id, _)| id == name);
    let comparisons = library::folders(results)
        .into_iter()
        .filter(|(_, folder)| {
            let Ok(bytes) = std::fs::read(folder.join("comparison.json")) else {
                return false;
            };
            serde_json::from_slice::<serde_json::Value>(&bytes).is_ok_and(|c| {
                ["first", "second"]
                    .iter()
                    .any(|k| c.get(k).and_then(|n| n.as_str()).is_some_and(ours))
            })
        })
        .collect();
    let uploads = library::folders(uploads)
        .into_iter()
        .filter(|(_, folder)| Ticket::read(folder).is_some_and(|t| mine(&t) || ours(&t.name)))
        .map(|(_, folder)| folder)
        .collect();
    Belongings {
        swings,
        uploads,
        comparisons,
    }
}

impl Belongings {
    pub fn is_empty(&self) -> bool {
        self.swings.is_empty() && self.uploads.is_empty() && self.comparisons.is_empty()
    }

    /// Removes all of it. What could not be removed is named.
    pub fn remove(&self) -> Result<(), String> {
        let folders = self
            .swings
            .iter()
            .chain(&self.comparisons)
            .map(|(_, f)| f)
            .chain(&self.uploads);
        let failed: Vec<String> = folders
            .filter_map(|f| {
                // One that lay in another that was removed is gone.
                std::fs::remove_dir_all(f)
                    .err()
                    .filter(|e| e.kind() != std::io::ErrorKind::NotFound)
                    .map(|e| format!("{}: {e}", f.display()))
            })
            .collect();
        if failed.is_empty() {
            Ok(())
        } else {
            Err(format!(
                "Not everything could be deleted: {}. Delete these folders by hand.",
                failed.join("; ")
            ))
        }
    }
}
