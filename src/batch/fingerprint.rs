//! Under which name a swing's result is known, whoever measures it and wherever.

use std::collections::BTreeMap;

use sha2::{Digest, Sha256};

use super::planned::PlannedSwing;
use crate::config::checksum::hex;
use crate::result::TypedIn;
use crate::worker::Given;

fn short(hash: Sha256) -> String {
    hex(hash.finalize().get(..12).unwrap_or_default())
}

/// What the numbers of every swing depend on besides its clips: version, networks, and what was
/// given for all alike.
pub(super) fn program(given: &Given, networks: &BTreeMap<String, String>) -> String {
    let mut hash = Sha256::new();
    // What is said of a swing changes no number.
    let mut given = given.clone();
    given.options.typed_in = TypedIn::default();
    hash.update(serde_json::to_vec(&given).unwrap_or_default());
    for (name, sum) in networks {
        hash.update(format!("\0{name}\0{sum}"));
    }
    format!("{} {}", env!("CARGO_PKG_VERSION"), short(hash))
}

/// What a swing is, whatever its clips hold: their paths and the parts of them.
pub(super) fn identity(swing: &PlannedSwing) -> String {
    let mut hash = Sha256::new();
    for clip in &swing.clips {
        hash.update(clip.relative.as_os_str().as_encoded_bytes());
        hash.update([0]);
        if let Some((from, to)) = clip.part {
            hash.update(format!("{from:.1}-{to:.1}"));
        }
        hash.update([1]);
    }
    short(hash)
}

/// What its numbers depend on.
pub(super) fn fingerprint(swing: &PlannedSwing, program: &str) -> String {
    let mut hash = Sha256::new();
    hash.update(program);
    for clip in &swing.clips {
        hash.update(&clip.sha256);
        hash.update(format!("{:?}{:?}", clip.role, clip.part));
    }
    short(hash)
}

/// What was said of a swing.
pub(super) fn told_mark(swing: &PlannedSwing) -> String {
    let mut hash = Sha256::new();
    hash.update(serde_json::to_vec(&swing.told).unwrap_or_default());
    short(hash)
}
