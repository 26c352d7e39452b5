//! Rendered pictures: the simulated classes, and those that speed is measured on: what a webcam sees of a comic's cover.

use boxward::picture::Luma;

use super::render::symbol::{check, digits};
use super::render::{Book, Cover, Desk, Grey, Light, Noise, Pattern, Pose, Random, Scene, Symbol, render};
use super::score::{AddOn, Picture, Printed};
use super::simulated::{CLASSES, Class, Truth, simulated as picture_of};

/// Reserved seeds: pictures that the reader's thresholds were chosen by would flatter it.
const FIRST_SEED: u64 = 95_000_000;
/// Pictures of a simulated class, for each hundredth that is its share.
const PICTURES_A_SHARE: u64 = 5;
/// Pictures of each class that speed is measured on.
const SPEED_PICTURES: u64 = 20;
const WOOD: Desk = Desk::Wood { ink: [0.33, 0.19, 0.10], grain_px: 9.0 };

/// What makes a class: changes to a clear picture's only book and to the picture.
type Change = fn(&mut Random, &mut Scene);

const SPEED: [(&str, Change); 3] = [
    ("a clear symbol", |_, _| {}),
    ("a blurred symbol", |random, scene| scene.defocus_modules = random.between(0.9, 1.4)),
    ("no symbol", without),
];

/// Pictures of every simulated class.
pub fn simulated() -> impl Iterator<Item = Picture> {
    CLASSES.into_iter().flat_map(|class| of_class(class, PICTURES_A_SHARE * class.share as u64))
}

fn of_class(class: Class, pictures: u64) -> impl Iterator<Item = Picture> {
    (FIRST_SEED..FIRST_SEED + pictures).map(move |seed| {
        let made = picture_of(class, seed);
        let codes = made.truth.iter().map(printed).collect();
        picture(class.name, seed, made.picture(), codes)
    })
}

fn printed(truth: &Truth) -> Printed {
    let add_on = truth.add_on.clone().map_or(AddOn::Absent, if truth.hidden { AddOn::Hidden } else { AddOn::Digits });
    Printed { main: truth.gtin.clone(), add_on: Some(add_on) }
}

/// The classes whose cost has a goal: those of [`SPEED`], and the simulated class without symbols.
pub fn speed() -> impl Iterator<Item = Picture> {
    let none = CLASSES.into_iter().filter(|class| class.name == "none");
    let all = (FIRST_SEED..).step_by(1000).zip(SPEED);
    all.flat_map(|(first, class)| (first..first + SPEED_PICTURES).map(move |seed| (class, seed)))
        .map(|((name, change), seed)| {
            let mut random = Random::new(seed);
            let (mut scene, code) = clear(&mut random, seed);
            change(&mut random, &mut scene);
            let there = scene.books[0].symbol.main.contains(&true);
            picture(name, seed, render(&scene), Some(code).filter(|_| there).into_iter().collect())
        })
        .chain(none.flat_map(|class| of_class(class, SPEED_PICTURES)))
}

fn picture(class: &str, seed: u64, grey: Grey, codes: Vec<Printed>) -> Picture {
    Picture {
        class: class.to_owned(),
        name: format!("{class}, seed {seed}"),
        luma: Luma::new(grey.width, grey.height, grey.pixels).unwrap(),
        codes,
        also: Vec::new(),
    }
}

/// A book with a five-digit add-on that lies well before a camera of 1280×720.
fn clear(random: &mut Random, seed: u64) -> (Scene, Printed) {
    let text = |digits: &[u8]| digits.iter().map(u8::to_string).collect::<String>();
    let item: [u8; 5] = random.digits();
    let body: [u8; 11] = digits(&format!("614141{}", text(&item)));
    let main: [u8; 12] = digits(&format!("{}{}", text(&body), check(&body)));
    let five: [u8; 5] = random.digits();
    let cover = Cover::front(seed, "Night Tide", "#3 $4.99", "Who rang the bell?");
    let cover = Cover { pattern: pattern(random), ..cover };
    let pose = Pose {
        at_px: [random.between(480.0, 800.0), random.between(260.0, 460.0)],
        module_px: random.between(2.0, 3.5),
        turn_deg: random.between(-8.0, 8.0),
        tilt_x_deg: random.between(-8.0, 8.0),
        tilt_y_deg: random.between(-8.0, 8.0),
        ..Pose::default()
    };
    let scene = Scene {
        width: 1280,
        height: 720,
        seed,
        desk: WOOD,
        books: vec![Book::new(Symbol::upc_a(main).with_five(five), cover, pose)],
        light: Light { level: 0.75, slope: [0.2, -0.2], vignette: 0.2, ..Light::default() },
        defocus_modules: random.between(0.2, 0.4),
        noise: Noise { shot: 0.015, read: 0.003 },
        jpeg_quality: Some(85),
        ..Scene::default()
    };
    (scene, Printed { main: format!("0{}", text(&main)), add_on: Some(AddOn::Digits(text(&five))) })
}

/// Dots, lines or lettering: what is easily taken for bars.
fn pattern(random: &mut Random) -> Pattern {
    match random.below(4) {
        0 => Pattern::Dots,
        1 => Pattern::Rays { to_modules: [random.between(-50.0, 300.0), -200.0], per_turn: 180.0 },
        2 => Pattern::Stripes {
            step_modules: random.between(2.5, 9.0),
            uneven: random.between(0.0, 1.0),
            turn_deg: random.between(-20.0, 20.0),
        },
        _ => Pattern::Letters { height_modules: random.between(7.0, 14.0) },
    }
}

/// The cover's artwork alone, in half of the pictures with the box but nothing printed in it.
fn without(random: &mut Random, scene: &mut Scene) {
    let book = &mut scene.books[0];
    book.symbol = Symbol::pattern(&"0".repeat(151));
    if random.below(2) == 0 {
        // Negative margins of half the symbol leave nothing of the box.
        book.cover.margins = [-80.0; 4];
    }
    // Anywhere on the cover, nearer or farther.
    book.pose.at_px = [random.between(100.0, 700.0), random.between(360.0, 1400.0)];
    book.pose.module_px = random.between(1.2, 3.5);
}
