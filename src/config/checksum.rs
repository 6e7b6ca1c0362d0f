//! SHA-256 of files, written as hexadecimal.

use std::fs::File;
use std::io::{BufRead, BufReader};
use std::path::Path;

use sha2::{Digest, Sha256};

/// Of a whole file, which is never in memory as a whole.
///
/// # Errors
/// Where the file can't be opened or read.
pub fn sha256(path: &Path) -> std::io::Result<String> {
    let mut file = BufReader::with_capacity(1 << 16, File::open(path)?);
    let mut hash = Sha256::new();
    loop {
        let part = file.fill_buf()?;
        if part.is_empty() {
            return Ok(hex(&hash.finalize()));
        }
        hash.update(part);
        let read = part.len();
        file.consume(read);
    }
}

/// Two digits a byte.
pub fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|b| format!("{b:02x}")).collect()
}
