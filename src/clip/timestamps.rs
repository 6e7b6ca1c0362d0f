//! One clock from the stamps that frames carry. Stamps that stand still or step back a little carry
//! no time, and their frames are left out. Stamps that jump and come back are wrong, and their
//! frames are put between their neighbours. Stamps that jump and stay are a gap when they jump
//! forward, which stays a gap, and a clock that was set back otherwise, which goes on.

/// A step of this many frames is a jump. Phones leave out a frame or two in poor light.
const JUMP_FRAMES: f64 = 3.5;
/// Frames that wait for what comes after a jump. As many pictures are held in memory.
const MOST_HELD: usize = 4;

/// Takes frames in display order with the stamps that they carry, and gives them with their times.
#[derive(Debug)]
pub struct TimestampRepair<T> {
    /// The nominal step between frames, seconds.
    step_s: f64,
    /// Added to the stamps since the clock was last set back.
    shift_s: f64,
    last_s: Option<f64>,
    held: Vec<(f64, T)>,
}

impl<T> TimestampRepair<T> {
    pub fn new(step_s: f64) -> Self {
        Self {
            step_s,
            shift_s: 0.0,
            last_s: None,
            held: Vec::new(),
        }
    }

    fn jumps(&self, from_s: f64, to_s: f64) -> bool {
        (to_s - from_s).abs() > JUMP_FRAMES * self.step_s
    }

    /// One frame more. Those whose times are now known are appended to `out`.
    pub fn push(&mut self, stamp_s: Option<f64>, frame: T, out: &mut Vec<(f64, T)>) {
        let before = self.held.last().map(|h| h.0).or(self.last_s);
        // Without a stamp a frame follows the one before by the nominal step.
        let at = match (stamp_s, before) {
            (Some(s), _) => s + self.shift_s,
            (None, Some(b)) => b + self.step_s,
            (None, None) => 0.0,
        };
        let Some(last) = self.last_s else {
            self.last_s = Some(at);
            out.push((at, frame));
            return;
        };
        if self.held.is_empty() {
            if self.jumps(last, at) {
                self.held.push((at, frame));
            } else if at > last {
                self.last_s = Some(at);
                out.push((at, frame));
            }
            return;
        }
        let back = at > last && !self.jumps(last, at - self.held.len() as f64 * self.step_s);
        if back {
            self.put_between(last, at, out);
            self.last_s = Some(at);
            out.push((at, frame));
            return;
        }
        self.held.push((at, frame));
        if self.held.len() > MOST_HELD {
            self.accept(last, out);
        }
    }

    /// The clip is over: what was held is as its stamps say.
    pub fn finish(&mut self, out: &mut Vec<(f64, T)>) {
        if let Some(last) = self.last_s {
            self.accept(last, out);
        }
    }

    /// The held frames' stamps were wrong: they lie evenly between their neighbours.
    fn put_between(&mut self, from_s: f64, to_s: f64, out: &mut Vec<(f64, T)>) {
        let parts = self.held.len() as f64 + 1.0;
        for (i, (_, frame)) in self.held.drain(..).enumerate() {
            out.push((from_s + (to_s - from_s) * (i as f64 + 1.0) / parts, frame));
        }
    }

    /// The jump stays: a gap, or a clock that was set back.
    fn accept(&mut self, last_s: f64, out: &mut Vec<(f64, T)>) {
        let Some(first_s) = self.held.first().map(|h| h.0) else {
            return;
        };
        let more = if first_s > last_s {
            0.0
        } else {
            last_s + self.step_s - first_s
        };
        self.shift_s += more;
        let mut last = last_s;
        for (at, frame) in self.held.drain(..) {
            if at + more > last {
                last = at + more;
                out.push((last, frame));
            }
        }
        self.last_s = Some(last);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Times of frames numbered from 0 that carry `stamps`, at ten frames a second.
    fn times(stamps: &[Option<f64>]) -> Vec<(f64, usize)> {
        let mut clock = TimestampRepair::new(0.1);
        let mut out = Vec::new();
        for (i, s) in stamps.iter().enumerate() {
            clock.push(*s, i, &mut out);
        }
        clock.finish(&mut out);
        out
    }

    fn close(found: &[(f64, usize)], wanted: &[(f64, usize)]) {
        assert_eq!(found.len(), wanted.len(), "{found:?}");
        for (f, w) in found.iter().zip(wanted) {
            assert!((f.0 - w.0).abs() < 1e-9 && f.1 == w.1, "{found:?}");
        }
    }

    fn stamps(s: &[f64]) -> Vec<Option<f64>> {
        s.iter().copied().map(Some).collect()
    }

    #[test]
    fn plain_stamps_are_times_and_a_missing_one_follows() {
        let found = times(&[Some(5.0), Some(5.1), None, Some(5.3)]);
        close(&found, &[(5.0, 0), (5.1, 1), (5.2, 2), (5.3, 3)]);
    }

    #[test]
    fn stamps_twice_and_a_little_back_are_left_out() {
        let found = times(&stamps(&[0.0, 0.1, 0.1, 0.05, 0.2]));
        close(&found, &[(0.0, 0), (0.1, 1), (0.2, 4)]);
    }

    #[test]
    fn a_jump_that_comes_back_costs_no_frame() {
        for wrong in [9.0, -9.0] {
            let found = times(&stamps(&[0.0, 0.1, wrong, wrong + 0.1, 0.4, 0.5]));
            close(
                &found,
                &[(0.0, 0), (0.1, 1), (0.2, 2), (0.3, 3), (0.4, 4), (0.5, 5)],
            );
        }
    }

    #[test]
    fn a_gap_stays_a_gap() {
        let found = times(&stamps(&[0.0, 0.1, 2.0, 2.1, 2.2, 2.3, 2.4, 2.5]));
        let wanted: Vec<(f64, usize)> = [0.0, 0.1, 2.0, 2.1, 2.2, 2.3, 2.4, 2.5]
            .into_iter()
            .zip(0..)
            .collect();
        close(&found, &wanted);
        // At the clip's end nothing comes after it.
        close(&times(&stamps(&[0.0, 2.0])), &[(0.0, 0), (2.0, 1)]);
    }

    #[test]
    fn a_clock_set_back_goes_on() {
        let found = times(&stamps(&[7.0, 7.1, 7.2, 0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6]));
        let wanted: Vec<(f64, usize)> = (0..10).map(|i| (7.0 + 0.1 * i as f64, i)).collect();
        close(&found, &wanted);
    }

    #[test]
    fn times_always_grow_and_nothing_is_invented() {
        use proptest::prelude::*;
        proptest!(|(s in proptest::collection::vec(proptest::option::of(-3.0..3.0f64), 0..60))| {
            let found = times(&s);
            prop_assert!(found.windows(2).all(|w| w[0].0 < w[1].0 && w[0].1 < w[1].1));
        });
    }
}
