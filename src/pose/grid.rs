//! Which frames of a clip are read: a sparse grid over all of it, and closer ones where asked.
//!
//! Frames are counted in ticks of at most so many a second. A tick's number says whether its crop is
//! read plain or mirrored, so that frames that follow each other in any odd step take turns, whenever
//! they are read, and reading every tick gives the readings of the grid and those between.

use std::collections::BTreeSet;

use super::flips::FlipAugmentation;
use crate::clip::FrameTimes;
use crate::config::PoseConfig;

/// A part of a clip to be read closely, seconds of playback.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Window {
    /// Its beginning.
    pub from_s: f64,
    /// Its end.
    pub to_s: f64,
    /// Longest time from one frame that is read to the next.
    pub every_s: f64,
}

/// The grid of one clip.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Grid {
    /// Frames in a tick.
    tick: usize,
    tick_s: f64,
    /// Ticks from one sparse look to the next, an odd number.
    stride: usize,
}

/// The odd number nearest to `n`, the smaller of two; at least 1.
fn odd(n: f64) -> usize {
    let half = ((n - 1.0) / 2.0 - 1e-6).round().max(0.0);
    2 * half as usize + 1
}

impl Grid {
    /// `None` where the clip has hardly more frames than a sparse look wants.
    pub fn of(times: &FrameTimes, config: &PoseConfig) -> Option<Self> {
        let step_s = times.step_s();
        if step_s <= 0.0 {
            return None;
        }
        // A rate that is a little over is as good as even.
        let tick = (1.05 / (step_s * config.read_most_per_s)).floor().max(1.0) as usize;
        let tick_s = tick as f64 * step_s;
        let stride = odd(1.0 / (tick_s * config.look_per_s));
        (stride > 1).then_some(Self {
            tick,
            tick_s,
            stride,
        })
    }

    /// The sparse look over a part of the clip: every stride, and the part's ends.
    pub fn sparse(&self, frames: std::ops::Range<usize>) -> Vec<usize> {
        let step = self.tick * self.stride;
        let mut all: BTreeSet<usize> = (frames.start.div_ceil(step)..)
            .map(|k| k * step)
            .take_while(|f| *f < frames.end)
            .collect();
        let last = frames.end.saturating_sub(1);
        all.extend(
            [frames.start, last - last % self.tick]
                .iter()
                .filter(|f| frames.contains(f)),
        );
        all.into_iter().collect()
    }

    /// Frames of windows, those of the sparse look among them.
    pub fn close(
        &self,
        windows: &[Window],
        times: &FrameTimes,
        part: std::ops::Range<usize>,
    ) -> BTreeSet<usize> {
        let mut all = BTreeSet::new();
        for w in windows {
            let most = (w.every_s / self.tick_s + 1e-6).floor().max(1.0) as usize;
            // An odd step keeps plain and mirrored in turns.
            let step = self.tick * (most - usize::from(most.is_multiple_of(2)));
            let frames = times.within(w.from_s, w.to_s);
            // From one sparse look to another, so that turns go on across the ends.
            let sparse = self.tick * self.stride;
            let from = frames.start / sparse * sparse;
            let to = frames.end.div_ceil(sparse) * sparse;
            let inside = (from.div_ceil(step)..=to / step).map(|k| k * step);
            all.extend(inside.filter(|f| part.contains(f)));
        }
        all
    }

    /// What is read of a frame's crop, when the one before it was read `gap_s` ago. One that stands
    /// alone is read in both images, and so is every one of a slow clip.
    pub fn images(
        &self,
        frame: usize,
        gap_s: Option<f64>,
        config: &PoseConfig,
    ) -> FlipAugmentation {
        if !config.mirror_average {
            return FlipAugmentation::Plain;
        }
        let near = gap_s.is_some_and(|g| g < config.mirror_alternate_sparse_s);
        if config.mirror_alternate_s <= self.tick_s || !near {
            return FlipAugmentation::Both;
        }
        // As when every frame is read, where the first is read in both and the next one plain.
        if (frame / self.tick).is_multiple_of(2) {
            FlipAugmentation::Mirrored
        } else {
            FlipAugmentation::Plain
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::Pipeline;

    fn clip(fps: f64, seconds: f64) -> FrameTimes {
        FrameTimes::even(fps, (fps * seconds) as usize)
    }

    fn grid(fps: f64) -> Option<Grid> {
        Grid::of(&clip(fps, 3.0), &Pipeline::default().pose)
    }

    #[test]
    fn some_twenty_a_second_are_looked_at_whatever_the_rate() {
        for fps in [50.0, 59.94, 60.0, 100.0, 119.88, 120.0, 240.0, 480.0] {
            let frames = grid(fps).expect("sparse").sparse(0..(3.0 * fps) as usize);
            let rate = frames.len() as f64 / 3.0;
            assert!((16.0..26.0).contains(&rate), "{fps}: {rate}");
        }
        for fps in [15.0, 24.0, 25.0, 30.0] {
            assert_eq!(grid(fps), None, "{fps}");
        }
    }

    #[test]
    fn windows_reach_60_a_second_and_no_more() {
        for (fps, most) in [
            (50.0, 50.0),
            (60.0, 60.0),
            (120.0, 60.0),
            (240.0, 60.0),
            (480.0, 60.0),
        ] {
            let (times, g) = (clip(fps, 3.0), grid(fps).expect("sparse"));
            let window = Window {
                from_s: 1.0,
                to_s: 2.0,
                every_s: 0.001,
            };
            let n = g.close(&[window], &times, 0..times.len()).len() as f64;
            assert!((most..most + 20.0).contains(&n), "{fps}: {n}");
        }
    }

    #[test]
    fn plain_and_mirrored_take_turns_on_the_grid_in_windows_and_across_their_ends() {
        let config = Pipeline::default().pose;
        for fps in [50.0, 60.0, 120.0, 240.0] {
            let (times, g) = (clip(fps, 3.0), grid(fps).expect("sparse"));
            let window = Window {
                from_s: 1.03,
                to_s: 1.41,
                every_s: 0.001,
            };
            let mut all = g.close(&[window], &times, 0..times.len());
            all.extend(g.sparse(0..times.len() - 7));
            let read: Vec<FlipAugmentation> = all
                .iter()
                .take_while(|f| **f < times.len() - 10)
                .map(|f| g.images(*f, Some(0.05), &config))
                .collect();
            assert!(read.array_windows().all(|[a, b]| a != b), "{fps}: {read:?}");
            assert_eq!(g.images(0, None, &config), FlipAugmentation::Both);
            assert_eq!(g.images(3, Some(0.3), &config), FlipAugmentation::Both);
        }
    }
}
