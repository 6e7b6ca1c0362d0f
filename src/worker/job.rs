//! What a worker is asked on its standard input and answers on its standard output, a line of JSON
//! each.

use std::ffi::OsString;

use serde::{Deserialize, Serialize};

use crate::agreement::Calibration;
use crate::config::Pipeline;
use crate::measure::{Options, Refusal};
use crate::report::References;
use crate::terms::Role;

/// What a worker is to do.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub enum Job {
    /// Measure a swing; the answer holds nothing, the result is in its folder.
    Measure(Box<Measurement>),
    /// Tell what a clip holds before it is measured.
    Inspect(Box<Inspection>),
}

/// What came of a job: its answer, or why there is none.
pub type Answer<T> = Result<T, Refusal>;

/// A clip of a swing. Names of files may be in no encoding at all.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct JobClip {
    /// Its whole path.
    pub path: OsString,
    /// `None`: found from the pictures.
    pub role: Option<Role>,
    /// From and to, seconds of playback; `None` for the whole clip.
    pub part: Option<(f64, f64)>,
}

/// What the user gave for every swing alike, read and checked.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct Given {
    /// Without clips and their parts.
    pub options: Options,
    /// The ranges that a report sets beside the numbers.
    pub references: References,
    /// The studio calibration that is applied.
    pub calibration: Option<Calibration>,
}

/// One swing to be measured.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Measurement {
    /// One or two.
    pub clips: Vec<JobClip>,
    /// The folder that the result's folder is made in.
    pub out: OsString,
    /// Whether a result of the same name is replaced.
    pub replace: bool,
    pub given: Given,
}

/// One clip to be looked into.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Inspection {
    /// Its whole path.
    pub clip: OsString,
    /// The values to read it by.
    pub pipeline: Pipeline,
    /// Whether every picture is decoded too.
    #[serde(default)]
    pub frames: bool,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_job_arrives_as_it_was_sent() {
        let mut given = Given {
            references: References::load(None).expect("built in"),
            ..Given::default()
        };
        given.options.typed_in.player = Some("--out=/elsewhere\n\"".into());
        given.options.time_scale = Some(29.97);
        let clip = JobClip {
            path: OsString::from("a b.mp4"),
            role: Some(Role::FaceOn),
            part: Some((1.5, 2.25)),
        };
        #[cfg(unix)]
        let clip = JobClip {
            path: std::os::unix::ffi::OsStringExt::from_vec(vec![b'a', 0xff, b'\n']),
            ..clip
        };
        let job = Job::Measure(Box::new(Measurement {
            clips: vec![clip.clone()],
            out: "out".into(),
            replace: false,
            given: given.clone(),
        }));
        let line = serde_json::to_string(&job).expect("JSON");
        assert!(!line.contains('\n'));
        let Ok(Job::Measure(back)) = serde_json::from_str(&line) else {
            panic!("{line}");
        };
        assert_eq!(back.clips[0].path, clip.path);
        assert_eq!(back.given.options.pipeline, given.options.pipeline);
        assert_eq!(back.given.options.typed_in, given.options.typed_in);
        assert_eq!(back.given.references, given.references);
    }
}
