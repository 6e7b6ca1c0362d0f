//! A player's name changed everywhere: in every result and in what was uploaded.

use std::path::Path;
use std::sync::Arc;

use super::index::Entry;
use super::library::{change, folders};
use super::ticket::Ticket;

/// Gives all of `from` to `to`, which may be a player already. Gives the number of swings.
///
/// # Errors
/// What could not be changed, and that the rest was.
pub fn rename(
    swings: &[Arc<Entry>],
    uploads: &Path,
    from: &str,
    to: &str,
) -> Result<usize, String> {
    let mine: Vec<_> = swings.iter().filter(|s| s.player() == from).collect();
    let mut failed = Vec::new();
    for swing in &mine {
        if let Err(e) = change(&swing.folder, |t| t.player = Some(to.to_owned())) {
            failed.push(e.to_string());
        }
    }
    for (_, folder) in folders(uploads) {
        let Some(mut ticket) = Ticket::read(&folder).filter(|t| t.player.trim() == from) else {
            continue;
        };
        ticket.player = to.to_owned();
        if let Err(e) = ticket.write(&folder) {
            failed.push(e.to_string());
        }
    }
    if failed.is_empty() {
        Ok(mine.len())
    } else {
        Err(format!(
            "Not everything could be changed: {} All else is changed; do it again when the reason is gone.",
            failed.join(" ")
        ))
    }
}
