//! `film.json`: where each annotated video of a result folder begins on the result's clock, so
//! that a comparison can find its frames again.

use std::path::Path;

use serde::{Deserialize, Serialize};

use super::ReportError;
use super::film::ViewPictures;
use crate::result::write_json;
use crate::terms::Role;

const SCHEMA: &str = "quarterturn.film/1";
const FILE: &str = "film.json";

#[derive(Serialize, Deserialize)]
struct FilmList {
    schema: String,
    views: Vec<FilmEntry>,
}

/// One annotated video at true speed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FilmEntry {
    pub role: Role,
    /// File name without its folder.
    pub file: String,
    /// Seconds on the result's clock at the video's first frame.
    pub starts_s: f64,
}

pub fn write(folder: &Path, views: &[ViewPictures]) -> Result<(), ReportError> {
    let list = FilmList {
        schema: SCHEMA.into(),
        views: views
            .iter()
            .filter_map(|v| {
                Some(FilmEntry {
                    role: v.role?,
                    file: v.videos.first()?.clone(),
                    starts_s: v.starts_s,
                })
            })
            .collect(),
    };
    Ok(write_json(&folder.join(FILE), &list)?)
}

/// The videos of a result folder; none where it was measured without pictures. Names that point
/// out of the folder are passed over.
pub fn read(folder: &Path) -> Vec<FilmEntry> {
    let Ok(bytes) = std::fs::read(folder.join(FILE)) else {
        return Vec::new();
    };
    let Ok(list) = serde_json::from_slice::<FilmList>(&bytes) else {
        return Vec::new();
    };
    list.views
        .into_iter()
        .filter(|v| {
            v.starts_s.is_finite() && !v.file.contains(['/', '\\']) && v.file.ends_with(".mp4")
        })
        .collect()
}
