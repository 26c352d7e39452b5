//! One small picture in the formats that this project can write itself, and files that are broken on purpose.
//! `testdata/README.md` says how the others were made.

use super::titles::TIDE_WARDENS;
use crate::render::file::{grey_jpeg, png, rgb_jpeg, stored_for, with_orientation};
use crate::render::{Book, Cover, Grey, Light, Pose, Rgb, Scene, Symbol, render, render_rgb};
use image::ExtendedColorType::{L8, L16, Rgb8};

/// The picture: Tide Wardens 12, clean, straight, 480 by 320.
pub fn scene() -> Scene {
    let cover = Cover::front(21, TIDE_WARDENS.title, "#12 $4.99 Lantern Row", "");
    let symbol: Symbol = TIDE_WARDENS.symbol().with_five([0, 1, 2, 1, 1]);
    let pose = Pose { at_px: [240.0, 150.0], module_px: 2.4, ..Pose::default() };
    Scene {
        width: 480,
        height: 320,
        books: vec![Book::new(symbol, cover, pose)],
        light: Light { level: 0.85, ..Light::default() },
        defocus_modules: 0.3,
        ..Scene::default()
    }
}

/// The files with their names. The broken ones end before the first bar.
pub fn formats() -> Vec<(String, Vec<u8>)> {
    let grey = render(&scene());
    let Rgb { width, height, pixels } = render_rgb(&scene());
    let rgb = Rgb { width, height, pixels };
    let mut mirrored = scene();
    mirrored.books[0].mirrored = true;
    let jpeg = rgb_jpeg(&rgb, 80);
    let grey_png = png(&grey.pixels, width, height, L8);
    // 16 bits whose low byte is not simply the high byte again, in the machine's byte order as `image` wants it.
    let wide: Vec<u8> = grey.pixels.iter().flat_map(|&v| (u16::from(v) << 8 | 0x5a).to_ne_bytes()).collect();
    let mut files = vec![
        ("baseline.jpg".to_owned(), jpeg.clone()),
        ("grey.jpg".to_owned(), grey_jpeg(&grey, 80)),
        ("grey.png".to_owned(), grey_png.clone()),
        ("rgb.png".to_owned(), png(&rgb.pixels, width, height, Rgb8)),
        ("grey-16-bit.png".to_owned(), png(&wide, width, height, L16)),
        ("mirrored.png".to_owned(), picture_png(&render(&mirrored))),
        ("truncated.jpg".to_owned(), jpeg[..jpeg.len() / 8].to_vec()),
        ("truncated.png".to_owned(), grey_png[..grey_png.len() / 8].to_vec()),
        ("empty.jpg".to_owned(), Vec::new()),
        ("text.jpg".to_owned(), b"Saturday: ask at the shop for Tide Wardens 14.\n".to_vec()),
        ("png-named.jpg".to_owned(), grey_png),
    ];
    for orientation in 1..=8 {
        let bytes = with_orientation(&grey_jpeg(&stored_for(&grey, orientation), 80), orientation);
        files.push((format!("orientation-{orientation}.jpg"), bytes));
    }
    files
}

/// A grey PNG.
pub fn picture_png(picture: &Grey) -> Vec<u8> {
    png(&picture.pixels, picture.width, picture.height, L8)
}
