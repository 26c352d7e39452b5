//! Simulated pictures: light, blur and noise have the sizes that the scene names.

use crate::render::file::{from_jpeg, grey_jpeg, stored_for, with_orientation};
use crate::render::symbol::digits;
use crate::render::{Bars, Book, Cover, Glare, Grey, Light, Noise, Pose, Scene, Symbol, lens, render};
use image::{DynamicImage, GrayImage, ImageDecoder};

fn symbol() -> Symbol {
    Symbol::upc_a(digits("614141001040")).with_five([0, 1, 2, 1, 1])
}

fn clean(module_px: f32) -> Scene {
    let pose = Pose { module_px, ..Pose::default() };
    Scene { books: vec![Book::new(symbol(), Cover::default(), pose)], ..Scene::default() }
}

/// The row through the middle of the bars: one value a module, taken at the module's centre. 165 is about half of the
/// paper's light by the sRGB curve.
fn modules(picture: &Grey, module_px: f32) -> Vec<bool> {
    let width = symbol().width();
    let left = 320.0 - width / 2.0 * module_px;
    let row = &picture.pixels[240 * picture.width..];
    (0..width as usize).map(|i| row[(left + (i as f32 + 0.5) * module_px) as usize] < 165).collect()
}

/// The sRGB curve undone (IEC 61966-2-1).
fn linear(value: u8) -> f32 {
    let value = f32::from(value) / 255.0;
    if value <= 0.040_45 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
}

#[test]
fn a_clean_picture_shows_every_module() {
    for module_px in [1.5, 2.0, 3.0, 4.0] {
        assert_eq!(modules(&render(&clean(module_px)), module_px), symbol().modules(), "{module_px} pixels a module");
    }
}

#[test]
fn a_scene_is_the_same_picture_every_time() {
    let mut scene = clean(3.0);
    scene.noise = Noise { shot: 0.02, read: 0.01 };
    let first = render(&scene);
    assert_eq!(first, render(&scene));
    scene.seed += 1;
    assert_ne!(first, render(&scene));
}

#[test]
fn a_mirror_swaps_left_and_right() {
    let mut scene = clean(4.0);
    scene.books[0].mirrored = true;
    let mut seen = modules(&render(&scene), 4.0);
    seen.reverse();
    assert_eq!(seen, symbol().modules());
}

#[test]
fn grown_bars_are_wider_by_twice_the_growth() {
    let dark = |growth: f32| {
        let mut scene = clean(4.0);
        scene.books[0].bar_growth_modules = growth;
        scene.books[0].bars = Bars { dark: [0.0; 3], light: [1.0; 3] };
        scene.light.level = 1.0;
        scene.supersample = 16;
        let picture = render(&scene);
        let row = &picture.pixels[240 * picture.width..241 * picture.width];
        row.iter().map(|&v| 1.0 - linear(v)).sum::<f32>() / 4.0
    };
    let bars = {
        let modules = symbol().modules();
        modules.windows(2).filter(|pair| !pair[0] && pair[1]).count() + 1
    };
    for growth in [-0.2, 0.25] {
        let wider = (dark(growth) - dark(0.0)) / bars as f32;
        assert!((wider - 2.0 * growth).abs() < 0.05, "{growth}: {wider}");
    }
}

#[test]
fn noise_has_the_named_deviation() {
    let noise = Noise { shot: 0.0, read: 0.02 };
    // Grey paper in the steep, nearly straight middle of the sRGB curve.
    let mut scene = Scene { noise, light: Light { level: 0.5, ..Light::default() }, ..Scene::default() };
    scene.desk = crate::render::Desk::Plain([0.5; 3]);
    let picture = render(&scene);
    let values: Vec<f32> = picture.pixels.iter().map(|&v| linear(v)).collect();
    let mean = values.iter().sum::<f32>() / values.len() as f32;
    let variance = values.iter().map(|v| (v - mean).powi(2)).sum::<f32>() / values.len() as f32;
    assert!((mean - 0.25).abs() < 0.002, "{mean}");
    assert!((variance.sqrt() - 0.02).abs() < 0.001, "{}", variance.sqrt());
}

#[test]
fn blur_spreads_a_point_by_its_deviation_and_loses_no_light() {
    let width = 101;
    let mut plane = vec![0.0; width * width];
    plane[50 * width + 50] = 1.0;
    let smeared = lens::smear(&plane, width, [12.0, 0.0]);
    lens::gaussian(&mut plane, width, 4.0);
    let moments = |plane: &[f32]| {
        let total: f32 = plane.iter().sum();
        let across: f32 = plane.iter().enumerate().map(|(i, v)| v * ((i % width) as f32 - 50.0).powi(2)).sum();
        (total, (across / total).sqrt())
    };
    let (total, deviation) = moments(&plane);
    assert!((total - 1.0).abs() < 1e-3 && (deviation - 4.0).abs() < 0.1, "{total} {deviation}");
    // An even line of length 12 has the deviation 12 / sqrt(12).
    let (total, deviation) = moments(&smeared);
    assert!((total - 1.0).abs() < 1e-3 && (deviation - 12.0 / 12f32.sqrt()).abs() < 0.2, "{total} {deviation}");
}

/// The edge of a broad bar is spread by the named deviation, however many pixels a module has.
#[test]
fn defocus_has_the_named_deviation() {
    for (module_px, defocus) in [(2.0, 0.7), (3.0, 1.4), (7.0, 0.5), (20.0, 0.3), (20.0, 1.4)] {
        let mut scene = clean(module_px);
        scene.books[0].symbol = Symbol::pattern(&"1".repeat(200));
        // The bar's left edge in the middle of the picture.
        scene.books[0].pose.at_px[0] += 100.0 * module_px;
        scene.defocus_modules = defocus;
        let picture = render(&scene);
        let row: Vec<f32> = picture.pixels[240 * 640..241 * 640].iter().map(|&v| linear(v)).collect();
        let slope: Vec<(f32, f32)> = row.windows(2).enumerate().map(|(x, w)| (x as f32, w[0] - w[1])).collect();
        let total: f32 = slope.iter().map(|(_, s)| s).sum();
        let middle = slope.iter().map(|(x, s)| x * s).sum::<f32>() / total;
        let variance = slope.iter().map(|(x, s)| (x - middle).powi(2) * s).sum::<f32>() / total;
        let deviation = variance.sqrt() / module_px;
        assert!((deviation / defocus - 1.0).abs() < 0.04, "{module_px} px a module: {deviation}, not {defocus}");
    }
}

#[test]
fn glare_burns_out_its_part_and_no_other() {
    let mut scene = clean(3.0);
    scene.books[0].glare =
        vec![Glare { at_modules: [75.0, 15.0], half_modules: [120.0, 8.0], turn_deg: 0.0, strength: 3.0 }];
    let picture = render(&scene);
    let top = 240.0 - symbol().height / 2.0 * 3.0;
    let row = |v: f32| {
        let y = (top + v * 3.0) as usize;
        &picture.pixels[y * 640 + 120..y * 640 + 520]
    };
    assert!(row(15.0).iter().all(|&v| v > 250));
    assert_eq!(modules(&picture, 3.0), symbol().modules(), "below the reflection");
    assert!(row(60.0).iter().any(|&v| v < 80));
}

#[test]
fn jpeg_losses_are_part_of_the_picture() {
    let plain = render(&clean(3.0));
    let lossy = render(&Scene { jpeg_quality: Some(30), ..clean(3.0) });
    assert_ne!(plain, lossy);
    assert_eq!(modules(&lossy, 3.0), symbol().modules());
    let _: Grey = from_jpeg(&grey_jpeg(&plain, 90));
}

/// Against the `image` library's reading of the tag and its turning.
#[test]
fn every_orientation_turns_back_to_the_upright_picture() {
    let upright = Grey { width: 48, height: 32, pixels: (0..48 * 32).map(|i| (i % 48 * 4 + i / 48) as u8).collect() };
    for orientation in 1..=8 {
        let stored = stored_for(&upright, orientation);
        let bytes = with_orientation(&grey_jpeg(&stored, 95), orientation);
        let mut decoder = image::codecs::jpeg::JpegDecoder::new(std::io::Cursor::new(&bytes)).unwrap();
        let tag = decoder.orientation().unwrap();
        assert_eq!(tag.to_exif(), orientation);
        let exact = GrayImage::from_raw(stored.width as u32, stored.height as u32, stored.pixels).unwrap();
        let mut picture = DynamicImage::ImageLuma8(exact);
        picture.apply_orientation(tag);
        assert_eq!(picture.into_luma8().into_raw(), upright.pixels, "orientation {orientation}");
    }
}
