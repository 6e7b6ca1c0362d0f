//! Names of the pictures and videos in a result folder.

use crate::terms::{Event, Role};

/// A still's file in the folder `stills`.
pub fn still_name(role: Role, event: Event) -> String {
    format!("{}_{}.jpg", role.key(), event.key())
}

/// A view's annotated videos: at true speed and in slow motion.
pub fn film_names(role: Role) -> [String; 2] {
    ["", "_slow"].map(|way| format!("{}{way}.mp4", role.key()))
}
