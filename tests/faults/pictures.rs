//! Pictures of odd sizes, turned, mirrored, and on odd clocks.

use crate::encode::{drawn, encoded, ffmpeg};
use crate::files::empty_scene;
use crate::program::bomb::{Index, reindexed};
use crate::program::mp4;
use crate::room::{Case, Job, Room, case, face_on, read};

pub const CASES: &[Case] = &[
    case("8K, nobody in it", |r| {
        empty_scene(r, "7680x4320", &["-frames:v", "12"], "8k.mp4")
    }),
    case("larger than 8K", |r| {
        empty_scene(r, "8192x8192", &["-frames:v", "1"], "huge.mp4")
    }),
    case(
        "half a megabyte that holds 100,000 pictures of 36 million pixels",
        |r| bomb(r, 100_000, 1, None),
    ),
    case("an index that claims 20 million pictures", |r| {
        bomb(r, 20_000_000, 20_000_000, Some(1))
    }),
    case("16 × 16", |r| empty_scene(r, "16x16", &[], "tiny.mp4")),
    case("odd width and height", |r| {
        again(r, &["-vf", "format=yuv444p,crop=539:959"])
    }),
    case("stored turned by 90°", |r| {
        turned(r, "transpose=2", (0, 1, -1, 0))
    }),
    case("stored turned by 180°", |r| {
        turned(r, "hflip,vflip", (-1, 0, 0, -1))
    }),
    case("stored turned by 270°", |r| {
        turned(r, "transpose=1", (0, -1, 1, 0))
    }),
    case("mirrored", |r| {
        r.clip(
            "mirrored.mp4",
            &mp4::with_matrix(read(&face_on()), -1, 0, 0, 1),
        )
    }),
    case("frames missing, uneven clock", |r| {
        again(
            r,
            &[
                "-vf",
                "select='gt(mod(n,5),1)+gt(mod(n,7),2)'",
                "-fps_mode",
                "vfr",
            ],
        )
    }),
    case("stamps twice and backwards", stamps),
    case("stamps that jump ahead and come back", |r| {
        restamped(r, "PTS+if(lt(mod(N\\,40)\\,2)\\,3000\\,0)")
    }),
    case("stamps that fall back and go on", |r| {
        restamped(r, "if(gte(N\\,30)\\,PTS-300\\,PTS)")
    }),
    case("a gap of five seconds after the finish", |r| {
        restamped(r, "if(gte(N\\,150)\\,PTS+5000\\,PTS)")
    }),
    case("24 frames a second", |r| again(r, &["-r", "24"])),
    case("240 frames a second", |r| again(r, &["-r", "240"])),
    case("10 bits, high dynamic range", ten_bits),
    case("interlaced", |r| {
        again(r, &["-flags", "+ildct+ilme", "-x264-params", "tff=1"])
    }),
    case("MOV named .mp4", |r| Ok(r.measure(&[&named(r, "mov")]))),
    case("Matroska named .mp4", |r| {
        Ok(r.measure(&[&named(r, "matroska")]))
    }),
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
