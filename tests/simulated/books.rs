//! A random book with its code, and where it lies in the picture.

use super::classes::Truth;
use crate::render::camera::Camera;
use crate::render::scene::Ink;
use crate::render::symbol::{BAR_HEIGHT_MODULES, GUARD_DROP_MODULES, check, digits};
use crate::render::{Bars, Book, Cover, Pattern, Pose, Random, Symbol};

/// Light modules that the standard asks for: left of a UPC-A, right of an add-on, right of a UPC-A without one (GS1
/// General Specifications, section 5.2).
const QUIET_LEFT: f32 = 9.0;
const QUIET_ADD_ON: f32 = 5.0;
const QUIET_RIGHT: f32 = 9.0;
/// An add-on begins 9 to 12 modules behind the main symbol, with a guard of 4 (same source): so much must be seen to
/// say that there is none.
pub const ADD_ON_BEGINS: f32 = 18.0;

const TITLES: [&str; 8] =
    ["NIGHT TIDE", "ORLA", "THE COPPER LAMP", "MILLI", "HILL & VALE", "TEN BELLS", "LILLIPUT III", "HARBOUR 51"];
const CAPTIONS: [&str; 5] = ["", "WHO RANG?", "NO WAY BACK!", "MEANWHILE...", "III: THE FENCE"];

/// A UPC-A under the example prefix; three of four have five digits behind it, some two, some none.
pub fn symbol(random: &mut Random) -> (Symbol, Truth) {
    let serial: [u8; 5] = random.digits();
    let body: [u8; 11] = digits(&format!("061414{}", text(&serial)));
    let main: [u8; 12] = digits(&format!("{}{}", text(&body), check(&body)));
    let (symbol, add_on) = with_add_on(random, Symbol::upc_a(main));
    (symbol, Truth { gtin: format!("0{}", text(&main)), add_on, hidden: false })
}

/// The symbol with a random add-on, and that add-on's digits.
pub fn with_add_on(random: &mut Random, mut symbol: Symbol) -> (Symbol, Option<String>) {
    // Boxes on covers are often too low for bars of the full height.
    if random.below(3) == 0 {
        symbol.height = random.between(48.0, BAR_HEIGHT_MODULES);
    }
    symbol.gap = 9 + random.below(4);
    match random.below(8) {
        0 => (symbol, None),
        1 => {
            let two: [u8; 2] = random.digits();
            (symbol.with_two(two), Some(text(&two)))
        }
        _ => {
            let five: [u8; 5] = random.digits();
            (symbol.with_five(five), Some(text(&five)))
        }
    }
}

pub fn text(digits: &[u8]) -> String {
    digits.iter().map(u8::to_string).collect()
}

/// Artwork or white paper around the symbol, the box as narrow as allowed or wider.
pub fn cover(random: &mut Random, symbol: &Symbol) -> Cover {
    if random.below(5) == 0 {
        return Cover::default();
    }
    let above = random.between(2.0, 18.0);
    let box_line = if above > 12.0 { "#3 $4.99" } else { "" };
    let (title, caption) = (TITLES[random.below(TITLES.len())], CAPTIONS[random.below(CAPTIONS.len())]);
    let mut cover = match random.below(2) {
        0 => Cover::front(random.bits(), title, box_line, caption),
        _ => Cover::back(random.bits(), title, box_line, caption),
    };
    // A box without an add-on is often as wide as one with it.
    let (least, more) = if symbol.add_on.is_empty() { (QUIET_RIGHT, 30.0) } else { (QUIET_ADD_ON, 8.0) };
    let (left, right) = (QUIET_LEFT + random.between(0.5, 8.0), least + random.between(0.5, more));
    cover.margins = [left, above, right, random.between(11.0, 16.0)];
    cover.pattern = pattern(random, symbol);
    cover
}

/// A background of artwork, its lines near the symbol.
pub fn pattern(random: &mut Random, symbol: &Symbol) -> Pattern {
    match random.below(6) {
        0..=2 => Pattern::Dots,
        3 => Pattern::Rays {
            to_modules: [symbol.width() + random.between(-300.0, 200.0), random.between(-250.0, 120.0)],
            per_turn: random.between(60.0, 300.0).floor(),
        },
        4 => Pattern::Stripes {
            step_modules: random.between(2.5, 12.0),
            uneven: random.between(0.0, 1.0),
            turn_deg: random.between(0.0, 180.0),
        },
        _ => Pattern::Letters { height_modules: random.between(7.0, 16.0) },
    }
}

/// What must be in the picture to read the symbol, its quiet zones included: left, top, right, bottom.
pub fn outline(symbol: &Symbol) -> [f32; 4] {
    let right = if symbol.add_on.is_empty() { ADD_ON_BEGINS } else { QUIET_ADD_ON };
    [-QUIET_LEFT, 0.0, symbol.width() + right, symbol.height + GUARD_DROP_MODULES]
}

/// Points along the rim of the book's symbol, quiet zones included, in modules.
pub fn rim(symbol: &Symbol) -> Vec<[f32; 2]> {
    let [left, top, right, bottom] = outline(symbol);
    let along = (0..=8).map(|i| left + (right - left) * i as f32 / 8.0);
    along.flat_map(|u| [[u, top], [u, bottom]]).collect()
}

/// The smallest upright rectangle of the picture that holds the symbol: left, top, right, bottom, in pixels.
pub fn seen(book: &Book) -> [f32; 4] {
    let camera = Camera::of(book);
    let empty = [f32::MAX, f32::MAX, f32::MIN, f32::MIN];
    rim(&book.symbol)
        .into_iter()
        .map(|p| camera.to_pixels(p))
        .fold(empty, |[l, t, r, b], [x, y]| [l.min(x), t.min(y), r.max(x), b.max(y)])
}

/// Puts the book somewhere within an area (left, top, right, bottom, in pixels), smaller if it would not fit.
pub fn put(random: &mut Random, book: &mut Book, [left, top, right, bottom]: [f32; 4]) {
    const FREE_PX: f32 = 4.0;
    let (width, height) = (right - left - 2.0 * FREE_PX, bottom - top - 2.0 * FREE_PX);
    book.pose.at_px = [0.0, 0.0];
    let [l, t, r, b] = seen(book);
    let shrink = (width / (r - l)).min(height / (b - t)).min(1.0);
    book.pose.module_px *= shrink;
    let [l, t, r, b] = [l, t, r, b].map(|edge| edge * shrink);
    book.pose.at_px = [
        left + FREE_PX - l + random.between(0.0, 1.0) * (width - (r - l)),
        top + FREE_PX - t + random.between(0.0, 1.0) * (height - (b - t)),
    ];
}

/// The narrowest module at the ends and in the middle of the symbol, in pixels.
pub fn narrowest_module_px(book: &Book) -> f32 {
    let camera = Camera::of(book);
    let (width, v) = (book.symbol.width(), book.symbol.height / 2.0);
    let at = |u: f32| {
        let ([ax, ay], [bx, by]) = (camera.to_pixels([u, v]), camera.to_pixels([u + 1.0, v]));
        ((bx - ax).powi(2) + (by - ay).powi(2)).sqrt()
    };
    [0.0, width / 2.0, width - 1.0].into_iter().map(at).fold(f32::MAX, f32::min)
}

/// Code 39, Interleaved 2 of 5, Code 128 or no symbology at all: bars that hold no GTIN.
pub fn other_bars(random: &mut Random) -> Symbol {
    let wide = 2 + random.below(2);
    let mut widths: Vec<usize> = Vec::new();
    match random.below(4) {
        // Code 39: nine elements a character, three of them wide, and a narrow gap.
        0 => {
            for _ in 0..7 + random.below(4) {
                let mut wides = [false; 9];
                while wides.iter().filter(|&&w| w).count() < 3 {
                    wides[random.below(9)] = true;
                }
                widths.extend(wides.map(|w| if w { wide } else { 1 }));
                widths.push(1);
            }
        }
        // Interleaved 2 of 5: five bars and five spaces a pair, two of each wide.
        1 => {
            widths.extend([1; 4]);
            for _ in 0..5 + random.below(3) {
                let two = |random: &mut Random| {
                    let first = random.below(5);
                    let second = (first + 1 + random.below(4)) % 5;
                    [first, second]
                };
                let (bars, spaces) = (two(random), two(random));
                for i in 0..5 {
                    widths.extend([bars, spaces].map(|wides| if wides.contains(&i) { wide } else { 1 }));
                }
            }
            widths.extend([wide, 1, 1]);
        }
        // Code 128: three bars and three spaces a character, 11 modules, the bars an even number of them.
        2 => {
            widths.extend([2, 1, 1, 2, 3, 2]);
            while widths.len() < 6 * (8 + random.below(4)) {
                let six: [usize; 6] = std::array::from_fn(|_| 1 + random.below(4));
                if six.iter().sum::<usize>() == 11 && (six[0] + six[2] + six[4]).is_multiple_of(2) {
                    widths.extend(six);
                }
            }
            widths.extend([2, 3, 3, 1, 1, 1, 2]);
        }
        _ => widths.extend((0..51 + 2 * random.below(25)).map(|_| 1 + random.below(wide + 1))),
    }
    let bits = widths.iter().enumerate().flat_map(|(i, &w)| std::iter::repeat_n(if i % 2 == 0 { '1' } else { '0' }, w));
    Symbol::pattern(&bits.collect::<String>())
}

/// A UPC-A by its shape that holds no GTIN: a wrong check digit, the left half's number set on both sides, or nothing
/// left of the add-on.
pub fn false_symbol(random: &mut Random) -> Symbol {
    let body: [u8; 11] = random.digits();
    let mut main: [u8; 12] = digits(&format!("{}{}", text(&body), check(&body)));
    let kind = random.below(3);
    if kind == 0 {
        main[11] = (main[11] + 1 + random.below(9) as u8) % 10;
    }
    let (mut symbol, _) = with_add_on(random, Symbol::upc_a(main));
    match kind {
        0 => {}
        1 => {
            let left = symbol.main[3..45].to_vec();
            symbol.main.splice(50..92, left);
        }
        _ => {
            symbol.main.fill(false);
            symbol.text.retain(|&(_, _, above)| above);
        }
    }
    symbol
}

/// Something that covers print and is not paper: skin, a coloured sticker, ink.
pub fn cover_ink(random: &mut Random) -> Ink {
    [[0.80, 0.50, 0.36], [0.45, 0.25, 0.17], [0.75, 0.08, 0.06], [0.85, 0.70, 0.08], [0.05, 0.05, 0.06]]
        [random.below(5)]
}

/// A flat book before the camera, its bars grown or shrunk as inks do, not yet put anywhere.
pub fn book(random: &mut Random, symbol: Symbol, module_px: f32) -> Book {
    let cover = cover(random, &symbol);
    let pose = Pose { module_px, turn_deg: random.between(-4.0, 4.0), ..Pose::default() };
    let mut book = Book::new(symbol, cover, pose);
    book.bar_growth_modules = random.between(-0.08, 0.12);
    let (dark, light) = (random.between(0.02, 0.07), random.between(0.7, 0.9));
    book.bars = Bars { dark: [dark; 3], light: [light, light * 0.99, light * 0.95] };
    book
}
