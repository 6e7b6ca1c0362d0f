//! Putting a finished folder in its place.

use std::path::Path;

use super::Exit;

fn failed(out: &Path, error: &std::io::Error) -> (Exit, String) {
    let text = format!(
        "{}: {}. Check that the folder can be written and that there is room.",
        out.display(),
        // The long form repeats the path, and with it a temporary name.
        error.kind()
    );
    (Exit::Nothing, text)
}

/// Tries whether results can be written to `out`, so that a minute of measuring is not lost on a
/// folder that cannot. Nothing stays.
pub fn check(out: &Path) -> Result<(), (Exit, String)> {
    let there = out
        .ancestors()
        .find(|a| a.exists())
        .unwrap_or(Path::new("."));
    tempfile::Builder::new()
        .prefix(".part-")
        .tempdir_in(there)
        .and_then(tempfile::TempDir::close)
        .map_err(|e| failed(out, &e))
}

/// Lets `write` fill a folder beside the final one and renames it into place: no part of a result
/// is ever left that looks whole. What stood there before is removed.
pub fn put(
    out: &Path,
    folder: &Path,
    write: impl FnOnce(&Path) -> Result<(), (Exit, String)>,
) -> Result<(), (Exit, String)> {
    let io = |e: std::io::Error| failed(out, &e);
    std::fs::create_dir_all(out).map_err(io)?;
    let part = tempfile::Builder::new()
        .prefix(".part-")
        .tempdir_in(out)
        .map_err(io)?;
    write(part.path())?;
    if folder.exists() {
        std::fs::remove_dir_all(folder).map_err(io)?;
    }
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // A temporary folder is private; a result is for whoever may read its parent.
        std::fs::set_permissions(part.path(), std::fs::Permissions::from_mode(0o755))
            .map_err(io)?;
    }
    std::fs::rename(part.path(), folder).map_err(io)?;
    // The folder is no longer temporary under its old name.
    let _ = part.keep();
    Ok(())
}
