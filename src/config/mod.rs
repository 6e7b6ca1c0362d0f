//! In: the TOML files of `pipelines/`. Out: every tunable constant, typed and checked.
//!
//! `two-view.toml` is complete; a user's own file names only what differs from it.
//! Units and reasons stand beside each value in the TOML.
#![cfg_attr(not(test), deny(clippy::indexing_slicing))]

pub mod checksum;
pub mod documents;
pub mod files;
mod find;
mod learned;
mod limits;
mod look;
mod sections;
mod sets;
pub mod system;

use crate::file_error::{At, FileError};
use std::path::Path;
use std::sync::OnceLock;

pub use find::FindConfig;
pub use learned::{
    Alike, Evidence, Factor, Feature, Learned, People, Score, Segment, SegmentAngle, Shared,
    Spread, Term,
};
pub use look::LookConfig;
pub use sections::*;
use serde::{Deserialize, Serialize};
pub use sets::SetsConfig;

/// All sections of a pipeline file.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Pipeline {
    /// Decoding.
    pub clip: ClipConfig,
    /// The networks and whom they look at.
    pub pose: PoseConfig,
    /// When pictures are too odd to be read.
    pub odd: OddConfig,
    /// Finding swings.
    pub find: FindConfig,
    /// Where a swing is read closely.
    pub look: LookConfig,
    /// Which clips belong together.
    pub pair: PairConfig,
    /// Where the phones stood.
    pub camera: CameraConfig,
    /// Fusing and smoothing.
    pub body: BodyConfig,
    /// Moments and measures.
    pub swing: SwingConfig,
    /// Intervals.
    pub interval: IntervalConfig,
    /// How wide an interval may be.
    pub usable: UsableConfig,
    /// Pages, stills and videos.
    pub report: ReportConfig,
    /// Sets of swings.
    pub sets: SetsConfig,
    /// The local page.
    pub web: WebConfig,
    /// Folders.
    pub batch: BatchConfig,
    /// What `interval.calibration` names, or what comes with the program.
    #[serde(default)]
    pub learned: Learned,
}

const BUILT_IN: &str = include_str!("../../pipelines/two-view.toml");

/// Why a pipeline or calibration file can't be used.
#[derive(Debug, thiserror::Error)]
pub enum ConfigError {
    /// The file can't be read.
    #[error("{0}. Check the name given with --pipeline.")]
    Io(#[from] FileError),
    /// The file can't be understood, or a value in it makes no sense.
    #[error(
        "{origin}: {detail}. Compare it with pipelines/two-view.toml, which lists every name and unit."
    )]
    Bad {
        /// Which file, or the built-in one.
        origin: String,
        /// What is wrong.
        detail: String,
    },
}

impl ConfigError {
    fn bad(origin: impl ToString, detail: impl Into<String>) -> Self {
        Self::Bad {
            origin: origin.to_string(),
            detail: detail.into(),
        }
    }
}

impl Default for Pipeline {
    /// The values that come with the program.
    fn default() -> Self {
        // The file is part of the program, and a test loads it.
        Self::load(None).unwrap_or_else(|e| panic!("{e}"))
    }
}

impl Pipeline {
    /// The values that come with the program, with a user's file laid over them where given.
    ///
    /// # Errors
    /// [`ConfigError`] where the file can't be read, or names or values in it are not known.
    pub fn load(user_file: Option<&Path>) -> Result<Self, ConfigError> {
        let Some(path) = user_file else {
            return Self::from_table(built_in()?, "pipelines");
        };
        let text = std::fs::read_to_string(path).at(path)?;
        Self::laid_over(&text, &path.display().to_string())
    }

    /// Parses a user's file text over the built-in values; for tests and fuzzing.
    ///
    /// # Errors
    /// Those of [`Self::load`].
    pub fn from_text(text: &str) -> Result<Self, ConfigError> {
        Self::laid_over(text, "pipeline")
    }

    fn laid_over(text: &str, origin: &str) -> Result<Self, ConfigError> {
        let mut table = built_in()?;
        let own = parse(text, origin)?;
        if let Some(detail) = limits::first_fault(&own, &table, "") {
            return Err(ConfigError::bad(origin, detail));
        }
        lay_over(&mut table, own);
        Self::from_table(table, origin)
    }

    fn from_table(table: toml::Table, origin: &str) -> Result<Self, ConfigError> {
        let mut pipeline: Self = table
            .try_into()
            .map_err(|e: toml::de::Error| ConfigError::bad(origin, e.message()))?;
        let file = Path::new(&pipeline.interval.calibration);
        let named = !file.as_os_str().is_empty();
        pipeline.learned = Learned::load(named.then_some(file))?;
        Ok(pipeline)
    }
}

/// The complete pipeline, parsed once: reading it costs more than most files laid over it.
fn built_in() -> Result<toml::Table, ConfigError> {
    static PARSED: OnceLock<toml::Table> = OnceLock::new();
    if let Some(table) = PARSED.get() {
        return Ok(table.clone());
    }
    let table = parse(BUILT_IN, "pipelines/two-view.toml")?;
    Ok(PARSED.get_or_init(|| table).clone())
}

fn parse(text: &str, origin: &str) -> Result<toml::Table, ConfigError> {
    text.parse().map_err(|e: toml::de::Error| {
        ConfigError::bad(origin, e.to_string().trim().replace('\n', " "))
    })
}

/// Values of `over` replace those of `base`, table by table.
fn lay_over(base: &mut toml::Table, over: toml::Table) {
    for (key, value) in over {
        match (base.get_mut(&key), value) {
            (Some(toml::Value::Table(b)), toml::Value::Table(o)) => lay_over(b, o),
            (_, value) => {
                base.insert(key, value);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_built_in_values_load() {
        Pipeline::load(None).unwrap_or_else(|e| panic!("{e}"));
    }

    #[test]
    fn the_built_in_file_is_taken_as_a_users_own() {
        let own = Pipeline::from_text(BUILT_IN).unwrap_or_else(|e| panic!("{e}"));
        assert_eq!(own.find.chain_least, Pipeline::default().find.chain_least);
    }

    #[test]
    fn a_users_file_changes_only_what_it_names() {
        let base = Pipeline::default();
        let mine = Pipeline::from_text("[clip]\nqueue_frames = 3\n").expect("valid");
        assert_eq!(mine.clip.queue_frames, 3);
        assert_eq!(mine.pose, base.pose);
    }

    #[test]
    fn unknown_names_and_non_finite_numbers_are_refused() {
        assert!(Pipeline::from_text("[clip]\nqueue_framse = 3\n").is_err());
        assert!(Pipeline::from_text("[clip]\nmax_duration_s = nan\n").is_err());
    }

    #[test]
    fn zero_is_taken_where_it_means_never_and_nowhere_else() {
        for zero in ["0", "0.0"] {
            let text = |name: &str| format!("[pose]\n{name} = {zero}\n");
            let mine = Pipeline::from_text(&text("mirror_alternate_s")).expect("means never");
            assert_eq!(mine.pose.mirror_alternate_s, 0.0);
            assert!(Pipeline::from_text(&text("still_every_s")).is_err());
        }
    }

    #[test]
    fn values_out_of_reason_are_refused_by_their_name() {
        for (text, name) in [
            ("[clip]\nqueue_frames = 0\n", "clip.queue_frames"),
            ("[clip]\nqueue_frames = 2.5\n", "clip.queue_frames"),
            ("[clip]\nqueue_frames = 999999999999\n", "clip.queue_frames"),
            ("[camera]\nroll_sigma_deg = -1.0\n", "camera.roll_sigma_deg"),
            (
                "[pose]\nmirror_alternate_s = -0.1\n",
                "pose.mirror_alternate_s",
            ),
            ("[body]\nstudent_nu = \"four\"\n", "body.student_nu"),
            ("clip = 3\n", "clip"),
            ("[find]\nchain_least = 8.0\n", "find.chain_least"),
            ("[find]\nchain_least = -1e9\n", "find.chain_least"),
        ] {
            let error = Pipeline::from_text(text)
                .map(|_| ())
                .map_err(|e| e.to_string());
            assert!(error.is_err_and(|e| e.contains(name)), "{text}");
        }
    }
}
