//! Sessions of the three networks, one thread each: several sessions of one thread beat one of
//! several, and do not collapse when something else runs.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use ndarray::{ArrayView4, ArrayViewD};
use ort::environment::Environment;
use ort::session::builder::SessionBuilder;
use ort::session::{Session, SessionOutputs};
use ort::value::TensorRef;

use super::error::PoseError;
use super::library;
use super::provider::Provider;
use crate::config::checksum::sha256;
use crate::config::files::{Found, Needed};
use crate::config::system::System;

/// Where the model files and the runtime library are.
#[derive(Clone, Debug)]
pub struct ModelFiles {
    /// Finds people in a picture.
    pub detector: PathBuf,
    /// Reads 33 landmarks of one person.
    pub landmarks: PathBuf,
    /// Reads the rotations of pelvis and thorax.
    pub torso: PathBuf,
    /// The library that runs them.
    pub runtime: PathBuf,
    /// What the networks run on; see [`ModelFiles::run_on`].
    pub provider: Provider,
}

impl ModelFiles {
    /// Finds all files, or names the first that is missing.
    ///
    /// # Errors
    /// [`PoseError::Missing`] with the folders that were looked in.
    pub fn find() -> Result<Self, PoseError> {
        let at = |needed: Needed| match needed.found() {
            Found::At(path) => Ok(path),
            Found::Nowhere(looked) => Err(PoseError::Missing {
                what: needed.words(),
                looked: looked
                    .iter()
                    .map(|p| p.display().to_string())
                    .collect::<Vec<_>>()
                    .join(", "),
                advice: needed.advice(System::here()),
            }),
        };
        Ok(Self {
            detector: at(Needed::Detector)?,
            landmarks: at(Needed::Landmarks)?,
            torso: at(Needed::Torso)?,
            runtime: at(Needed::Runtime)?,
            provider: Provider::Processor,
        })
    }

    /// SHA-256 of each network's file, by its name.
    ///
    /// # Errors
    /// [`PoseError::Model`] where a file can't be read.
    pub fn checksums(&self) -> Result<BTreeMap<String, String>, PoseError> {
        [
            (Needed::Detector, &self.detector),
            (Needed::Landmarks, &self.landmarks),
            (Needed::Torso, &self.torso),
        ]
        .into_iter()
        .map(|(needed, path)| match sha256(path) {
            Ok(sum) => Ok((needed.words().to_owned(), sum)),
            Err(e) => Err(PoseError::Model {
                path: path.clone(),
                detail: e.to_string(),
            }),
        })
        .collect()
    }
}

static ENVIRONMENT: OnceLock<Result<Environment, String>> = OnceLock::new();

/// Loads the runtime once in a process.
fn environment(runtime: &Path) -> Result<&'static Environment, PoseError> {
    ENVIRONMENT
        .get_or_init(|| {
            if let Some(why) = library::refused(runtime) {
                return Err(why);
            }
            ort::init_from(runtime)
                .map_err(|e| e.to_string())?
                .build()
                .map_err(|e| e.to_string())
        })
        .as_ref()
        .map_err(|detail| PoseError::Runtime {
            path: runtime.to_owned(),
            detail: detail.clone(),
        })
}

/// Whether the runtime library loads.
///
/// # Errors
/// [`PoseError::Runtime`] where it does not load, or is not the pinned one where only that is loaded.
pub fn try_runtime(runtime: &Path) -> Result<(), PoseError> {
    environment(runtime).map(|_| ())
}

/// Shows a network its one input: a batch of one picture, in the network's own order of axes.
pub fn run<'s>(
    session: &'s mut Session,
    image: &ArrayView4<'_, f32>,
) -> Result<Outputs<'s>, PoseError> {
    run_told(session, image, &[])
}

/// The same for a network that may ask more, yes or no: it is told what it has an input for.
pub fn run_told<'s>(
    session: &'s mut Session,
    image: &ArrayView4<'_, f32>,
    told: &[(&'static str, bool)],
) -> Result<Outputs<'s>, PoseError> {
    let network = |e: ort::Error| PoseError::Network(e.to_string());
    let tensor = TensorRef::from_array_view(*image).map_err(network)?;
    let mut inputs = ort::inputs!["image" => tensor];
    for (question, answer) in told {
        if session.inputs().iter().any(|i| i.name() == *question) {
            let answer = ort::value::Tensor::from_array(([1], vec![*answer])).map_err(network)?;
            inputs.push(((*question).into(), answer.into()));
        }
    }
    session.run(inputs).map(Outputs).map_err(network)
}

/// What a network said.
pub struct Outputs<'s>(SessionOutputs<'s>);

impl Outputs<'_> {
    /// The numbers of one output, in its own shape.
    pub fn get(&self, name: &str) -> Result<ArrayViewD<'_, f32>, PoseError> {
        self.0
            .get(name)
            .ok_or_else(|| PoseError::Network(format!("it gave no output named {name}")))?
            .try_extract_array::<f32>()
            .map_err(|e| PoseError::Network(e.to_string()))
    }

    /// The same in a row.
    pub fn numbers(&self, name: &str) -> Result<Vec<f64>, PoseError> {
        Ok(self.get(name)?.iter().map(|x| f64::from(*x)).collect())
    }
}

/// Rows of RGB pixels as a batch of one picture of `side` × `side` pixels: [1, row, column, colour].
pub fn batch(rows: &[f32], side: usize) -> Result<ArrayView4<'_, f32>, PoseError> {
    ArrayView4::from_shape((1, side, side, 3), rows).map_err(|e| PoseError::Network(e.to_string()))
}

/// Opens one of the models, with one thread, on what the files say, and checks that it has the outputs
/// that are asked of it.
///
/// # Errors
/// [`PoseError`] where the file, the runtime library or what the networks are to run on fails.
pub fn open(files: &ModelFiles, path: &Path, outputs: &[&str]) -> Result<Session, PoseError> {
    let environment = environment(&files.runtime)?;
    let model = |detail: String| PoseError::Model {
        path: path.to_owned(),
        detail,
    };
    let bytes = std::fs::read(path).map_err(|e| model(e.to_string()))?;
    let build = || -> Result<Session, String> {
        SessionBuilder::new(environment)
            .map_err(|e| e.to_string())?
            .with_intra_threads(1)
            .map_err(|e| e.to_string())?
            .with_inter_threads(1)
            .map_err(|e| e.to_string())?
            .with_execution_providers(files.provider.dispatch().as_slice())
            .map_err(|e| e.to_string())?
            .commit_from_memory(&bytes)
            .map_err(|e| e.to_string())
    };
    let session = build().map_err(model)?;
    let names: Vec<&str> = session.outputs().iter().map(|o| o.name()).collect();
    match outputs.iter().find(|o| !names.contains(o)) {
        Some(missing) => Err(model(format!("it has no output named {missing}"))),
        None => Ok(session),
    }
}
