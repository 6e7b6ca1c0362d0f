//! Pictures of odd sizes, turned, mirrored, and on odd clocks.

use crate::encode::{drawn, encoded, ffmpeg};
use crate::files::empty_scene;
use crate::program::bomb::{Index, reindexed};
use crate::program::mp4;
use crate::room::{Case, Job, Room, face_on, read};

pub const CASES: &[Case] = &[
    Case {
        name: "8K, nobody in it",
        build: |r| empty_scene(r, "7680x4320", &["-frames:v", "12"], "8k.mp4"),
    },
    Case {
        name: "larger than 8K",
        build: |r| empty_scene(r, "8192x8192", &["-frames:v", "1"], "huge.mp4"),
    },
    Case {
        name: "half a megabyte that holds 100,000 pictures of 36 million pixels",
        build: |r| bomb(r, 100_000, 1, None),
    },
    Case {
        name: "an index that claims 20 million pictures",
        build: |r| bomb(r, 20_000_000, 20_000_000, Some(1)),
    },
    Case {
        name: "16 × 16",
        build: |r| empty_scene(r, "16x16", &[], "tiny.mp4"),
    },
    Case {
        name: "odd width and height",
        build: |r| again(r, &["-vf", "format=yuv444p,crop=539:959"]),
    },
    Case {
        name: "stored turned by 90°",
        build: |r| turned(r, "transpose=2", (0, 1, -1, 0)),
    },
    Case {
        name: "stored turned by 180°",
        build: |r| turned(r, "hflip,vflip", (-1, 0, 0, -1)),
    },
    Case {
        name: "stored turned by 270°",
        build: |r| turned(r, "transpose=1", (0, -1, 1, 0)),
    },
    Case {
        name: "mirrored",
        build: |r| {
            r.clip(
                "mirrored.mp4",
                &mp4::with_matrix(read(&face_on()), -1, 0, 0, 1),
            )
        },
    },
    Case {
        name: "frames missing, uneven clock",
        build: |r| {
            again(
                r,
                &[
                    "-vf",
                    "select='gt(mod(n,5),1)+gt(mod(n,7),2)'",
                    "-fps_mode",
                    "vfr",
                ],
            )
        },
    },
    Case {
        name: "stamps twice and backwards",
        build: stamps,
    },
    Case {
        name: "stamps that jump ahead and come back",
        build: |r| restamped(r, "PTS+if(lt(mod(N\\,40)\\,2)\\,3000\\,0)"),
    },
    Case {
        name: "stamps that fall back and go on",
        build: |r| restamped(r, "if(gte(N\\,30)\\,PTS-300\\,PTS)"),
    },
    Case {
        name: "a gap of five seconds after the finish",
        build: |r| restamped(r, "if(gte(N\\,150)\\,PTS+5000\\,PTS)"),
    },
    Case {
        name: "24 frames a second",
        build: |r| again(r, &["-r", "24"]),
    },
    Case {
        name: "240 frames a second",
        build: |r| again(r, &["-r", "240"]),
    },
    Case {
        name: "10 bits, high dynamic range",
        build: ten_bits,
    },
    Case {
        name: "interlaced",
        build: |r| again(r, &["-flags", "+ildct+ilme", "-x264-params", "tff=1"]),
    },
    Case {
        name: "MOV named .mp4",
        build: |r| Ok(r.measure(&[&named(r, "mov")])),
    },
    Case {
        name: "Matroska named .mp4",
        build: |r| Ok(r.measure(&[&named(r, "matroska")])),
    },
];

/// One grey picture, named by the index over and over.
fn bomb(room: &Room, samples: u32, per_chunk: u32, bytes_each: Option<u32>) -> Result<Job, String> {
    let source = "color=gray:s=6000x6000:r=120";
    let one = drawn(room, source, &["-frames:v", "1"], "one.mp4");
    let index = Index {
        samples,
        per_chunk,
        bytes_each,
        ticks: 128,
    };
    room.clip("bomb.mp4", &reindexed(&read(&one), index))
}

fn again(room: &Room, more: &[&str]) -> Result<Job, String> {
    Ok(room.measure(&[&encoded(room, more, &[&face_on()], "clip.mp4")]))
}

fn named(room: &Room, format: &str) -> std::path::PathBuf {
    ffmpeg(
        room,
        &["-c", "copy", "-f", format],
        &[&face_on()],
        "clip.mp4",
    )
}

/// Stored turned, with the display matrix that turns it back.
fn turned(room: &Room, filter: &str, matrix: (i32, i32, i32, i32)) -> Result<Job, String> {
    let stored = encoded(room, &["-vf", filter], &[&face_on()], "stored.mp4");
    let (a, b, c, d) = matrix;
    room.clip("turned.mp4", &mp4::with_matrix(read(&stored), a, b, c, d))
}

/// Every tenth picture carries the stamp of the one before, every tenth a stamp from the past.
fn stamps(room: &Room) -> Result<Job, String> {
    let plain = encoded(room, &["-an", "-bf", "0"], &[&face_on()], "plain.mkv");
    let filter = "setts=dts=N:pts='if(eq(mod(N\\,10)\\,3)\\,PREV_OUTPTS\\,if(eq(mod(N\\,10)\\,7)\\,PTS+150\\,PTS+200))'";
    let odd = ffmpeg(
        room,
        &["-c", "copy", "-bsf:v", filter],
        &[&plain],
        "stamps.mkv",
    );
    Ok(room.measure(&[&odd]))
}

/// The stamps, in milliseconds, rewritten by an expression.
fn restamped(room: &Room, pts: &str) -> Result<Job, String> {
    let plain = encoded(room, &["-an", "-bf", "0"], &[&face_on()], "plain.mkv");
    let filter = format!("setts=dts=N:pts='{pts}'");
    let more = ["-c", "copy", "-bsf:v", &filter];
    Ok(room.measure(&[&ffmpeg(room, &more, &[&plain], "stamps.mkv")]))
}

fn ten_bits(room: &Room) -> Result<Job, String> {
    let more = [
        "-c:v",
        "libx265",
        "-preset",
        "ultrafast",
        "-crf",
        "18",
        "-x265-params",
        "log-level=error",
        "-pix_fmt",
        "yuv420p10le",
        "-tag:v",
        "hvc1",
        "-color_primaries",
        "bt2020",
        "-color_trc",
        "smpte2084",
        "-colorspace",
        "bt2020nc",
    ];
    again(room, &more)
}
