//! Where something moved between two looks at the whole picture.

use super::detector::{CELLS, whole};
use super::observation::Region;
use crate::clip::Picture;
use crate::config::PoseConfig;

/// Squares round what moved most outside `known`, each close and wide; none where nothing moved or
/// all did, as when the camera pans. `before` and `now`: brightness of the cells of the whole picture.
pub fn squares(
    before: &[f32],
    now: &[f32],
    image: &Picture,
    known: Option<&Region>,
    config: &PoseConfig,
) -> Vec<Region> {
    let picture = whole(image);
    let cell = picture.side_px / CELLS as f64;
    let corner = picture.centre_px.map(|c| c - picture.side_px / 2.0);
    let place = |x: f64, y: f64| [corner[0] + x * cell, corner[1] + y * cell];
    let hidden = |x: f64, y: f64| {
        let [u, v] = place(x, y);
        known.is_some_and(|r| {
            (u - r.centre_px[0]).hypot(v - r.centre_px[1]) < 0.5 * r.side_px + cell
        })
    };
    lively(before, now, hidden, config)
        .into_iter()
        .take(config.search_most_moved)
        .flat_map(|[x, y, extent]| {
            [config.search_moved_close, config.search_moved_wide].map(|zoom| Region {
                centre_px: place(x, y),
                side_px: zoom * extent.max(LEAST_CELLS) * cell,
                roll_rad: 0.0,
            })
        })
        .collect()
}

/// Extent that something that moves has at least, cells.
const LEAST_CELLS: f64 = 3.0;

/// Middle and extent of connected cells that changed, what changed most first, cells.
fn lively(
    before: &[f32],
    now: &[f32],
    hidden: impl Fn(f64, f64) -> bool,
    config: &PoseConfig,
) -> Vec<[f64; 3]> {
    let change: Vec<f32> = now.iter().zip(before).map(|(a, b)| (a - b).abs()).collect();
    let mut open: Vec<bool> = change
        .iter()
        .map(|c| f64::from(*c) >= config.search_moved_levels)
        .collect();
    let share = open.iter().filter(|o| **o).count() as f64 / open.len().max(1) as f64;
    if share > config.search_moved_most {
        return Vec::new();
    }
    let mut all: Vec<(f32, [f64; 3])> = Vec::new();
    for (at, cell) in open.iter_mut().enumerate() {
        *cell &= !hidden((at % CELLS) as f64 + 0.5, (at / CELLS) as f64 + 0.5);
    }
    for start in 0..open.len() {
        let mut queue = vec![start];
        let (mut sum, mut low, mut high) = (0f32, [CELLS; 2], [0usize; 2]);
        while let Some(at) = queue.pop() {
            let Some(cell) = open.get_mut(at).filter(|o| **o) else {
                continue;
            };
            *cell = false;
            sum += change.get(at).copied().unwrap_or_default();
            let place = [at % CELLS, at / CELLS];
            for ((l, h), p) in low.iter_mut().zip(high.iter_mut()).zip(place) {
                *l = p.min(*l);
                *h = p.max(*h);
            }
            // A limb and its shadow are one: gaps of a cell are bridged.
            let [x, y] = place;
            for v in y.saturating_sub(2)..=(y + 2).min(CELLS - 1) {
                queue.extend((x.saturating_sub(2)..=(x + 2).min(CELLS - 1)).map(|u| v * CELLS + u));
            }
        }
        if sum > 0.0 {
            let ([left, top], [right, bottom]) = (low, high);
            let middle = |from: usize, to: usize| (from + to + 1) as f64 / 2.0;
            let extent = (right + 1 - left).max(bottom + 1 - top) as f64;
            all.push((sum, [middle(left, right), middle(top, bottom), extent]));
        }
    }
    all.sort_by(|a, b| b.0.total_cmp(&a.0));
    all.into_iter().map(|(_, place)| place).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::Pipeline;

    fn looked(patches: &[([usize; 2], [usize; 2])], known: Option<&Region>) -> Vec<Region> {
        let config = Pipeline::default().pose;
        let before = vec![80f32; CELLS * CELLS];
        let mut now = before.clone();
        for (low, high) in patches {
            for y in low[1]..high[1] {
                for x in low[0]..high[0] {
                    now[y * CELLS + x] = 140.0;
                }
            }
        }
        // 1120 x 560: a cell is 10 pixels, the picture lies in the middle rows.
        let image = image::RgbImage::new(1120, 560).into();
        squares(&before, &now, &image, known, &config)
    }

    #[test]
    fn the_liveliest_place_is_looked_at_in_pixels_of_the_picture() {
        let patches = [([10, 40], [12, 41]), ([60, 50], [64, 58])];
        let found = looked(&patches, None);
        assert_eq!(found.len(), 4);
        for square in found.iter().take(2) {
            assert!((square.centre_px[0] - 620.0).abs() < 1e-9, "{square:?}");
            assert!((square.centre_px[1] - 260.0).abs() < 1e-9, "{square:?}");
            assert!(square.side_px > 80.0);
        }
        let known = Region {
            centre_px: [620.0, 260.0],
            side_px: 200.0,
            roll_rad: 0.0,
        };
        let others = looked(&patches, Some(&known));
        assert_eq!(others.len(), 2);
        assert!(others[0].centre_px[0] < 200.0);
    }

    #[test]
    fn stillness_and_a_pan_of_the_camera_show_nothing() {
        assert!(looked(&[], None).is_empty());
        assert!(looked(&[([0, 28], [CELLS, 84])], None).is_empty());
    }
}
