//! Pictures as file bytes.

use super::{Grey, Rgb};
use image::codecs::jpeg::JpegEncoder;
use image::{ExtendedColorType, ImageFormat};

/// A grey JPEG.
pub fn grey_jpeg(picture: &Grey, quality: u8) -> Vec<u8> {
    jpeg(&picture.pixels, picture.width, picture.height, quality, ExtendedColorType::L8)
}

/// A colour JPEG.
pub fn rgb_jpeg(picture: &Rgb, quality: u8) -> Vec<u8> {
    jpeg(&picture.pixels, picture.width, picture.height, quality, ExtendedColorType::Rgb8)
}

/// A JPEG's luma.
pub fn from_jpeg(bytes: &[u8]) -> Grey {
    let picture = image::load_from_memory_with_format(bytes, ImageFormat::Jpeg).expect("an own JPEG").into_luma8();
    Grey { width: picture.width() as usize, height: picture.height() as usize, pixels: picture.into_raw() }
}

/// A PNG of one sample a pixel (`L8`, `L16`) or three (`Rgb8`), as `colour` says.
pub fn png(pixels: &[u8], width: usize, height: usize, colour: ExtendedColorType) -> Vec<u8> {
    let mut bytes = std::io::Cursor::new(Vec::new());
    let (width, height) = (width as u32, height as u32);
    image::write_buffer_with_format(&mut bytes, pixels, width, height, colour, ImageFormat::Png).expect("a PNG");
    bytes.into_inner()
}

/// The JPEG with an EXIF block that says how to turn it: `orientation` 1 to 8 (EXIF 2.32, tag 0x0112).
pub fn with_orientation(jpeg: &[u8], orientation: u8) -> Vec<u8> {
    // Big-endian TIFF: header, one directory with one entry of type SHORT, no next directory.
    let tiff = [b'M', b'M', 0, 42, 0, 0, 0, 8, 0, 1, 0x01, 0x12, 0, 3, 0, 0, 0, 1, 0, orientation, 0, 0, 0, 0, 0, 0];
    let mut block = b"Exif\0\0".to_vec();
    block.extend(tiff);
    let mut bytes = vec![0xff, 0xd8, 0xff, 0xe1];
    bytes.extend((block.len() as u16 + 2).to_be_bytes());
    bytes.extend(block);
    bytes.extend(&jpeg[2..]);
    bytes
}

/// The picture as a camera held otherwise would have stored it: turned by `orientation`, it is upright again.
pub fn stored_for(picture: &Grey, orientation: u8) -> Grey {
    let (w, h) = (picture.width, picture.height);
    let (width, height) = if orientation >= 5 { (h, w) } else { (w, h) };
    let pixels = (0..height).flat_map(|y| (0..width).map(move |x| (x, y))).map(|(x, y)| {
        let (ux, uy) = match orientation {
            2 => (w - 1 - x, y),
            3 => (w - 1 - x, h - 1 - y),
            4 => (x, h - 1 - y),
            5 => (y, x),
            6 => (w - 1 - y, x),
            7 => (w - 1 - y, h - 1 - x),
            8 => (y, h - 1 - x),
            _ => (x, y),
        };
        picture.pixels[uy * w + ux]
    });
    Grey { width, height, pixels: pixels.collect() }
}

fn jpeg(pixels: &[u8], width: usize, height: usize, quality: u8, colour: ExtendedColorType) -> Vec<u8> {
    let mut bytes = Vec::new();
    let mut encoder = JpegEncoder::new_with_quality(&mut bytes, quality);
    encoder.encode(pixels, width as u32, height as u32, colour).expect("a JPEG");
    bytes
}
