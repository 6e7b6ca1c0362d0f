//! A region that is turned against the picture: each output pixel is the mean of a few samples
//! between pixels.

use super::Grid;
use crate::clip::Rows;

/// Fills `out`, `size` × `size` pixels.
pub fn sample(rows: &Rows<'_>, grid: &Grid, size: usize, out: &mut [[f32; 3]]) {
    let step = grid.along[0].hypot(grid.along[1]);
    let offsets: &[f64] = if step > 1.2 { &[0.25, 0.75] } else { &[0.5] };
    let share = 1.0 / (offsets.len() * offsets.len()) as f32;
    let mut places = Places::new(grid, size);
    let mut sums = vec![[0f32; 4]; size];
    for (j, row) in out.chunks_exact_mut(size).enumerate() {
        sums.fill([0.0; 4]);
        for dy in offsets {
            for dx in offsets {
                let [x, y] = grid.at(*dx, j as f64 + dy);
                places.lay(rows, [x - 0.5, y - 0.5]);
                places.fetch(rows);
                let ways = places.right.iter().zip(&places.down);
                for ((sum, four), (right, down)) in sums.iter_mut().zip(&places.four).zip(ways) {
                    add(*four, *right, *down, sum);
                }
            }
        }
        for (pixel, sum) in row.iter_mut().zip(&sums) {
            *pixel = [share * sum[0], share * sum[1], share * sum[2]];
        }
    }
}

/// Where the samples of one row lie. Apart from the sums over pixels, for then many are found at a
/// time; in single precision, which is off by less than a thousandth of a pixel.
struct Places {
    /// From the row's first sample, pixels.
    along: [Vec<f32>; 2],
    /// The first byte of the pixel above and left.
    byte: Vec<u32>,
    /// The way from that pixel, 0..1.
    right: Vec<f32>,
    down: Vec<f32>,
    /// What lies there: two pixels of a row, and those below them.
    four: Vec<[u64; 2]>,
}

impl Places {
    fn new(grid: &Grid, size: usize) -> Self {
        Self {
            along: grid
                .along
                .map(|step| (0..size).map(|i| (i as f64 * step) as f32).collect()),
            byte: vec![0; size],
            right: vec![0.0; size],
            down: vec![0.0; size],
            four: vec![[0; 2]; size],
        }
    }

    /// Lays the places from `first` on. Outside the picture they lie on its edge.
    fn lay(&mut self, rows: &Rows<'_>, first: [f64; 2]) {
        let stride = rows.stride as u32;
        let (x, y) = (first[0] as f32, first[1] as f32);
        let steps = self.along[0].iter().zip(&self.along[1]);
        let ways = self.right.iter_mut().zip(self.down.iter_mut());
        for (((dx, dy), byte), (right, down)) in steps.zip(&mut self.byte).zip(ways) {
            let (column, to_right) = split(x + dx, rows.width);
            let (row, to_down) = split(y + dy, rows.height);
            *byte = row * stride + column * 3;
            *right = to_right;
            *down = to_down;
        }
    }

    /// Fetches what lies at the places: apart from the sums, for then many are on their way at a time.
    fn fetch(&mut self, rows: &Rows<'_>) {
        for (four, byte) in self.four.iter_mut().zip(&self.byte) {
            let start = *byte as usize;
            *four = [
                eight(rows.bytes, start),
                eight(rows.bytes, start + rows.stride),
            ];
        }
    }
}

/// The whole number below `at`, of a pixel that has a neighbour among `extent` pixels, and the rest.
fn split(at: f32, extent: usize) -> (u32, f32) {
    /// Numbers from here on have no fraction, and count up in their bits.
    const WHOLE: f32 = (1 << 23) as f32;
    let at = at.max(0.0).min(extent.saturating_sub(1) as f32);
    // Half a pixel off, rounding gives the number below. Conversions to integers check for numbers
    // that do not fit, one by one.
    let below = (at - 0.5).max(0.0).min(extent.saturating_sub(2) as f32) + WHOLE;
    (below.to_bits() - WHOLE.to_bits(), at - (below - WHOLE))
}

/// Adds what lies between four pixels. The fourth number is of no use: with it a pixel fills a
/// register.
fn add([top, bottom]: [u64; 2], right: f32, down: f32, sum: &mut [f32; 4]) {
    let column = |bits: u32| {
        let (t, b) = (
            numbers((top >> bits) as u32),
            numbers((bottom >> bits) as u32),
        );
        let between = |t: f32, b: f32| t + down * (b - t);
        [
            between(t[0], b[0]),
            between(t[1], b[1]),
            between(t[2], b[2]),
            between(t[3], b[3]),
        ]
    };
    let (near, far) = (column(0), column(24));
    for ((s, n), f) in sum.iter_mut().zip(near).zip(far) {
        *s += n + right * (f - n);
    }
}

fn numbers(bytes: u32) -> [f32; 4] {
    bytes.to_le_bytes().map(f32::from)
}

/// Two pixels and two bytes more; past the end noughts.
fn eight(bytes: &[u8], start: usize) -> u64 {
    let whole = bytes.get(start..).and_then(|b| b.first_chunk());
    u64::from_le_bytes(whole.map_or_else(|| short(bytes, start), |all| *all))
}

#[cold]
fn short(bytes: &[u8], start: usize) -> [u8; 8] {
    let mut out = [0; 8];
    let rest = bytes.get(start..).unwrap_or_default();
    for (to, from) in out.iter_mut().zip(rest) {
        *to = *from;
    }
    out
}
