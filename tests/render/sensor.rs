//! From a scene to a picture: light through the lens onto a noisy sensor, then to eight bits.

use super::camera::Camera;
use super::cover::Painter;
use super::random::{Random, cell};
use super::scene::{Book, Desk, Glare, Ink, Noise, Scene};

/// Light on the sensor, one plane a colour, linear; 1 is full scale.
pub type Planes<const N: usize> = [Vec<f32>; N];

/// One colour: what a sensor without filters sees of an ink, by the weights of ITU-R BT.709.
pub fn grey([r, g, b]: Ink) -> [f32; 1] {
    [0.2126 * r + 0.7152 * g + 0.0722 * b]
}

/// Takes the picture. `split` says what each plane sees of an ink.
pub fn expose<const N: usize>(scene: &Scene, split: fn(Ink) -> [f32; N]) -> [Vec<u8>; N] {
    let mut planes = image(scene, split);
    let module_px = scene.books.first().map_or(1.0, |b| b.pose.module_px);
    for plane in &mut planes {
        if scene.defocus_modules > 0.0 {
            gaussian(plane, scene.width, scene.defocus_modules * module_px);
        }
        if scene.motion.length_modules > 0.0 {
            let (sin, cos) = scene.motion.turn_deg.to_radians().sin_cos();
            let length = scene.motion.length_modules * module_px;
            *plane = smear(plane, scene.width, [length * cos, length * sin]);
        }
    }
    let mut random = Random::new(scene.seed);
    let curve = curve();
    planes.map(|plane| develop(&plane, scene.noise, &mut random, &curve))
}

/// A book with all that is needed for each point of it.
struct Sight<'a> {
    camera: Camera,
    painter: Painter<'a>,
    glare: Vec<(Glare, f32, f32)>,
    haze: f32,
}

impl<'a> Sight<'a> {
    fn new(book: &'a Book) -> Self {
        let middle = [book.symbol.width() / 2.0, book.symbol.height / 2.0];
        let turned = |g: &Glare| {
            let (sin, cos) = g.turn_deg.to_radians().sin_cos();
            (*g, sin, cos)
        };
        Self {
            camera: Camera::new(&book.pose, middle),
            painter: Painter::new(book),
            glare: book.glare.iter().map(turned).collect(),
            haze: book.haze,
        }
    }

    /// What the film adds at a point of the book.
    fn veil(&self, [u, v]: [f32; 2]) -> f32 {
        let mut light = self.haze;
        for (glare, sin, cos) in &self.glare {
            let (du, dv) = (u - glare.at_modules[0], v - glare.at_modules[1]);
            let x = (du * cos + dv * sin) / glare.half_modules[0];
            let y = (dv * cos - du * sin) / glare.half_modules[1];
            // Falls to half at 1, flat in the middle, with a soft rim: crumpled film, not a lamp's sharp image.
            let r = x * x + y * y;
            light += glare.strength / (1.0 + r * r * r);
        }
        light
    }
}

fn image<const N: usize>(scene: &Scene, split: fn(Ink) -> [f32; N]) -> Planes<N> {
    let (width, height) = (scene.width, scene.height);
    let sights: Vec<Sight> = scene.books.iter().map(Sight::new).collect();
    let mut planes: Planes<N> = std::array::from_fn(|_| vec![0.0; width * height]);
    // Each book's place at every pixel's corner, for this row and the next: samples lie between.
    let corners = |y: usize| -> Vec<Vec<Option<[f32; 2]>>> {
        let at = |s: &Sight, x: usize| s.camera.to_modules(x as f32, y as f32);
        sights.iter().map(|s| (0..=width).map(|x| at(s, x)).collect()).collect()
    };
    let tint = split(scene.light.tint);
    let mut upper = corners(0);
    for y in 0..height {
        let lower = corners(y + 1);
        for x in 0..width {
            let mut sum = [0.0; N];
            let n = scene.supersample.max(1);
            for j in 0..n {
                for i in 0..n {
                    let (fx, fy) = ((i as f32 + 0.5) / n as f32, (j as f32 + 0.5) / n as f32);
                    let mut shade = 1.0;
                    let seen = sights.iter().enumerate().rev().find_map(|(b, sight)| {
                        let [[a0, b0], [a1, b1]] = [[upper[b][x]?, upper[b][x + 1]?], [lower[b][x]?, lower[b][x + 1]?]];
                        let at: [f32; 2] = std::array::from_fn(|k| {
                            let top = a0[k] + (b0[k] - a0[k]) * fx;
                            top + (a1[k] + (b1[k] - a1[k]) * fx - top) * fy
                        });
                        let ink = sight.painter.ink(at);
                        shade *= if ink.is_none() { sight.painter.shade(at) } else { 1.0 };
                        ink.map(|ink| {
                            let veil = sight.veil(at);
                            ink.map(|c| c + veil)
                        })
                    });
                    let seen = seen.unwrap_or_else(|| desk(scene, x as f32 + fx, y as f32 + fy));
                    for (total, part) in sum.iter_mut().zip(split(seen)) {
                        *total += part * shade;
                    }
                }
            }
            let light = light(scene, x, y) / (n * n) as f32;
            for ((plane, total), tint) in planes.iter_mut().zip(sum).zip(tint) {
                plane[y * width + x] = total * light * tint;
            }
        }
        upper = lower;
    }
    planes
}

fn light(scene: &Scene, x: usize, y: usize) -> f32 {
    let light = &scene.light;
    let (fx, fy) = (x as f32 / scene.width as f32 - 0.5, y as f32 / scene.height as f32 - 0.5);
    let slope = 1.0 + light.slope[0] * fx + light.slope[1] * fy;
    // 0.5 is the squared distance of a corner.
    light.level * slope.max(0.0) * (1.0 - light.vignette * (fx * fx + fy * fy) / 0.5)
}

fn desk(scene: &Scene, x: f32, y: f32) -> Ink {
    match scene.desk {
        Desk::Plain(ink) => ink,
        Desk::Wood { ink, grain_px } => {
            let wave = (x / (grain_px * 60.0)).sin() * 3.0 + (x / (grain_px * 23.0)).sin();
            let line = y / grain_px + wave;
            let (row, part) = (line.floor(), line - line.floor());
            let shade = |row: i32| cell(scene.seed, row, 0) * 0.5 + cell(scene.seed, row / 7, 1) * 0.5;
            let grain = shade(row as i32) * (1.0 - part) + shade(row as i32 + 1) * part;
            ink.map(|c| c * (0.65 + 0.6 * grain))
        }
    }
}

/// Blurs rows, then columns. Beyond the edge the edge's value goes on.
fn gaussian(plane: &mut [f32], width: usize, sigma: f32) {
    let reach = (3.0 * sigma).ceil().max(1.0) as usize;
    let mut weights: Vec<f32> = (0..=reach).map(|i| (-0.5 * (i as f32 / sigma).powi(2)).exp()).collect();
    let total = weights[0] + 2.0 * weights[1..].iter().sum::<f32>();
    weights.iter_mut().for_each(|w| *w /= total);
    let height = plane.len() / width;
    let mut padded = vec![0.0; width + 2 * reach];
    for row in plane.chunks_exact_mut(width) {
        padded[..reach].fill(row[0]);
        padded[reach..reach + width].copy_from_slice(row);
        padded[reach + width..].fill(row[width - 1]);
        row.iter_mut().zip(&padded[reach..]).for_each(|(r, p)| *r = p * weights[0]);
        for (i, &weight) in weights.iter().enumerate().skip(1) {
            let pairs = padded[reach - i..].iter().zip(&padded[reach + i..]);
            row.iter_mut().zip(pairs).for_each(|(r, (a, b))| *r += (a + b) * weight);
        }
    }
    let source = plane.to_vec();
    let line = |y: isize| {
        let y = y.clamp(0, height as isize - 1) as usize;
        &source[y * width..(y + 1) * width]
    };
    for (y, row) in plane.chunks_exact_mut(width).enumerate() {
        row.iter_mut().for_each(|r| *r *= weights[0]);
        for (i, &weight) in weights.iter().enumerate().skip(1) {
            let (y, i) = (y as isize, i as isize);
            let pairs = line(y - i).iter().zip(line(y + i));
            row.iter_mut().zip(pairs).for_each(|(r, (a, b))| *r += (a + b) * weight);
        }
    }
}

/// The mean along a straight line of `line` pixels.
fn smear(plane: &[f32], width: usize, line: [f32; 2]) -> Vec<f32> {
    let height = plane.len() / width;
    let steps = (line[0].abs().max(line[1].abs()).ceil() as usize * 2).max(2);
    let mut sum = vec![0.0; plane.len()];
    for step in 0..=steps {
        let share = step as f32 / steps as f32 - 0.5;
        let (dx, dy) = (line[0] * share, line[1] * share);
        let (fx, fy) = (dx - dx.floor(), dy - dy.floor());
        let (ix, iy) = (dx.floor() as isize, dy.floor() as isize);
        for (y, row) in sum.chunks_exact_mut(width).enumerate() {
            let at = |dy: isize| {
                let y = (y as isize + iy + dy).clamp(0, height as isize - 1) as usize;
                &plane[y * width..(y + 1) * width]
            };
            let (upper, lower) = (at(0), at(1));
            for (x, value) in row.iter_mut().enumerate() {
                let left = (x as isize + ix).clamp(0, width as isize - 1) as usize;
                let right = (x as isize + ix + 1).clamp(0, width as isize - 1) as usize;
                let top = upper[left] * (1.0 - fx) + upper[right] * fx;
                *value += top * (1.0 - fy) + (lower[left] * (1.0 - fx) + lower[right] * fx) * fy;
            }
        }
    }
    let share = 1.0 / (steps + 1) as f32;
    sum.iter_mut().for_each(|v| *v *= share);
    sum
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
