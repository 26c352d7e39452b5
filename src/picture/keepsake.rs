//! A photo made small enough to be kept, in colour.

use image::codecs::jpeg::JpegEncoder;
use image::{DynamicImage, ImageDecoder, Rgb, RgbImage};

use super::decode::{decode, opened};
use super::{Limits, PictureError, to_jpeg};

/// The longest side of a photo that is kept, in px: enough for a page's width on paper at 150 px an inch.
const LONGEST: u32 = 1200;

/// JPEG's quality, out of 100: damage on a cover stays visible, at about 200 kB a photo.
const QUALITY: u8 = 85;

/// A photo as a JPEG of at most 1200 px a side, upright. What the camera noted beside it (place, time, owner) is left out.
/// A HEIC photo is kept in grey.
///
/// # Errors
/// As [`decode`].
pub fn keepsake(bytes: &[u8], limits: &Limits) -> Result<Vec<u8>, PictureError> {
    // Damage is refused as it is for reading: the library below fills what is missing.
    let luma = decode(bytes, limits)?;
    let damaged = |source| PictureError::Damaged { format: "JPEG", source };
    let Ok(format) = image::guess_format(bytes) else {
        let small = luma.reduced(luma.width().max(luma.height()).div_ceil(LONGEST as usize));
        return to_jpeg(&small, QUALITY).map_err(|error| damaged(error.into()));
    };
    drop(luma);
    let (mut decoder, name) = opened(bytes, format, limits)?;
    let orientation = decoder.orientation().ok();
    let read = DynamicImage::from_decoder(decoder);
    let mut picture = read.map_err(|source| PictureError::Damaged { format: name, source: source.into() })?;
    if picture.width().max(picture.height()) > LONGEST {
        picture = picture.thumbnail(LONGEST, LONGEST);
    }
    if let Some(orientation) = orientation {
        picture.apply_orientation(orientation);
    }
    let paper = if picture.color().has_alpha() { on_white(&picture) } else { picture.into_rgb8() };
    let mut jpeg = Vec::new();
    let written = JpegEncoder::new_with_quality(&mut jpeg, QUALITY).encode_image(&paper);
    written.map_err(|error| damaged(error.into()))?;
    Ok(jpeg)
}

fn on_white(picture: &DynamicImage) -> RgbImage {
    let with_alpha = picture.to_rgba8();
    RgbImage::from_fn(with_alpha.width(), with_alpha.height(), |x, y| {
        let [r, g, b, alpha] = with_alpha.get_pixel(x, y).0.map(u32::from);
        Rgb([r, g, b].map(|colour| ((colour * alpha + 255 * (255 - alpha)) / 255) as u8))
    })
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;

    fn kept(name: &str) -> DynamicImage {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata").join(name);
        let jpeg = keepsake(&std::fs::read(path).unwrap(), &Limits::default()).unwrap();
        image::load_from_memory_with_format(&jpeg, image::ImageFormat::Jpeg).unwrap()
    }

    #[test]
    fn a_photo_is_kept_small_upright_and_in_colour() {
        let upright = kept("formats/orientation-1.jpg").into_luma8();
        let turned = kept("formats/orientation-6.jpg").into_luma8();
        assert_eq!(upright.dimensions(), turned.dimensions());
        let differences = upright.iter().zip(turned.iter()).map(|(a, b)| f64::from(a.abs_diff(*b)));
        assert!(differences.sum::<f64>() / (upright.len() as f64) < 8.0);
        let large = kept("stack/photo-01.jpg");
        assert!(large.width().max(large.height()) <= LONGEST && large.color().has_color());
    }

    #[test]
    fn what_the_camera_noted_is_left_out_and_damage_is_refused() {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/formats/orientation-6.jpg");
        let bytes = std::fs::read(path).unwrap();
        let has = |bytes: &[u8]| bytes.windows(4).any(|w| w == b"Exif");
        assert!(has(&bytes) && !has(&keepsake(&bytes, &Limits::default()).unwrap()));
        assert!(keepsake(&bytes[..bytes.len() / 2], &Limits::default()).is_err());
        assert!(matches!(keepsake(b"words", &Limits::default()), Err(PictureError::NotAPicture)));
    }
}
