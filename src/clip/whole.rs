//! Whether an MP4 or MOV file is all there.

use std::fs::File;
use std::io::{Read, Seek, SeekFrom};
use std::path::Path;

/// Boxes at the top level of a clip; more are no clip of ours.
const MOST_BOXES: usize = 10_000;

/// True where the file ends before one of its boxes does (ISO/IEC 14496-12, section 4.2). False for
/// other formats and for files that cannot be read: opening them says what is wrong.
pub fn breaks_off(path: &Path) -> bool {
    let Ok(mut file) = File::open(path) else {
        return false;
    };
    let Ok(length) = file.metadata().map(|m| m.len()) else {
        return false;
    };
    let mut at = 0u64;
    for _ in 0..MOST_BOXES {
        let mut head = [0u8; 16];
        if at >= length || file.seek(SeekFrom::Start(at)).is_err() {
            return false;
        }
        let wanted = if length - at < 16 { 8 } else { 16 };
        let Some(part) = head.get_mut(..wanted) else {
            return false;
        };
        if file.read_exact(part).is_err() {
            return at > 0;
        }
        let [s0, s1, s2, s3, kind @ .., l0, l1, l2, l3, l4, l5, l6, l7] = head;
        if at == 0 && &kind != b"ftyp" {
            return false;
        }
        let size = match u32::from_be_bytes([s0, s1, s2, s3]) {
            // To the end of the file, whatever that is.
            0 => return false,
            1 => u64::from_be_bytes([l0, l1, l2, l3, l4, l5, l6, l7]),
            n => u64::from(n),
        };
        match at.checked_add(size.max(8)) {
            Some(next) if next <= length => at = next,
            _ => return true,
        }
    }
    false
}

#[cfg(test)]
mod tests {
    use super::*;

    fn written(bytes: &[u8]) -> tempfile::NamedTempFile {
        let file = tempfile::NamedTempFile::new().expect("a file");
        std::fs::write(file.path(), bytes).expect("written");
        file
    }

    #[test]
    fn a_file_is_whole_when_its_last_box_ends_with_it() {
        let mut bytes = b"\0\0\0\x10ftypisom\0\0\0\0".to_vec();
        bytes.extend(b"\0\0\0\x0cmdat1234");
        assert!(!breaks_off(written(&bytes).path()));
        assert!(breaks_off(written(&bytes[..bytes.len() - 1]).path()));
        assert!(!breaks_off(written(b"words, no boxes at all").path()));
        assert!(!breaks_off(written(b"").path()));
    }
}
