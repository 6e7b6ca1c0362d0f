//! Paths in JSON. Most are text; one that is not UTF-8 is written as its bytes, so that it names
//! the same file when it is read again.

use std::path::PathBuf;

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use serde::{Deserialize, Deserializer, Serialize, Serializer, de};

#[derive(Serialize, Deserialize)]
#[serde(untagged)]
enum Written {
    Text(String),
    Bytes { base64: String },
}

pub(super) fn serialize<S: Serializer>(path: &std::path::Path, s: S) -> Result<S::Ok, S::Error> {
    match path.to_str() {
        Some(text) => Written::Text(text.to_owned()),
        None => Written::Bytes {
            base64: STANDARD.encode(path.as_os_str().as_encoded_bytes()),
        },
    }
    .serialize(s)
}

pub(super) fn deserialize<'de, D: Deserializer<'de>>(d: D) -> Result<PathBuf, D::Error> {
    match Written::deserialize(d)? {
        Written::Text(text) => Ok(PathBuf::from(text)),
        Written::Bytes { base64 } => {
            let bytes = STANDARD.decode(base64).map_err(de::Error::custom)?;
            from_bytes(bytes)
                .ok_or_else(|| de::Error::custom("a path that this system cannot have"))
        }
    }
}

#[cfg(unix)]
fn from_bytes(bytes: Vec<u8>) -> Option<PathBuf> {
    use std::os::unix::ffi::OsStringExt;
    Some(std::ffi::OsString::from_vec(bytes).into())
}

#[cfg(not(unix))]
fn from_bytes(bytes: Vec<u8>) -> Option<PathBuf> {
    String::from_utf8(bytes).ok().map(PathBuf::from)
}
