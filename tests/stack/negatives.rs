//! Pictures in which nothing may be read: a code from one of them would be an invention.

use super::titles::TIDE_WARDENS;
use crate::render::symbol::{check, digits};
use crate::render::{Book, Cover, Desk, Grey, Light, Noise, Pose, Scene, Symbol, render};

/// Code 128 of 'TIDE-2041', start, check and stop included (ISO/IEC 15417; bars as zint 2.11 draws them).
const CODE_128: &str = "110100100001101110001011000100010101100010001000110100010011011100101110111101100100111011000100010110010100001100011101011";
/// Interleaved 2 of 5 of '20410911' (ISO/IEC 16390; bars as zint 2.11 draws them).
const ITF: &str = "101010111010001000111010001011101011100010100011101110001011100010101011100011101";

/// Every picture with its file name.
pub fn negatives() -> Vec<(&'static str, Grey)> {
    scenes().into_iter().map(|(name, scene)| (name, render(&scene))).collect()
}

fn scenes() -> Vec<(&'static str, Scene)> {
    let upc = || TIDE_WARDENS.symbol();
    let body = digits::<11>("61414100104");
    let mut wrong: [u8; 12] = std::array::from_fn(|i| body.get(i).copied().unwrap_or_else(|| check(&body)));
    wrong[11] = (wrong[11] + 5) % 10;

    let mut lettering = Cover { title: "MILLI".to_owned(), ..Cover::artwork(11) };
    lettering.edges = [-95.0, -65.0, 95.0, 300.0];

    let mut speed = boxed(Symbol::pattern(&lines()));
    speed.symbol.height = 400.0;
    speed.cover = Cover::default();
    speed.pose = Pose { at_px: [240.0, 120.0], tilt_x_deg: -62.0, distance_modules: 300.0, ..Pose::default() };

    // The picture ends within the first digits.
    let mut cut = boxed(upc());
    cut.pose.at_px = [100.0, 180.0];

    // A main symbol in white on white leaves the add-on alone.
    let mut alone = boxed(upc().with_five([0, 1, 2, 1, 1]));
    alone.symbol.main.fill(false);
    alone.symbol.text.retain(|&(_, _, above)| above);

    // Both halves from the left half's number set: dark and light sums are wrong on the right.
    let left = upc();
    let mut halves = boxed(upc());
    halves.symbol.main.splice(50..92, left.main[3..45].iter().copied());

    vec![
        ("halftone.png", scene(1, Book::new(Symbol::default(), Cover::artwork(4), Pose::default()))),
        ("lettering.png", scene(2, Book::new(Symbol::default(), lettering, Pose::default()))),
        ("speed-lines.png", scene(3, speed)),
        ("code-128.png", scene(4, boxed(Symbol::pattern(CODE_128)))),
        ("itf.png", scene(5, boxed(Symbol::pattern(ITF)))),
        ("cut.png", scene(6, cut)),
        ("wrong-check-digit.png", scene(7, boxed(Symbol::upc_a(wrong)))),
        ("add-on-alone.png", scene(8, alone)),
        ("two-left-halves.png", scene(9, halves)),
    ]
}

fn boxed(symbol: Symbol) -> Book {
    let cover = Cover::front(21, "Tide Wardens", "", "");
    let pose = Pose { at_px: [240.0, 180.0], module_px: 2.4, turn_deg: 3.0, ..Pose::default() };
    Book::new(symbol, cover, pose)
}

fn scene(seed: u64, mut book: Book) -> Scene {
    if book.symbol.main.is_empty() {
        book.pose = Pose { at_px: [240.0, 180.0], module_px: 2.4, turn_deg: 3.0, ..book.pose };
    }
    Scene {
        width: 480,
        height: 360,
        seed,
        desk: Desk::Plain([0.2, 0.13, 0.08]),
        books: vec![book],
        light: Light { level: 0.8, slope: [0.2, -0.2], ..Light::default() },
        defocus_modules: 0.3,
        noise: Noise { shot: 0.008, read: 0.001 },
        ..Scene::default()
    }
}

/// Lines of one to four modules, as many as a long symbol has.
fn lines() -> String {
    let mut random = crate::render::Random::new(17);
    let run = |i: usize| if i.is_multiple_of(2) { "1" } else { "0" }.repeat(1 + random.below(4));
    (0..81).map(run).collect()
}
