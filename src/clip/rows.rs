//! The bytes of a stored picture.

/// Rows of RGB bytes as they were stored.
#[derive(Clone, Copy, Default)]
pub struct Rows<'a> {
    pub bytes: &'a [u8],
    /// From row to row, bytes.
    pub stride: usize,
    /// Stored size, pixels.
    pub width: usize,
    pub height: usize,
}
