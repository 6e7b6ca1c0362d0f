//! The bytes of a stored picture.

/// Rows of RGB bytes as they were stored.
#[derive(Clone, Copy, Default)]
pub struct Rows<'a> {
    /// Red, green and blue of each pixel, row by row.
    pub bytes: &'a [u8],
    /// From row to row, bytes.
    pub stride: usize,
    /// Stored size, pixels.
    pub width: usize,
    /// Stored height, pixels.
    pub height: usize,
}
