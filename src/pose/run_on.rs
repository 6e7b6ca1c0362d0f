//! Networks are run on what was asked for only after it was tried, on a made picture, against the
//! processor: it must be there, and its numbers must be the same.

use ort::ep::{self, ExecutionProvider};

use super::error::PoseError;
use super::flips::FlipAugmentation;
use super::observation::{Region, TorsoReading};
use super::provider::Provider;
use super::session::{self, ModelFiles};
use super::torso;
use crate::clip::Picture;
use crate::math::rotation::{log, nearest_rotation};
use crate::warning::Warning;

/// Largest difference of a rotation from the processor's, degrees: a tenth of what is printed.
const SAME_DEG: f64 = 0.1;

impl Provider {
    /// Whether the runtime library that was loaded was built with it. It may still not run here.
    pub fn offered(self, files: &ModelFiles) -> bool {
        let known = match self {
            Self::Processor => return true,
            // The question is the library's: it must be loaded first.
            _ if session::try_runtime(&files.runtime).is_err() => return false,
            Self::Cuda => ep::CUDA::is_available(),
            Self::CoreMl => ep::CoreML::is_available(),
            Self::DirectMl => ep::DirectML::is_available(),
            Self::OpenVino => ep::OpenVINO::is_available(),
            Self::Xnnpack => ep::XNNPACK::is_available(),
        };
        known.unwrap_or(false)
    }
}

impl ModelFiles {
    /// The files with the networks to run on `wanted`, where it is there and gives the same numbers;
    /// else on the processor, with a warning that says why.
    ///
    /// # Errors
    /// [`PoseError`] where the processor itself can't run the network.
    pub fn run_on(self, wanted: Provider) -> Result<(Self, Option<Warning>), PoseError> {
        let own = Self {
            provider: Provider::Processor,
            ..self
        };
        if wanted == Provider::Processor {
            return Ok((own, None));
        }
        let why = if wanted.offered(&own) {
            let asked = Self {
                provider: wanted,
                ..own.clone()
            };
            match seen(&asked) {
                Ok(theirs) => match differ_deg(&seen(&own)?, &theirs) {
                    Some(d) if d <= SAME_DEG => return Ok((asked, None)),
                    Some(d) => format!(
                        "its numbers differ from the processor's by {d:.1} degrees on a test picture"
                    ),
                    None => "it read nothing in a test picture".to_owned(),
                },
                Err(e) => format!("it could not be started ({e})"),
            }
        } else {
            "the runtime library here was built without it".to_owned()
        };
        let warning = Warning::new(
            "provider_not_used",
            format!(
                "The networks were asked to run on {}, but {why}; they ran on the processor, which is slower and reads the same.",
                wanted.key()
            ),
        );
        Ok((own, Some(warning)))
    }
}

/// What the torso network reads in a made picture.
fn seen(files: &ModelFiles) -> Result<Option<TorsoReading>, PoseError> {
    const SIDE: u32 = 256;
    // Something with edges and slopes; what it shows doesn't matter.
    let picture: Picture = image::RgbImage::from_fn(SIDE, SIDE, |x, y| {
        let body = (96..160).contains(&x) && (32..224).contains(&y);
        let v = |k: u32| ((x * (3 + k) + y * (7 - k)) % 97 + if body { 120 } else { 20 }) as u8;
        image::Rgb([v(0), v(1), v(2)])
    })
    .into();
    let region = Region {
        centre_px: [f64::from(SIDE) / 2.0; 2],
        side_px: f64::from(SIDE),
        roll_rad: 0.0,
    };
    let mut torso = torso::open(files)?;
    let rows = torso::rows(&picture, &region);
    Ok(torso::read_crop(&mut torso, &rows, &region, FlipAugmentation::Both, false)?.torso)
}

/// Largest angle between the rotations of two readings, degrees.
fn differ_deg(a: &Option<TorsoReading>, b: &Option<TorsoReading>) -> Option<f64> {
    let (a, b) = (a.as_ref()?, b.as_ref()?);
    a.crop_from_segment
        .iter()
        .zip(&b.crop_from_segment)
        .map(|(a, b)| {
            let off = nearest_rotation(a)? * nearest_rotation(b)?.inverse();
            Some(log(&off).norm().to_degrees())
        })
        .try_fold(0.0, |most: f64, d| Some(most.max(d?)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_there_falls_back_to_the_processor_and_says_so() {
        let files = ModelFiles::find().expect("the models");
        let missing = Provider::ALL.into_iter().find(|p| !p.offered(&files));
        let wanted = missing.expect("no library has them all");
        let (files, warning) = files.run_on(wanted).expect("the processor runs");
        assert_eq!(files.provider, Provider::Processor);
        let text = warning.expect("a warning").text;
        assert!(
            text.contains(wanted.key()) && text.contains("ran on the processor"),
            "{text}"
        );
    }

    #[test]
    fn the_processor_is_used_without_a_word_and_reads_the_same_twice() {
        let (files, warning) = ModelFiles::find()
            .expect("the models")
            .run_on(Provider::Processor)
            .expect("it runs");
        assert_eq!(warning, None);
        let [a, b] = [(); 2].map(|()| seen(&files).expect("read"));
        assert!(differ_deg(&a, &b).expect("finite") < 1e-3);
    }

    #[test]
    fn another_reading_is_told_from_the_same() {
        let files = ModelFiles::find().expect("the models");
        let a = seen(&files).expect("read").expect("finite");
        let mut b = a.clone();
        let turn = nalgebra::Rotation3::from_euler_angles(0.0, 0.003, 0.0);
        b.crop_from_segment[1] = turn * b.crop_from_segment[1];
        let apart = differ_deg(&Some(a), &Some(b)).expect("finite");
        assert!((apart - 0.172).abs() < 0.01, "{apart}");
    }
}
