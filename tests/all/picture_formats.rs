//! Every format gives the same picture, and what is broken is an error of that file.

use std::fs;
use std::path::{Path, PathBuf};

use boxward::picture::{Limits, Luma, PictureError, decode, load};
use boxward::reader::read;

fn file(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/formats").join(name)
}

fn luma(name: &str) -> Luma {
    load(&file(name), &Limits::default()).unwrap_or_else(|e| panic!("{name}: {e}"))
}

/// The files that show the one picture upright, by their own account.
const UPRIGHT: [&str; 25] = [
    "cmyk.jpg",
    "baseline.jpg",
    "grey.jpg",
    "progressive.jpg",
    "sampled-1x1.jpg",
    "sampled-1x2.jpg",
    "sampled-2x1.jpg",
    "restarts.jpg",
    "orientation-1.jpg",
    "orientation-2.jpg",
    "orientation-3.jpg",
    "orientation-4.jpg",
    "orientation-5.jpg",
    "orientation-6.jpg",
    "orientation-7.jpg",
    "orientation-8.jpg",
    "grey.png",
    "rgb.png",
    "grey-16-bit.png",
    "palette.png",
    "png-named.jpg",
    "lossless.webp",
    "lossy.webp",
    "grey.bmp",
    "colour.tiff",
];

fn mean_difference(a: &Luma, b: &Luma) -> f64 {
    let sum: u64 = a.pixels().iter().zip(b.pixels()).map(|(&x, &y)| u64::from(x.abs_diff(y))).sum();
    sum as f64 / a.pixels().len() as f64
}

#[test]
fn every_format_gives_the_same_picture() {
    let reference = luma("grey.png");
    for name in UPRIGHT.into_iter().chain(["colour.gif"]) {
        let picture = luma(name);
        assert_eq!((picture.width(), picture.height()), (reference.width(), reference.height()), "{name}");
        // Palettes and JPEG losses are a few levels; a picture turned the wrong way is dozens.
        let difference = mean_difference(&picture, &reference);
        assert!(difference < 8.0, "{name}: {difference}");
    }
}

#[test]
fn every_format_is_read() {
    for name in UPRIGHT.into_iter().chain(["colour.gif"]) {
        let symbols = read(&luma(name));
        let codes: Vec<String> =
            symbols.iter().map(|s| format!("{}+{}", s.code.gtin, s.code.add_on.read().unwrap())).collect();
        assert_eq!(codes, ["0614141001040+01211"], "{name}");
    }
}

/// JPEG straight to luma against the general library's way through RGB: the same luma but for rounding.
#[test]
fn luma_from_jpeg_agrees_with_the_way_through_rgb() {
    let direct = luma("baseline.jpg");
    let through_rgb = image::open(file("baseline.jpg")).unwrap().into_rgb8();
    // ITU-T T.871 (JFIF) defines luma as 0.299 R + 0.587 G + 0.114 B.
    let there: Vec<u8> = through_rgb
        .pixels()
        .map(|p| (0.299 * f64::from(p[0]) + 0.587 * f64::from(p[1]) + 0.114 * f64::from(p[2])).round() as u8)
        .collect();
    let there = Luma::new(direct.width(), direct.height(), there).unwrap();
    assert!(mean_difference(&direct, &there) < 1.5, "{}", mean_difference(&direct, &there));
}

#[test]
fn what_is_broken_says_how() {
    let error = |name: &str| load(&file(name), &Limits::default()).map(|luma| luma.width()).unwrap_err();
    assert!(matches!(error("empty.jpg"), PictureError::Empty));
    assert!(matches!(error("text.jpg"), PictureError::NotAPicture));
    assert!(matches!(error("truncated.jpg"), PictureError::Truncated));
    assert!(matches!(error("truncated.png"), PictureError::Damaged { format: "PNG", .. }));
    assert!(matches!(error("no-such-file.jpg"), PictureError::Io(_)));
}

/// Cut anywhere, damaged anywhere: an error or a picture, never a panic.
#[test]
fn nothing_broken_panics() {
    let limits = Limits { max_pixels: 4_000_000, ..Limits::default() };
    for name in [
        "baseline.jpg",
        "progressive.jpg",
        "grey.png",
        "palette.png",
        "lossless.webp",
        "lossy.webp",
        "grey.bmp",
        "colour.tiff",
        "colour.gif",
    ] {
        let whole = fs::read(file(name)).unwrap();
        for part in 0..24 {
            let cut = whole.len() * part / 24;
            assert!(decode(&whole[..cut], &limits).is_err() || cut > whole.len() / 2, "{name} cut at {cut}");
            let mut damaged = whole.clone();
            // A run of bytes from the middle of a part, inverted: headers, tables and data are all hit in turn.
            damaged.iter_mut().skip(cut + part).take(5).for_each(|byte| *byte = !*byte);
            let _ = decode(&damaged, &limits);
        }
    }
}

/// What a build with it does is in `tests/heic`.
#[test]
#[cfg(not(feature = "heic"))]
fn heic_is_refused_with_a_remedy() {
    let words = load(&file("colour.heic"), &Limits::default()).unwrap_err().to_string();
    assert!(words.contains("HEIC") && words.contains("JPEG") && words.contains("--features heic"), "{words}");
}
