//! The classes, and a picture's scene and truth from class and seed.

use super::books::{self, book, put, symbol};
use crate::render::camera::Camera;
use crate::render::overlay::{Film, Marks};
use crate::render::random::mix;
use crate::render::symbol::{ADD_ON_TOP_MODULES, GUARD_DROP_MODULES};
use crate::render::{
    Bars, Bend, Book, Cover, Crease, Desk, Glare, Grey, Light, Mark, Motion, Noise, Pattern, Random, Scene, Symbol,
    render,
};

/// What is printed in a simulated picture.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Truth {
    /// The main code as 13 digits.
    pub gtin: String,
    /// The add-on's digits; `None`: none is printed.
    pub add_on: Option<String>,
    /// Whether the add-on cannot be read by anybody: right is 'unread'.
    pub hidden: bool,
}

/// A picture to take, and what is printed in it.
#[derive(Debug, Clone)]
pub struct Simulated {
    /// The picture.
    pub scene: Scene,
    /// Every symbol in it that can be read.
    pub truth: Vec<Truth>,
}

impl Simulated {
    /// Takes the picture.
    pub fn picture(&self) -> Grey {
        render(&self.scene)
    }
}

/// A kind of picture.
#[derive(Clone, Copy)]
pub struct Class {
    /// Its name.
    pub name: &'static str,
    /// How many of a hundred pictures are of this class where many are read.
    pub share: usize,
    make: fn(&mut Random) -> Simulated,
}

/// Every class. In the last two nothing may be read.
pub const CLASSES: [Class; 15] = [
    Class { name: "clean", share: 8, make: clean },
    Class { name: "turned", share: 10, make: turned },
    Class { name: "tilted", share: 10, make: tilted },
    Class { name: "glare", share: 12, make: glare },
    Class { name: "phone", share: 2, make: phone },
    Class { name: "webcam", share: 12, make: webcam },
    Class { name: "defocus", share: 10, make: defocus },
    Class { name: "dim", share: 8, make: dim },
    Class { name: "several", share: 4, make: several },
    Class { name: "damaged", share: 5, make: damaged },
    Class { name: "creased", share: 5, make: creased },
    Class { name: "foil", share: 2, make: foil },
    Class { name: "covered", share: 3, make: covered },
    Class { name: "none", share: 5, make: none },
    Class { name: "cut", share: 4, make: cut },
];

impl Class {
    /// By its name.
    pub fn named(name: &str) -> Option<Self> {
        CLASSES.into_iter().find(|class| class.name == name)
    }
}

/// The picture of this class and seed.
pub fn simulated(class: Class, seed: u64) -> Simulated {
    let key = class.name.bytes().fold(seed, |key, byte| mix(key ^ u64::from(byte)));
    let mut made = (class.make)(&mut Random::new(key));
    made.scene.seed = key;
    made
}

const SIZES: [[usize; 2]; 8] =
    [[640, 480], [640, 480], [640, 480], [640, 480], [640, 480], [800, 600], [1024, 768], [1280, 720]];

/// A sharp, bright picture without books.
fn empty(random: &mut Random) -> Scene {
    let [width, height] = SIZES[random.below(SIZES.len())];
    let slope = [random.between(-0.3, 0.3), random.between(-0.3, 0.3)];
    let ink = [random.between(0.03, 0.4), random.between(0.03, 0.3), random.between(0.02, 0.25)];
    Scene {
        width,
        height,
        desk: if random.below(2) == 0 {
            Desk::Plain(ink)
        } else {
            Desk::Wood { ink, grain_px: random.between(4.0, 14.0) }
        },
        light: Light {
            level: random.between(0.5, 0.95),
            slope,
            vignette: random.between(0.0, 0.3),
            ..Light::default()
        },
        defocus_modules: random.between(0.15, 0.4),
        noise: Noise { shot: random.between(0.008, 0.025), read: random.between(0.001, 0.005) },
        jpeg_quality: Some(60 + random.below(36) as u8),
        supersample: 2,
        ..Scene::default()
    }
}

/// A worse picture, in every second case: blurred and moved, or dim. For what must not be read in any light.
fn spoil(random: &mut Random, scene: &mut Scene) {
    match random.below(6) {
        0 | 1 => {
            scene.defocus_modules = random.between(0.5, 1.4);
            scene.motion = Motion { length_modules: random.between(0.0, 0.6), turn_deg: random.between(0.0, 180.0) };
        }
        2 => {
            scene.light.level = random.between(0.06, 0.25);
            scene.noise = Noise { shot: random.between(0.025, 0.045), read: random.between(0.005, 0.013) };
        }
        _ => {}
    }
}

fn whole(scene: &Scene) -> [f32; 4] {
    [0.0, 0.0, scene.width as f32, scene.height as f32]
}

/// One book somewhere in the scene; `change` says how it lies, before it is put where it fits.
fn alone(random: &mut Random, mut scene: Scene, module_px: f32, change: fn(&mut Random, &mut Book)) -> Simulated {
    let (symbol, truth) = symbol(random);
    let mut book = book(random, symbol, module_px);
    change(random, &mut book);
    put(random, &mut book, whole(&scene));
    scene.books = vec![book];
    Simulated { scene, truth: vec![truth] }
}

/// 640×480 to 1280×720, 1.5 to 3.5 pixels a module, sharp.
fn clean(random: &mut Random) -> Simulated {
    let scene = empty(random);
    let module_px = random.between(1.5, 3.5);
    alone(random, scene, module_px, |_, _| {})
}

/// At any angle.
fn turned(random: &mut Random) -> Simulated {
    let scene = empty(random);
    let module_px = random.between(1.5, 3.5);
    alone(random, scene, module_px, |random, book| book.pose.turn_deg = random.between(0.0, 360.0))
}

/// Tilted by up to 30 degrees, two of three on a bent cover. No part is so foreshortened that a module has less than
/// one pixel.
fn tilted(random: &mut Random) -> Simulated {
    loop {
        let scene = empty(random);
        let module_px = random.between(1.8, 3.5);
        let made = alone(random, scene, module_px, |random, book| {
            book.pose.turn_deg = random.between(-30.0, 30.0);
            book.pose.tilt_x_deg = random.between(-30.0, 30.0);
            book.pose.tilt_y_deg = random.between(-30.0, 30.0);
            if random.below(3) > 0 {
                let (radius_modules, crest_deg) = (random.between(120.0, 600.0), random.between(-30.0, 120.0));
                book.pose.bend = Some(Bend { radius_modules, crest_deg });
            }
        });
        if books::narrowest_module_px(&made.scene.books[0]) > 1.0 {
            return made;
        }
    }
}

/// Creased: each module up to about one and a half off its place, differently at each height.
fn creased(random: &mut Random) -> Simulated {
    let scene = empty(random);
    let module_px = random.between(1.6, 3.5);
    alone(random, scene, module_px, |random, book| {
        book.pose.turn_deg = random.between(-15.0, 15.0);
        let creases = 2 + random.below(3);
        for crease in &mut book.pose.creases[..creases] {
            *crease = Some(Crease {
                by_modules: random.between(0.15, 0.8),
                apart_modules: random.between(25.0, 80.0),
                across_deg: random.between(-60.0, 60.0),
                phase: random.between(0.0, 1.0),
            });
        }
    })
}

/// Bars of foil on a painted ground, which in this light are lighter than it.
fn foil(random: &mut Random) -> Simulated {
    let scene = empty(random);
    let module_px = random.between(1.6, 3.5);
    alone(random, scene, module_px, |random, book| {
        book.pose.turn_deg = random.between(-15.0, 15.0);
        let (ground, foil) = (random.between(0.08, 0.35), random.between(0.5, 0.9));
        book.bars = Bars { dark: [foil; 3], light: [ground, ground * 0.98, ground * 0.95] };
    })
}

/// Below this much added light, bars still stand out from the paper under it.
const FILM_LETS_SEE: f32 = 0.4;
/// So much height of each bar must be seen somewhere, in modules: about 4 mm.
const SEEN_HEIGHT_MODULES: f32 = 12.0;

/// One to three reflections burn out parts; each bar can still be seen at some height.
fn glare(random: &mut Random) -> Simulated {
    loop {
        let scene = empty(random);
        let module_px = random.between(1.6, 3.5);
        let made = alone(random, scene, module_px, |random, book| {
            book.pose.turn_deg = random.between(-20.0, 20.0);
            book.haze = random.between(0.0, 0.12);
            let (width, height) = (book.symbol.width(), book.symbol.height);
            book.glare = (0..1 + random.below(3)).map(|_| reflection(random, width, height)).collect();
        });
        let full_scale = 1.0 / made.scene.light.level;
        let book = &made.scene.books[0];
        let film = Film::of(book);
        let shares = columns(&book.symbol).map(|column| {
            let burnt = column.iter().filter(|&&p| film.light(p) > full_scale).count() as f32;
            let clear = column.iter().filter(|&&p| film.light(p) < FILM_LETS_SEE).count() as f32;
            (burnt / column.len() as f32, clear * STEP_MODULES)
        });
        let (burnt, clear): (Vec<f32>, Vec<f32>) = shares.unzip();
        let burns = burnt.iter().filter(|&&share| share > 0.1).count() > burnt.len() / 10;
        if burns && clear.into_iter().all(|clear| clear > SEEN_HEIGHT_MODULES) {
            return made;
        }
    }
}

/// A broad spot or a long streak.
fn reflection(random: &mut Random, width: f32, height: f32) -> Glare {
    let half_modules = match random.below(2) {
        0 => [random.between(10.0, 45.0), random.between(6.0, 25.0)],
        _ => [random.between(40.0, 120.0), random.between(3.0, 10.0)],
    };
    Glare {
        at_modules: [random.between(-10.0, width + 10.0), random.between(-5.0, height + 5.0)],
        half_modules,
        turn_deg: random.between(0.0, 180.0),
        strength: random.between(0.9, 6.0),
    }
}

const STEP_MODULES: f32 = 1.0;

/// Points down each module of the symbol, and of the place where an add-on would begin.
fn columns(symbol: &Symbol) -> impl Iterator<Item = Vec<[f32; 2]>> {
    let (main, height) = (symbol.main.len(), symbol.height);
    let behind = match symbol.add_on.len() {
        0 => main..main + books::ADD_ON_BEGINS as usize,
        modules => main + symbol.gap..main + symbol.gap + modules,
    };
    let all = (0..main).chain(behind);
    all.map(move |module| {
        let (top, bottom) =
            if module < main { (0.0, height) } else { (ADD_ON_TOP_MODULES, height + GUARD_DROP_MODULES) };
        let steps = ((bottom - top) / STEP_MODULES) as usize;
        (0..steps).map(|i| [module as f32 + 0.5, top + (i as f32 + 0.5) * STEP_MODULES]).collect()
    })
}

/// 12 megapixels, the symbol anywhere and at any small angle, 3 to 7 pixels a module, one of ten very near.
fn phone(random: &mut Random) -> Simulated {
    let mut scene = empty(random);
    [scene.width, scene.height] = [4000, 3000];
    scene.jpeg_quality = Some(85 + random.below(11) as u8);
    // So that the file has the 2 to 5 MB of a phone's.
    scene.noise = Noise { shot: random.between(0.02, 0.04), read: random.between(0.003, 0.007) };
    if let Desk::Wood { grain_px, .. } = &mut scene.desk {
        *grain_px *= 2.0;
    }
    let near = random.below(10) == 0;
    let module_px = if near { random.between(15.0, 22.0) } else { random.between(3.0, 7.0) };
    // A lens is out of focus by pixels, not by modules.
    scene.defocus_modules = (random.between(0.7, 1.4) / module_px).max(0.12);
    alone(random, scene, module_px, |random, book| {
        book.pose.turn_deg = random.between(-20.0, 20.0);
        book.pose.tilt_x_deg = random.between(-10.0, 10.0);
        book.pose.tilt_y_deg = random.between(-10.0, 10.0);
    })
}

/// A webcam's fixed focus: blur of 0.5 to 0.9 modules, a little motion.
fn webcam(random: &mut Random) -> Simulated {
    let mut scene = empty(random);
    [scene.width, scene.height] = [[640, 480], [1280, 720]][random.below(2)];
    scene.defocus_modules = random.between(0.5, 0.9);
    scene.motion = Motion { length_modules: random.between(0.0, 0.6), turn_deg: random.between(0.0, 180.0) };
    scene.noise = Noise { shot: random.between(0.015, 0.04), read: random.between(0.002, 0.008) };
    scene.light.level = random.between(0.35, 0.9);
    scene.jpeg_quality = Some(70 + random.below(21) as u8);
    let module_px = random.between(1.6, 3.0);
    alone(random, scene, module_px, |random, book| book.pose.turn_deg = random.between(-15.0, 15.0))
}

/// Blur of 0.9 to 1.4 modules.
fn defocus(random: &mut Random) -> Simulated {
    let mut scene = empty(random);
    scene.defocus_modules = random.between(0.9, 1.4);
    let module_px = random.between(1.8, 4.0);
    alone(random, scene, module_px, |random, book| book.pose.turn_deg = random.between(-10.0, 10.0))
}

/// Light down to a quarter and less, strong noise.
fn dim(random: &mut Random) -> Simulated {
    let mut scene = empty(random);
    scene.light.level = random.between(0.06, 0.25);
    scene.noise = Noise { shot: random.between(0.025, 0.045), read: random.between(0.005, 0.013) };
    let module_px = random.between(1.6, 3.5);
    alone(random, scene, module_px, |random, book| book.pose.turn_deg = random.between(-15.0, 15.0))
}

/// Two to four books, each in its part of the picture.
fn several(random: &mut Random) -> Simulated {
    let mut scene = empty(random);
    [scene.width, scene.height] = [1280, 960];
    let count = 2 + random.below(3);
    let [columns, rows] = [[1, 2], [2, 1], [2, 2]][if count == 2 { random.below(2) } else { 2 }];
    let (wide, high) = (1280.0 / columns as f32, 960.0 / rows as f32);
    let alike = random.below(4);
    let mut truth: Vec<Truth> = Vec::new();
    for place in 0..count {
        let (mut own, mut said) = symbol(random);
        if let Some(Book { symbol: other, .. }) = scene.books.first() {
            if alike == 0 {
                // Another issue of the same title: another add-on.
                let main = Symbol { add_on: Vec::new(), gap: 0, height: own.height, ..other.clone() };
                let main = Symbol { text: main.text.iter().copied().filter(|t| !t.2).collect(), ..main };
                let (with, add_on) = books::with_add_on(random, main);
                (own, said) = (with, Truth { add_on, ..truth[0].clone() });
            } else if alike == 1 && place == 1 {
                // A second copy.
                (own, said) = (other.clone(), truth[0].clone());
            }
        }
        let module_px = random.between(1.6, 3.4);
        let mut book = book(random, own, module_px);
        book.pose.turn_deg = [0.0, 0.0, 90.0, 180.0][random.below(4)] + random.between(-8.0, 8.0);
        let (left, top) = ((place % columns) as f32 * wide, (place / columns) as f32 * high);
        put(random, &mut book, [left + 12.0, top + 12.0, left + wide - 12.0, top + high - 12.0]);
        keep_within(&mut book, [left, top, left + wide, top + high]);
        scene.books.push(book);
        truth.push(said);
    }
    Simulated { scene, truth }
}

/// Trims the cover so that it stays within its area (left, top, right, bottom, in pixels) and covers no other book.
fn keep_within(book: &mut Book, [left, top, right, bottom]: [f32; 4]) {
    const STEP: f32 = 6.0;
    let camera = Camera::of(book);
    let inside = |[l, t, r, b]: [f32; 4]| {
        [[l, t], [r, t], [r, b], [l, b]].into_iter().all(|corner| {
            let [x, y] = camera.to_pixels(corner);
            (left..right).contains(&x) && (top..bottom).contains(&y)
        })
    };
    let largest = book.cover.edges;
    let mut edges = books::outline(&book.symbol);
    let mut growing = true;
    while growing {
        growing = false;
        for side in 0..4 {
            let mut larger = edges;
            larger[side] += if side < 2 { -STEP } else { STEP };
            let wanted = if side < 2 { larger[side] >= largest[side] } else { larger[side] <= largest[side] };
            if wanted && inside(larger) {
                (edges, growing) = (larger, true);
            }
        }
    }
    book.cover.edges = edges;
}

/// Scratches, and a band torn off or inked over; each bar can still be seen at some height.
fn damaged(random: &mut Random) -> Simulated {
    loop {
        let scene = empty(random);
        let module_px = random.between(1.8, 3.5);
        let made = alone(random, scene, module_px, |random, book| {
            book.pose.turn_deg = random.between(-20.0, 20.0);
            let (width, height) = (book.symbol.width(), book.symbol.height);
            for _ in 0..random.below(5) {
                book.marks.push(scratch(random, width, height));
            }
            if random.below(3) > 0 {
                book.marks.push(band(random, width, height));
            }
        });
        let book = &made.scene.books[0];
        let marks = Marks::of(book);
        let clear = columns(&book.symbol).map(|c| c.iter().filter(|&&p| marks.ink(p).is_none()).count() as f32);
        if !book.marks.is_empty() && clear.into_iter().all(|clear| clear * STEP_MODULES > SEEN_HEIGHT_MODULES) {
            return made;
        }
    }
}

fn scratch(random: &mut Random, width: f32, height: f32) -> Mark {
    Mark {
        at_modules: [random.between(0.0, width), random.between(0.0, height)],
        half_modules: [random.between(8.0, 60.0), random.between(0.2, 1.2)],
        turn_deg: random.between(0.0, 180.0),
        round_modules: 0.1,
        rough_modules: random.between(0.0, 0.6),
        ink: [[0.85, 0.84, 0.8], [0.5, 0.48, 0.45], [0.06, 0.06, 0.07]][random.below(3)],
    }
}

/// Across the symbol or a part of it.
fn band(random: &mut Random, width: f32, height: f32) -> Mark {
    Mark {
        at_modules: [random.between(0.0, width), random.between(0.0, height)],
        half_modules: [random.between(20.0, 110.0), random.between(3.0, 18.0)],
        turn_deg: random.between(-35.0, 35.0),
        round_modules: random.between(0.0, 3.0),
        rough_modules: random.between(0.0, 2.5),
        ink: [[0.82, 0.81, 0.77], [0.05, 0.05, 0.06], [0.08, 0.12, 0.4], [0.65, 0.6, 0.5]][random.below(4)],
    }
}

/// The main symbol is whole; of its add-on, at least a digit is under a finger or a sticker, or beyond the picture.
fn covered(random: &mut Random) -> Simulated {
    loop {
        let scene = empty(random);
        let module_px = random.between(1.8, 3.5);
        let mut made = alone(random, scene, module_px, |random, book| book.pose.turn_deg = random.between(-15.0, 15.0));
        let Simulated { scene, truth } = &mut made;
        let book = &mut scene.books[0];
        if truth[0].add_on.is_none() {
            continue;
        }
        // Light room behind the main symbol stays, so that it can be read.
        let digits = truth[0].add_on.as_ref().map_or(0, String::len);
        let first = (book.symbol.main.len() + book.symbol.gap) as f32;
        let from = first + 4.0 + 9.0 * random.below(digits) as f32;
        if random.below(2) == 0 {
            lay_over(random, book, from);
        } else {
            cut_off(book, from, [scene.width as f32, 0.0], 0.0);
        }
        truth[0].hidden = true;
        return made;
    }
}

/// Covers everything from module `from` on to the right, over the whole height.
fn lay_over(random: &mut Random, book: &mut Book, from: f32) {
    let reach = (book.symbol.width() + 12.0 - from).max(14.0);
    book.marks.push(Mark {
        at_modules: [from + reach / 2.0, book.symbol.height / 2.0 + random.between(-8.0, 8.0)],
        half_modules: [reach / 2.0, book.symbol.height / 2.0 + 16.0],
        turn_deg: 0.0,
        round_modules: random.between(0.0, 9.0),
        rough_modules: 0.0,
        ink: books::cover_ink(random),
    });
}

/// Moves the book so that everything beyond module `from` lies beyond the picture's edge. `edge` is a point on it,
/// `out_deg` the direction out of the picture (0: to the right, 90: down).
fn cut_off(book: &mut Book, from: f32, edge: [f32; 2], out_deg: f32) {
    let (sin, cos) = out_deg.to_radians().sin_cos();
    let camera = Camera::of(book);
    let ends = [-1.0, book.symbol.height + GUARD_DROP_MODULES + 1.0].map(|v| camera.to_pixels([from, v]));
    let inmost = ends.map(|[x, y]| (x - edge[0]) * cos + (y - edge[1]) * sin).into_iter().fold(f32::MAX, f32::min);
    book.pose.at_px = [book.pose.at_px[0] - (inmost - 1.0) * cos, book.pose.at_px[1] - (inmost - 1.0) * sin];
}

/// At least one digit of the main symbol is beyond the picture's edge, or covered over the whole height.
fn cut(random: &mut Random) -> Simulated {
    let mut scene = empty(random);
    spoil(random, &mut scene);
    let module_px = random.between(1.6, 3.5);
    let mut made = alone(random, scene, module_px, |random, book| book.pose.turn_deg = random.between(-15.0, 15.0));
    let (width, height) = (made.scene.width as f32, made.scene.height as f32);
    let book = &mut made.scene.books[0];
    let left = random.below(2) == 0;
    // The first lost digits' inner edge, and the module that is the last to be seen.
    let lost = 7.0 * (1 + random.below(4)) as f32;
    let from = if left { 3.0 + lost } else { book.symbol.main.len() as f32 - 3.0 - lost };
    if random.below(3) == 0 {
        let skin_or_sticker = books::cover_ink(random);
        let reach = if left { from + 14.0 } else { random.between(lost + 6.0, lost + 70.0) };
        let middle = if left { from - reach / 2.0 } else { from + reach / 2.0 };
        book.marks.push(Mark {
            at_modules: [middle, book.symbol.height / 2.0],
            half_modules: [reach / 2.0, book.symbol.height / 2.0 + 16.0],
            turn_deg: 0.0,
            round_modules: random.between(0.0, 4.0),
            rough_modules: random.between(0.0, 0.5),
            // A white sticker is as likely as any other.
            ink: if random.below(3) == 0 { book.bars.light } else { skin_or_sticker },
        });
    } else {
        // Reading direction points out of the picture on the right, or into it from the left; or the same, turned.
        let quarter = random.below(4) as f32 * 90.0;
        book.pose.turn_deg += quarter;
        let out_deg = if left { quarter + 180.0 } else { quarter };
        let (sin, cos) = out_deg.to_radians().sin_cos();
        book.pose.at_px = [width / 2.0, height / 2.0];
        let edge = [width / 2.0 * (1.0 + cos), height / 2.0 * (1.0 + sin)];
        cut_off(book, from, edge, out_deg);
    }
    made.truth.clear();
    made
}

/// Covers without a symbol, blinds and fences, lettering, and bars that hold no GTIN.
fn none(random: &mut Random) -> Simulated {
    let mut scene = empty(random);
    spoil(random, &mut scene);
    let module_px = random.between(1.5, 4.0);
    let symbol = match random.below(4) {
        0 => books::other_bars(random),
        1 => books::false_symbol(random),
        _ => Symbol::default(),
    };
    let printed = !symbol.main.is_empty();
    let mut book = book(random, symbol, module_px);
    if !printed {
        book.cover = Cover { margins: [-1e6; 4], figure: random.below(2) == 0, ..Cover::artwork(random.bits()) };
        book.cover.edges = [-260.0, -340.0, 260.0, 340.0];
        book.cover.pattern = books::pattern(random, &book.symbol);
        if random.below(3) == 0 {
            let (step_modules, uneven) = (random.between(2.0, 8.0), random.between(0.0, 1.0));
            book.cover.pattern = Pattern::Stripes { step_modules, uneven, turn_deg: random.between(-10.0, 10.0) };
        }
        book.cover.title = "MILLI IN HILL TOWN".to_owned();
    }
    book.pose.turn_deg = random.between(-180.0, 180.0);
    book.pose.tilt_x_deg = random.between(-30.0, 30.0);
    put(random, &mut book, whole(&scene));
    scene.books = vec![book];
    Simulated { scene, truth: Vec::new() }
}
