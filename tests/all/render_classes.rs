//! The classes of simulated pictures: that they are what their names say, and that answers are judged rightly.

use crate::render::camera::Camera;
use crate::render::overlay::{Film, Marks};
use crate::render::symbol::GUARD_DROP_MODULES;
use crate::render::{Book, Grey};
use crate::simulated::{CLASSES, Class, Simulated, Truth, judge, simulated};
use boxward::code::{AddOnState, Certainty, Code, Symbology};
use boxward::picture::Luma;
use boxward::reader::Symbol;

/// Seeds of no other test.
const SEEDS: std::ops::Range<u64> = 5_000..5_200;

fn of(class: &str) -> impl Iterator<Item = (u64, Simulated)> {
    let class = Class::named(class).unwrap();
    SEEDS.map(move |seed| (seed, simulated(class, seed)))
}

/// Whether a point of the book is in the picture and under no mark.
fn is_seen(made: &Simulated, book: &Book, point: [f32; 2]) -> bool {
    let [x, y] = Camera::of(book).to_pixels(point);
    let inside = x >= 0.0 && y >= 0.0 && x < made.scene.width as f32 && y < made.scene.height as f32;
    inside && Marks::of(book).ink(point).is_none()
}

/// Modules `first..end` of a book's symbol, each seen at so many of 40 heights.
fn seen(made: &Simulated, book: &Book, modules: std::ops::Range<usize>) -> Vec<usize> {
    let at = |module: usize, i: usize| [module as f32 + 0.5, book.symbol.height * (i as f32 + 0.5) / 40.0];
    modules.map(|module| (0..40).filter(|&i| is_seen(made, book, at(module, i))).count()).collect()
}

#[test]
fn a_hundred_pictures_are_shared_out() {
    assert_eq!(CLASSES.iter().map(|class| class.share).sum::<usize>(), 100);
}

#[test]
fn class_and_seed_alone_decide() {
    for class in CLASSES.into_iter().filter(|class| class.name != "phone") {
        let picture = |seed: u64| -> Grey { simulated(class, seed).picture() };
        let first = picture(7);
        assert_eq!(first, picture(7), "{}", class.name);
        assert_ne!(first, picture(8), "{}", class.name);
    }
}

#[test]
fn symbols_are_in_the_picture_with_room_around_them() {
    for class in CLASSES.into_iter().filter(|class| !["covered", "none", "cut", "damaged"].contains(&class.name)) {
        for (seed, made) in of(class.name) {
            assert_eq!(made.scene.books.len(), made.truth.len());
            for book in &made.scene.books {
                let quiet = if book.symbol.add_on.is_empty() { 16.0 } else { 5.0 };
                let (right, bottom) = (book.symbol.width() + quiet, book.symbol.height + GUARD_DROP_MODULES);
                for corner in [[-9.0, 0.0], [right, 0.0], [right, bottom], [-9.0, bottom]] {
                    assert!(is_seen(&made, book, corner), "{} {seed}: {corner:?}", class.name);
                }
            }
        }
    }
}

/// No book lies over another one's symbol.
#[test]
fn several_symbols_are_all_uncovered() {
    let mut alike = [0; 2];
    for (seed, made) in of("several") {
        assert!((2..=4).contains(&made.truth.len()));
        for (i, lower) in made.scene.books.iter().enumerate() {
            for upper in &made.scene.books[i + 1..] {
                let (from, to) = (Camera::of(lower), Camera::of(upper));
                for step in 0..100 {
                    let point = [(step % 10) as f32 / 9.0, (step / 10) as f32 / 9.0];
                    let [x, y] = from.to_pixels([
                        point[0] * (lower.symbol.width() + 14.0) - 9.0,
                        point[1] * (lower.symbol.height + GUARD_DROP_MODULES),
                    ]);
                    let [left, top, right, bottom] = upper.cover.edges;
                    let over = to.to_modules(x, y).is_some_and(|[u, v]| u > left && u < right && v > top && v < bottom);
                    assert!(!over, "{seed}: a cover over a symbol");
                }
            }
        }
        let (first, others) = made.truth.split_first().unwrap();
        alike[0] += usize::from(others.contains(first));
        alike[1] += usize::from(others.iter().any(|t| t.gtin == first.gtin && t != first));
    }
    assert!(alike.iter().all(|&count| count > 10), "second copies and other issues: {alike:?}");
}

/// At least one digit of the main symbol is seen nowhere; that is not so in any class that may be read.
#[test]
fn a_cut_symbol_lacks_a_digit() {
    let lacks = |made: &Simulated| {
        let book = &made.scene.books[0];
        let digit = |first: usize| seen(made, book, first..first + 7).into_iter().all(|heights| heights == 0);
        let left = (0..6).map(|i| 3 + 7 * i);
        left.chain((0..6).map(|i| 50 + 7 * i)).any(digit)
    };
    assert!(of("cut").all(|(_, made)| lacks(&made)));
    for class in ["clean", "damaged", "covered"] {
        assert!(of(class).all(|(_, made)| !lacks(&made)), "{class}");
    }
}

/// Every module of the main symbol is seen at half of the heights at least (an oblique edge may take a corner); of the
/// add-on, a digit's modules are seen nowhere.
#[test]
fn a_covered_add_on_cannot_be_read() {
    for (seed, made) in of("covered") {
        let book = &made.scene.books[0];
        let (main, first) = (book.symbol.main.len(), book.symbol.main.len() + book.symbol.gap);
        assert!(seen(&made, book, 0..main).into_iter().all(|heights| heights >= 20), "{seed}");
        let add_on = seen(&made, book, first..first + book.symbol.add_on.len());
        assert!(add_on.iter().filter(|&&heights| heights == 0).count() >= 7, "{seed}");
        assert!(made.truth[0].hidden && made.truth[0].add_on.is_some());
    }
}

/// Somewhere in the symbol the film burns bars out; and each bar stands out at so much of its height.
#[test]
fn glare_burns_bars_out_and_leaves_each_to_be_found() {
    for (seed, made) in of("glare") {
        let book = &made.scene.books[0];
        let film = Film::of(book);
        let mut burnt = 0;
        let width = book.symbol.width() as usize;
        for module in (0..width).filter(|&m| book.symbol.modules()[m]) {
            let top = if module < book.symbol.main.len() { 0.0 } else { 9.0 };
            let height = |i: usize| top + (book.symbol.height - top) * (i as f32 + 0.5) / 40.0;
            let light: Vec<f32> = (0..40).map(|i| film.light([module as f32 + 0.5, height(i)])).collect();
            burnt += light.iter().filter(|&&light| light * made.scene.light.level > 0.99).count();
            assert!(light.iter().filter(|&&light| light < 0.5).count() >= 4, "{seed}: module {module}");
        }
        assert!(burnt > 20, "{seed}: nothing is burnt out");
    }
}

/// As the names say: so much blur, light, and so many pixels a module.
#[test]
fn classes_keep_their_ranges() {
    let range = |class: &str, of_made: fn(&Simulated) -> f32| {
        let values: Vec<f32> = of(class).map(|(_, made)| of_made(&made)).collect();
        (values.iter().copied().fold(f32::MAX, f32::min), values.iter().copied().fold(f32::MIN, f32::max))
    };
    let holds = |name: &str, (least, most): (f32, f32), low: f32, high: f32| {
        assert!(least >= low && most <= high, "{name}: {least} to {most}, not within {low} to {high}");
        assert!(most - least > (high - low) * 0.6, "{name}: {least} to {most} fills little of {low} to {high}");
    };
    let blur: fn(&Simulated) -> f32 = |made| made.scene.defocus_modules;
    let module_px: fn(&Simulated) -> f32 = |made| made.scene.books[0].pose.module_px;
    let light: fn(&Simulated) -> f32 = |made| made.scene.light.level;
    holds("webcam blur", range("webcam", blur), 0.5, 0.9);
    holds("defocus", range("defocus", blur), 0.9, 1.4);
    holds("dim light", range("dim", light), 0.06, 0.25);
    holds("clean px", range("clean", module_px), 1.5, 3.5);
    holds("webcam px", range("webcam", module_px), 1.6, 3.0);
    holds("defocus px", range("defocus", module_px), 1.8, 4.0);
    holds("phone px", range("phone", module_px), 3.0, 22.0);
}

const RIGHT: &str = "0061414100106";
const OTHER: &str = "0061414100205";

fn truth(add_on: Option<&str>) -> Truth {
    Truth { gtin: RIGHT.to_owned(), add_on: add_on.map(str::to_owned), hidden: false }
}

fn said(gtin: &str, add_on: AddOnState) -> Symbol {
    Symbol {
        code: Code { gtin: gtin.parse().unwrap(), add_on },
        symbology: Symbology::UpcA,
        corners: [[0.0; 2]; 4],
        by: "nobody",
        module_px: 2.0,
        certainty: Certainty::Sure,
        crop: Luma::new(1, 1, vec![0]).unwrap(),
    }
}

fn read(digits: &str) -> AddOnState {
    AddOnState::Read(digits.parse().unwrap())
}

/// Main codes, whole ones and wrong ones of each answer.
#[test]
fn answers_are_judged() {
    use AddOnState::{Absent, Unread};
    let with = truth(Some("01211"));
    let hidden = Truth { hidden: true, ..with.clone() };
    let none = truth(None);
    let cases = [
        (vec![], vec![], [0, 0, 0]),
        (vec![], vec![said(RIGHT, Unread)], [0, 0, 1]),
        (vec![&with], vec![], [0, 0, 0]),
        (vec![&with], vec![said(RIGHT, read("01211"))], [1, 1, 0]),
        (vec![&with], vec![said(RIGHT, Unread)], [1, 0, 0]),
        (vec![&with], vec![said(RIGHT, Absent)], [0, 0, 1]),
        (vec![&with], vec![said(RIGHT, read("01212"))], [0, 0, 1]),
        (vec![&with], vec![said(OTHER, read("01211"))], [0, 0, 1]),
        (vec![&with], vec![said(RIGHT, Unread), said(RIGHT, read("01211"))], [1, 1, 1]),
        (vec![&none], vec![said(RIGHT, Absent)], [1, 1, 0]),
        (vec![&none], vec![said(RIGHT, read("01211"))], [0, 0, 1]),
        (vec![&hidden], vec![said(RIGHT, Unread)], [1, 1, 0]),
        (vec![&hidden], vec![said(RIGHT, Absent)], [0, 0, 1]),
        (vec![&with, &with], vec![said(RIGHT, Unread), said(RIGHT, read("01211"))], [2, 1, 0]),
    ];
    for (i, (truth, read, expected)) in cases.into_iter().enumerate() {
        let truth: Vec<Truth> = truth.into_iter().cloned().collect();
        let verdict = judge(&truth, &read);
        assert_eq!([verdict.main, verdict.whole, verdict.wrong.len()], expected, "case {i}");
    }
}
