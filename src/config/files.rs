//! Where the model files and the runtime library are.

use std::path::PathBuf;

/// The model files by what they do.
pub const DETECTOR: &str = "pose_detection.onnx";
pub const LANDMARKS: &str = "pose_landmark_full_hm.onnx";
pub const TORSO: &str = "torso.onnx";

/// Overrides the folder of the model files.
pub const MODELS_VARIABLE: &str = "QUARTERTURN_MODELS";
/// Overrides the file of the runtime library.
pub const RUNTIME_VARIABLE: &str = "QUARTERTURN_RUNTIME";

/// The result of looking for a file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Found {
    At(PathBuf),
    /// The folders that were looked in, in order.
    Nowhere(Vec<PathBuf>),
}

/// Folders that may hold `models/` and `runtime/`: beside the program, in the user's data folder,
/// in the source tree that the program was built from.
fn homes() -> Vec<PathBuf> {
    let mut homes = Vec::new();
    if let Ok(exe) = std::env::current_exe()
        && let Some(folder) = exe.parent()
    {
        homes.push(folder.to_owned());
    }
    let data = if cfg!(windows) {
        std::env::var_os("LOCALAPPDATA").map(PathBuf::from)
    } else if cfg!(target_os = "macos") {
        std::env::var_os("HOME").map(|h| PathBuf::from(h).join("Library/Application Support"))
    } else {
        std::env::var_os("XDG_DATA_HOME")
            .map(PathBuf::from)
            .or_else(|| std::env::var_os("HOME").map(|h| PathBuf::from(h).join(".local/share")))
    };
    if let Some(data) = data {
        homes.push(data.join("quarterturn"));
    }
    homes.push(PathBuf::from(env!("CARGO_MANIFEST_DIR")));
    homes
}

/// Finds a model file by its name.
pub fn model(name: &str) -> Found {
    if let Some(folder) = std::env::var_os(MODELS_VARIABLE) {
        let folder = PathBuf::from(folder);
        let path = folder.join(name);
        return if path.is_file() {
            Found::At(path)
        } else {
            Found::Nowhere(vec![folder])
        };
    }
    look(
        homes().into_iter().map(|h| h.join("models")).collect(),
        &[name],
    )
}

/// Finds the runtime library.
pub fn runtime() -> Found {
    if let Some(file) = std::env::var_os(RUNTIME_VARIABLE) {
        let path = PathBuf::from(file);
        return if path.is_file() {
            Found::At(path)
        } else {
            Found::Nowhere(vec![path])
        };
    }
    let names: &[&str] = if cfg!(windows) {
        &["onnxruntime.dll"]
    } else if cfg!(target_os = "macos") {
        &["libonnxruntime.1.32.0.dylib", "libonnxruntime.dylib"]
    } else {
        &["libonnxruntime.so.1.32.0", "libonnxruntime.so"]
    };
    let mut folders: Vec<PathBuf> = homes().into_iter().map(|h| h.join("runtime")).collect();
    if cfg!(unix) {
        folders.push(PathBuf::from("/usr/local/lib"));
        folders.push(PathBuf::from("/usr/lib"));
    }
    look(folders, names)
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

/// Everything that measuring needs, by name.
pub fn needed() -> Vec<(&'static str, Found)> {
    vec![
        ("person detector", model(DETECTOR)),
        ("landmark network", model(LANDMARKS)),
        ("torso network", model(TORSO)),
        ("runtime library", runtime()),
    ]
}
