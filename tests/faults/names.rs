//! File names that a phone, a messenger or a prankster gives. Each is tried with an empty file,
//! whose name must come out in one line, and with a clip that is measured.

use std::ffi::{OsStr, OsString};
use std::os::unix::ffi::OsStringExt;

use crate::room::{Case, Job, Room, case, face_on, read};

pub const CASES: &[Case] = &[
    case("empty, name with spaces", |r| {
        named(r, " my  swing .mp4", false)
    }),
    case("empty, name with a newline", |r| {
        named(r, "my\nswing.mp4", false)
    }),
    case("empty, name with a terminal's escape", |r| {
        named(r, "my\u{1b}[31mswing.mp4", false)
    }),
    case("empty, name with quotes", |r| {
        named(r, "my \"best\" 'swing'.mp4", false)
    }),
    case("empty, name that is not UTF-8", |r| {
        named(r, not_utf8(), false)
    }),
    case("empty, name of 255 bytes", |r| {
        named(r, "s".repeat(251) + ".mp4", false)
    }),
    case("name of 256 bytes", |r| {
        Ok(r.measure(&[&r.path("s".repeat(252) + ".mp4")]))
    }),
    case("a link that leads to itself", circle),
    case("swing, name with spaces and quotes", |r| {
        named(r, " my  \"best\" 'swing' .mp4", true)
    }),
    case("swing, name with a newline", |r| {
        named(r, "my\nswing.mp4", true)
    }),
    case("swing, name that is not UTF-8", |r| {
        named(r, not_utf8(), true)
    }),
    case("swing, name of 255 bytes", |r| {
        named(r, "s".repeat(251) + ".mp4", true)
    }),
];

fn not_utf8() -> OsString {
    OsString::from_vec(b"my\xff\xfeswing.mp4".to_vec())
}

fn named(room: &Room, name: impl AsRef<OsStr>, whole: bool) -> Result<Job, String> {
    let bytes = if whole { read(&face_on()) } else { Vec::new() };
    Ok(room.measure(&[&room.write(name, &bytes)]))
}

fn circle(room: &Room) -> Result<Job, String> {
    let (a, b) = (room.path("a.mp4"), room.path("b.mp4"));
    for (from, to) in [(&a, &b), (&b, &a)] {
        std::os::unix::fs::symlink(from, to).map_err(|e| format!("no symbolic links here: {e}"))?;
    }
    Ok(room.measure(&[&a]))
}
