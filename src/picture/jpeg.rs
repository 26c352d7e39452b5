//! JPEG straight to luma: the colour planes are never upsampled or converted, which is most of the cost of a photo.

use image::metadata::Orientation;
use zune_core::bytestream::ZCursor;
use zune_core::colorspace::ColorSpace;
use zune_core::options::DecoderOptions;
use zune_jpeg::JpegDecoder;

use super::{Limits, Luma, PictureError};

/// Start-of-image marker: how a JPEG is recognised (ITU-T T.81, annex B).
pub(super) const START: [u8; 3] = [0xff, 0xd8, 0xff];
const END: u8 = 0xd9;

/// How far the decoder reads ahead, and more.
pub(super) const AHEAD: usize = 16;

/// `None` for a JPEG whose colours have no luma plane to take (RGB, CMYK); `bytes` are then as they were.
pub(super) fn decode(bytes: &mut Vec<u8>, limits: &Limits) -> Result<Option<Luma>, PictureError> {
    let scan = Scan::first(bytes).filter(|scan| scan.has_end(bytes)).ok_or(PictureError::Truncated)?;
    let Some(end) = scan.end(bytes) else { return luma(bytes, false, limits) };
    // Behind the end marker the decoder makes up as many zeros as it asks for, so that damage by which data run out early moves
    // what was printed and is no error; without the marker and what follows it runs out of bytes.
    let rest = bytes.split_off(end);
    bytes.resize(end + AHEAD, 0);
    let decoded = luma(bytes, true, limits)?;
    bytes.truncate(end);
    bytes.extend(rest);
    Ok(decoded)
}

/// `strict`: pixels must not run out before the picture is full.
fn luma(bytes: &[u8], strict: bool, limits: &Limits) -> Result<Option<Luma>, PictureError> {
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
    // Headers may be odd, pixels may not.
    decoder.set_options(options.set_strict_mode(strict));
    let pixels = decoder.decode().map_err(damaged)?;
    Ok(Some(Luma::new(width, height, pixels).ok_or(PictureError::Truncated)?.oriented(orientation)))
}

fn damaged(error: impl std::error::Error + Send + Sync + 'static) -> PictureError {
    PictureError::Damaged { format: "JPEG", source: Box::new(error) }
}

/// Where a JPEG's first scan begins.
struct Scan {
    at: usize,
    /// Whether the decoder reads just as many bytes as a whole picture has, so that one that runs out of them is damaged.
    counted: bool,
}

impl Scan {
    /// Segments are skipped by their length, so that a thumbnail's scan does not count (ITU-T T.81, B.1.1).
    fn first(bytes: &[u8]) -> Option<Self> {
        const BASELINE: u8 = 0xc0;
        const EXTENDED: u8 = 0xc1;
        const SCAN: u8 = 0xda;
        let (mut at, mut counted) = (2, false);
        while let Some(&[0xff, marker]) = bytes.get(at..at + 2) {
            match marker {
                SCAN => return Some(Self { at, counted }),
                BASELINE | EXTENDED => counted = is_counted(&bytes[at..]),
                0xff => {
                    at += 1;
                    continue;
                }
                _ => {}
            }
            let &[high, low] = bytes.get(at + 2..at + 4)? else { return None };
            at += 2 + usize::from(u16::from_be_bytes([high, low]));
        }
        None
    }

    /// Whether the picture's end marker is there. The decoder fills a missing rest with grey and says nothing.
    fn has_end(&self, bytes: &[u8]) -> bool {
        // From the end, where it is in every whole file.
        bytes[self.at..].windows(2).rev().any(|w| w == [0xff, END])
    }

    /// Where its end marker stands, if this scan is all there is and its bytes are counted.
    fn end(&self, bytes: &[u8]) -> Option<usize> {
        let data = bytes.get(self.at + 2..).filter(|_| self.counted)?;
        // In a scan's data ff is always followed by 00 or a restart marker.
        let marker =
            memchr::memchr_iter(0xff, data).find(|&i| !matches!(data.get(i + 1), Some(0 | 0xd0..=0xd7 | 0xff)))?;
        (data.get(marker + 1) == Some(&END)).then_some(self.at + 2 + marker)
    }
}

/// Whether a picture with this header (ITU-T T.81, B.2.2) is one of those of which the decoder takes no more than there is: grey
/// ones, and those whose colours are whole, or halved across or both ways. Where they are halved down alone it reads on beyond the end
/// of whole pictures, too.
fn is_counted(header: &[u8]) -> bool {
    const WHOLE: u8 = 0x11;
    let factors = |count: usize| (0..count).map_while(|i| header.get(11 + 3 * i).copied()).collect::<Vec<u8>>();
    match header.get(9) {
        Some(1) => true,
        Some(3) => matches!(factors(3)[..], [WHOLE | 0x21 | 0x22, WHOLE, WHOLE]),
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Flat or busy, so that the last rows take a bit each or many bytes.
    fn jpeg(width: usize, height: usize, busy: bool) -> Vec<u8> {
        let grey = |i: usize| if busy { (i * 7919 % 251) as u8 } else { 200 };
        let pixels: Vec<u8> = (0..width * height).map(grey).collect();
        let mut bytes = Vec::new();
        image::codecs::jpeg::JpegEncoder::new_with_quality(&mut bytes, 90)
            .encode(&pixels, width as u32, height as u32, image::ExtendedColorType::L8)
            .expect("a picture");
        bytes
    }

    #[test]
    fn whole_pictures_of_any_size_have_all_their_pixels() {
        let limits = Limits::default();
        for (width, height) in (1..40).flat_map(|w| [1, 2, 7, 8, 9, 16, 17, 33].map(|h| (w, h))) {
            for busy in [false, true] {
                let mut bytes = jpeg(width, height, busy);
                let strict = decode(&mut bytes, &limits).unwrap_or_else(|e| panic!("{width} × {height}, {busy}: {e}"));
                assert_eq!(strict.unwrap().pixels(), luma(&bytes, false, &limits).unwrap().unwrap().pixels());
            }
        }
    }

    /// What follows the end marker is no part of the picture: phones put films there.
    #[test]
    fn what_follows_the_end_is_left_alone() {
        let mut bytes = jpeg(64, 64, true);
        let alone = decode(&mut bytes, &Limits::default()).unwrap().unwrap();
        bytes.extend_from_slice(b"a film \xff\xd8\xff\xd9");
        let before = bytes.clone();
        assert_eq!(decode(&mut bytes, &Limits::default()).unwrap().unwrap().pixels(), alone.pixels());
        assert!(bytes == before);
    }

    #[test]
    fn a_picture_whose_data_run_out_is_refused() {
        let whole = jpeg(64, 64, true);
        for share in [30, 50, 80, 90] {
            let mut bytes = whole[..whole.len() * share / 100].to_vec();
            bytes.extend_from_slice(&[0x55, 0xff, END]);
            let refused = decode(&mut bytes, &Limits::default());
            assert!(matches!(refused, Err(PictureError::Damaged { .. })), "{share} %: {refused:?}");
        }
    }
}
