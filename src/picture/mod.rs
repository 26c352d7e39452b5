//! Files and frames as 8-bit luma: formats, orientation, limits. The only user of image libraries.
//!
//! Finding and reading bars is left to [`crate::reader`].

/// An 8-bit grey picture, rows from the top, no padding.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Luma {
    width: usize,
    height: usize,
    pixels: Vec<u8>,
}

impl Luma {
    /// A picture of `width` × `height` px from its rows; `None` if the pixel count does not fit.
    #[must_use]
    pub fn new(width: usize, height: usize, pixels: Vec<u8>) -> Option<Self> {
        (width.checked_mul(height)? == pixels.len()).then_some(Self { width, height, pixels })
    }

    /// Width in px.
    #[must_use]
    pub fn width(&self) -> usize {
        self.width
    }

    /// Height in px.
    #[must_use]
    pub fn height(&self) -> usize {
        self.height
    }

    /// All pixels, row by row; 0 is black, 255 is white.
    #[must_use]
    pub fn pixels(&self) -> &[u8] {
        &self.pixels
    }
}
