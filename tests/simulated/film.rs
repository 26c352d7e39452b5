//! A stack held to a webcam, book after book: it slides in, shakes in the hand while the lens hunts for focus, and slides
//! out; then the desk is empty while the hand takes the next one.

use super::books::{book, symbol, with_add_on};
use super::classes::Truth;
use crate::render::random::mix;
use crate::render::symbol::Symbol;
use crate::render::{Book, Cover, Desk, Grey, Light, Motion, Noise, Random, Scene, render};

/// What a cheap webcam gives in a room's light.
pub const FILM_FPS: usize = 15;
/// 2 seconds a book, most of one in the hand.
pub const FRAMES_A_BOOK: usize = IN + HELD + OUT + EMPTY;
const IN: usize = 4;
const HELD: usize = 14;
const OUT: usize = 3;
const EMPTY: usize = 9;

/// A film to take.
#[derive(Debug, Clone)]
pub struct Film {
    /// The books in the order in which they are held up, doubles among them.
    pub truth: Vec<Truth>,
    frames: Vec<Scene>,
}

impl Film {
    pub fn len(&self) -> usize {
        self.frames.len()
    }

    pub fn frame(&self, number: usize) -> Grey {
        render(&self.frames[number])
    }
}

/// A film of so many books, at least 8: each third is another issue of the title before it, the fifth is held up twice in
/// a row, and the last but one is a second copy of the first.
pub fn film(seed: u64, books: usize) -> Film {
    let mut random = Random::new(mix(seed));
    let mut stack: Vec<(Symbol, Truth)> = Vec::new();
    while stack.len() < books {
        let next = match stack.len() {
            5 => stack[4].clone(),
            n if n + 2 == books => stack[0].clone(),
            n if n % 3 == 2 => another_issue(&mut random, &stack[n - 1]),
            _ => symbol(&mut random),
        };
        stack.push(next);
    }
    let mut frames = Vec::new();
    for (symbol, _) in &stack {
        hold_up(&mut random, symbol, &mut frames);
    }
    for (frame, number) in frames.iter_mut().zip(0..) {
        frame.seed = mix(seed ^ number);
    }
    Film { truth: stack.into_iter().map(|(_, truth)| truth).collect(), frames }
}

fn another_issue(random: &mut Random, (symbol, truth): &(Symbol, Truth)) -> (Symbol, Truth) {
    let text = symbol.text.iter().copied().filter(|letter| !letter.2).collect();
    let main = Symbol { add_on: Vec::new(), gap: 0, text, ..symbol.clone() };
    loop {
        let (symbol, add_on) = with_add_on(random, main.clone());
        if add_on.is_some() && add_on != truth.add_on {
            return (symbol, Truth { add_on, ..truth.clone() });
        }
    }
}

fn hold_up(random: &mut Random, symbol: &Symbol, frames: &mut Vec<Scene>) {
    let desk = Scene {
        width: 640,
        height: 480,
        desk: Desk::Plain([0.3, 0.25, 0.2]),
        light: Light { level: random.between(0.5, 0.9), slope: [random.between(-0.2, 0.2), 0.0], ..Light::default() },
        noise: Noise { shot: 0.02, read: 0.004 },
        supersample: 2,
        ..Scene::default()
    };
    let module_px = random.between(2.0, 2.6);
    let mut held = book(random, symbol.clone(), module_px);
    held.cover = Cover { edges: [-40.0, -90.0, 200.0, 110.0], ..Cover::default() };
    let middle = [320.0 + random.between(-20.0, 20.0), 240.0 + random.between(-40.0, 40.0)];
    let turn_deg = random.between(-8.0, 8.0);
    let focus = random.between(0.0, 6.0);
    // Sideways, so far that the symbol is out of the picture.
    let from_px = if random.below(2) == 0 { -640.0 } else { 640.0 };
    for n in 0..IN + HELD + OUT {
        let away = match n {
            n if n < IN => (IN - n) as f32 / IN as f32,
            n if n >= IN + HELD => (n - IN - HELD + 1) as f32 / OUT as f32,
            _ => 0.0,
        };
        let mut book: Book = held.clone();
        let shake = |random: &mut Random, px: f32| random.between(-px, px);
        book.pose.at_px = [middle[0] + away * from_px + shake(random, 5.0), middle[1] + shake(random, 5.0)];
        book.pose.turn_deg = turn_deg + shake(random, 1.5);
        book.pose.tilt_x_deg = shake(random, 4.0);
        book.pose.module_px = module_px * (1.0 + shake(random, 0.03));
        // The lens hunts between sharp enough and hopeless.
        let defocus_modules = 0.85 + 0.45 * (focus + 0.7 * n as f32).sin();
        let speed_modules = if away > 0.0 { 6.0 } else { random.between(0.0, 0.8) };
        let turn_deg = if away > 0.0 { 0.0 } else { random.between(0.0, 180.0) };
        let motion = Motion { length_modules: speed_modules, turn_deg };
        frames.push(Scene { books: vec![book], defocus_modules, motion, ..desk.clone() });
    }
    frames.extend(std::iter::repeat_n(Scene { books: Vec::new(), ..desk }, EMPTY));
}
