//! Sound that is missing or drowned.

use crate::encode::ffmpeg;
use crate::room::{Case, Job, Room, case, face_on};

pub const CASES: &[Case] = &[
    case("no sound", |r| {
        Ok(r.measure(&[&ffmpeg(
            r,
            &["-c", "copy", "-an"],
            &[&face_on()],
            "mute.mp4",
        )]))
    }),
    case("silence", |r| sound(r, "volume=0")),
    case("sound that clips", |r| sound(r, "volume=60dB")),
    case("wind over the strike", wind),
    case("a second strike 0.7 s later, as loud", |r| {
        sound(
            r,
            "asplit[s0][s1];[s1]adelay=700:all=1[s2];[s0][s2]amix=inputs=2:duration=first:normalize=0",
        )
    }),
];

fn sound(room: &Room, filter: &str) -> Result<Job, String> {
    let arguments = [
        "-c:v",
        "copy",
        "-c:a",
        "aac",
        "-filter_complex",
        &format!("[0:a]{filter}[s]"),
        "-map",
        "0:v",
        "-map",
        "[s]",
    ];
    Ok(room.measure(&[&ffmpeg(room, &arguments, &[&face_on()], "sound.mp4")]))
}

/// Low noise, ten times as loud as the strike.
fn wind(room: &Room) -> Result<Job, String> {
    sound(
        room,
        "anull[s0];anoisesrc=color=brown:amplitude=1:duration=2.7:seed=5:sample_rate=48000,lowpass=f=120,volume=10dB[w];[s0][w]amix=inputs=2:duration=first:normalize=0",
    )
}
