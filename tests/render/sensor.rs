//! The sensor: light to eight bits, with noise.

use super::random::Random;
use super::scene::{Ink, Noise, Scene};
use super::{lens, view};

/// One colour: what a sensor without filters sees of an ink, by the weights of ITU-R BT.709.
pub fn grey([r, g, b]: Ink) -> [f32; 1] {
    [0.2126 * r + 0.7152 * g + 0.0722 * b]
}

/// Takes the picture. `split` says what each plane sees of an ink.
pub fn expose<const N: usize>(scene: &Scene, split: impl Fn(Ink) -> [f32; N]) -> [Vec<u8>; N] {
    let mut planes = view::image(scene, split);
    let module_px = scene.books.first().map_or(1.0, |b| b.pose.module_px);
    for plane in &mut planes {
        if scene.defocus_modules > 0.0 {
            lens::gaussian(plane, scene.width, scene.defocus_modules * module_px);
        }
        if scene.motion.length_modules > 0.0 {
            let (sin, cos) = scene.motion.turn_deg.to_radians().sin_cos();
            let length = scene.motion.length_modules * module_px;
            *plane = lens::smear(plane, scene.width, [length * cos, length * sin]);
        }
    }
    let mut random = Random::new(scene.seed);
    let curve = curve();
    planes.map(|plane| develop(&plane, scene.noise, &mut random, &curve))
}

const CURVE_STEPS: usize = 4096;

/// Linear light to eight bits by the sRGB curve (IEC 61966-2-1).
fn curve() -> Vec<u8> {
    let encode = |i: usize| {
        let light = i as f32 / (CURVE_STEPS - 1) as f32;
        let value = if light <= 0.003_130_8 { 12.92 * light } else { 1.055 * light.powf(1.0 / 2.4) - 0.055 };
        (value * 255.0).round() as u8
    };
    (0..CURVE_STEPS).map(encode).collect()
}

fn develop(plane: &[f32], noise: Noise, random: &mut Random, curve: &[u8]) -> Vec<u8> {
    let noisy = noise.shot > 0.0 || noise.read > 0.0;
    let value = |&light: &f32| {
        let mut light = light;
        if noisy {
            let shot = noise.shot * light.clamp(0.0, 1.0).sqrt();
            light += (shot * shot + noise.read * noise.read).sqrt() * random.bell();
        }
        curve[(light.clamp(0.0, 1.0) * (CURVE_STEPS - 1) as f32 + 0.5) as usize]
    };
    plane.iter().map(value).collect()
}
