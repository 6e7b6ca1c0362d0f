//! The folder of the user's own documents, where a person looks for what a program made.

use std::path::{Path, PathBuf};

use etcetera::BaseStrategy;

use super::system::System;

/// The user's documents folder; `None` where the system names no home.
pub fn documents() -> Option<PathBuf> {
    let home = etcetera::home_dir().ok()?;
    let named = etcetera::choose_base_strategy()
        .ok()
        .and_then(|s| std::fs::read_to_string(s.config_dir().join("user-dirs.dirs")).ok())
        .unwrap_or_default();
    Some(documents_of(System::here(), &home, &named))
}

/// `user_dirs` is the text of the desktop's `user-dirs.dirs`, empty where it has none.
fn documents_of(system: System, home: &Path, user_dirs: &str) -> PathBuf {
    let named = match system {
        System::Linux => named_documents(user_dirs, home),
        System::MacOs | System::Windows => None,
    };
    named.unwrap_or_else(|| home.join("Documents"))
}

/// The line `XDG_DOCUMENTS_DIR="$HOME/…"`: a value is absolute or begins with `$HOME`, and a
/// backslash stands before letters that a shell would take for its own (xdg-user-dirs).
fn named_documents(user_dirs: &str, home: &Path) -> Option<PathBuf> {
    let value = user_dirs
        .lines()
        .filter_map(|l| l.trim().strip_prefix("XDG_DOCUMENTS_DIR="))
        .next_back()?
        .trim()
        .strip_prefix('"')?
        .strip_suffix('"')?;
    let mut plain = String::new();
    let mut letters = value.chars();
    while let Some(c) = letters.next() {
        plain.extend(if c == '\\' { letters.next() } else { Some(c) });
    }
    match plain.strip_prefix("$HOME") {
        Some(rest) => Some(home.join(rest.trim_start_matches('/'))),
        None => Some(PathBuf::from(plain)).filter(|p| p.is_absolute()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_desktops_own_name_of_the_folder_is_taken() {
        let of = |text: &str| documents_of(System::Linux, Path::new("/u/a"), text);
        assert_eq!(of(""), Path::new("/u/a/Documents"));
        let german = "# a comment\nXDG_DESKTOP_DIR=\"$HOME/Schreibtisch\"\nXDG_DOCUMENTS_DIR=\"$HOME/Dokumente\"\n";
        assert_eq!(of(german), Path::new("/u/a/Dokumente"));
        let quoted = r#"XDG_DOCUMENTS_DIR="/data/my \"papers\"""#;
        assert_eq!(of(quoted), Path::new("/data/my \"papers\""));
        // A desktop without such a folder names the home itself.
        assert_eq!(of("XDG_DOCUMENTS_DIR=\"$HOME/\""), Path::new("/u/a/"));
        for wrong in [
            "XDG_DOCUMENTS_DIR=",
            "XDG_DOCUMENTS_DIR=\"papers\"",
            "XDG_DOCUMENTS_DIR=\"\\",
        ] {
            assert_eq!(of(wrong), Path::new("/u/a/Documents"), "{wrong}");
        }
    }

    #[test]
    fn other_systems_have_a_fixed_place() {
        let text = "XDG_DOCUMENTS_DIR=\"$HOME/Dokumente\"";
        for system in [System::MacOs, System::Windows] {
            let at = documents_of(system, Path::new("/u/a"), text);
            assert_eq!(at, Path::new("/u/a/Documents"));
        }
    }
}
