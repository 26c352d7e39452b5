//! The 8-bit grey picture, and its way back into a file.

use image::metadata::Orientation;
use image::{ExtendedColorType, ImageEncoder};

/// An 8-bit grey picture, rows from the top, no padding.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Luma {
    width: usize,
    height: usize,
    pixels: Vec<u8>,
}

/// Means that are made at a time.
const SIDE: usize = 16;

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

    /// The picture made smaller by a whole factor: each pixel is the mean of `factor` × `factor` px. What does not fill
    /// a whole pixel at the right and lower edge is left out.
    #[must_use]
    pub fn reduced(&self, factor: usize) -> Self {
        // With the factor known, the compiler knows each row's stride and divisor: several times quicker.
        match factor {
            0 | 1 => self.clone(),
            2 => self.means_side_by_side::<2, { 2 * SIDE }>(),
            3 => self.means_side_by_side::<3, { 3 * SIDE }>(),
            4 => self.means_side_by_side::<4, { 4 * SIDE }>(),
            5 => self.means(5),
            6 => self.means(6),
            _ => self.means(factor),
        }
    }

    /// The means of `FACTOR` × `FACTOR` px, [`SIDE`] at a time, of `BLOCK` columns: as wide as registers are.
    fn means_side_by_side<const FACTOR: usize, const BLOCK: usize>(&self) -> Self {
        const { assert!(BLOCK == FACTOR * SIDE && FACTOR <= 4) };
        let (width, height) = (self.width / FACTOR, self.height / FACTOR);
        let mut pixels = vec![0; width * height];
        let mut columns = vec![0u16; width.div_ceil(SIDE) * BLOCK];
        let rows = self.pixels.chunks_exact(self.width.max(1) * FACTOR);
        for (rows, out) in rows.zip(pixels.chunks_exact_mut(width.max(1))) {
            let (first, others) = rows.split_at(self.width);
            columns.iter_mut().zip(first).for_each(|(c, &p)| *c = u16::from(p));
            for row in others.chunks_exact(self.width) {
                columns.iter_mut().zip(row).for_each(|(c, &p)| *c += u16::from(p));
            }
            let (blocks, _) = columns.as_chunks::<BLOCK>();
            let (out, rest) = out.as_chunks_mut::<SIDE>();
            for (out, block) in out.iter_mut().zip(blocks) {
                *out = means_of::<FACTOR, BLOCK>(block);
            }
            if let Some(last) = blocks.get(out.len()) {
                rest.copy_from_slice(&means_of::<FACTOR, BLOCK>(last)[..rest.len()]);
            }
        }
        Self { width, height, pixels }
    }

    #[inline(always)]
    fn means(&self, factor: usize) -> Self {
        /// Rows whose sum still fits 16 bits.
        const ROWS: usize = (u16::MAX / u8::MAX as u16) as usize;
        let (width, height) = (self.width / factor, self.height / factor);
        let area = (factor * factor) as u32;
        let mut pixels = Vec::with_capacity(width * height);
        let mut sums = vec![0u32; width];
        let mut columns = vec![0u16; width * factor];
        for rows in self.pixels.chunks_exact(self.width.max(1) * factor).take(height) {
            sums.fill(0);
            for some in rows.chunks(self.width * ROWS) {
                columns.fill(0);
                for row in some.chunks_exact(self.width) {
                    columns.iter_mut().zip(row).for_each(|(c, &p)| *c += u16::from(p));
                }
                for (sum, block) in sums.iter_mut().zip(columns.chunks_exact(factor)) {
                    *sum += block.iter().map(|&c| u32::from(c)).sum::<u32>();
                }
            }
            pixels.extend(sums.iter().map(|&sum| ((sum + area / 2) / area) as u8));
        }
        Self { width, height, pixels }
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

/// The means of each `FACTOR` columns, from the sums of as many px in each.
#[inline(always)]
fn means_of<const FACTOR: usize, const BLOCK: usize>(columns: &[u16; BLOCK]) -> [u8; SIDE] {
    let mean = |from: usize| rounded_mean::<FACTOR>((0..FACTOR).map(|k| columns[from + k]).sum());
    if FACTOR.is_power_of_two() {
        return std::array::from_fn(|i| mean(FACTOR * i));
    }
    // From every column on, then every `FACTOR`th of them: more sums, but of neighbours, which is quicker.
    let mut means = [0u8; BLOCK];
    means[..BLOCK + 1 - FACTOR].iter_mut().enumerate().for_each(|(from, all)| *all = mean(from));
    std::array::from_fn(|i| means[FACTOR * i])
}

/// The mean of `FACTOR` × `FACTOR` px of this sum, without a division: of so few no sum is large enough for the rounding of what it is
/// multiplied with to tell. Both factors have 16 bits, of whose product processors give the upper half at once.
#[inline(always)]
fn rounded_mean<const FACTOR: usize>(sum: u16) -> u8 {
    let area = (FACTOR * FACTOR) as u16;
    let share = (1u32 << 16).div_ceil(u32::from(area)) as u16;
    ((u32::from(sum + area / 2) * u32::from(share)) >> 16) as u8
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mean_is_rounded_as_a_division_would_be() {
        fn agrees<const FACTOR: usize>() {
            let area = FACTOR * FACTOR;
            for sum in 0..=255 * area {
                assert_eq!(usize::from(rounded_mean::<FACTOR>(sum as u16)), (sum + area / 2) / area, "{sum} of {area}");
            }
        }
        agrees::<2>();
        agrees::<3>();
        agrees::<4>();
    }

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

    #[test]
    fn reducing_takes_means_and_drops_the_rest() {
        let luma = Luma::from_fn(5, 2, |x, y| (x * 10 + y * 2) as u8);
        assert_eq!(luma.reduced(2), Luma::new(2, 1, vec![6, 26]).expect("size fits"));
    }

    #[test]
    fn reducing_by_any_factor_is_the_mean_of_each_block() {
        let luma = Luma::from_fn(701, 303, |x, y| if (x ^ y) % 7 == 0 { 255 } else { (x * 31 + y * 17) as u8 });
        for factor in [1, 2, 3, 4, 5, 6, 7, 12, 100, 300, 304] {
            let mean = |x: usize, y: usize| {
                let block = (0..factor * factor).map(|i| (x * factor + i % factor, y * factor + i / factor));
                let sum: usize = block.map(|(x, y)| usize::from(luma.row(y)[x])).sum();
                ((sum + factor * factor / 2) / (factor * factor)) as u8
            };
            let naive = Luma::from_fn(701 / factor, 303 / factor, mean);
            assert_eq!(luma.reduced(factor), naive, "by {factor}");
        }
        let white = Luma::from_fn(520, 520, |_, _| 255);
        assert_eq!(white.reduced(260).pixels(), [255; 4], "sums of more rows than 16 bits hold");
    }
}
