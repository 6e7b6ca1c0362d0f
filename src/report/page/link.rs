//! Names of files and folders as parts of an address.

use percent_encoding::{AsciiSet, NON_ALPHANUMERIC, utf8_percent_encode};

/// All that is not plain; a lone "." or ".." would be taken for a folder.
const NOT_PLAIN: &AsciiSet = &NON_ALPHANUMERIC.remove(b'-').remove(b'_').remove(b'~');

/// A path segment with everything but plain letters escaped.
pub fn segment(text: &str) -> String {
    utf8_percent_encode(text, NOT_PLAIN).to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_stays_one_segment() {
        assert_eq!(segment("../a b"), "%2E%2E%2Fa%20b");
        assert_eq!(segment("Ö-1_~"), "%C3%96-1_~");
    }
}
