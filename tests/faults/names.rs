//! File names that a phone, a messenger or a prankster gives. Each is tried with an empty file,
//! whose name must come out in one line, and with a clip that is measured.

use std::ffi::{OsStr, OsString};
use std::os::unix::ffi::OsStringExt;

use crate::room::{Case, Job, Room, face_on, read};

pub const CASES: &[Case] = &[
    Case {
        name: "empty, name with spaces",
        build: |r| named(r, " my  swing .mp4", false),
    },
    Case {
        name: "empty, name with a newline",
        build: |r| named(r, "my\nswing.mp4", false),
    },
    Case {
        name: "empty, name with a terminal's escape",
        build: |r| named(r, "my\u{1b}[31mswing.mp4", false),
    },
    Case {
        name: "empty, name with quotes",
        build: |r| named(r, "my \"best\" 'swing'.mp4", false),
    },
    Case {
        name: "empty, name that is not UTF-8",
        build: |r| named(r, not_utf8(), false),
    },
    Case {
        name: "empty, name of 255 bytes",
        build: |r| named(r, "s".repeat(251) + ".mp4", false),
    },
    Case {
        name: "name of 256 bytes",
        build: |r| Ok(r.measure(&[&r.path("s".repeat(252) + ".mp4")])),
    },
    Case {
        name: "a link that leads to itself",
        build: circle,
    },
    Case {
        name: "swing, name with spaces and quotes",
        build: |r| named(r, " my  \"best\" 'swing' .mp4", true),
    },
    Case {
        name: "swing, name with a newline",
        build: |r| named(r, "my\nswing.mp4", true),
    },
    Case {
        name: "swing, name that is not UTF-8",
        build: |r| named(r, not_utf8(), true),
    },
    Case {
        name: "swing, name of 255 bytes",
        build: |r| named(r, "s".repeat(251) + ".mp4", true),
    },
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
