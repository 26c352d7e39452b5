//! Bytes to luma, whatever the format, within limits.

use std::fs::File;
use std::io::{Cursor, Read};
use std::path::Path;

use image::metadata::Orientation;
use image::{DynamicImage, ImageDecoder, ImageFormat, ImageReader};

use super::{Limits, Luma, PictureError, jpeg};

/// What may stand beside a picture's pixels, unpacked, in bytes: colour profiles, notes, tables.
const ASIDE: u64 = 16 << 20;

/// Rows that are made grey at once: what is between two formats is never there as a whole.
const ROWS: u32 = 64;

/// Reads a picture file whole.
///
/// # Errors
/// If it can't be read, is no file, or is too large.
pub fn bytes(path: &Path, limits: &Limits) -> Result<Vec<u8>, PictureError> {
    // Asked before opening: opening a pipe would wait for its writer.
    let metadata = path.metadata().map_err(PictureError::Io)?;
    if !metadata.is_file() {
        return Err(PictureError::NotAFile);
    }
    limits.check_bytes(metadata.len())?;
    let mut bytes = Vec::with_capacity(metadata.len() as usize + 1 + jpeg::AHEAD);
    // One byte more than allowed tells "too many" even for a file that grows meanwhile.
    File::open(path)
        .map_err(PictureError::Io)?
        .take(limits.max_bytes + 1)
        .read_to_end(&mut bytes)
        .map_err(PictureError::Io)?;
    limits.check_bytes(bytes.len() as u64)?;
    Ok(bytes)
}

/// Reads and decodes a picture file.
///
/// # Errors
/// As [`bytes`] and [`decode`].
pub fn load(path: &Path, limits: &Limits) -> Result<Luma, PictureError> {
    decode_owned(bytes(path, limits)?, limits)
}

/// Decodes a picture file's bytes: JPEG, PNG, WebP, BMP, TIFF, GIF (its first picture), and HEIC if built in.
///
/// EXIF's orientation is applied. Transparent parts are white.
///
/// # Errors
/// If there are too many bytes or pixels, or if they are no picture or a damaged one.
pub fn decode(bytes: &[u8], limits: &Limits) -> Result<Luma, PictureError> {
    limits.check_bytes(bytes.len() as u64)?;
    if bytes.starts_with(&jpeg::START) { decode_owned(bytes.to_vec(), limits) } else { decode_other(bytes, limits) }
}

/// The same with bytes that nobody else needs: a JPEG's are changed while it is decoded.
fn decode_owned(mut bytes: Vec<u8>, limits: &Limits) -> Result<Luma, PictureError> {
    if bytes.starts_with(&jpeg::START)
        && let Some(luma) = jpeg::decode(&mut bytes, limits)?
    {
        return Ok(luma);
    }
    decode_other(&bytes, limits)
}

/// Every picture but the usual JPEG.
fn decode_other(bytes: &[u8], limits: &Limits) -> Result<Luma, PictureError> {
    if bytes.is_empty() {
        return Err(PictureError::Empty);
    }
    if is_heic(bytes) {
        return heic(bytes, limits);
    }
    let format = image::guess_format(bytes).map_err(|_| PictureError::NotAPicture)?;
    through_image(bytes, format, limits)
}

/// A decoder of the general image library, and the format's name.
pub(super) fn opened<'a>(
    bytes: &'a [u8],
    format: ImageFormat,
    limits: &Limits,
) -> Result<(impl ImageDecoder + 'a, &'static str), PictureError> {
    let name = match format {
        ImageFormat::Jpeg => "JPEG",
        ImageFormat::Png => "PNG",
        ImageFormat::WebP => "WebP",
        ImageFormat::Bmp => "BMP",
        ImageFormat::Tiff => "TIFF",
        ImageFormat::Gif => "GIF",
        _ => return Err(PictureError::NotAPicture),
    };
    let damaged = |source| PictureError::Damaged { format: name, source: Box::new(source) };
    let reader = |max_alloc: u64| {
        let mut bounds = image::Limits::default();
        bounds.max_alloc = Some(max_alloc);
        let mut reader = ImageReader::with_format(Cursor::new(bytes), format);
        reader.limits(bounds);
        reader
    };
    // The size alone, before there is room for its pixels: what stands beside them may be a bomb, too.
    let (width, height) = reader(ASIDE).into_dimensions().map_err(damaged)?;
    limits.check_pixels(u64::from(width), u64::from(height))?;
    // PNG's decoder takes the limit for what stands aside alone.
    let pixels = if format == ImageFormat::Png { 0 } else { limits.max_unpacked_bytes };
    let decoder = reader(pixels.saturating_add(ASIDE)).into_decoder().map_err(damaged)?;
    limits.check_unpacked(decoder.total_bytes())?;
    Ok((decoder, name))
}

/// Through the general image library: every format but the usual JPEG.
fn through_image(bytes: &[u8], format: ImageFormat, limits: &Limits) -> Result<Luma, PictureError> {
    let (mut decoder, name) = opened(bytes, format, limits)?;
    let (width, height) = decoder.dimensions();
    let damaged = |source| PictureError::Damaged { format: name, source: Box::new(source) };
    let orientation = decoder.orientation().unwrap_or(Orientation::NoTransforms);
    let grey = match DynamicImage::from_decoder(decoder).map_err(damaged)? {
        DynamicImage::ImageLuma8(grey) => grey.into_raw(),
        picture => {
            let mut grey = Vec::with_capacity(width as usize * height as usize);
            for y in (0..height).step_by(ROWS as usize) {
                grey.extend_from_slice(&on_white(picture.crop_imm(0, y, width, ROWS.min(height - y))));
            }
            grey
        }
    };
    Ok(Luma::new(width as usize, height as usize, grey).ok_or(PictureError::Truncated)?.oriented(orientation))
}

/// Luma, with white behind what is transparent.
fn on_white(picture: DynamicImage) -> Vec<u8> {
    if !picture.color().has_alpha() {
        return picture.into_luma8().into_raw();
    }
    let with_alpha = picture.into_luma_alpha8();
    let pixels = with_alpha.pixels().map(|&image::LumaA([luma, alpha])| {
        let (luma, alpha) = (u32::from(luma), u32::from(alpha));
        ((luma * alpha + 255 * (255 - alpha)) / 255) as u8
    });
    pixels.collect()
}

/// ISO base media file with one of HEIC's brands (ISO/IEC 23008-12, annex B; AVIF is another matter).
fn is_heic(bytes: &[u8]) -> bool {
    const BRANDS: [&[u8]; 6] = [b"heic", b"heix", b"heim", b"heis", b"mif1", b"msf1"];
    bytes.get(4..8) == Some(b"ftyp") && bytes.get(8..12).is_some_and(|brand| BRANDS.contains(&brand))
}

#[cfg(feature = "heic")]
fn heic(bytes: &[u8], limits: &Limits) -> Result<Luma, PictureError> {
    super::heic::decode(bytes, limits)
}

#[cfg(not(feature = "heic"))]
fn heic(_bytes: &[u8], _limits: &Limits) -> Result<Luma, PictureError> {
    Err(PictureError::Heic)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn limits_are_checked_before_anything_is_allocated() {
        // A PNG header that claims 60,000 × 60,000 px and has no data behind it.
        let mut png = b"\x89PNG\r\n\x1a\n\0\0\0\x0dIHDR\0\0\xea\x60\0\0\xea\x60\x08\0\0\0\0".to_vec();
        png.extend(crc32(&png[12..]).to_be_bytes());
        png.extend(b"\0\0\0\0IDAT\x35\xaf\x06\x1e");
        let refused = decode(&png, &Limits::default());
        assert!(matches!(refused, Err(PictureError::TooManyPixels { width: 60_000, .. })), "{refused:?}");
        let refused = decode(&png, &Limits { max_bytes: 10, ..Limits::default() });
        assert!(matches!(refused, Err(PictureError::TooManyBytes { .. })));
    }

    /// CRC of PNG's chunks (W3C PNG specification, annex D).
    fn crc32(bytes: &[u8]) -> u32 {
        !bytes.iter().fold(!0u32, |crc, &byte| {
            (0..8).fold(crc ^ u32::from(byte), |c, _| if c & 1 == 1 { 0xedb8_8320 ^ (c >> 1) } else { c >> 1 })
        })
    }

    #[test]
    fn transparent_black_is_white_paper() {
        let mut clear = image::RgbaImage::new(2, 1);
        clear.put_pixel(1, 0, image::Rgba([0, 0, 0, 255]));
        let mut png = Cursor::new(Vec::new());
        clear.write_to(&mut png, ImageFormat::Png).expect("PNG is built in");
        let luma = decode(png.get_ref(), &Limits::default()).expect("a good PNG");
        assert_eq!(luma.pixels(), [255, 0]);
    }

    #[test]
    fn what_is_no_picture_says_so() {
        let limits = Limits::default();
        assert!(matches!(decode(b"", &limits), Err(PictureError::Empty)));
        assert!(matches!(decode(b"just words", &limits), Err(PictureError::NotAPicture)));
        assert!(matches!(decode(&jpeg::START, &limits), Err(PictureError::Truncated)));
    }
}
