//! What falls on the sensor before the lens blurs it: for each pixel, what is seen there and how it is lit.

use super::camera::Camera;
use super::cover::Painter;
use super::overlay::Film;
use super::random::cell;
use super::scene::{Book, Desk, Ink, Scene};

/// Light on the sensor, one plane a colour, linear; 1 is full scale.
pub type Planes<const N: usize> = [Vec<f32>; N];

/// From this many pixels a module on, no bar is so narrow that it could pass between a pixel's corners.
const CORNERS_SUFFICE_PX: f32 = 1.5;

/// A book with all that is needed for each point of it.
struct Sight<'a> {
    camera: Camera,
    painter: Painter<'a>,
    film: Film,
}

/// A point of the scene, unlit: the book it is on (`None`: the desk) and that book's ink.
#[derive(Clone, Copy, PartialEq)]
struct Seen {
    book: Option<usize>,
    ink: Ink,
}

/// Each book's point at one place of the picture, in modules.
type Points = [Option<[f32; 2]>];

/// A row of pixel corners: every book's point at each, and what is seen there.
struct Row {
    points: Vec<Option<[f32; 2]>>,
    seen: Vec<Seen>,
    books: usize,
}

impl Row {
    fn new(sights: &[Sight], width: usize, y: usize) -> Self {
        let books = sights.len();
        let mut row =
            Self { points: Vec::with_capacity((width + 1) * books), seen: Vec::with_capacity(width + 1), books };
        for x in 0..=width {
            for sight in sights {
                row.points.push(sight.camera.to_modules(x as f32, y as f32));
            }
            row.seen.push(look(sights, &row.points[x * books..]));
        }
        row
    }

    fn point(&self, x: usize, book: usize) -> Option<[f32; 2]> {
        self.points[x * self.books + book]
    }
}

impl<'a> Sight<'a> {
    fn new(book: &'a Book) -> Self {
        Self { camera: Camera::of(book), painter: Painter::new(book), film: Film::of(book) }
    }
}

/// Draws the scene. `split` says what each plane sees of an ink.
pub fn image<const N: usize>(scene: &Scene, split: impl Fn(Ink) -> [f32; N]) -> Planes<N> {
    let (width, height) = (scene.width, scene.height);
    let sights: Vec<Sight> = scene.books.iter().map(Sight::new).collect();
    let mut planes: Planes<N> = std::array::from_fn(|_| vec![0.0; width * height]);
    let tint = split(scene.light.tint);
    let n = scene.supersample.max(1);
    let mut points = vec![None; sights.len()];
    let mut upper = Row::new(&sights, width, 0);
    for y in 0..height {
        let lower = Row::new(&sights, width, y + 1);
        for x in 0..width {
            let seen = upper.seen[x];
            // Most pixels lie within one patch of ink; only the others are worth many samples.
            let plain = [upper.seen[x + 1], lower.seen[x], lower.seen[x + 1]].into_iter().all(|other| other == seen)
                && seen.book.is_none_or(|b| modules_a_pixel(&upper, &lower, x, b) * CORNERS_SUFFICE_PX < 1.0);
            let n = if plain { 1 } else { n };
            let mut sum = [0.0; N];
            for (i, j) in (0..n).flat_map(|j| (0..n).map(move |i| (i, j))) {
                let (fx, fy) = ((i as f32 + 0.5) / n as f32, (j as f32 + 0.5) / n as f32);
                let unlit = plain && seen.book.is_some_and(|b| b + 1 == sights.len() && sights[b].film.is_clear());
                let ink = if unlit {
                    seen.ink
                } else {
                    for (b, point) in points.iter_mut().enumerate() {
                        *point = between(&upper, &lower, x, b, [fx, fy]);
                    }
                    let seen = if plain { seen } else { look(&sights, &points) };
                    lit(scene, &sights, seen, &points, [x as f32 + fx, y as f32 + fy])
                };
                for (total, part) in sum.iter_mut().zip(split(ink)) {
                    *total += part;
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

/// The topmost book at a place, and its ink there.
fn look(sights: &[Sight], points: &Points) -> Seen {
    let hit = |(b, sight): (usize, &Sight)| Some(Seen { book: Some(b), ink: sight.painter.ink(points[b]?)? });
    sights.iter().enumerate().rev().find_map(hit).unwrap_or(Seen { book: None, ink: [0.0; 3] })
}

/// The ink with the film's light on it, and with the shadows of the books above it.
fn lit(scene: &Scene, sights: &[Sight], seen: Seen, points: &Points, [x, y]: [f32; 2]) -> Ink {
    let veil = seen.book.and_then(|b| points[b].map(|point| sights[b].film.light(point))).unwrap_or(0.0);
    let ink = if seen.book.is_none() { desk(scene, x, y) } else { seen.ink };
    let above = seen.book.map_or(0, |b| b + 1);
    let shade = |(sight, point): (&Sight, &Option<[f32; 2]>)| point.map_or(1.0, |point| sight.painter.shade(point));
    let shade: f32 = sights.iter().zip(points).skip(above).map(shade).product();
    ink.map(|c| c * shade + veil)
}

/// A book's point within a pixel, by its four corners.
fn between(upper: &Row, lower: &Row, x: usize, book: usize, [fx, fy]: [f32; 2]) -> Option<[f32; 2]> {
    let (a, b) = (upper.point(x, book)?, upper.point(x + 1, book)?);
    let (c, d) = (lower.point(x, book)?, lower.point(x + 1, book)?);
    Some(std::array::from_fn(|k| {
        let top = a[k] + (b[k] - a[k]) * fx;
        top + (c[k] + (d[k] - c[k]) * fx - top) * fy
    }))
}

/// How many modules of a book's surface a pixel spans, in the direction in which it spans most.
fn modules_a_pixel(upper: &Row, lower: &Row, x: usize, book: usize) -> f32 {
    let (Some(a), Some(b), Some(c)) = (upper.point(x, book), upper.point(x + 1, book), lower.point(x, book)) else {
        return f32::INFINITY;
    };
    [b[0] - a[0], b[1] - a[1], c[0] - a[0], c[1] - a[1]].into_iter().fold(0.0, |most, step| most.max(step.abs()))
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
