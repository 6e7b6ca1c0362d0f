//! Model files, the runtime library and pipeline files that are missing or wrong.

use std::path::{Path, PathBuf};

use crate::room::{Case, Job, Room, face_on, read};

const DETECTOR: &str = "pose_detection.onnx";
const LANDMARKS: &str = "pose_landmark_full_hm.onnx";
const TORSO: &str = "torso.onnx";

pub const CASES: &[Case] = &[
    Case {
        name: "no folder of models",
        build: |r| Ok(with(r, "QUARTERTURN_MODELS", r.path("nowhere"))),
    },
    Case {
        name: "a model is missing",
        build: |r| models(r, |f| std::fs::remove_file(f.join(TORSO)).expect("removed")),
    },
    Case {
        name: "a model is cut off",
        build: |r| models(r, |f| replace(f, TORSO, |b| b.truncate(100_000))),
    },
    Case {
        name: "a model is empty",
        build: |r| models(r, |f| replace(f, DETECTOR, Vec::clear)),
    },
    Case {
        name: "a model is text",
        build: |r| models(r, |f| replace(f, LANDMARKS, |b| *b = b"words".to_vec())),
    },
    Case {
        name: "another model under its name",
        build: |r| {
            models(r, |f| {
                std::fs::copy(f.join(DETECTOR), f.join(TORSO))
                    .map(|_| ())
                    .expect("copied")
            })
        },
    },
    Case {
        name: "the runtime library is missing",
        build: |r| Ok(with(r, "QUARTERTURN_RUNTIME", r.path("libonnxruntime.so"))),
    },
    Case {
        name: "the runtime library is text",
        build: |r| Ok(runtime(r, b"words")),
    },
    Case {
        name: "the runtime library is cut off",
        build: cut_runtime,
    },
    Case {
        name: "another library as the runtime",
        build: other_library,
    },
    Case {
        name: "pipeline: no such file",
        build: |r| Ok(r.measure(&[&face_on(), &"--pipeline", &r.path("none.toml")])),
    },
    Case {
        name: "pipeline: not TOML",
        build: |r| pipeline(r, b"[clip\nqueue = "),
    },
    Case {
        name: "pipeline: not UTF-8",
        build: |r| pipeline(r, b"[clip]\n# \xff\xfe\n"),
    },
    Case {
        name: "pipeline: a name that is unknown",
        build: |r| pipeline(r, b"[clip]\nqueue_framse = 3\n"),
    },
    Case {
        name: "pipeline: text for a number",
        build: |r| pipeline(r, b"[clip]\nqueue_frames = \"three\"\n"),
    },
    Case {
        name: "pipeline: not a number",
        build: |r| pipeline(r, b"[swing]\nstrike_from_hands = nan\n"),
    },
    Case {
        name: "pipeline: infinity",
        build: |r| pipeline(r, b"[body]\nstudent_nu = -inf\n"),
    },
    Case {
        name: "pipeline: below zero",
        build: |r| pipeline(r, b"[camera]\nazimuth_sigma_deg = -7.0\n"),
    },
    Case {
        name: "pipeline: no frames waiting",
        build: |r| pipeline(r, b"[clip]\nqueue_frames = 0\n"),
    },
    Case {
        name: "pipeline: absurdly large",
        build: |r| pipeline(r, b"[clip]\nqueue_frames = 999999999999\n"),
    },
    Case {
        name: "ranges: not TOML",
        build: |r| given(r, "--ranges", b"range = ["),
    },
    Case {
        name: "ranges: infinity",
        build: |r| given(r, "--ranges", RANGE_INF),
    },
    Case {
        name: "calibration: not TOML or JSON",
        build: |r| given(r, "--calibration", b"{["),
    },
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
