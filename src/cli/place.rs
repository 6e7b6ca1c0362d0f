//! Putting a finished folder in its place.

use std::path::Path;

use super::Exit;

/// Lets `write` fill a folder beside the final one and renames it into place: no part of a result
/// is ever left that looks whole. What stood there before is removed.
pub fn put(
    out: &Path,
    folder: &Path,
    write: impl FnOnce(&Path) -> Result<(), (Exit, String)>,
) -> Result<(), (Exit, String)> {
    let io = |e: std::io::Error| {
        let text = format!(
            "{}: {e}. Check that the folder can be written and that there is room.",
            out.display()
        );
        (Exit::Nothing, text)
    };
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
