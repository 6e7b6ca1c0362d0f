//! Folders that results cannot be written to.

use std::path::Path;
use std::process::Command;

use crate::room::{Case, Job, Mount, Room, case, face_on};

pub const CASES: &[Case] = &[
    case("the folder cannot be written", read_only),
    case("the folder is a file", |r| {
        Ok(into(r, &r.write("results", b"mine")))
    }),
    case("no space left", full),
    case("space runs out in the video", nearly_full),
];

fn into(room: &Room, out: &Path) -> Job {
    Job {
        out: out.to_owned(),
        ..room.measure(&[&face_on()])
    }
}

/// A memory file system; only root may make one.
fn mount(room: &Room, options: &str) -> Result<Mount, String> {
    let at = room.path("small");
    std::fs::create_dir(&at).expect("a folder");
    let made = Command::new("mount")
        .args(["-t", "tmpfs", "-o", options, "tmpfs"])
        .arg(&at)
        .output();
    match made {
        Ok(o) if o.status.success() => Ok(Mount(at)),
        Ok(o) => Err(format!(
            "a small file system cannot be mounted here: {}",
            String::from_utf8_lossy(&o.stderr).trim()
        )),
        Err(e) => Err(format!("a small file system cannot be mounted here: {e}")),
    }
}

fn mounted(room: &Room, options: &str) -> Result<Job, String> {
    let mount = mount(room, options)?;
    Ok(Job {
        _mount: Some(mount),
        ..into(room, &room.path("small"))
    })
}

/// Permissions do not stop root, so a file system that is mounted read-only stands in for a folder
/// without them; without root the permissions do.
fn read_only(room: &Room) -> Result<Job, String> {
    use std::os::unix::fs::PermissionsExt;
    let locked = room.path("locked");
    std::fs::create_dir(&locked).expect("a folder");
    std::fs::set_permissions(&locked, std::fs::Permissions::from_mode(0o555)).expect("set");
    if std::fs::write(locked.join("try"), "").is_err() {
        return Ok(into(room, &locked));
    }
    mounted(room, "size=1m,ro")
}

fn full(room: &Room) -> Result<Job, String> {
    mounted(room, "size=4k")
}

fn nearly_full(room: &Room) -> Result<Job, String> {
    mounted(room, "size=200k")
}
