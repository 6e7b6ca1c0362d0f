//! Putting a finished folder in its place.

use std::path::Path;

use super::Failure;
use crate::result::part_folder;

/// The sentence for a folder that can't be written.
pub fn failed(out: &Path, error: &std::io::Error) -> Failure {
    let text = format!(
        "{}: {}. Check that the folder can be written and that there is room.",
        out.display(),
        // The long form repeats the path, and with it a temporary name.
        error.kind()
    );
    Failure::again(text)
}

/// Tries whether results can be written to `out`, so that a minute of measuring is not lost on a
/// folder that cannot. Nothing stays.
pub fn check(out: &Path) -> Result<(), Failure> {
    let there = out
        .ancestors()
        .find(|a| a.exists())
        .unwrap_or(Path::new("."));
    part_folder(there)
        .and_then(tempfile::TempDir::close)
        .map_err(|e| failed(out, &e))
}

/// Lets `write` fill a folder beside the final one and puts it there by renaming: at any moment the
/// final place holds the old result whole or the new one whole. What stood there before is removed.
pub fn put(
    out: &Path,
    folder: &Path,
    write: impl FnOnce(&Path) -> Result<(), Failure>,
) -> Result<(), Failure> {
    let io = |e: std::io::Error| failed(out, &e);
    std::fs::create_dir_all(out).map_err(io)?;
    let part = part_folder(out).map_err(io)?;
    write(part.path())?;
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // A temporary folder is private; a result is for whoever may read its parent.
        std::fs::set_permissions(part.path(), std::fs::Permissions::from_mode(0o755))
            .map_err(io)?;
    }
    if folder.exists() {
        // The old result goes with the temporary folder.
        swap(part.path(), folder).map_err(io)?;
        return part.close().map_err(io);
    }
    std::fs::rename(part.path(), folder).map_err(io)?;
    // The folder is no longer temporary under its old name.
    let _ = part.keep();
    Ok(())
}

/// Lets `write` fill a folder beside `folder`, and moves what it wrote into it where all could be
/// written: each thing whole, a page after what it links to.
pub fn add(
    out: &Path,
    folder: &Path,
    write: impl FnOnce(&Path) -> Result<(), Failure>,
) -> Result<(), Failure> {
    let io = |e: std::io::Error| failed(out, &e);
    let part = part_folder(out).map_err(io)?;
    write(part.path())?;
    let mut names: Vec<_> = std::fs::read_dir(part.path())
        .map_err(io)?
        .map(|file| Ok(file.map_err(io)?.file_name()))
        .collect::<Result<_, Failure>>()?;
    let is_page = |name: &std::ffi::OsString| name.to_string_lossy().ends_with(".html");
    names.sort_by_key(|name| (is_page(name), name.clone()));
    for name in names {
        std::fs::rename(part.path().join(&name), folder.join(&name)).map_err(io)?;
    }
    part.close().map_err(io)
}

/// Changes two folders' names about; afterwards the new one stands at `folder` and the old one at
/// `part`.
fn swap(part: &Path, folder: &Path) -> std::io::Result<()> {
    #[cfg(target_os = "linux")]
    {
        use rustix::fs::{CWD, RenameFlags, renameat_with};
        if renameat_with(CWD, part, CWD, folder, RenameFlags::EXCHANGE).is_ok() {
            return Ok(());
        }
    }
    swap_by_steps(part, folder)
}

/// For file systems that can't exchange: the old result steps aside whole, and comes back where the
/// new one can't take its place.
fn swap_by_steps(part: &Path, folder: &Path) -> std::io::Result<()> {
    let mut aside = folder.as_os_str().to_owned();
    aside.push(".old");
    let aside = std::path::PathBuf::from(aside);
    if aside.exists() {
        std::fs::remove_dir_all(&aside)?;
    }
    std::fs::rename(folder, &aside)?;
    if let Err(e) = std::fs::rename(part, folder) {
        std::fs::rename(&aside, folder)?;
        return Err(e);
    }
    std::fs::rename(&aside, part)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ended(fails: bool) -> Result<(), Failure> {
        fails.then(|| Failure::again("no")).map_or(Ok(()), Err)
    }

    type Swap = fn(&Path, &Path) -> std::io::Result<()>;

    #[test]
    fn folders_change_places_whole() {
        for way in [swap as Swap, swap_by_steps] {
            let place = tempfile::tempdir().expect("a folder");
            let [old, new] = ["old", "new"].map(|n| place.path().join(n));
            for folder in [&old, &new] {
                std::fs::create_dir(folder).expect("made");
                let name = folder.file_name().expect("a name");
                std::fs::write(folder.join(name), "").expect("written");
            }
            way(&new, &old).expect("swapped");
            assert!(old.join("new").exists() && new.join("old").exists());
            assert_eq!(std::fs::read_dir(place.path()).expect("read").count(), 2);
        }
    }

    #[test]
    fn what_is_added_later_joins_what_stands_or_nothing_of_it_does() {
        let place = tempfile::tempdir().expect("a folder");
        let folder = place.path().join("swing");
        std::fs::create_dir(&folder).expect("made");
        std::fs::write(folder.join("numbers"), "1").expect("written");
        let fill = |fails: bool| {
            move |part: &Path| {
                std::fs::create_dir(part.join("stills")).expect("made");
                std::fs::write(part.join("page.html"), "2").expect("written");
                ended(fails)
            }
        };
        add(place.path(), &folder, fill(true)).expect_err("fails");
        let names = || std::fs::read_dir(&folder).expect("read").count();
        assert_eq!(names(), 1);
        add(place.path(), &folder, fill(false)).expect("added");
        assert_eq!(names(), 3);
        assert!(folder.join("stills").is_dir());
        assert_eq!(std::fs::read_dir(place.path()).expect("read").count(), 1);
    }

    #[test]
    fn a_result_that_cannot_be_written_leaves_the_old_one() {
        let place = tempfile::tempdir().expect("a folder");
        let folder = place.path().join("swing");
        let fill = |text: &'static str, fails: bool| {
            move |part: &Path| {
                std::fs::write(part.join("a"), text).expect("written");
                ended(fails)
            }
        };
        put(place.path(), &folder, fill("first", false)).expect("put");
        put(place.path(), &folder, fill("second", true)).expect_err("fails");
        let read = || std::fs::read_to_string(folder.join("a")).expect("read");
        assert_eq!(read(), "first");
        put(place.path(), &folder, fill("third", false)).expect("put");
        assert_eq!(read(), "third");
        assert_eq!(std::fs::read_dir(place.path()).expect("read").count(), 1);
    }
}
