//! JPEG straight to luma: the colour planes are never upsampled or converted, which is most of the cost of a photo.

use image::metadata::Orientation;
use zune_core::bytestream::ZCursor;
use zune_core::colorspace::ColorSpace;
use zune_core::options::DecoderOptions;
use zune_jpeg::JpegDecoder;

use super::{Limits, Luma, PictureError};

/// Start-of-image marker: how a JPEG is recognised (ITU-T T.81, annex B).
pub(super) const START: [u8; 3] = [0xff, 0xd8, 0xff];

/// `None` for a JPEG whose colours have no luma plane to take (RGB, CMYK).
pub(super) fn decode(bytes: &[u8], limits: &Limits) -> Result<Option<Luma>, PictureError> {
    if !has_end(bytes) {
        return Err(PictureError::Truncated);
    }
    let options = DecoderOptions::default()
        .jpeg_set_out_colorspace(ColorSpace::Luma)
        .set_max_width(usize::from(u16::MAX))
        .set_max_height(usize::from(u16::MAX));
    let mut decoder = JpegDecoder::new_with_options(ZCursor::new(bytes), options);
    decoder.decode_headers().map_err(damaged)?;
    let (width, height) = decoder.dimensions().ok_or(PictureError::Truncated)?;
    limits.check_pixels(width as u64, height as u64)?;
    let orientation =
        decoder.exif().and_then(|exif| Orientation::from_exif_chunk(exif)).unwrap_or(Orientation::NoTransforms);
    if !matches!(decoder.input_colorspace(), Some(ColorSpace::YCbCr | ColorSpace::Luma)) {
        return Ok(None);
    }
    let pixels = decoder.decode().map_err(damaged)?;
    Ok(Some(Luma::new(width, height, pixels).ok_or(PictureError::Truncated)?.oriented(orientation)))
}

fn damaged(error: impl std::error::Error + Send + Sync + 'static) -> PictureError {
    PictureError::Damaged { format: "JPEG", source: Box::new(error) }
}

/// Whether the picture's end marker is there. The decoder fills a missing rest with grey and says nothing.
///
/// Segments are skipped by their length up to the first scan, so that a thumbnail's end does not count; in the scan's
/// data ff is always followed by 00 or a restart marker, so the first ff d9 behind is the end (ITU-T T.81, B.1.1).
fn has_end(bytes: &[u8]) -> bool {
    const SCAN: u8 = 0xda;
    let mut at = 2;
    while let Some(&[0xff, marker]) = bytes.get(at..at + 2) {
        if marker == SCAN {
            // From the end, where it is in every whole file.
            return bytes[at..].windows(2).rev().any(|w| w == [0xff, 0xd9]);
        }
        if marker == 0xff {
            at += 1;
            continue;
        }
        let Some(&[high, low]) = bytes.get(at + 2..at + 4) else { return false };
        at += 2 + usize::from(u16::from_be_bytes([high, low]));
    }
    false
}
