//! MP4 files whose index names one stored picture over and over: tiny files that unpack to anything.

use std::ops::Range;

/// What the index of a bomb says.
#[derive(Clone, Copy)]
pub struct Index {
    /// Pictures in all.
    pub samples: u32,
    /// Pictures that lie one after the other in each chunk; 1 lets every picture be the first one.
    pub per_chunk: u32,
    /// Bytes of a picture; none: those of the first picture.
    pub bytes_each: Option<u32>,
    /// Ticks of the track's clock between pictures.
    pub ticks: u32,
}

/// `file`, with one video track and its `moov` last, under a new index.
pub fn reindexed(file: &[u8], index: Index) -> Vec<u8> {
    let stco = find(file, b"stco");
    let stsz = find(file, b"stsz");
    let first_at = number(file, stco.start + 8);
    let first_bytes = match number(file, stsz.start + 4) {
        0 => number(file, stsz.start + 12),
        all_alike => all_alike,
    };
    let chunks = index.samples / index.per_chunk;
    let duration = u64::from(index.samples) * u64::from(index.ticks);
    let new = |kind: &[u8]| -> Option<Vec<u32>> {
        match kind {
            b"stts" => Some(vec![0, 1, index.samples, index.ticks]),
            b"stsz" => Some(vec![
                0,
                index.bytes_each.unwrap_or(first_bytes),
                index.samples,
            ]),
            b"stsc" => Some(vec![0, 1, 1, index.per_chunk, 1]),
            b"stco" => {
                let mut all = vec![0, chunks];
                all.resize(2 + chunks as usize, first_at);
                Some(all)
            }
            _ => None,
        }
    };
    let mut out = Vec::new();
    copy(file, 0..file.len(), duration, &new, &mut out);
    out
}

/// Copies boxes, opens those that lead to the index, and leaves out those that the new one makes wrong.
fn copy(
    file: &[u8],
    range: Range<usize>,
    duration: u64,
    new: &dyn Fn(&[u8]) -> Option<Vec<u32>>,
    out: &mut Vec<u8>,
) {
    let mut at = range.start;
    while at < range.end {
        let size = number(file, at) as usize;
        let kind = &file[at + 4..at + 8];
        let start = out.len();
        match kind {
            b"edts" | b"ctts" | b"stss" | b"sdtp" | b"sgpd" | b"sbgp" => {}
            b"moov" | b"trak" | b"mdia" | b"minf" | b"stbl" => {
                out.extend([&[0; 4], kind].concat());
                copy(file, at + 8..at + size, duration, new, out);
                let length = (out.len() - start) as u32;
                out[start..start + 4].copy_from_slice(&length.to_be_bytes());
            }
            b"mdhd" => {
                out.extend(&file[at..at + size]);
                // ISO/IEC 14496-12, version 0: the duration follows the ticks a second.
                let ticks = duration.min(u64::from(u32::MAX)) as u32;
                out[start + 24..start + 28].copy_from_slice(&ticks.to_be_bytes());
            }
            _ => match new(kind) {
                Some(numbers) => {
                    out.extend((8 + 4 * numbers.len() as u32).to_be_bytes());
                    out.extend(kind);
                    out.extend(numbers.iter().flat_map(|n| n.to_be_bytes()));
                }
                None => out.extend(&file[at..at + size]),
            },
        }
        at += size;
    }
}

/// The content of the first box of a kind.
fn find(file: &[u8], kind: &[u8; 4]) -> Range<usize> {
    let at = file
        .windows(4)
        .position(|w| w == kind)
        .expect("an MP4 file with an index");
    at + 4..at - 4 + number(file, at - 4) as usize
}

fn number(file: &[u8], at: usize) -> u32 {
    u32::from_be_bytes(file[at..at + 4].try_into().expect("four bytes"))
}
