//! Whether the runtime library is the pinned one. Loading one that was cut off ends the program
//! with a signal that no error handling sees, and another version reads pictures a little otherwise.

use std::path::Path;

use crate::config::checksum::sha256;

/// `CHECKSUM  NAME` a line, as `sha256sum` writes it; whoever builds the program with a library for
/// their graphics card adds its line.
const PINNED: &str = include_str!("../../pipelines/runtime.sha256");

/// Why a library is not loaded; `None` for the pinned one, and on systems that none is pinned for.
pub fn refused(path: &Path) -> Option<String> {
    if !cfg!(all(target_os = "linux", target_arch = "x86_64")) {
        return None;
    }
    match sha256(path) {
        Ok(sum)
            if PINNED
                .lines()
                .any(|l| l.split_whitespace().next() == Some(sum.as_str())) =>
        {
            None
        }
        Ok(_) => Some("its checksum is not that of the pinned version".into()),
        Err(e) => Some(e.to_string()),
    }
}

#[cfg(all(test, target_os = "linux", target_arch = "x86_64"))]
mod tests {
    use super::*;

    #[test]
    fn another_file_is_refused() {
        assert!(refused(Path::new("/proc/self/exe")).is_some());
        assert!(refused(Path::new("/nowhere")).is_some());
    }
}
