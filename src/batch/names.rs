//! What file and folder names tell: the role, the swing's own name, the kind of phone.

use std::path::Path;

use crate::result::{split_role, stem};
use crate::terms::Role;

/// The role that a clip's own name or its folder's name tells.
pub(super) fn role_of(relative: &Path) -> Option<Role> {
    split_role(&stem(relative)).1.or_else(|| {
        let folder = relative.parent()?.file_name()?;
        split_role(&folder.to_string_lossy()).1
    })
}

/// The name, with a number behind it where it is not free.
pub(super) fn numbered(name: &str, mut free: impl FnMut(&str) -> bool) -> String {
    let others = (2..).map(|n| format!("{name}-{n}"));
    let mut names = std::iter::once(name.to_owned()).chain(others);
    names.find(|n| free(n)).unwrap_or_default()
}

/// The letters that a name begins with; phones put them before their numbers.
pub(super) fn letters(name: &str) -> &str {
    let end = name.find(|c: char| !c.is_alphabetic());
    &name[..end.unwrap_or(name.len())]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_folder_may_tell_the_role() {
        assert_eq!(role_of(Path::new("face_on/IMG_1.mov")), Some(Role::FaceOn));
    }
}
