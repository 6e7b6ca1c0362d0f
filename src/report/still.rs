//! Which picture stands for a swing in a list.

use std::path::{Path, PathBuf};

use crate::terms::{Event, Role};

/// The still of a result folder that shows the swing in a list: the top, face-on before
/// down-the-line, else the next moment that there is a picture of. The path below the folder's own.
pub fn still_of(folder: &Path) -> Option<PathBuf> {
    let moments = [Event::Top, Event::Impact, Event::Address, Event::Finish];
    let names = moments
        .into_iter()
        .flat_map(|e| Role::ALL.map(|r| format!("{}_{}.jpg", r.key(), e.key())));
    names
        .map(|n| Path::new("stills").join(n))
        .find(|p| folder.join(p).is_file())
}
