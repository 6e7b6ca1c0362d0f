//! Where the model files and the runtime library are.

use std::path::PathBuf;

use etcetera::BaseStrategy;

use super::system::System;

/// Overrides the folder of the model files.
const MODELS_VARIABLE: &str = "QUARTERTURN_MODELS";
/// Overrides the file of the runtime library.
const RUNTIME_VARIABLE: &str = "QUARTERTURN_RUNTIME";

/// A file that measuring needs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Needed {
    /// The network that finds people in a picture.
    Detector,
    /// The network that reads 33 landmarks of one person.
    Landmarks,
    /// The network that reads the rotations of pelvis and thorax.
    Torso,
    /// The library that runs the networks.
    Runtime,
}

/// The result of looking for a file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Found {
    /// The file.
    At(PathBuf),
    /// The folders that were looked in, in order.
    Nowhere(Vec<PathBuf>),
}

impl Needed {
    /// All, in the order in which they are checked.
    pub const ALL: [Self; 4] = [Self::Detector, Self::Landmarks, Self::Torso, Self::Runtime];

    /// What it is, for a person.
    pub fn words(self) -> &'static str {
        match self {
            Self::Detector => "person detector",
            Self::Landmarks => "landmark network",
            Self::Torso => "torso network",
            Self::Runtime => "runtime library",
        }
    }

    /// What to do where it is missing.
    pub fn advice(self, system: System) -> &'static str {
        if PACKAGED {
            return "It came with quarterturn. Install quarterturn again; docs/install.md says how.";
        }
        match self {
            Self::Runtime => system.runtime_advice(),
            Self::Detector | Self::Landmarks | Self::Torso => {
                "Copy the project's models folder into one of these places, name it in QUARTERTURN_MODELS, or run `bash pipelines/first-run.sh` in the project's folder."
            }
        }
    }

    /// Looks for it.
    pub fn found(self) -> Found {
        match self {
            Self::Detector => model("pose_detection.onnx"),
            Self::Landmarks => model("pose_landmark_full_hm.onnx"),
            Self::Torso => model("torso.onnx"),
            Self::Runtime => runtime(),
        }
    }
}

/// Whether this program is a release's: it carries what it needs, and the place where it was built
/// is nobody's business.
const PACKAGED: bool = option_env!("QUARTERTURN_PACKAGED").is_some();

/// Folders that may hold `models/` and `runtime/`: beside the program, in the user's data folder,
/// and, unless it is a release's, in the source tree that the program was built from.
fn homes() -> Vec<PathBuf> {
    let mut homes = Vec::new();
    if let Ok(exe) = std::env::current_exe()
        && let Some(folder) = exe.parent()
    {
        homes.push(folder.to_owned());
    }
    homes.extend(
        etcetera::base_strategy::choose_native_strategy().map(|s| s.data_dir().join("quarterturn")),
    );
    if !PACKAGED {
        homes.push(PathBuf::from(env!("CARGO_MANIFEST_DIR")));
    }
    homes
}

fn model(name: &str) -> Found {
    if let Some(folder) = std::env::var_os(MODELS_VARIABLE) {
        return look(vec![folder.into()], &[name]);
    }
    look(
        homes().into_iter().map(|h| h.join("models")).collect(),
        &[name],
    )
}

fn runtime() -> Found {
    if let Some(file) = std::env::var_os(RUNTIME_VARIABLE) {
        let path = PathBuf::from(file);
        return if path.is_file() {
            Found::At(path)
        } else {
            Found::Nowhere(vec![path])
        };
    }
    let system = System::here();
    let mut folders: Vec<PathBuf> = homes().into_iter().map(|h| h.join("runtime")).collect();
    folders.extend(system.library_folders().iter().map(PathBuf::from));
    look(folders, system.library_names())
}

fn look(folders: Vec<PathBuf>, names: &[&str]) -> Found {
    for folder in &folders {
        for name in names {
            let path = folder.join(name);
            if path.is_file() {
                return Found::At(path);
            }
        }
    }
    Found::Nowhere(folders)
}
