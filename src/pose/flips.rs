//! Whether a torso crop is read as it is, mirrored, or both.

use serde::{Deserialize, Serialize};

use crate::config::PoseConfig;

/// The images of a crop that the torso network reads. It errs otherwise on a crop than on its mirror
/// image, so the mean of both is the better reading, at twice the cost. Where frames follow closely
/// one image of each does, by turns: the smoothing over time then takes the mean of neighbours.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum FlipAugmentation {
    /// The crop as it is.
    Plain,
    /// Its mirror image.
    Mirrored,
    /// The mean of both.
    Both,
}

impl FlipAugmentation {
    /// What to read of a crop at `time_s`; `former`: when the crop before it in the same stretch of
    /// tracking was read, and what of it. A crop without a near one before it is read in both images,
    /// as nothing else would make up for the half that is left out.
    pub fn after(former: Option<(f64, Self)>, time_s: f64, config: &PoseConfig) -> Self {
        if !config.mirror_average {
            return Self::Plain;
        }
        match former {
            Some((at_s, images)) if time_s - at_s < config.mirror_alternate_s => match images {
                Self::Plain => Self::Mirrored,
                Self::Mirrored | Self::Both => Self::Plain,
            },
            _ => Self::Both,
        }
    }

    /// Runs of the network.
    pub fn runs(self) -> usize {
        match self {
            Self::Plain | Self::Mirrored => 1,
            Self::Both => 2,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::Pipeline;

    use FlipAugmentation::{Both as B, Mirrored as M, Plain as P};

    /// What is read of crops at these times of one stretch.
    fn read(times_s: &[f64], settings: &str) -> Vec<FlipAugmentation> {
        let config = Pipeline::from_text(&format!("[pose]\n{settings}"))
            .expect("valid")
            .pose;
        let mut former = None;
        times_s
            .iter()
            .map(|t| {
                let images = FlipAugmentation::after(former, *t, &config);
                former = Some((*t, images));
                images
            })
            .collect()
    }

    fn steady(fps: f64) -> Vec<f64> {
        (0..6).map(|i| 100.0 + f64::from(i) / fps).collect()
    }

    #[test]
    fn at_60_frames_a_second_and_more_images_take_turns_and_at_30_both_are_read() {
        for fps in [50.0, 59.94, 120.0, 240.0] {
            assert_eq!(read(&steady(fps), ""), [B, P, M, P, M, P], "{fps}");
        }
        for fps in [15.0, 24.0, 29.97, 30.0] {
            assert_eq!(read(&steady(fps), ""), [B; 6], "{fps}");
        }
    }

    #[test]
    fn after_a_gap_both_are_read_and_the_turns_begin_anew() {
        let times = [0.0, 0.01, 0.02, 0.06, 0.07, 0.08];
        assert_eq!(read(&times, ""), [B, P, M, B, P, M]);
        let times = [0.0, 0.01, 0.04, 0.05];
        assert_eq!(read(&times, ""), [B, P, B, P]);
    }

    #[test]
    fn a_time_of_zero_reads_both_always_and_no_averaging_reads_plain_always() {
        assert_eq!(read(&steady(240.0), "mirror_alternate_s = 0"), [B; 6]);
        assert_eq!(read(&[1.0, 1.0], "mirror_alternate_s = 0.0"), [B; 2]);
        for fps in [30.0, 240.0] {
            assert_eq!(read(&steady(fps), "mirror_average = false"), [P; 6]);
        }
    }
}
