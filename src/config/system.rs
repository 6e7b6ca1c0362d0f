//! What differs between operating systems: names of the runtime library, folders, advice. Plain
//! functions of the system, so that each is tested everywhere; only Linux was ever tried.

/// An operating system that the program can be built for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum System {
    /// Linux, and whatever else keeps to its customs.
    Linux,
    /// macOS on either processor.
    MacOs,
    /// Windows.
    Windows,
}

impl System {
    /// The one that the program was built for.
    pub fn here() -> Self {
        Self::of(std::env::consts::OS)
    }

    /// By the name that Rust gives it ([`std::env::consts::OS`]).
    pub fn of(name: &str) -> Self {
        match name {
            "macos" => Self::MacOs,
            "windows" => Self::Windows,
            _ => Self::Linux,
        }
    }

    /// File names of the runtime library, the pinned one first.
    pub fn library_names(self) -> &'static [&'static str] {
        match self {
            Self::Linux => &["libonnxruntime.so.1.32.0", "libonnxruntime.so"],
            Self::MacOs => &["libonnxruntime.1.32.0.dylib", "libonnxruntime.dylib"],
            Self::Windows => &["onnxruntime.dll"],
        }
    }

    /// Folders of the system that may hold a library, besides the program's own.
    pub fn library_folders(self) -> &'static [&'static str] {
        match self {
            Self::Linux => &["/usr/local/lib", "/usr/lib"],
            Self::MacOs => &["/usr/local/lib", "/opt/homebrew/lib"],
            // The system's own folders hold another version that other programs need.
            Self::Windows => &[],
        }
    }

    /// What to do where the runtime library is missing or does not load.
    pub fn runtime_advice(self) -> &'static str {
        match self {
            Self::Linux => {
                "Run `bash pipelines/first-run.sh` in the project's folder to fetch the right one."
            }
            Self::MacOs => {
                "Put libonnxruntime.dylib of ONNX Runtime 1.17 or later into a folder named runtime beside the program, or name the file in QUARTERTURN_RUNTIME."
            }
            Self::Windows => {
                "Put onnxruntime.dll of ONNX Runtime 1.17 or later into a folder named runtime beside the program, or name the file in QUARTERTURN_RUNTIME."
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ALL: [System; 3] = [System::Linux, System::MacOs, System::Windows];

    #[test]
    fn rusts_names_are_known() {
        assert_eq!(ALL, ["linux", "macos", "windows"].map(System::of));
        assert_eq!(System::of("freebsd"), System::Linux);
    }

    #[test]
    fn a_library_is_called_as_the_systems_loader_wants_it() {
        let endings = |s: System| -> Vec<bool> {
            s.library_names()
                .iter()
                .map(|n| match s {
                    System::Linux => n.starts_with("lib") && n.contains(".so"),
                    System::MacOs => n.starts_with("lib") && n.ends_with(".dylib"),
                    System::Windows => !n.starts_with("lib") && n.ends_with(".dll"),
                })
                .collect()
        };
        for system in ALL {
            assert!(!system.library_names().is_empty());
            assert!(endings(system).iter().all(|ok| *ok), "{system:?}");
            // The advice names a file that is looked for, or the script that fetches it.
            let advice = system.runtime_advice();
            let named = system.library_names().iter().any(|n| advice.contains(n));
            assert!(
                named || advice.contains("pipelines/first-run.sh"),
                "{advice}"
            );
        }
    }
}
