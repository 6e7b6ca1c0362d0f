//! Reading and writing of result folders. Writing is by rename: a folder either holds a whole
//! result or none.

use std::collections::BTreeMap;
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

use serde::Serialize;

use super::curves::Curves;
use super::numbers::{Estimate, Moment};
use super::swing_file::{SCHEMA, SCHEMA_1, SwingResult};
use super::usable::{clock_of_version_1, judge, judge_curves};
use super::why::Why;
use crate::config::{ConfigError, Pipeline, UsableConfig};
use crate::file_error::{At, FileError};
use crate::terms::{Event, Measure};

/// What can be wrong with a result folder.
#[derive(Debug, thiserror::Error)]
pub enum ResultError {
    /// A file or folder can't be read or written.
    #[error("{0}. Check that the folder exists, can be read and written, and has room.")]
    Io(#[from] FileError),
    /// `swing.json` can't be understood or breaks a rule.
    #[error("{}: not a readable swing.json ({detail}). Measure the swing again.", path.display())]
    Json {
        /// Which file.
        path: PathBuf,
        /// What is wrong.
        detail: String,
    },
    /// `swing.json` is of another version.
    #[error("{}: schema \"{found}\" is not \"{SCHEMA}\". Measure the swing again with this version.", path.display())]
    Schema {
        /// Which file.
        path: PathBuf,
        /// The schema that it names.
        found: String,
    },
    /// `curves.csv` can't be understood.
    #[error("{}: line {line}: {detail}. Measure the swing again.", path.display())]
    Csv {
        /// Which file.
        path: PathBuf,
        /// Number of the line, from 1.
        line: u64,
        /// What is wrong.
        detail: String,
    },
}

/// Larger files are not ours: a swing.json is a few tens of kilobytes.
const MAX_JSON_BYTES: usize = 8 << 20;

/// Reads a `swing.json` and checks every number in it.
///
/// # Errors
/// [`ResultError`] where the file can't be read, is of another schema or breaks a rule.
pub fn read_swing(path: &Path) -> Result<SwingResult, ResultError> {
    let bytes = fs::read(path).at(path)?;
    read_swing_bytes(&bytes, path)
}

/// `folder` itself where it is one measured swing, or those directly inside it, by name.
///
/// # Errors
/// Where the folder can't be read.
pub fn swing_folders(folder: &Path) -> std::io::Result<Vec<PathBuf>> {
    let measured = |f: &PathBuf| f.join("swing.json").is_file();
    if measured(&folder.to_owned()) {
        return Ok(vec![folder.to_owned()]);
    }
    let entries = fs::read_dir(folder)?.map(|e| Ok(e?.path()));
    let mut inside = entries.collect::<std::io::Result<Vec<PathBuf>>>()?;
    inside.retain(measured);
    inside.sort();
    Ok(inside)
}

/// Folders directly inside, with their names; hidden ones, links and names that are not UTF-8 left out.
pub fn folders_in(folder: &Path) -> impl Iterator<Item = (String, PathBuf)> {
    let entries = fs::read_dir(folder).into_iter().flatten().flatten();
    entries
        .filter(|e| e.file_type().is_ok_and(|t| t.is_dir()))
        .filter_map(|e| Some((e.file_name().into_string().ok()?, e.path())))
        .filter(|(name, _)| !name.starts_with('.'))
}

/// Parses the bytes of a `swing.json`; `path` is for messages only.
///
/// # Errors
/// Those of [`read_swing`].
pub fn read_swing_bytes(bytes: &[u8], path: &Path) -> Result<SwingResult, ResultError> {
    let bad = |detail: String| ResultError::Json {
        path: path.to_owned(),
        detail,
    };
    if bytes.len() > MAX_JSON_BYTES {
        return Err(bad(format!("{} bytes is too large", bytes.len())));
    }
    let value: serde_json::Value = serde_json::from_slice(bytes).map_err(|e| bad(e.to_string()))?;
    let schema = value.get("schema").and_then(|s| s.as_str()).unwrap_or("");
    if ![SCHEMA, SCHEMA_1].contains(&schema) {
        return Err(ResultError::Schema {
            path: path.to_owned(),
            found: schema.chars().take(60).collect(),
        });
    }
    let older = schema == SCHEMA_1;
    let mut swing: SwingResult = serde_json::from_value(value).map_err(|e| bad(e.to_string()))?;
    check(&swing).map_err(bad)?;
    if older {
        swing.real_time = clock_of_version_1(&swing);
        let limits = built_in_limits().map_err(|e| bad(e.to_string()))?;
        judge(&mut swing, &mut Curves::default(), &limits);
        swing.schema = SCHEMA.to_owned();
    }
    Ok(swing)
}

/// The limits that files without marks of their own are judged by.
fn built_in_limits() -> Result<UsableConfig, ConfigError> {
    Ok(Pipeline::load(None)?.usable)
}

/// Rules that the types alone don't hold: an interval holds its value, events are in order.
fn check(swing: &SwingResult) -> Result<(), String> {
    if swing.views.is_empty() {
        return Err("no views".into());
    }
    for (event, measures) in &swing.at {
        for (measure, e) in measures {
            if let Some((deg, low, high)) = e.parts()
                && !(low <= deg && deg <= high)
            {
                return Err(format!(
                    "{measure} at {event}: {deg} is outside {low} to {high}"
                ));
            }
        }
    }
    let mut last = f64::NEG_INFINITY;
    for event in Event::ALL {
        if let Some(Moment { s: Some(s), .. }) = swing.events.get(&event) {
            if *s < last {
                return Err(format!("{event} comes before the event ahead of it"));
            }
            last = *s;
        }
    }
    Ok(())
}

/// Writes `swing.json` and `curves.csv` into `folder`, each whole or not at all;
/// `swing.json` last, so that its presence means the result is complete.
///
/// # Errors
/// [`ResultError`] where the folder can't be made or written.
pub fn write_result(
    folder: &Path,
    swing: &SwingResult,
    curves: &Curves,
) -> Result<(), ResultError> {
    fs::create_dir_all(folder).at(folder)?;
    let csv_path = folder.join("curves.csv");
    write_by_rename(&csv_path, curves_to_csv(curves).as_bytes())?;
    Ok(write_json(&folder.join("swing.json"), swing)?)
}

/// Writes `bytes` beside `path` under a temporary name, flushes it to disk, and renames it.
///
/// # Errors
/// Where the folder can't be written or is full; what stood at `path` is as it was.
pub fn write_by_rename(path: &Path, bytes: &[u8]) -> Result<(), FileError> {
    renamed_into(path, bytes).at(path)
}

/// Writes `value` as JSON for people and programs, in the same way.
///
/// # Errors
/// Those of [`write_by_rename`].
pub fn write_json(path: &Path, value: &impl Serialize) -> Result<(), FileError> {
    let text = serde_json::to_vec_pretty(value).map_err(std::io::Error::from);
    write_by_rename(path, &[&text.at(path)?[..], b"\n"].concat())
}

/// A folder inside `folder` for what is not whole yet; it goes with the value.
///
/// # Errors
/// Where it can't be made.
pub fn part_folder(folder: &Path) -> std::io::Result<tempfile::TempDir> {
    tempfile::Builder::new().prefix(PART).tempdir_in(folder)
}

/// How the names of unfinished files and folders begin.
pub const PART: &str = ".part-";

fn renamed_into(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty());
    let mut file = tempfile::Builder::new()
        .prefix(PART)
        .tempfile_in(folder.unwrap_or(Path::new(".")))
        // The long form repeats the path, which the caller names.
        .map_err(|e| std::io::Error::from(e.kind()))?;
    file.write_all(bytes)?;
    file.as_file().sync_all()?;
    let kept = file.persist(path).map_err(|e| e.error)?;
    // A temporary file is private; a result is for whoever may read the folder.
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        kept.set_permissions(fs::Permissions::from_mode(0o644))?;
    }
    drop(kept);
    Ok(())
}

fn curves_to_csv(curves: &Curves) -> String {
    let mut out = String::from("time_s");
    for measure in curves.series.keys() {
        let (k, unit) = (measure.key(), Measure::UNIT.key());
        out.push_str(&format!(",{k}_{unit},{k}_low,{k}_high,{k}_why"));
    }
    out.push('\n');
    let cell = |v: Option<f64>| {
        v.filter(|v| v.is_finite())
            .map_or_else(String::new, |v| format!("{v:.3}"))
    };
    for (i, t) in curves.time_s.iter().enumerate() {
        out.push_str(&format!("{t:.6}"));
        for series in curves.series.values() {
            let e = series.get(i).copied().unwrap_or_default();
            out.push_str(&format!(
                ",{},{},{},{}",
                cell(e.deg),
                cell(e.low),
                cell(e.high),
                e.untold().map_or("", Why::key)
            ));
        }
        out.push('\n');
    }
    out
}

/// Reads a `curves.csv`. Columns of unknown names are passed over.
///
/// # Errors
/// [`ResultError`] with the line that can't be understood.
pub fn read_curves(path: &Path) -> Result<Curves, ResultError> {
    read_curves_bytes(&fs::read(path).at(path)?, path)
}

/// Parses the bytes of a `curves.csv`; `path` is for messages only.
///
/// # Errors
/// Those of [`read_curves`].
pub fn read_curves_bytes(bytes: &[u8], path: &Path) -> Result<Curves, ResultError> {
    let csv_err = |line: u64, detail: String| ResultError::Csv {
        path: path.to_owned(),
        line,
        detail,
    };
    let mut reader = csv::Reader::from_reader(bytes);
    let header = reader
        .headers()
        .map_err(|e| csv_err(1, e.to_string()))?
        .clone();
    let column = |name: &str| header.iter().position(|h| h == name);
    let time = column("time_s").ok_or_else(|| csv_err(1, "no time_s column".into()))?;
    let known: Vec<(Measure, [Option<usize>; 4])> = Measure::ALL
        .into_iter()
        .filter_map(|m| {
            let part = |s: &str| column(&format!("{}_{s}", m.key()));
            let deg = part(Measure::UNIT.key())?;
            Some((m, [Some(deg), part("low"), part("high"), part("why")]))
        })
        .collect();
    let mut curves = Curves::default();
    let mut series: BTreeMap<Measure, Vec<Estimate>> =
        known.iter().map(|(m, _)| (*m, Vec::new())).collect();
    for record in reader.records() {
        let record = record
            .map_err(|e| csv_err(e.position().map_or(0, csv::Position::line), e.to_string()))?;
        let line = record.position().map_or(0, csv::Position::line);
        let number = |i: usize| -> Result<Option<f64>, ResultError> {
            match record.get(i).map(str::trim) {
                None | Some("" | "null") => Ok(None),
                Some(text) => match text.parse::<f64>() {
                    Ok(v) if v.is_finite() => Ok(Some(v)),
                    _ => Err(csv_err(line, format!("\"{text}\" is not a finite number"))),
                },
            }
        };
        let t = number(time)?.ok_or_else(|| csv_err(line, "no time".into()))?;
        curves.time_s.push(t);
        for (m, [deg, low, high, why]) in &known {
            let get = |c: &Option<usize>| c.map_or(Ok(None), number);
            let e = Estimate {
                deg: get(deg)?,
                low: get(low)?,
                high: get(high)?,
                why: why.and_then(|i| Why::from_key(record.get(i)?.trim())),
            };
            if let Some(s) = series.get_mut(m) {
                s.push(e);
            }
        }
    }
    curves.series = series;
    // Version 1 said of no point whether it is of use.
    if known.iter().all(|(_, columns)| columns[3].is_none()) {
        let limits = built_in_limits().map_err(|e| csv_err(1, e.to_string()))?;
        judge_curves(&mut curves, &limits);
    }
    Ok(curves)
}
