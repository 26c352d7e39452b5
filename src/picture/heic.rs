//! HEIC, what iPhones write, through libheif (cargo feature `heic`).
//!
//! libheif applies the file's own rotation and mirroring; the EXIF orientation of a HEIC is only informative
//! (ISO/IEC 23008-12, clause 6.5) and must not be applied again.

use libheif_rs::{Chroma, ColorSpace, HeifContext, HeifError, LibHeif};

use super::{Limits, Luma, PictureError};

pub(super) fn decode(bytes: &[u8], limits: &Limits) -> Result<Luma, PictureError> {
    let damaged = |source: HeifError| PictureError::Damaged { format: "HEIC", source: Box::new(source) };
    let context = HeifContext::read_from_bytes(bytes).map_err(damaged)?;
    let handle = context.primary_image_handle().map_err(damaged)?;
    limits.check_pixels(u64::from(handle.width()), u64::from(handle.height()))?;
    let picture = LibHeif::new().decode(&handle, ColorSpace::YCbCr(Chroma::C420), None).map_err(damaged)?;
    let plane = picture.planes().y.ok_or(PictureError::Truncated)?;
    let (width, height) = (plane.width as usize, plane.height as usize);
    // Ten-bit pictures come as two bytes a sample, low byte first on the machines that libheif supports.
    let shift = u32::from(plane.bits_per_pixel).saturating_sub(8);
    let sample_bytes = if shift == 0 { 1 } else { 2 };
    let mut pixels = Vec::with_capacity(width * height);
    for row in plane.data.chunks(plane.stride).take(height) {
        let row = row.get(..width * sample_bytes).ok_or(PictureError::Truncated)?;
        if shift == 0 {
            pixels.extend_from_slice(row);
        } else {
            pixels.extend(row.chunks_exact(2).map(|s| (u16::from_ne_bytes([s[0], s[1]]) >> shift) as u8));
        }
    }
    Luma::new(width, height, pixels).ok_or(PictureError::Truncated)
}
