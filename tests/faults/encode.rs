//! Clips that need an encoder, made by the `ffmpeg` command-line program.

use std::path::{Path, PathBuf};
use std::process::Command;

use crate::room::Room;

/// Runs `ffmpeg ARGUMENTS FILE` and returns the file.
pub fn ffmpeg(room: &Room, arguments: &[&str], inputs: &[&Path], name: &str) -> PathBuf {
    let out = room.path(name);
    let mut command = Command::new("ffmpeg");
    command.args(["-v", "error", "-nostdin", "-y", "-threads", "1"]);
    for input in inputs {
        command.arg("-i").arg(input);
    }
    let ended = command
        .args(arguments)
        .arg(&out)
        .output()
        .unwrap_or_else(|e| panic!("ffmpeg does not run ({e}); install the package ffmpeg"));
    assert!(
        ended.status.success(),
        "ffmpeg {arguments:?}: {}",
        String::from_utf8_lossy(&ended.stderr)
    );
    out
}

/// Encodes `inputs` anew, fast and sharp enough to measure; the sound is copied.
pub fn encoded(room: &Room, more: &[&str], inputs: &[&Path], name: &str) -> PathBuf {
    let mut arguments = vec![
        "-c:v",
        "libx264",
        "-preset",
        "ultrafast",
        "-crf",
        "18",
        "-c:a",
        "aac",
    ];
    arguments.extend(more);
    ffmpeg(room, &arguments, inputs, name)
}

/// A clip drawn by one of ffmpeg's own sources.
pub fn drawn(room: &Room, source: &str, more: &[&str], name: &str) -> PathBuf {
    let mut arguments = vec![
        "-f",
        "lavfi",
        "-i",
        source,
        "-c:v",
        "libx264",
        "-preset",
        "ultrafast",
        "-pix_fmt",
        "yuv420p",
    ];
    arguments.extend(more);
    ffmpeg(room, &arguments, &[], name)
}
