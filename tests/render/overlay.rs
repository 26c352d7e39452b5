//! What lies over the print: light that the film reflects, and marks that hide what is under them.

use super::random::cell;
use super::scene::{Book, Glare, Ink, Mark};

/// A book's reflections, ready to be asked point by point.
pub struct Film {
    glare: Vec<(Glare, Turn)>,
    haze: f32,
}

/// A book's marks, ready to be asked point by point.
pub struct Marks(Vec<(Mark, Turn)>);

/// A direction on the book as sine and cosine.
struct Turn(f32, f32);

impl Turn {
    fn of(degrees: f32) -> Self {
        let (sin, cos) = degrees.to_radians().sin_cos();
        Self(sin, cos)
    }

    /// Along and across the direction, from `middle`.
    fn apart(&self, middle: [f32; 2], [u, v]: [f32; 2]) -> [f32; 2] {
        let (du, dv) = (u - middle[0], v - middle[1]);
        [du * self.1 + dv * self.0, dv * self.1 - du * self.0]
    }
}

impl Film {
    /// Over a book.
    pub fn of(book: &Book) -> Self {
        Self { glare: book.glare.iter().map(|g| (*g, Turn::of(g.turn_deg))).collect(), haze: book.haze }
    }

    /// Whether it adds no light anywhere.
    pub fn is_clear(&self) -> bool {
        self.glare.is_empty() && self.haze == 0.0
    }

    /// The light that the film adds at a point, as a share of white.
    pub fn light(&self, point: [f32; 2]) -> f32 {
        let mut light = self.haze;
        for (glare, turn) in &self.glare {
            let [along, across] = turn.apart(glare.at_modules, point);
            let (x, y) = (along / glare.half_modules[0], across / glare.half_modules[1]);
            // Falls to half at 1, flat in the middle, with a soft rim: crumpled film, not a lamp's sharp image.
            let r = x * x + y * y;
            light += glare.strength / (1.0 + r * r * r);
        }
        light
    }
}

impl Marks {
    /// On a book.
    pub fn of(book: &Book) -> Self {
        Self(book.marks.iter().map(|m| (*m, Turn::of(m.turn_deg))).collect())
    }

    /// The mark at a point: the topmost one's ink.
    pub fn ink(&self, point: [f32; 2]) -> Option<Ink> {
        let holds = |(mark, turn): &&(Mark, Turn)| {
            let [along, across] = turn.apart(mark.at_modules, point);
            // The distance to a rectangle with round corners; its rim is moved in and out by steps along it.
            let (x, y) = (along.abs() - mark.half_modules[0], across.abs() - mark.half_modules[1]);
            let (x, y) = (x + mark.round_modules, y + mark.round_modules);
            let out = (x.max(0.0).powi(2) + y.max(0.0).powi(2)).sqrt() + x.max(y).min(0.0) - mark.round_modules;
            out < if mark.rough_modules > 0.0 { mark.rough_modules * rough(along, across) } else { 0.0 }
        };
        self.0.iter().rev().find(holds).map(|(mark, _)| mark.ink)
    }
}

/// A smooth unevenness from -1 to 1 along a torn rim, with grains of about two modules.
fn rough(along: f32, across: f32) -> f32 {
    let x = along / 2.0;
    let (step, side) = (x.floor(), if across < 0.0 { 0 } else { 1 });
    let part = x - step;
    let at = |i: i32| cell(41, i, side);
    2.0 * (at(step as i32) * (1.0 - part) + at(step as i32 + 1) * part) - 1.0
}
