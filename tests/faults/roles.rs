//! Clips that are not what they are said to be.

use crate::program::{mp4, sample};
use crate::room::{Case, Job, Room, down_the_line, face_on, read};

pub const CASES: &[Case] = &[
    Case {
        name: "no clip given",
        build: |r| Ok(r.measure(&[])),
    },
    Case {
        name: "face-on given as down-the-line",
        build: |r| Ok(r.measure(&[&"--down-the-line", &face_on()])),
    },
    Case {
        name: "the same clip twice",
        build: |r| Ok(r.measure(&[&face_on(), &face_on()])),
    },
    Case {
        name: "the same clip twice, by a link",
        build: link,
    },
    Case {
        name: "the same clip under two names",
        build: copy,
    },
    Case {
        name: "two different swings",
        build: |r| Ok(r.measure(&[&face_on(), &sample("first-lesson_down_the_line.mp4")])),
    },
    Case {
        name: "two clips from one side",
        build: |r| Ok(r.measure(&[&face_on(), &sample("first-lesson_face_on.mp4")])),
    },
    Case {
        name: "left-hander declared right",
        build: left,
    },
    Case {
        name: "one clip good, the other empty",
        build: |r| Ok(r.measure(&[&down_the_line(), &r.write("empty.mp4", b"")])),
    },
];

fn link(room: &Room) -> Result<Job, String> {
    let link = room.path("link.mp4");
    std::os::unix::fs::symlink(face_on(), &link)
        .map_err(|e| format!("no symbolic links here: {e}"))?;
    Ok(room.measure(&[&face_on(), &link]))
}

fn copy(room: &Room) -> Result<Job, String> {
    let copy = room.write("copy.mp4", &read(&face_on()));
    Ok(room.measure(&[&face_on(), &copy]))
}

fn left(room: &Room) -> Result<Job, String> {
    let clip = room.write("left.mp4", &mp4::with_matrix(read(&face_on()), -1, 0, 0, 1));
    Ok(room.measure(&[&clip, &"--handed", &"right"]))
}
