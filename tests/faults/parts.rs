//! Model files, the runtime library and pipeline files that are missing or wrong.

use std::path::{Path, PathBuf};

use crate::room::{Case, Job, Room, case, face_on, read};

const DETECTOR: &str = "pose_detection.onnx";
const LANDMARKS: &str = "pose_landmark_full_hm.onnx";
const TORSO: &str = "torso.onnx";

pub const CASES: &[Case] = &[
    case("no folder of models", |r| {
        Ok(with(r, "QUARTERTURN_MODELS", r.path("nowhere")))
    }),
    case("a model is missing", |r| {
        models(r, |f| std::fs::remove_file(f.join(TORSO)).expect("removed"))
    }),
    case("a model is cut off", |r| {
        models(r, |f| replace(f, TORSO, |b| b.truncate(100_000)))
    }),
    case("a model is empty", |r| {
        models(r, |f| replace(f, DETECTOR, Vec::clear))
    }),
    case("a model is text", |r| {
        models(r, |f| replace(f, LANDMARKS, |b| *b = b"words".to_vec()))
    }),
    case("another model under its name", |r| {
        models(r, |f| {
            std::fs::copy(f.join(DETECTOR), f.join(TORSO))
                .map(|_| ())
                .expect("copied")
        })
    }),
    case("the runtime library is missing", |r| {
        Ok(with(r, "QUARTERTURN_RUNTIME", r.path("libonnxruntime.so")))
    }),
    case("the runtime library is text", |r| Ok(runtime(r, b"words"))),
    case("the runtime library is cut off", cut_runtime),
    case("another library as the runtime", other_library),
    case("pipeline: no such file", |r| {
        Ok(r.measure(&[&face_on(), &"--pipeline", &r.path("none.toml")]))
    }),
    case("pipeline: not TOML", |r| pipeline(r, b"[clip\nqueue = ")),
    case("pipeline: not UTF-8", |r| {
        pipeline(r, b"[clip]\n# \xff\xfe\n")
    }),
    case("pipeline: a name that is unknown", |r| {
        pipeline(r, b"[clip]\nqueue_framse = 3\n")
    }),
    case("pipeline: text for a number", |r| {
        pipeline(r, b"[clip]\nqueue_frames = \"three\"\n")
    }),
    case("pipeline: not a number", |r| {
        pipeline(r, b"[swing]\nstrike_from_hands = nan\n")
    }),
    case("pipeline: infinity", |r| {
        pipeline(r, b"[body]\nstudent_nu = -inf\n")
    }),
    case("pipeline: below zero", |r| {
        pipeline(r, b"[camera]\nazimuth_sigma_deg = -7.0\n")
    }),
    case("pipeline: no frames waiting", |r| {
        pipeline(r, b"[clip]\nqueue_frames = 0\n")
    }),
    case("pipeline: absurdly large", |r| {
        pipeline(r, b"[clip]\nqueue_frames = 999999999999\n")
    }),
    case("ranges: not TOML", |r| given(r, "--ranges", b"range = [")),
    case("ranges: infinity", |r| given(r, "--ranges", RANGE_INF)),
    case("calibration: not TOML or JSON", |r| {
        given(r, "--calibration", b"{[")
    }),
];

const RANGE_INF: &[u8] = b"[[range]]\nmeasure = \"pelvis_turn_from_address\"\nevent = \"top\"\nlabel = \"mine\"\nsource = \"mine\"\nmean_deg = inf\nsd_deg = 3.0\n";

fn with(room: &Room, variable: &'static str, value: PathBuf) -> Job {
    Job {
        variables: vec![(variable, value)],
        ..room.measure(&[&face_on()])
    }
}

/// The runtime library is a file of these bytes.
fn runtime(room: &Room, bytes: &[u8]) -> Job {
    let file = room.write("libonnxruntime.so", bytes);
    with(room, "QUARTERTURN_RUNTIME", file)
}

fn pipeline(room: &Room, text: &[u8]) -> Result<Job, String> {
    given(room, "--pipeline", text)
}

/// An option that takes a file, with this text in it.
fn given(room: &Room, option: &str, text: &[u8]) -> Result<Job, String> {
    let file = room.write("mine.toml", text);
    Ok(room.measure(&[&face_on(), &option, &file]))
}

/// A copy of the models' folder, changed.
fn models(room: &Room, change: fn(&Path)) -> Result<Job, String> {
    let folder = room.path("models");
    std::fs::create_dir(&folder).expect("a folder");
    for name in [DETECTOR, LANDMARKS, TORSO] {
        let from = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("models")
            .join(name);
        std::fs::copy(from, folder.join(name)).expect("copied");
    }
    change(&folder);
    Ok(with(room, "QUARTERTURN_MODELS", folder))
}

fn replace(folder: &Path, name: &str, change: fn(&mut Vec<u8>)) {
    let mut bytes = read(&folder.join(name));
    change(&mut bytes);
    std::fs::write(folder.join(name), bytes).expect("written");
}

fn cut_runtime(room: &Room) -> Result<Job, String> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("runtime");
    let library = std::fs::read_dir(folder)
        .ok()
        .and_then(|d| {
            d.flatten().find(|e| {
                e.file_name()
                    .to_string_lossy()
                    .starts_with("libonnxruntime")
            })
        })
        .ok_or("the runtime library is not in the runtime folder")?;
    let bytes = read(&library.path());
    Ok(runtime(room, &bytes[..bytes.len() / 2]))
}

/// A real shared library that is something else.
fn other_library(room: &Room) -> Result<Job, String> {
    let found = ["/usr/lib", "/lib", "/usr/lib64"]
        .iter()
        .flat_map(|d| std::fs::read_dir(d).into_iter().flatten().flatten())
        .flat_map(|e| [e.path().join("libm.so.6"), e.path()])
        .find(|p| p.ends_with("libm.so.6") && p.is_file())
        .ok_or("no other library was found")?;
    Ok(runtime(room, &read(&found)))
}
