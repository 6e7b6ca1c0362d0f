//! Segments from markers: pelvis by Wu et al. 2002, thorax by Wu et al. 2005.
//!
//! Pelvis (J Biomech 35:543–548): z through the two ASIS to the right, x in the plane of the
//! ASIS and the middle of the PSIS, forward. Thorax (J Biomech 38:981–992): y from the middle of
//! PX and T8 to the middle of IJ and C7, z across the plane of IJ, C7 and the middle of PX and T8,
//! to the right. Ours, renamed: x = −z, y = −x, z = y.

use std::collections::BTreeMap;
use std::path::Path;

use nalgebra::{Matrix3, Vector3};

use super::SensorSwing;
use super::derive::unwrap_degrees;
use super::mapping::Mapping;
use crate::agreement::c3d::{self, C3dFile, Track};
use crate::agreement::error::AgreementError;
use crate::math::rotation::{SegmentAngles, nearest_rotation};
use crate::terms::Measure;

const PELVIS: [&str; 4] = ["RASIS", "LASIS", "RPSIS", "LPSIS"];
const THORAX: [&str; 4] = ["IJ", "PX", "C7", "T8"];
/// Markers closer than this to one line give no plane: metres would be 1e-3, millimetres 1.
const MIN_SINE: f64 = 0.02;

type Series = BTreeMap<Measure, Vec<Option<f64>>>;

/// Parses a C3D file of landmarks; `path` is for messages only.
///
/// # Errors
/// [`AgreementError::Bad`] where it is no C3D file, or holds the landmarks of neither pelvis nor thorax.
pub fn read_c3d_bytes(
    bytes: &[u8],
    mapping: &Mapping,
    path: &Path,
) -> Result<SensorSwing, AgreementError> {
    let bad = |detail: String| AgreementError::bad(path, detail);
    let file = c3d::read(bytes).map_err(bad)?;
    let pelvis = find(&file, mapping, PELVIS);
    let thorax = find(&file, mapping, THORAX);
    if pelvis.is_err() && thorax.is_err() || file.tracks.is_empty() {
        let mut missing = pelvis.err().unwrap_or_default();
        missing.extend(thorax.err().unwrap_or_default());
        let have: Vec<&str> = file.tracks.iter().map(|t| t.label.as_str()).collect();
        let have = if have.is_empty() {
            "no markers".to_owned()
        } else {
            have.iter().take(80).copied().collect::<Vec<_>>().join(", ")
        };
        return Err(bad(format!(
            "landmarks {} were not found. The file has: {have}. Name the labels under [labels] of a mapping file, such as RASIS = \"R.ASIS\".",
            missing.join(", ")
        )));
    }
    let n = file.tracks.first().map_or(0, |t| t.points.len());
    let mut swing = SensorSwing {
        time_s: (0..n).map(|i| file.time_s(i)).collect(),
        notes: vec![
            "Angles were built from markers: pelvis by Wu 2002, rib cage by Wu 2005.".to_owned(),
        ],
        ..SensorSwing::default()
    };
    for (name, tracks) in [("pelvis", &pelvis), ("rib cage", &thorax)] {
        if let Err(missing) = tracks {
            swing.notes.push(format!(
                "No {name}: landmarks {} were not found.",
                missing.join(", ")
            ));
        }
    }
    let [right, left] = [false, true].map(|mirrored| {
        let (pelvis, thorax) = (pelvis.as_ref().ok(), thorax.as_ref().ok());
        angles(pelvis, thorax, mapping, n, mirrored)
    });
    (swing.series, swing.left_handed_series) = (right, Some(left));
    for e in &file.events {
        match mapping.event(&e.label) {
            Some(event) => {
                swing.events.insert(event, e.time_s);
            }
            None => swing.notes.push(format!(
                "The file's event \"{}\" was passed over: name it under [events] of the mapping to use it.",
                e.label
            )),
        }
    }
    Ok(swing)
}

/// The four tracks, or the landmarks that are missing.
fn find<'a>(
    file: &'a C3dFile,
    mapping: &Mapping,
    landmarks: [&'static str; 4],
) -> Result<[&'a Track; 4], Vec<String>> {
    let look = |landmark: &'static str| {
        let label = mapping.label(landmark);
        // Some writers put a subject's name before the label.
        file.tracks.iter().find(|t| {
            t.label == label || t.label.rsplit(':').next().is_some_and(|last| last == label)
        })
    };
    match landmarks.map(look) {
        [Some(a), Some(b), Some(c), Some(d)] => Ok([a, b, c, d]),
        found => Err(landmarks
            .into_iter()
            .zip(found)
            .filter(|(_, f)| f.is_none())
            .map(|(l, _)| match mapping.label(l) {
                label if label == l => l.to_owned(),
                label => format!("{l} (looked for \"{label}\")"),
            })
            .collect()),
    }
}

/// Angles in the project's frame. `mirrored`: for a left-hander the world is mirrored in X, which
/// makes the right side of the body the lead side.
fn angles(
    pelvis: Option<&[&Track; 4]>,
    thorax: Option<&[&Track; 4]>,
    mapping: &Mapping,
    n: usize,
    mirrored: bool,
) -> Series {
    let (x, z) = (mapping.target_axis.vector(), mapping.up_axis.vector());
    let y = z.cross(&x);
    let mut to_world = Matrix3::from_rows(&[x.transpose(), y.transpose(), z.transpose()]);
    if mirrored {
        to_world.row_mut(0).neg_mut();
    }
    let at = |tracks: &[&Track; 4], i: usize| -> Option<[Vector3<f64>; 4]> {
        let get = |k: usize| {
            let p = (*tracks.get(k)?.points.get(i)?)?;
            Some(to_world * Vector3::new(f64::from(p[0]), f64::from(p[1]), f64::from(p[2])))
        };
        Some([get(0)?, get(1)?, get(2)?, get(3)?])
    };
    use Measure as M;
    let mut series = Series::new();
    let mut add = |measures: [M; 3], frames: Vec<Option<SegmentAngles>>| {
        let of: [fn(&SegmentAngles) -> f64; 3] = [|a| a.turn, |a| a.side, |a| a.forward];
        for (m, of) in measures.into_iter().zip(of) {
            let each = frames.iter();
            let mut values: Vec<_> = each.map(|a| Some(of(a.as_ref()?).to_degrees())).collect();
            if matches!(m, M::PelvisTurn | M::ThoraxTurn) {
                unwrap_degrees(&mut values);
            }
            series.insert(m, values);
        }
    };
    if let Some(tracks) = pelvis {
        let frame = |i| pelvis_angles(at(tracks, i)?, mirrored);
        add(M::PELVIS, (0..n).map(frame).collect());
    }
    if let Some(tracks) = thorax {
        let frame = |i| thorax_angles(at(tracks, i)?);
        add(M::THORAX, (0..n).map(frame).collect());
    }
    series
}

/// RASIS, LASIS, RPSIS, LPSIS.
fn pelvis_angles([ra, la, rp, lp]: [Vector3<f64>; 4], mirrored: bool) -> Option<SegmentAngles> {
    // In the mirrored world what was right is left.
    let lateral = if mirrored { ra - la } else { la - ra };
    let lead = lateral.try_normalize(1e-9)?;
    let ahead = (ra + la) / 2.0 - (rp + lp) / 2.0;
    let ahead_len = ahead.norm();
    let forward = ahead - lead * lead.dot(&ahead);
    if forward.norm() < MIN_SINE * ahead_len {
        return None;
    }
    frame(lead, -forward)
}

/// IJ, PX, C7, T8.
fn thorax_angles([ij, px, c7, t8]: [Vector3<f64>; 4]) -> Option<SegmentAngles> {
    let low = (px + t8) / 2.0;
    let up = (ij + c7) / 2.0 - low;
    // Points to the left of a body that faces its front; in a left-hander's mirrored world that
    // is the lead side again.
    let normal = (c7 - low).cross(&(ij - low));
    if normal.norm() < MIN_SINE * (ij - low).norm() * (c7 - low).norm() {
        return None;
    }
    let lead = normal.try_normalize(1e-12)?;
    let back = up.cross(&lead);
    frame(lead, back)
}

/// The segment frame of a lead-side axis and a direction to the back at right angles to it.
fn frame(lead: Vector3<f64>, back: Vector3<f64>) -> Option<SegmentAngles> {
    let back = back.try_normalize(1e-12)?;
    let up = lead.cross(&back);
    SegmentAngles::decompose(&nearest_rotation(&Matrix3::from_columns(&[
        lead, back, up,
    ]))?)
}
