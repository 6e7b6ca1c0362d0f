//! The local page under load, through the built program: many uploads at once, files that unpack to
//! enormous work, and hours of use.

#[cfg(target_os = "linux")]
mod bombs;
#[cfg(target_os = "linux")]
mod crowd;
#[path = "../common/http.rs"]
mod http;
#[cfg(target_os = "linux")]
mod memory;
#[path = "../program/mod.rs"]
mod program;
#[cfg(target_os = "linux")]
mod soak;

/// The three ticked statements of an upload.
pub const AGREED: [(&str, &str); 3] = [("consent", "yes"); 3];

/// The head of a video and nothing behind it: it is taken, and fails as soon as it is read.
pub const HEAD_ONLY: &[u8] = b"\0\0\0\x18ftypmp42\0\0\0\0mp42isom";

/// Names in a folder, sorted; empty where there is none.
pub fn names(folder: &std::path::Path) -> Vec<String> {
    let mut all: Vec<String> = std::fs::read_dir(folder)
        .map(|all| {
            all.flatten()
                .map(|e| e.file_name().to_string_lossy().into_owned())
                .collect()
        })
        .unwrap_or_default();
    all.sort();
    all
}
