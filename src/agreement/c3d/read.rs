//! Reading: header, parameters, point data.

use super::number::{Processor, at};
use super::parameters::{self, Group, Value, find};
use super::{C3dEvent, C3dFile, Track};

const BLOCK: usize = 512;

/// Parses the bytes of a C3D file. The error is one sentence that says what is wrong.
///
/// # Errors
/// One sentence: it is no C3D file, breaks off, or states no frame rate.
pub fn read(bytes: &[u8]) -> Result<C3dFile, String> {
    let short = || "ends inside its header. Copy or export the file again.".to_owned();
    let [parameter_block, key] = at::<2>(bytes, 0).ok_or_else(short)?;
    if key != 0x50 || parameter_block < 2 {
        return Err("not a C3D file: its second byte is not the C3D key. Export it again.".into());
    }
    if bytes.len() < BLOCK {
        return Err(short());
    }
    let start = (usize::from(parameter_block) - 1) * BLOCK;
    let [_, _, blocks, code] = at::<4>(bytes, start).ok_or_else(short)?;
    let processor = Processor::from_code(code)
        .ok_or_else(|| format!("processor type {code} is none of 84 (Intel), 85 (DEC) and 86 (MIPS). Export the file again."))?;
    let word = |n: usize| at::<2>(bytes, (n - 1) * 2).map_or(0, |b| processor.u16(b));
    let float = |n: usize| at::<4>(bytes, (n - 1) * 2).map_or(0.0, |b| processor.f32(b));

    // Some writers count no or too few parameter blocks: the data's start is the better bound.
    let data_block = usize::from(word(9));
    let end = if data_block >= 2 && (data_block - 1) * BLOCK > start {
        (data_block - 1) * BLOCK
    } else {
        start + usize::from(blocks) * BLOCK
    };
    let section = bytes.get(start..end.min(bytes.len())).unwrap_or_default();
    let groups = parameters::parse(section, processor);

    let number = |group: &str, name: &str| find(&groups, group, name).and_then(Value::first);
    let used = number("POINT", "USED").map_or(usize::from(word(2)), |v| v as usize);
    let scale = number("POINT", "SCALE").map_or(float(7), |v| v as f32);
    let rate_hz = Some(f64::from(float(11)))
        .filter(|r| r.is_finite() && *r > 0.0)
        .or_else(|| number("POINT", "RATE"))
        .filter(|r| r.is_finite() && *r > 0.0 && *r <= 1e6)
        .ok_or("states no frame rate. Export it again with POINT:RATE.")?;
    let first_frame = field(&groups, "ACTUAL_START_FIELD").unwrap_or(u32::from(word(4)));

    let point_bytes = if scale < 0.0 { 16 } else { 8 };
    let sample_bytes = if scale < 0.0 { 4 } else { 2 };
    let frame_bytes = used * point_bytes + usize::from(word(3)) * sample_bytes;
    let data_block = number("POINT", "DATA_START")
        .map_or(data_block, |v| v as usize)
        .max(1);
    let data = bytes.get((data_block - 1).saturating_mul(BLOCK)..);
    let data = data.unwrap_or_default();
    let frames = match data.len().checked_div(frame_bytes) {
        None | Some(0) => 0,
        Some(held) => claimed_frames(&groups, word(4), word(5)).min(held),
    };

    let label = names(&groups, "LABELS");
    let description = names(&groups, "DESCRIPTIONS");
    let mut tracks = Vec::new();
    for p in 0..if frames == 0 { 0 } else { used } {
        let mut points = Vec::with_capacity(frames);
        for f in 0..frames {
            let offset = f * frame_bytes + p * point_bytes;
            points.push(point(
                data.get(offset..offset + point_bytes),
                processor,
                scale,
            ));
        }
        tracks.push(Track {
            label: label
                .get(p)
                .cloned()
                .unwrap_or_else(|| format!("point {}", p + 1)),
            description: description.get(p).cloned().unwrap_or_default(),
            points,
        });
    }
    let events = events(bytes, &groups, processor);
    let units = find(&groups, "POINT", "UNITS")
        .and_then(|v| v.texts().first().cloned())
        .unwrap_or_default();
    Ok(C3dFile {
        processor,
        rate_hz,
        first_frame,
        units,
        tracks,
        events,
        groups,
    })
}

/// A frame number of the TRIAL group, stored as two 16-bit words, the low one first.
fn field(groups: &[Group], name: &str) -> Option<u32> {
    match find(groups, "TRIAL", name)? {
        Value::Integers(v) => match v.as_slice() {
            [low, high, ..] => Some(u32::from(*low as u16) + (u32::from(*high as u16) << 16)),
            [low] => Some(u32::from(*low as u16)),
            [] => None,
        },
        other => other.first().map(|v| v as u32),
    }
}

/// How many frames the file says it holds. 16 bits were not enough for long trials, so that
/// several places may tell; the largest is meant, and the caller bounds it by the bytes there are.
fn claimed_frames(groups: &[Group], first: u16, last: u16) -> usize {
    let header = usize::from(last.saturating_sub(first)) + 1;
    let mut most = header;
    for name in ["FRAMES", "LONG_FRAMES"] {
        if let Some(v) = find(groups, "POINT", name).and_then(Value::first) {
            most = most.max(v as usize);
        }
    }
    if let (Some(a), Some(b)) = (
        field(groups, "ACTUAL_START_FIELD"),
        field(groups, "ACTUAL_END_FIELD"),
    ) && b >= a
    {
        most = most.max((b - a) as usize + 1);
    }
    most
}

/// More than 255 labels spill into LABELS2, LABELS3, …
fn names(groups: &[Group], base: &str) -> Vec<String> {
    let mut all = Vec::new();
    for i in 1..=64 {
        let name = if i == 1 {
            base.to_owned()
        } else {
            format!("{base}{i}")
        };
        match find(groups, "POINT", &name) {
            Some(v) => all.extend(v.texts().iter().cloned()),
            None => break,
        }
    }
    all
}

fn point(bytes: Option<&[u8]>, processor: Processor, scale: f32) -> Option<[f32; 3]> {
    let bytes = bytes?;
    let (xyz, residual) = if scale < 0.0 {
        let f = |i: usize| at::<4>(bytes, i * 4).map(|b| processor.f32(b));
        ([f(0)?, f(1)?, f(2)?], f(3)?)
    } else {
        let i = |i: usize| at::<2>(bytes, i * 2).map(|b| f32::from(processor.u16(b) as i16));
        ([i(0)? * scale, i(1)? * scale, i(2)? * scale], i(3)?)
    };
    // A negative fourth word marks a point that was not seen; many writers leave zeros instead.
    let seen = residual >= 0.0 && xyz.iter().all(|v| v.is_finite()) && xyz != [0.0; 3];
    seen.then_some(xyz)
}

fn events(bytes: &[u8], groups: &[Group], processor: Processor) -> Vec<C3dEvent> {
    let times = find(groups, "EVENT", "TIMES").map_or(&[][..], Value::floats);
    let labels = find(groups, "EVENT", "LABELS").map_or(&[][..], Value::texts);
    let used = find(groups, "EVENT", "USED").and_then(Value::first);
    let used = used.map_or(labels.len(), |v| v as usize);
    let in_parameters: Vec<C3dEvent> = labels
        .iter()
        .zip(times.chunks_exact(2))
        .take(used)
        .filter_map(|(label, pair)| match pair {
            // Minutes, seconds.
            [minutes, seconds] => Some(C3dEvent {
                label: label.clone(),
                time_s: f64::from(*minutes) * 60.0 + f64::from(*seconds),
            }),
            _ => None,
        })
        .filter(|e| e.time_s.is_finite())
        .collect();
    if !in_parameters.is_empty() {
        return in_parameters;
    }
    // Older files hold up to 18 events in the header, four-letter labels.
    let word = |n: usize| at::<2>(bytes, (n - 1) * 2).map_or(0, |b| processor.u16(b));
    if word(150) != 12345 {
        return Vec::new();
    }
    (0..usize::from(word(151)).min(18))
        .filter_map(|i| {
            let time_s = f64::from(processor.f32(at(bytes, 304 + 4 * i)?));
            let label: [u8; 4] = at(bytes, 396 + 4 * i)?;
            time_s.is_finite().then(|| C3dEvent {
                label: String::from_utf8_lossy(&label)
                    .trim_matches(['\0', ' '])
                    .to_owned(),
                time_s,
            })
        })
        .collect()
}
