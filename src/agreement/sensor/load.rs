//! Opens sensor files by what they hold: C3D by its key byte, otherwise CSV.

use std::path::Path;

use super::{Mapping, SensorSwing, read_c3d_bytes, read_csv_bytes};
use crate::agreement::error::{AgreementError, read_bounded};
use crate::result::stem;

/// Larger recordings are refused: an hour at 1000 Hz of ten measures stays under this.
pub const MAX_SENSOR_BYTES: u64 = 512 << 20;

/// Reads a CSV or C3D file. A file without swing names takes its own name without the ending.
///
/// # Errors
/// [`AgreementError`] where the file can't be read, is larger than [`MAX_SENSOR_BYTES`], or can't be understood.
pub fn load_sensor(path: &Path, mapping: &Mapping) -> Result<Vec<SensorSwing>, AgreementError> {
    let bytes = read_bounded(path, MAX_SENSOR_BYTES)?;
    let c3d = path
        .extension()
        .is_some_and(|e| e.eq_ignore_ascii_case("c3d"));
    let mut swings = if c3d || bytes.get(1) == Some(&0x50) && bytes.contains(&0) {
        vec![read_c3d_bytes(&bytes, mapping, path)?]
    } else {
        read_csv_bytes(&bytes, mapping, path)?
    };
    for swing in swings.iter_mut().filter(|s| s.name.is_empty()) {
        let stem = stem(path);
        swing.name = mapping.swings.get(&stem).cloned().unwrap_or(stem);
    }
    Ok(swings)
}
