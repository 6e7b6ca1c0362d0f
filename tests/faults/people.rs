//! Nobody, too many people, people who leave or stand on their heads.

use crate::encode::{drawn, encoded};
use crate::files::empty_scene;
use crate::program::sample;
use crate::room::{Case, Job, Room, case, face_on};

pub const CASES: &[Case] = &[
    case("nobody in the picture", |r| {
        empty_scene(r, "540x960", &[], "nobody.mp4")
    }),
    case("black pictures", black),
    case("two golfers side by side", two),
    case(
        "a golfer beside a bigger one who stands",
        beside_a_bigger_one,
    ),
    case("the golfer leaves before the top", |r| leaves(r, "0.9")),
    case("the golfer leaves after impact", |r| leaves(r, "2.0")),
    case("the golfer upside down", |r| again(r, "hflip,vflip")),
    case("the golfer lies on the side", |r| again(r, "transpose=1")),
    case("a golfer who stands still", |r| {
        again(r, "trim=end=0.4,loop=loop=4:size=24,setpts=N/60/TB")
    }),
    case("trimmed to the downswing", |r| {
        again(r, "trim=start=1.3:end=1.9,setpts=PTS-STARTPTS")
    }),
];

fn again(room: &Room, filter: &str) -> Result<Job, String> {
    Ok(room.measure(&[&encoded(
        room,
        &["-an", "-vf", filter],
        &[&face_on()],
        "clip.mp4",
    )]))
}

fn black(room: &Room) -> Result<Job, String> {
    Ok(room.measure(&[&drawn(
        room,
        "color=black:size=540x960:rate=30:duration=1",
        &[],
        "black.mp4",
    )]))
}

fn two(room: &Room) -> Result<Job, String> {
    let other = sample("first-lesson_face_on.mp4");
    let clip = encoded(
        room,
        &[
            "-filter_complex",
            "[0:v][1:v]hstack[v]",
            "-map",
            "[v]",
            "-map",
            "0:a",
        ],
        &[&face_on(), &other],
        "two.mp4",
    );
    Ok(room.measure(&[&clip]))
}

/// The swing at nine tenths of its size, beside another golfer's first picture at full size.
fn beside_a_bigger_one(room: &Room) -> Result<Job, String> {
    let other = sample("first-lesson_face_on.mp4");
    let filter = "[0:v]scale=486:864,pad=540:960:27:48[g];[1:v]trim=end_frame=1,tpad=stop_mode=clone:stop_duration=4,fps=60[s];[s][g]hstack=shortest=1[v]";
    let more = ["-filter_complex", filter, "-map", "[v]", "-map", "0:a"];
    Ok(room.measure(&[&encoded(room, &more, &[&face_on(), &other], "beside.mp4")]))
}

/// From `at` seconds on the picture is an empty meadow.
fn leaves(room: &Room, at: &str) -> Result<Job, String> {
    let filter = format!("drawbox=color=0x4a7a3a:t=fill:enable='gte(t,{at})'");
    Ok(room.measure(&[&encoded(
        room,
        &["-vf", &filter],
        &[&face_on()],
        "leaves.mp4",
    )]))
}
