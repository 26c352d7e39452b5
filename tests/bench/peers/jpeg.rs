//! Photos of twelve megapixels: what loading and reading one costs beside the bare decoding of its luma.

use std::fs;
use std::hint::black_box;
use std::path::{Path, PathBuf};

use jpeg_encoder::{ColorType, Encoder, SamplingFactor};
use zune_core::bytestream::ZCursor;
use zune_core::colorspace::ColorSpace;
use zune_core::options::DecoderOptions;
use zune_jpeg::JpegDecoder;

use super::files::{luma, testdata};
use super::readers::READERS;
use super::render::{Book, Cover, Desk, Light, Noise, Pose, Scene, Symbol, render_rgb};
use super::time::{cost_ms, median};

const RUNS: usize = 25;

/// Measures and prints.
pub fn table() {
    println!(
        "## JPEGs of twelve megapixels: load and read together, beside the bare decoding of the luma (goal: 1.4 of it)\n"
    );
    println!(
        "| photo | MB | bare decoding, ms | load, ms | reader | load and read, ms | as a multiple of decoding | codes |\n\
         |---|---|---|---|---|---|---|---|"
    );
    let folder = tempfile::tempdir().unwrap();
    for (name, path) in [("calm", testdata("stack/photo-15.jpg")), ("noisy", noisy(folder.path()))] {
        let bytes = fs::read(&path).unwrap();
        let mut bare = Vec::new();
        let mut load = Vec::new();
        let mut whole = [const { Vec::new() }; READERS.len()];
        let mut shares = [const { Vec::new() }; READERS.len()];
        let mut codes = [0; READERS.len()];
        // A ratio of what was measured at different times says little on a machine that others use: each reader's is of a
        // decoding right before it.
        for _ in 0..RUNS {
            load.push(cost_ms(|| black_box(luma(&path))).1);
            for (i, reader) in READERS.iter().enumerate() {
                let decoding = cost_ms(|| black_box(decode(&bytes))).1;
                let (answers, ms) = cost_ms(|| (reader.read)(&luma(&path)));
                bare.push(decoding);
                whole[i].push(ms);
                shares[i].push(ms / decoding);
                codes[i] = answers.len();
            }
        }
        let (bare, load, megabytes) = (median(bare), median(load), bytes.len() as f64 / 1e6);
        for (((reader, whole), shares), codes) in READERS.iter().zip(whole).zip(shares).zip(codes) {
            let (whole, share, reader) = (median(whole), median(shares), reader.name);
            println!(
                "| {name} | {megabytes:.1} | {bare:.1} | {load:.1} | {reader} | {whole:.1} | {share:.2} | {codes} |"
            );
        }
    }
    println!();
}

/// What no program that reads a JPEG's luma can do without.
fn decode(bytes: &[u8]) -> Vec<u8> {
    let options = DecoderOptions::default().jpeg_set_out_colorspace(ColorSpace::Luma);
    JpegDecoder::new_with_options(ZCursor::new(bytes), options).decode().unwrap()
}

/// A photo as phones make them: noise left in it, quality 90, colours at half the resolution.
fn noisy(folder: &Path) -> PathBuf {
    let cover = Cover::front(31, "Night Tide", "#3 $4.99", "Who rang the bell?");
    let symbol = Symbol::upc_a([6, 1, 4, 1, 4, 1, 0, 5, 5, 0, 8, 1]);
    let pose = Pose {
        at_px: [1500.0, 2060.0],
        module_px: 7.0,
        turn_deg: -3.0,
        tilt_x_deg: 5.0,
        tilt_y_deg: 2.0,
        ..Pose::default()
    };
    let picture = render_rgb(&Scene {
        width: 4000,
        height: 3000,
        seed: 31,
        desk: Desk::Wood { ink: [0.33, 0.19, 0.10], grain_px: 23.0 },
        books: vec![Book::new(symbol.with_five([3, 1, 0, 1, 1]), cover, pose)],
        light: Light { level: 0.8, slope: [-0.3, 0.1], vignette: 0.2, ..Light::default() },
        defocus_modules: 0.2,
        noise: Noise { shot: 0.03, read: 0.003 },
        supersample: 2,
        ..Scene::default()
    });
    let path = folder.join("noisy.jpg");
    let mut encoder = Encoder::new_file(&path, 90).unwrap();
    encoder.set_sampling_factor(SamplingFactor::F_2_2);
    encoder.encode(&picture.pixels, picture.width as u16, picture.height as u16, ColorType::Rgb).unwrap();
    path
}
