//! A region whose sides are those of the picture: each output pixel is the mean over its footprint.

use super::Grid;
use crate::clip::Rows;

/// Fills `out`, `size` × `size` pixels.
pub fn sample(rows: &Rows<'_>, grid: &Grid, size: usize, out: &mut [[f32; 3]]) {
    // In a picture stored on its side, the crop's rows run down the stored picture's columns.
    let on_side = grid.along[0].abs() < grid.along[1].abs();
    let (across, down) = if on_side {
        (grid.down[0], grid.along[1])
    } else {
        (grid.along[0], grid.down[1])
    };
    let across = Taps::new(grid.corner[0], across, size, rows.width);
    let down = Taps::new(grid.corner[1], down, size, rows.height);
    let (from, to) = across.span();
    // Down first: its sums run along whole rows, which is quick, and leave a fraction to be summed
    // across. One number more, so that the last pixel can be read like the others.
    let mut line = vec![0f32; (to - from) * 3 + 1];
    let mut sums = vec![0u16; (to - from) * 3];
    for (r, (first, weights)) in down.iter().enumerate() {
        sums.fill(0);
        for (pair, k) in weights.chunks(2).zip((first..).step_by(2)) {
            let row = |k: usize| {
                let start = k.min(rows.height - 1) * rows.stride + from * 3;
                let whole = rows.bytes.get(start..start + sums.len());
                whole.unwrap_or_default()
            };
            let (a, b) = (
                share(pair.first().copied().unwrap_or(0.0)),
                share(pair.get(1).copied().unwrap_or(0.0)),
            );
            let (above, below) = (row(k), row(k + 1));
            for ((sum, p), q) in sums.iter_mut().zip(above).zip(below) {
                *sum += part(*p, a) + part(*q, b);
            }
        }
        for (to, sum) in line.iter_mut().zip(&sums) {
            *to = f32::from(*sum) / 257.0;
        }
        for (c, (first, weights)) in across.iter().enumerate() {
            let under = line.get((first - from) * 3..).unwrap_or_default();
            let mut sum = [0f32; 4];
            for (w, p) in weights.iter().zip(under.windows(4).step_by(3)) {
                for (s, p) in sum.iter_mut().zip(p) {
                    *s += w * p;
                }
            }
            let at = if on_side { c * size + r } else { r * size + c };
            if let Some(pixel) = out.get_mut(at) {
                *pixel = [sum[0], sum[1], sum[2]];
            }
        }
    }
}

/// A weight in 65536ths, rounded down so that no sum of weights passes one.
fn share(weight: f32) -> u16 {
    (weight * 65536.0) as u16
}

/// A byte times a weight, in 256ths and rounded down: off by a twentieth of a grey level over the
/// dozen rows of a large person. Eight of them fit in the registers that every processor has.
fn part(byte: u8, share: u16) -> u16 {
    let byte = u16::from_ne_bytes([byte, byte]);
    ((u32::from(byte) * u32::from(share)) >> 16) as u16
}

/// For every output sample along one axis the source samples under it and their weights, which sum
/// to one.
struct Taps {
    first: Vec<usize>,
    /// `each` for every output sample.
    weights: Vec<f32>,
    each: usize,
}

impl Taps {
    /// Output sample i lies at `corner` + (i + ½) · `step`; the source has `extent` samples.
    fn new(corner: f64, step: f64, size: usize, extent: usize) -> Self {
        // Below one source pixel an output pixel the filter stays a bilinear one.
        let radius = step.abs().max(1.0);
        let each = ((2.0 * radius).ceil() as usize)
            .saturating_add(1)
            .min(extent);
        let mut first = Vec::with_capacity(size);
        let mut weights = vec![0f32; size * each];
        for (i, weights) in weights.chunks_exact_mut(each.max(1)).enumerate() {
            let at = corner + (i as f64 + 0.5) * step;
            let (lowest, highest) = (
                (at - radius - 0.5).ceil() as i64,
                (at + radius - 0.5).floor() as i64,
            );
            let start = lowest.clamp(0, (extent - each) as i64);
            for k in lowest..=highest {
                let inside = k.clamp(0, extent as i64 - 1) - start;
                if let Some(w) = weights.get_mut(inside as usize) {
                    *w += (1.0 - ((k as f64 + 0.5 - at) / radius).abs()).max(0.0) as f32;
                }
            }
            let sum: f32 = weights.iter().sum();
            if sum > 0.0 {
                weights.iter_mut().for_each(|w| *w /= sum);
            }
            first.push(start as usize);
        }
        Self {
            first,
            weights,
            each,
        }
    }

    fn iter(&self) -> impl Iterator<Item = (usize, &[f32])> {
        let weights = self.weights.chunks_exact(self.each.max(1));
        self.first.iter().copied().zip(weights)
    }

    /// The first source sample that is read, and the one past the last.
    fn span(&self) -> (usize, usize) {
        let from = self.first.iter().min().copied().unwrap_or(0);
        let to = self.first.iter().max().copied().unwrap_or(0);
        (from, to + self.each)
    }
}
