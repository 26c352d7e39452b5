//! The flat artwork of an invented cover around its bar code: panels, dots, a figure, lettering, and the white box.
//!
//! Everything is in modules from the top left corner of the first bar; `u` runs in reading direction, `v` down the bars.

use super::font;
use super::overlay::Marks;
use super::random::{Random, cell};
use super::scene::{Book, Ink};
use super::symbol::{ADD_ON_TOP_MODULES, GUARD_DROP_MODULES, Symbol};

/// What is printed around the bar code.
#[derive(Debug, Clone)]
pub struct Cover {
    /// Decides colours, dots and shapes.
    pub seed: u64,
    /// The cover's left, top, right and bottom edge.
    pub edges: [f32; 4],
    /// White on the left, above, on the right and below the bar code: the box. The standard asks for 9 modules on
    /// the left of a UPC-A (11 for an EAN-13), and 5 on the right of an add-on (9 or 7 without one).
    pub margins: [f32; 4],
    /// Whether there is artwork; without it the cover is white, which is quicker to draw.
    pub art: bool,
    /// What fills the artwork's background.
    pub pattern: Pattern,
    /// Whether somebody leaps across the artwork.
    pub figure: bool,
    /// Lettering: at the top of the cover.
    pub title: String,
    /// Lettering: in the box above the bars.
    pub box_line: String,
    /// Lettering: a caption on the artwork above the box; empty: none.
    pub caption: String,
}

/// A background of the artwork.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Pattern {
    /// Two colours blended by dots that grow downwards, with a burst of speed lines above.
    Dots,
    /// Speed lines that run to one point.
    Rays {
        /// The point, in modules.
        to_modules: [f32; 2],
        /// Lines and gaps in a full circle.
        per_turn: f32,
    },
    /// Stripes: blinds, a fence, a jersey.
    Stripes {
        /// From one stripe to the next, in modules.
        step_modules: f32,
        /// How uneven they are: 0 is even, 1 is from nothing to twice as broad.
        uneven: f32,
        /// The direction across them, clockwise from the reading direction, in degrees.
        turn_deg: f32,
    },
    /// Rows of small letters.
    Letters {
        /// A letter's height in modules.
        height_modules: f32,
    },
}

impl Default for Cover {
    /// White paper that fills any picture.
    fn default() -> Self {
        Self {
            seed: 1,
            edges: [-1e6, -1e6, 1e6, 1e6],
            margins: [14.0, 12.0, 12.0, 14.0],
            art: false,
            pattern: Pattern::Dots,
            figure: false,
            title: String::new(),
            box_line: String::new(),
            caption: String::new(),
        }
    }
}

impl Cover {
    /// Artwork that fills any picture, without a box: for pictures without a bar code.
    pub fn artwork(seed: u64) -> Self {
        Self { seed, margins: [-1e6; 4], art: true, ..Self::default() }
    }

    /// A comic's front: 510 by 790 modules (168 by 260 mm at 0.33 mm), the box in the lower left corner.
    pub fn front(seed: u64, title: &str, box_line: &str, caption: &str) -> Self {
        Self {
            seed,
            edges: [-30.0, -684.0, 480.0, 106.0],
            margins: [14.0, 15.0, 12.0, 14.0],
            art: true,
            pattern: Pattern::Dots,
            figure: true,
            title: title.to_owned(),
            box_line: box_line.to_owned(),
            caption: caption.to_owned(),
        }
    }

    /// A collected edition's back: the box in the lower right corner.
    pub fn back(seed: u64, title: &str, box_line: &str, caption: &str) -> Self {
        Self { edges: [-326.0, -684.0, 184.0, 106.0], ..Self::front(seed, title, box_line, caption) }
    }
}

/// A line of lettering.
struct Line {
    text: Vec<char>,
    left: f32,
    top: f32,
    /// The width of a dot of the font.
    dot: f32,
}

impl Line {
    fn new(text: &str, left: f32, top: f32, height: f32) -> Self {
        Self { text: text.to_uppercase().chars().collect(), left, top, dot: height / 7.0 }
    }

    fn width(&self) -> f32 {
        self.text.len() as f32 * font::STEP_DOTS * self.dot
    }

    fn ink(&self, u: f32, v: f32) -> f32 {
        font::line(&self.text, (u - self.left) / self.dot, (v - self.top) / self.dot)
    }
}

/// A coloured shape with a black outline: a thick line between two points.
struct Limb {
    from: [f32; 2],
    to: [f32; 2],
    half: f32,
    ink: Ink,
}

impl Limb {
    /// False for most points that it does not cover.
    fn is_near(&self, u: f32, v: f32) -> bool {
        let reach = self.half + OUTLINE;
        let beside = |p: f32, a: f32, b: f32| p < a.min(b) - reach || p > a.max(b) + reach;
        !beside(u, self.from[0], self.to[0]) && !beside(v, self.from[1], self.to[1])
    }
}

/// A book ready to be looked at, point by point.
pub struct Painter<'a> {
    book: &'a Book,
    symbol: &'a Symbol,
    cover: &'a Cover,
    /// Per module: where its bar begins and ends in `v`; `None`: light.
    bars: Vec<Option<[f32; 2]>>,
    marks: Marks,
    frame: [f32; 4],
    box_line: Line,
    title: Line,
    caption: Line,
    paints: [Ink; 4],
    limbs: Vec<Limb>,
    burst: [f32; 2],
}

const BLACK: Ink = [0.03, 0.03, 0.035];
/// Half the width of a figure's outline, in modules.
const OUTLINE: f32 = 2.2;
/// The height of the digits under the bars: about 2.75 mm at a module of 0.33 mm.
const DIGIT_MODULES: f32 = 8.0;
/// Printers' colours, linear: red, yellow, blue, green, orange, violet, sky, flesh.
const PAINTS: [Ink; 8] = [
    [0.62, 0.05, 0.05],
    [0.85, 0.62, 0.06],
    [0.05, 0.12, 0.45],
    [0.07, 0.33, 0.13],
    [0.78, 0.28, 0.05],
    [0.22, 0.08, 0.34],
    [0.25, 0.52, 0.70],
    [0.80, 0.50, 0.36],
];

impl<'a> Painter<'a> {
    /// For one book.
    pub fn new(book: &'a Book) -> Self {
        let (symbol, cover) = (&book.symbol, &book.cover);
        let mut random = Random::new(cover.seed);
        let first = random.below(PAINTS.len());
        let paints = std::array::from_fn(|i| PAINTS[(first + [0, 3, 5, 6][i]) % PAINTS.len()]);
        let bottom = symbol.height + GUARD_DROP_MODULES;
        let main = symbol.main.iter().zip(&symbol.long);
        let main = main.map(|(&dark, &long)| dark.then_some([0.0, if long { bottom } else { symbol.height }]));
        let gap = if symbol.add_on.is_empty() { 0 } else { symbol.gap };
        let add_on = symbol.add_on.iter().map(|&dark| dark.then_some([ADD_ON_TOP_MODULES, bottom]));
        let bars = main.chain(std::iter::repeat_n(None, gap)).chain(add_on).collect();
        let [left, above, right, below] = cover.margins;
        let frame = [-left, -above, symbol.width() + right, symbol.height + below];
        let wide = cover.edges[2] - cover.edges[0];
        let letters = cover.title.chars().count().max(1) as f32;
        let title_height = (wide * 0.92 / (letters * font::STEP_DOTS) * 7.0).min(90.0);
        let caption = Line::new(&cover.caption, frame[0] + 4.0, frame[1] - 22.0, 11.0);
        Self {
            book,
            symbol,
            cover,
            bars,
            marks: Marks::of(book),
            frame,
            box_line: Line::new(&cover.box_line, 0.0, -above + 3.0, 8.0),
            title: Line::new(&cover.title, cover.edges[0] + wide * 0.05, cover.edges[1] + 24.0, title_height),
            caption,
            paints,
            limbs: if cover.figure { figure(&mut random, &cover.edges, &paints) } else { Vec::new() },
            burst: [random.between(180.0, 380.0), random.between(-420.0, -150.0)],
        }
    }

    /// The colour at a point of the book; `None`: beside the book.
    pub fn ink(&self, [u, v]: [f32; 2]) -> Option<Ink> {
        let u = if self.book.mirrored { self.symbol.width() - u } else { u };
        if let Some(ink) = self.marks.ink([u, v]) {
            return Some(ink);
        }
        let [left, top, right, bottom] = self.cover.edges;
        if u < left || u > right || v < top || v > bottom {
            return None;
        }
        let [left, top, right, bottom] = self.frame;
        let inside = (u - left).min(right - u).min(v - top).min(bottom - v);
        let paper = self.book.bars.light;
        Some(if inside > 0.0 {
            if self.is_dark(u, v) { self.book.bars.dark } else { paper }
        } else if !self.cover.art {
            paper
        } else if inside > -1.4 {
            BLACK
        } else {
            self.art(u, v)
        })
    }

    /// How much light the book leaves beside itself: below 1 in the narrow shadow along its edges.
    pub fn shade(&self, [u, v]: [f32; 2]) -> f32 {
        const REACH_MODULES: f32 = 7.0;
        let [left, top, right, bottom] = self.cover.edges;
        let (du, dv) = ((left - u).max(u - right).max(0.0), (top - v).max(v - bottom).max(0.0));
        let away = (du * du + dv * dv).sqrt() / REACH_MODULES;
        if away < 1.0 { 0.45 + 0.55 * away } else { 1.0 }
    }

    /// Bars, and the digits and words in the box.
    fn is_dark(&self, u: f32, v: f32) -> bool {
        let grow = self.book.bar_growth_modules;
        let at = |shift: f32| {
            let module = u + shift;
            // A cast rounds towards zero and turns what is below it to zero: hence the check.
            let bar = if module >= 0.0 { self.bars.get(module as usize) } else { None };
            bar.copied().flatten().is_some_and(|[top, bottom]| v >= top && v < bottom)
        };
        // Grown bars reach over their edges; shrunk ones are dark only where both neighbourhoods are.
        let bar = if grow == 0.0 {
            at(0.0)
        } else if grow > 0.0 {
            at(-grow) || at(grow)
        } else {
            at(-grow) && at(grow)
        };
        bar || self.is_text(u, v)
    }

    fn is_text(&self, u: f32, v: f32) -> bool {
        let dot = DIGIT_MODULES / 7.0;
        let below = self.symbol.height + 2.0;
        if v < 0.0 {
            return self.box_line.ink(u, v) > font::INKED;
        }
        if v > below - 1.0 || (v < ADD_ON_TOP_MODULES && u > self.symbol.main.len() as f32) {
            let half = 2.5 * dot;
            return self.symbol.text.iter().any(|&(letter, centre, above)| {
                let top = if above { 0.0 } else { below };
                (u - centre).abs() < half + dot
                    && font::ink(letter, (u - centre + half) / dot, (v - top) / dot) > font::INKED
            });
        }
        false
    }

    fn art(&self, u: f32, v: f32) -> Ink {
        let caption = &self.caption;
        if !caption.text.is_empty() {
            let (du, dv) = (u - caption.left, v - caption.top);
            if (-4.0..caption.width() + 3.0).contains(&du) && (-4.0..15.0).contains(&dv) {
                let rim = !(-2.8..caption.width() + 1.8).contains(&du) || !(-2.8..13.8).contains(&dv);
                return if rim || caption.ink(u, v) > font::INKED { BLACK } else { [0.86, 0.74, 0.30] };
            }
        }
        let title = self.title.ink(u, v);
        if title > 0.12 {
            return if title > font::INKED { self.paints[1] } else { BLACK };
        }
        for limb in self.limbs.iter().rev().filter(|limb| limb.is_near(u, v)) {
            let away = away_squared(limb, u, v);
            if away < (limb.half + OUTLINE).powi(2) {
                return if away > (limb.half - OUTLINE).powi(2) { BLACK } else { limb.ink };
            }
        }
        self.background(u, v)
    }

    fn background(&self, u: f32, v: f32) -> Ink {
        let [mut dark, light] = [self.paints[2], lighten(self.paints[0], 0.6)];
        // Comics' lines are as often black as coloured.
        if self.cover.seed.is_multiple_of(2) {
            dark = BLACK;
        }
        match self.cover.pattern {
            Pattern::Dots => self.dots(u, v),
            Pattern::Rays { to_modules: [to_u, to_v], per_turn } => {
                let (du, dv) = (u - to_u, v - to_v);
                let line = dv.atan2(du) * per_turn / std::f32::consts::TAU;
                let breadth = 0.15 + 0.6 * cell(self.cover.seed, line.floor() as i32, 3);
                let begins = 12.0 + 60.0 * cell(self.cover.seed, line.floor() as i32, 4);
                let inked = line - line.floor() < breadth && du * du + dv * dv > begins * begins;
                if inked { dark } else { light }
            }
            Pattern::Stripes { step_modules, uneven, turn_deg } => {
                let (sin, cos) = turn_deg.to_radians().sin_cos();
                let line = (u * cos + v * sin) / step_modules;
                let breadth = 0.5 + 0.5 * uneven * (2.0 * cell(self.cover.seed, line.floor() as i32, 5) - 1.0);
                if line - line.floor() < breadth { dark } else { light }
            }
            Pattern::Letters { height_modules } => {
                let dot = height_modules / 7.0;
                let (x, y) = (u / dot, v / dot);
                let (row, column) = ((y / 10.0).floor(), (x / font::STEP_DOTS).floor());
                let letter = cell(self.cover.seed, column as i32, row as i32) * 31.0;
                let letter = if letter < 26.0 { char::from(b'A' + letter as u8) } else { ' ' };
                let ink = font::ink(letter, x - column * font::STEP_DOTS, y - row * 10.0);
                if ink > font::INKED { dark } else { light }
            }
        }
    }

    /// Speed lines around the burst, and two colours blended by dots below.
    fn dots(&self, u: f32, v: f32) -> Ink {
        let (du, dv) = (u - self.burst[0], v - self.burst[1]);
        let away = (du * du + dv * dv).sqrt();
        if away < 170.0 {
            let wedge = (dv.atan2(du) * 14.0).floor() as i32;
            let begins = 40.0 + 110.0 * cell(self.cover.seed, wedge, 7);
            return if away > begins && away < 150.0 + begins * 0.2 { self.paints[3] } else { self.paints[2] };
        }
        let [_, top, _, bottom] = self.cover.edges;
        let depth = ((v - top) / (bottom - top)).clamp(0.0, 1.0);
        // Dots on a grid turned by 15 degrees, as printers turn theirs.
        let (x, y) = ((u * 0.966 + v * 0.259) / 5.0, (v * 0.966 - u * 0.259) / 5.0);
        let (fx, fy) = (x - x.floor() - 0.5, y - y.floor() - 0.5);
        let radius = 0.05 + 0.5 * depth;
        if fx * fx + fy * fy < radius * radius { lighten(self.paints[0], 0.15) } else { lighten(self.paints[0], 0.6) }
    }
}

fn lighten(ink: Ink, share: f32) -> Ink {
    ink.map(|c| c + (0.86 - c) * share)
}

/// The squared distance from a limb's middle line.
fn away_squared(limb: &Limb, u: f32, v: f32) -> f32 {
    let (dx, dy) = (limb.to[0] - limb.from[0], limb.to[1] - limb.from[1]);
    let (pu, pv) = (u - limb.from[0], v - limb.from[1]);
    let t = ((pu * dx + pv * dy) / (dx * dx + dy * dy).max(1e-6)).clamp(0.0, 1.0);
    let (ru, rv) = (pu - t * dx, pv - t * dy);
    ru * ru + rv * rv
}

/// Somebody in a cape, mid-leap, right of and above the box.
fn figure(random: &mut Random, edges: &[f32; 4], paints: &[Ink; 4]) -> Vec<Limb> {
    let hip = [edges[0] + random.between(250.0, 360.0), edges[3] - random.between(230.0, 330.0)];
    let mut limb = |from: [f32; 2], reach: f32, low: f32, high: f32, half: f32, ink: Ink| {
        let angle = random.between(low, high).to_radians();
        let to = [from[0] + reach * angle.cos(), from[1] + reach * angle.sin()];
        Limb { from, to, half, ink }
    };
    let suit = paints[2];
    let torso = limb(hip, 110.0, -110.0, -60.0, 34.0, suit);
    let neck = torso.to;
    let cape = limb(neck, 190.0, 70.0, 140.0, 46.0, paints[0]);
    let head = limb(neck, 52.0, -110.0, -70.0, 24.0, PAINTS[7]);
    let thigh = limb(hip, 110.0, 40.0, 80.0, 25.0, suit);
    let shin = limb(thigh.to, 110.0, 70.0, 120.0, 20.0, paints[1]);
    let other = limb(hip, 105.0, 100.0, 150.0, 25.0, suit);
    let calf = limb(other.to, 100.0, 60.0, 100.0, 20.0, paints[1]);
    let arm = limb(neck, 100.0, -50.0, 20.0, 18.0, suit);
    let fist = limb(arm.to, 40.0, -80.0, 0.0, 17.0, PAINTS[7]);
    let back = limb(neck, 120.0, 130.0, 190.0, 18.0, suit);
    let jaw = Limb { from: head.to, to: [head.to[0] + 1.0, head.to[1]], half: 26.0, ink: PAINTS[7] };
    vec![cape, other, calf, back, thigh, shin, torso, arm, fist, head, jaw]
}
