//! A camera's frames to luma, straight from what the camera sends, and luma to JPEG for a preview.
//!
//! A detour over RGB costs 12 ms for 1080p, and gives the mean of three colours instead of luma.

use std::borrow::Cow;

use image::codecs::jpeg::JpegEncoder;
use image::{ExtendedColorType, ImageEncoder};

use super::{EncodeError, Limits, Luma, PictureError, jpeg};

/// How a camera packs its pictures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Packing {
    /// One JPEG a frame.
    Mjpeg,
    /// Luma and colour by turns: four bytes for two pixels.
    Yuyv,
    /// A plane of luma, then colour.
    Nv12,
    /// Luma alone.
    Grey,
}

impl Packing {
    /// The name that cameras' makers use.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Mjpeg => "MJPEG",
            Self::Yuyv => "YUYV",
            Self::Nv12 => "NV12",
            Self::Grey => "grey",
        }
    }
}

/// The luma of a frame of `width` × `height` px. Bytes behind the picture, which drivers leave there, are passed over.
///
/// # Errors
/// If the picture is not whole or, for MJPEG, damaged or too large.
pub fn luma_of_frame(bytes: &[u8], packing: Packing, [width, height]: [usize; 2]) -> Result<Luma, PictureError> {
    let plane = |size: Option<usize>| size.and_then(|size| bytes.get(..size)).ok_or(PictureError::Truncated);
    let pixels = width.checked_mul(height);
    let luma = match packing {
        Packing::Mjpeg => {
            let mut whole = with_tables(bytes).into_owned();
            return jpeg::decode(&mut whole, &Limits::default())?.ok_or(PictureError::NotAPicture);
        }
        Packing::Yuyv => {
            let pairs = plane(pixels.and_then(|n| n.checked_mul(2)))?;
            pairs.iter().step_by(2).copied().collect()
        }
        // Colour is of no use, but a frame without it is cut short.
        Packing::Nv12 => {
            let all = plane(pixels.and_then(|n| n.checked_add(n / 2)))?;
            all[..width * height].to_vec()
        }
        Packing::Grey => plane(pixels)?.to_vec(),
    };
    Luma::new(width, height, luma).ok_or(PictureError::Truncated)
}

/// Many webcams leave out the Huffman tables, which are always the same in MJPEG. The decoder fills them in where the
/// segment stands that AVI files mark such pictures with.
fn with_tables(bytes: &[u8]) -> Cow<'_, [u8]> {
    const AVI: &[u8] = b"\xff\xe0\x00\x10AVI1\0\0\0\0\0\0\0\0\0\0";
    // Markers of tables and of the first scan (ITU-T T.81, table B.1).
    const TABLES: u8 = 0xc4;
    const SCAN: u8 = 0xda;
    let mut at = 2;
    while let Some(&[0xff, marker, high, low]) = bytes.get(at..at + 4) {
        match marker {
            TABLES => break,
            SCAN => return [&bytes[..2], AVI, &bytes[2..]].concat().into(),
            _ => at += 2 + usize::from(u16::from_be_bytes([high, low])),
        }
    }
    bytes.into()
}

/// The picture as JPEG, for a page that shows it.
///
/// # Errors
/// If it has no pixels, or more than JPEG can hold.
pub fn to_jpeg(luma: &Luma, quality: u8) -> Result<Vec<u8>, EncodeError> {
    let mut bytes = Vec::new();
    JpegEncoder::new_with_quality(&mut bytes, quality).write_image(
        luma.pixels(),
        luma.width() as u32,
        luma.height() as u32,
        ExtendedColorType::L8,
    )?;
    Ok(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn luma_is_taken_from_its_bytes_and_what_is_behind_them_is_passed_over() {
        let size = [4, 2];
        let grey: Vec<u8> = (1..=8).collect();
        let expected = Luma::new(4, 2, grey.clone()).expect("size fits");
        let yuyv: Vec<u8> = grey.iter().flat_map(|&y| [y, 128]).collect();
        let nv12 = [&grey[..], &[128; 4]].concat();
        for (packing, whole) in [(Packing::Yuyv, yuyv), (Packing::Nv12, nv12), (Packing::Grey, grey)] {
            let padded = [&whole[..], &[9; 5]].concat();
            for bytes in [&whole, &padded] {
                assert_eq!(luma_of_frame(bytes, packing, size).expect("a whole frame"), expected, "{packing:?}");
            }
            let cut = luma_of_frame(&whole[..whole.len() - 1], packing, size);
            assert!(matches!(cut, Err(PictureError::Truncated)), "{packing:?}");
            assert!(luma_of_frame(&whole, packing, [usize::MAX, 2]).is_err(), "{packing:?}");
        }
    }

    #[test]
    fn a_jpeg_comes_back_nearly_as_it_went() {
        let luma = Luma::from_fn(64, 48, |x, y| (2 * x + y) as u8);
        let jpeg = to_jpeg(&luma, 90).expect("a picture");
        let back = luma_of_frame(&[&jpeg[..], &[0; 100]].concat(), Packing::Mjpeg, [64, 48]).expect("a whole frame");
        let worst = luma.pixels().iter().zip(back.pixels()).map(|(a, b)| a.abs_diff(*b)).max();
        assert!(worst < Some(6), "{worst:?}");
        assert!(to_jpeg(&Luma::from_fn(0, 0, |_, _| 0), 90).is_err());
    }

    #[test]
    fn a_frame_without_its_huffman_tables_is_read_all_the_same() {
        let whole = to_jpeg(&Luma::from_fn(64, 48, |x, y| (2 * x + y) as u8), 90).expect("a picture");
        let mut bare = whole[..2].to_vec();
        let mut at = 2;
        while whole[at + 1] != 0xda {
            let end = at + 2 + usize::from(u16::from_be_bytes([whole[at + 2], whole[at + 3]]));
            if whole[at + 1] != 0xc4 {
                bare.extend(&whole[at..end]);
            }
            at = end;
        }
        bare.extend(&whole[at..]);
        assert!(bare.len() < whole.len());
        let read = |bytes: &[u8]| luma_of_frame(bytes, Packing::Mjpeg, [64, 48]).expect("a whole frame");
        assert_eq!(read(&bare), read(&whole));
    }

    #[test]
    fn damaged_frames_are_errors() {
        let jpeg = to_jpeg(&Luma::from_fn(64, 48, |x, y| (x * y) as u8), 80).expect("a picture");
        let zeros = vec![0; jpeg.len()];
        for bytes in [&jpeg[..jpeg.len() / 2], &jpeg[..20], &zeros, &[]] {
            assert!(luma_of_frame(bytes, Packing::Mjpeg, [64, 48]).is_err(), "{} bytes", bytes.len());
        }
    }
}
