//! Files that hold no clip, or only a piece of one.

use crate::encode::{drawn, encoded, ffmpeg};
use crate::program::mp4;
use crate::room::{Case, Job, Room, case, face_on, read};

pub const CASES: &[Case] = &[
    case("no such file", |r| Ok(r.measure(&[&r.path("gone.mp4")]))),
    case("a folder given as a clip", folder),
    case("0 bytes", |r| r.clip("empty.mp4", b"")),
    case("1 byte", |r| r.clip("byte.mp4", b"\0")),
    case("text named .mp4", |r| {
        r.clip("text.mp4", b"These are only words. They show nobody.\n")
    }),
    case("a playlist named .mp4", |r| {
        let good = face_on();
        let text = format!(
            "#EXTM3U\n#EXT-X-TARGETDURATION:3\n#EXTINF:2.7,\nfile://{0}\n#EXTINF:2.7,\n{0}\n#EXT-X-ENDLIST\n",
            good.display()
        );
        r.clip("playlist.mp4", text.as_bytes())
    }),
    case("a script that joins clips, named .mp4", |r| {
        // A name beside it, which such scripts may open without asking.
        r.write("good.mp4", &read(&face_on()));
        r.clip("script.mp4", b"ffconcat version 1.0\nfile good.mp4\n")
    }),
    case("a description of a broadcast, named .mp4", |r| {
        let text = "v=0\r\no=- 0 0 IN IP4 127.0.0.1\r\ns=swing\r\nc=IN IP4 127.0.0.1\r\nt=0 0\r\nm=video 40404 RTP/AVP 96\r\na=rtpmap:96 H264/90000\r\n";
        r.clip("broadcast.mp4", text.as_bytes())
    }),
    case("a megabyte of zeros", |r| {
        r.clip("zeros.mp4", &vec![0; 1 << 20])
    }),
    case("cut at 1 %", |r| cut(r, read(&face_on()), 1)),
    case("cut at 50 %, index at the end", |r| {
        cut(r, read(&face_on()), 50)
    }),
    case("cut at 99 %, index at the end", |r| {
        cut(r, read(&face_on()), 99)
    }),
    case("cut at 50 %, index in front", |r| {
        cut(r, index_in_front(r), 50)
    }),
    case("cut at 99 %, index in front", |r| {
        cut(r, index_in_front(r), 99)
    }),
    case("every picture zeroed", |r| {
        r.clip("zeroed.mp4", &zeroed(0.0, 1.0))
    }),
    case("half a second zeroed after the finish", |r| {
        r.clip("spoiled.mp4", &zeroed(0.9, 1.0))
    }),
    case("sound only", |r| {
        Ok(r.measure(&[&ffmpeg(
            r,
            &["-vn", "-c:a", "copy"],
            &[&face_on()],
            "sound.mp4",
        )]))
    }),
    case("a photo named .mp4", photo),
    case("1 frame", |r| frames(r, "1")),
    case("2 frames", |r| frames(r, "2")),
    case("claims to last 10 hours", |r| {
        r.clip("endless.mp4", &mp4::claiming(read(&face_on()), 36_000))
    }),
];

fn folder(room: &Room) -> Result<Job, String> {
    let path = room.path("folder.mp4");
    std::fs::create_dir(&path).expect("a folder");
    Ok(room.measure(&[&path]))
}

fn cut(room: &Room, bytes: Vec<u8>, percent: usize) -> Result<Job, String> {
    room.clip("cut.mp4", &bytes[..bytes.len() * percent / 100])
}

/// The same clip with its index before the pictures, as for playback over a network.
fn index_in_front(room: &Room) -> Vec<u8> {
    read(&ffmpeg(
        room,
        &["-c", "copy", "-movflags", "+faststart"],
        &[&face_on()],
        "front.mp4",
    ))
}

/// The clip with a share of its stored pictures and sound overwritten by zeros.
fn zeroed(from: f64, to: f64) -> Vec<u8> {
    let mut bytes = read(&face_on());
    let start = bytes
        .windows(4)
        .position(|w| w == b"mdat")
        .expect("media data")
        + 4;
    let size = u32::from_be_bytes(bytes[start - 8..start - 4].try_into().expect("four bytes"))
        as usize
        - 8;
    let at = |share: f64| start + (size as f64 * share) as usize;
    bytes[at(from)..at(to)].fill(0);
    bytes
}

fn photo(room: &Room) -> Result<Job, String> {
    let photo = ffmpeg(room, &["-frames:v", "1"], &[&face_on()], "photo.jpg");
    room.clip("photo.mp4", &read(&photo))
}

fn frames(room: &Room, count: &str) -> Result<Job, String> {
    let clip = encoded(
        room,
        &["-an", "-frames:v", count],
        &[&face_on()],
        "frames.mp4",
    );
    Ok(room.measure(&[&clip]))
}

/// Something to look at that is no golfer.
pub fn empty_scene(room: &Room, size: &str, more: &[&str], name: &str) -> Result<Job, String> {
    let source = format!("testsrc2=size={size}:rate=30:duration=1");
    Ok(room.measure(&[&drawn(room, &source, more, name)]))
}
