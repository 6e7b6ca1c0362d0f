//! Clips that are not what they are said to be.

use crate::encode::{drawn, encoded};
use crate::program::{mp4, sample};
use crate::room::{Case, Job, Room, case, down_the_line, face_on, read};

pub const CASES: &[Case] = &[
    case("no clip given", |r| Ok(r.measure(&[]))),
    case("face-on given as down-the-line", |r| {
        Ok(r.measure(&[&"--down-the-line", &face_on()]))
    }),
    case("the same clip twice", |r| {
        Ok(r.measure(&[&face_on(), &face_on()]))
    }),
    case("the same clip twice, by a link", link),
    case("the same clip under two names", copy),
    case("two different swings", |r| {
        Ok(r.measure(&[&face_on(), &sample("first-lesson_down_the_line.mp4")]))
    }),
    case("two clips from one side", |r| {
        Ok(r.measure(&[&face_on(), &sample("first-lesson_face_on.mp4")]))
    }),
    case("left-hander declared right", left),
    case("one clip good, the other empty", |r| {
        Ok(r.measure(&[&face_on(), &r.write("empty.mp4", b"")]))
    }),
    case("one clip good, the other missing", |r| {
        Ok(r.measure(&[&down_the_line(), &r.path("nothing.mp4")]))
    }),
    case("both clips empty", |r| {
        Ok(r.measure(&[&r.write("one.mp4", b""), &r.write("two.mp4", b"")]))
    }),
    case("one clip good, nobody in the other", |r| {
        with_other(r, "color=black:size=540x960:rate=30:duration=1")
    }),
    case("one clip good, the other of the golfer standing", standing),
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

fn with_other(room: &Room, source: &str) -> Result<Job, String> {
    let other = drawn(room, source, &[], "other.mp4");
    Ok(room.measure(&[&other, &face_on()]))
}

fn standing(room: &Room) -> Result<Job, String> {
    let filter = "trim=end=0.4,loop=loop=4:size=24,setpts=N/60/TB";
    let more = ["-an", "-vf", filter];
    let other = encoded(room, &more, &[&down_the_line()], "standing.mp4");
    Ok(room.measure(&[&face_on(), &other]))
}

fn left(room: &Room) -> Result<Job, String> {
    let clip = room.write("left.mp4", &mp4::with_matrix(read(&face_on()), -1, 0, 0, 1));
    Ok(room.measure(&[&clip, &"--handed", &"right"]))
}
