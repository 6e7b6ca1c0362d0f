//! What a page's script moves through: moments with their words, and the pictures at each.

use image::RgbImage;
use serde_json::{Map, Value, json};

use crate::config::ReportConfig;
use crate::report::{ReportError, jpeg};

/// The script inside every report and every comparison.
pub const SCRUB_SCRIPT: &str = include_str!("../assets/scrub.js");

/// JSON for [`SCRUB_SCRIPT`] that can't close its element. `views` are named as the page's frames
/// are, with pictures and the numbers of their moments; their quality is lowered until all fit into
/// `budget` bytes.
///
/// # Errors
/// [`ReportError`] where a picture can't be encoded.
pub fn scrub_json(
    moments: &[Value],
    views: &[(String, &[(usize, RgbImage)])],
    budget: usize,
    config: &ReportConfig,
) -> Result<String, ReportError> {
    let quality = jpeg::quality_for(
        views.iter().flat_map(|(_, all)| all.iter().map(|(_, p)| p)),
        budget,
        config.scrub_quality_best,
        config.scrub_quality_worst,
    )?;
    let mut told = Map::new();
    for (name, pictures) in views {
        let mut uris = vec![Value::Null; moments.len()];
        for (i, picture) in *pictures {
            if let Some(slot) = uris.get_mut(*i) {
                *slot = jpeg::data_uri(&jpeg::encode(picture, quality)?).into();
            }
        }
        told.insert(name.clone(), uris.into());
    }
    let json = json!({ "moments": moments, "views": told }).to_string();
    Ok(json.replace('<', "\\u003c"))
}
