//! The 8-bit grey picture, and its way back into a file.

use image::metadata::Orientation;
use image::{ExtendedColorType, ImageEncoder};

/// An 8-bit grey picture, rows from the top, no padding.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Luma {
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) pixels: Vec<u8>,
}

/// A picture could not be written as PNG.
#[derive(Debug, thiserror::Error)]
#[error("the picture could not be written as PNG")]
pub struct EncodeError(#[from] image::ImageError);

impl Luma {
    /// A picture of `width` × `height` px from its rows; `None` if the pixel count does not fit.
    #[must_use]
    pub fn new(width: usize, height: usize, pixels: Vec<u8>) -> Option<Self> {
        (width.checked_mul(height)? == pixels.len()).then_some(Self { width, height, pixels })
    }

    /// A picture whose pixel at (x, y) is `value(x, y)`.
    #[must_use]
    pub fn from_fn(width: usize, height: usize, mut value: impl FnMut(usize, usize) -> u8) -> Self {
        let mut pixels = Vec::with_capacity(width * height);
        for y in 0..height {
            pixels.extend((0..width).map(|x| value(x, y)));
        }
        Self { width, height, pixels }
    }

    /// A picture whose row `y` is what `fill(y, …)` makes of a black one.
    #[must_use]
    pub fn from_rows(width: usize, height: usize, mut fill: impl FnMut(usize, &mut [u8])) -> Self {
        let mut pixels = vec![0; width * height];
        pixels.chunks_exact_mut(width.max(1)).enumerate().for_each(|(y, row)| fill(y, row));
        Self { width, height, pixels }
    }

    /// The same with light and dark exchanged.
    #[must_use]
    pub fn negative(&self) -> Self {
        Self { pixels: self.pixels.iter().map(|grey| 255 - grey).collect(), ..*self }
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

    /// The pixels of row `y`, or none outside the picture.
    #[must_use]
    pub fn row(&self, y: usize) -> &[u8] {
        self.pixels.get(y * self.width..(y + 1) * self.width).unwrap_or(&[])
    }

    /// The picture as PNG, small and quick rather than smallest.
    ///
    /// # Errors
    /// If it has no pixels.
    pub fn to_png(&self) -> Result<Vec<u8>, EncodeError> {
        let mut png = Vec::new();
        image::codecs::png::PngEncoder::new(&mut png).write_image(
            &self.pixels,
            self.width as u32,
            self.height as u32,
            ExtendedColorType::L8,
        )?;
        Ok(png)
    }

    /// The picture turned and mirrored as EXIF's orientation asks.
    pub(super) fn oriented(self, orientation: Orientation) -> Self {
        let (w, h) = (self.width, self.height);
        let at = |x: usize, y: usize| self.pixels[y * w + x];
        match orientation {
            Orientation::NoTransforms => self,
            Orientation::FlipHorizontal => Self::from_fn(w, h, |x, y| at(w - 1 - x, y)),
            Orientation::FlipVertical => Self::from_fn(w, h, |x, y| at(x, h - 1 - y)),
            Orientation::Rotate180 => Self::from_fn(w, h, |x, y| at(w - 1 - x, h - 1 - y)),
            Orientation::Rotate90 => Self::from_fn(h, w, |x, y| at(y, h - 1 - x)),
            Orientation::Rotate270 => Self::from_fn(h, w, |x, y| at(w - 1 - y, x)),
            Orientation::Rotate90FlipH => Self::from_fn(h, w, |x, y| at(y, x)),
            Orientation::Rotate270FlipH => Self::from_fn(h, w, |x, y| at(w - 1 - y, h - 1 - x)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The reference for each orientation is the image library's own transform.
    #[test]
    fn orientation_agrees_with_the_image_library() {
        let luma = Luma::from_fn(5, 3, |x, y| (10 * y + x) as u8);
        let grey = image::GrayImage::from_raw(5, 3, luma.pixels().to_vec()).expect("size fits");
        for exif in 1..=8 {
            let orientation = Orientation::from_exif(exif).expect("1 to 8 are EXIF's orientations");
            let mut reference = image::DynamicImage::ImageLuma8(grey.clone());
            reference.apply_orientation(orientation);
            let reference = reference.into_luma8();
            let ours = luma.clone().oriented(orientation);
            assert_eq!((ours.width() as u32, ours.height() as u32), reference.dimensions(), "EXIF {exif}");
            assert_eq!(ours.pixels(), reference.as_raw().as_slice(), "EXIF {exif}");
        }
    }
}
