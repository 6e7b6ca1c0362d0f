//! Whether the first bytes of an upload are those of a video that phones make.

/// Bytes that [`is_video`] looks at.
pub const LOOK: usize = 12;

/// True for the MP4 and MOV family: the first box names itself in bytes 4 to 8.
pub fn is_video(head: &[u8]) -> bool {
    let Some(kind) = head.get(4..8) else {
        return false;
    };
    match kind {
        // A picture in the same family (HEIC, AVIF) carries another brand.
        b"ftyp" => head
            .get(8..12)
            .is_some_and(|brand| !matches!(brand, b"heic" | b"heix" | b"mif1" | b"avif" | b"M4A ")),
        b"moov" | b"mdat" | b"wide" | b"free" | b"skip" => true,
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn videos_pass_and_everything_else_does_not() {
        assert!(is_video(b"\0\0\0\x18ftypmp42"));
        assert!(is_video(b"\0\0\0\x14ftypqt  "));
        assert!(is_video(b"\0\0\0\x08wide\0\0\0\0"));
        assert!(!is_video(b"\0\0\0\x18ftypheic"));
        assert!(!is_video(b"\x89PNG\r\n\x1a\n\0\0\0\0"));
        assert!(!is_video(b"<html><body>"));
        assert!(!is_video(b"ftyp"));
        assert!(!is_video(b""));
    }
}
