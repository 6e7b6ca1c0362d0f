//! `heads.json`: where the head is in each view of a result folder, so that it can be hidden later
//! in what is passed on.

use std::collections::BTreeMap;
use std::path::Path;

use serde::{Deserialize, Serialize};

use super::ReportError;
use super::faces::{Faces, HeadTrack};
use crate::body::Overlay;
use crate::config::ReportConfig;
use crate::file_error::At;
use crate::result::{SwingResult, write_by_rename};
use crate::terms::Role;

const SCHEMA: &str = "quarterturn.heads/1";
const FILE: &str = "heads.json";

#[derive(Serialize, Deserialize)]
struct HeadsFile {
    schema: String,
    views: BTreeMap<Role, HeadTrack>,
}

/// Writes the heads of all views beside the result.
///
/// # Errors
/// Where the folder can't be written.
pub fn write(
    folder: &Path,
    overlays: &[Overlay],
    swing: &SwingResult,
    config: &ReportConfig,
) -> Result<(), ReportError> {
    let size = |role: Role| {
        let view = swing.views.iter().find(|v| v.role == role)?;
        Some((view.width, view.height))
    };
    let views = overlays
        .iter()
        .filter_map(|o| {
            let faces = Faces::new(&o.frames, config);
            Some((o.role, HeadTrack::new(&faces, size(o.role)?)))
        })
        .collect();
    let file = HeadsFile {
        schema: SCHEMA.into(),
        views,
    };
    let path = folder.join(FILE);
    let bytes = serde_json::to_vec(&file)
        .map_err(std::io::Error::from)
        .at(&path)?;
    Ok(write_by_rename(&path, &bytes)?)
}

/// The heads of a result folder; none where it was measured by a version that did not keep them.
pub fn read(folder: &Path) -> Option<BTreeMap<Role, HeadTrack>> {
    let bytes = std::fs::read(folder.join(FILE)).ok()?;
    let file: HeadsFile = serde_json::from_slice(&bytes).ok()?;
    (file.schema == SCHEMA).then_some(file.views)
}
