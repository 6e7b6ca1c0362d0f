//! Small edits of MP4 files, so that tests need no encoder.

/// Sets the display matrix (a, b, c, d as whole numbers) of every track that has a picture.
pub fn with_matrix(mut file: Vec<u8>, a: i32, b: i32, c: i32, d: i32) -> Vec<u8> {
    let starts: Vec<usize> = (0..file.len().saturating_sub(92))
        .filter(|i| &file[*i..*i + 4] == b"tkhd")
        .collect();
    assert!(!starts.is_empty(), "an MP4 file with tracks");
    for start in starts {
        // ISO/IEC 14496-12: version 0 has 36 bytes before the matrix, version 1 has 48.
        let matrix = start + 4 + if file[start + 4] == 0 { 40 } else { 52 };
        let width = &file[matrix + 36..matrix + 40];
        if width == [0; 4] {
            continue;
        }
        for (slot, value) in [(0, a), (1, b), (3, c), (4, d)] {
            let at = matrix + slot * 4;
            file[at..at + 4].copy_from_slice(&(value << 16).to_be_bytes());
        }
    }
    file
}

/// Stretches every track's playback by a whole factor, as slow motion does, by dividing its clocks'
/// ticks a second.
pub fn stretched(mut file: Vec<u8>, factor: u32) -> Vec<u8> {
    for start in clocks(&file) {
        let at = start + 4 + if file[start + 4] == 0 { 12 } else { 20 };
        let ticks = u32::from_be_bytes(file[at..at + 4].try_into().expect("four bytes"));
        file[at..at + 4].copy_from_slice(&(ticks / factor).to_be_bytes());
    }
    file
}

/// Lets the movie and each of its tracks claim to last this long.
pub fn claiming(mut file: Vec<u8>, seconds: u32) -> Vec<u8> {
    for start in clocks(&file) {
        assert_eq!(
            file[start + 4],
            0,
            "version 0, as ffmpeg writes short clips"
        );
        let at = start + 16;
        let ticks = u32::from_be_bytes(file[at..at + 4].try_into().expect("four bytes"));
        let duration = ticks.checked_mul(seconds).expect("fits in 32 bits");
        file[at + 4..at + 8].copy_from_slice(&duration.to_be_bytes());
    }
    file
}

/// Where the names of the movie's own clock (mvhd) and of each track's (mdhd) stand; both have the
/// same layout as far as it is used here.
fn clocks(file: &[u8]) -> Vec<usize> {
    let starts: Vec<usize> = (0..file.len().saturating_sub(40))
        .filter(|i| [b"mdhd", b"mvhd"].contains(&&file[*i..*i + 4].try_into().expect("four bytes")))
        .collect();
    assert!(starts.len() > 1, "an MP4 file with tracks");
    starts
}
