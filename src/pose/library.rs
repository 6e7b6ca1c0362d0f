//! Whether a shared library is whole. Loading one that was cut off ends the program with a signal
//! that no error handling sees, so it is looked at first.

use std::path::Path;

/// What is wrong with an ELF library for this kind of computer; `None` for a whole one, and where
/// libraries have another format.
pub fn damage(path: &Path) -> Option<String> {
    if !cfg!(all(
        target_os = "linux",
        target_pointer_width = "64",
        target_endian = "little"
    )) {
        return None;
    }
    match std::fs::read(path) {
        Ok(bytes) => damage_of(&bytes),
        Err(e) => Some(e.to_string()),
    }
}

/// Every segment of the file must lie within it (System V ABI, chapter 5: program header).
fn damage_of(bytes: &[u8]) -> Option<String> {
    let short = || Some("the file is cut off".to_owned());
    if bytes.get(..4) != Some(b"\x7fELF") {
        return Some("it is no shared library".into());
    }
    let number = |at: usize, len: usize| -> Option<u64> {
        let mut value = [0u8; 8];
        value
            .get_mut(..len)?
            .copy_from_slice(bytes.get(at..at.checked_add(len)?)?);
        Some(u64::from_le_bytes(value))
    };
    let (Some(table), Some(each), Some(count)) = (number(32, 8), number(54, 2), number(56, 2))
    else {
        return short();
    };
    for i in 0..count {
        let segment = table
            .checked_add(i * each)
            .and_then(|at| usize::try_from(at).ok());
        let Some((offset, size)) = segment.and_then(|at| {
            Some((
                number(at.checked_add(8)?, 8)?,
                number(at.checked_add(32)?, 8)?,
            ))
        }) else {
            return short();
        };
        if offset
            .checked_add(size)
            .is_none_or(|end| end > bytes.len() as u64)
        {
            return short();
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[cfg(all(
        target_os = "linux",
        target_pointer_width = "64",
        target_endian = "little"
    ))]
    #[test]
    fn a_whole_program_is_whole_and_its_start_alone_is_not() {
        assert_eq!(damage(Path::new("/proc/self/exe")), None);
        let bytes = std::fs::read("/proc/self/exe").expect("the test program");
        assert!(damage_of(&bytes[..4096]).is_some());
    }

    #[test]
    fn what_is_no_library_is_damaged() {
        assert!(damage_of(b"words").is_some());
        assert!(damage_of(b"\x7fELF").is_some());
    }

    proptest! {
        #[test]
        fn any_bytes_are_survived(mut bytes in proptest::collection::vec(any::<u8>(), 4..200)) {
            bytes[..4].copy_from_slice(b"\x7fELF");
            damage_of(&bytes);
        }
    }
}
