//! What a webcam's frame costs: 1280×720, read by the first stage, by the second, or by none.
//!
//! `cargo bench --bench frames`. A frame that reads should cost less than the time between two, 33 ms.
#![allow(clippy::print_stdout, reason = "a benchmark tells what it measured")]

#[path = "../render/mod.rs"]
mod render;

use std::hint::black_box;
use std::time::{Duration, Instant};

use boxward::picture::{Luma, Packing, luma_of_frame, to_jpeg};
use boxward::reader::read_frame;
use render::symbol::digits;
use render::{Book, Cover, Noise, Pose, Scene, Symbol, render};

const SIZE: [usize; 2] = [1280, 720];
/// Enough for a median that holds still, and for a worst that was seen more than once.
const FRAMES: usize = 60;

/// A book held to the camera, blurred by so many modules, or none; each with its own noise.
fn frame(defocus_modules: Option<f32>, seed: u64) -> Luma {
    let symbol = Symbol::upc_a(digits("614141000418")).with_five(digits("00411"));
    let pose = Pose { at_px: [640.0, 360.0], module_px: 2.6, turn_deg: 3.0, ..Pose::default() };
    let cover = Cover::front(3, "NIGHT TIDE", "#3 $4.99", "");
    let books = defocus_modules.map(|_| Book::new(symbol, cover.clone(), pose)).into_iter().collect();
    let scene = Scene {
        width: SIZE[0],
        height: SIZE[1],
        seed,
        books,
        defocus_modules: defocus_modules.unwrap_or_default(),
        noise: Noise { shot: 0.02, read: 0.004 },
        supersample: 2,
        ..Scene::default()
    };
    let picture = render(&scene);
    Luma::new(picture.width, picture.height, picture.pixels).unwrap_or_else(|| Luma::from_fn(0, 0, |_, _| 0))
}

/// Median and worst of what `work` takes.
fn timed<T>(frames: &[T], mut work: impl FnMut(&T)) -> [Duration; 2] {
    let once = |frame: &T| {
        let begun = Instant::now();
        work(frame);
        begun.elapsed()
    };
    let mut times: Vec<Duration> = frames.iter().map(once).collect();
    times.sort();
    [times[times.len() / 2], times[times.len() - 1]]
}

fn main() {
    println!("{FRAMES} frames each, 1280×720");
    for (name, defocus) in [
        ("first stage", Some(0.35)),
        ("second stage", Some(1.0)),
        ("blurred beyond reading", Some(2.2)),
        ("no book", None),
    ] {
        let frames: Vec<Luma> = (0..FRAMES as u64).map(|seed| frame(defocus, seed)).collect();
        let mut by: Vec<&str> = Vec::new();
        let [median, worst] =
            timed(&frames, |frame| by.extend(read_frame(black_box(frame)).iter().map(|symbol| symbol.by)));
        let reads = by.len();
        by.sort_unstable();
        by.dedup();
        let by = if by.is_empty() { String::new() } else { format!(" by {}", by.join(" and ")) };
        println!("{name}: {median:.1?} in the median, {worst:.1?} at worst; {reads} read{by}");
    }
    let frame = frame(Some(0.35), 1);
    let yuyv: Vec<u8> = frame.pixels().iter().flat_map(|&y| [y, 128]).collect();
    let Ok(jpeg) = to_jpeg(&frame, 85) else { return };
    for (packing, bytes) in [(Packing::Yuyv, yuyv), (Packing::Mjpeg, jpeg)] {
        let frames = vec![bytes; FRAMES];
        let [median, worst] = timed(&frames, |bytes| drop(luma_of_frame(black_box(bytes), packing, SIZE)));
        println!("luma from {}: {median:.1?} in the median, {worst:.1?} at worst", packing.word());
    }
}
