//! What profiles of a region have said of codes, whether or not they were believed.

use std::cell::RefCell;
use std::rc::Rc;

use super::sample::{Point, length, sub};
use crate::code::Gtin;

/// What profiles of one region have said.
#[derive(Default, Clone)]
pub(super) struct Rumours(Rc<RefCell<Said>>);

#[derive(Default)]
struct Said {
    /// Codes that stood out, and the middle of their bars.
    shown: Vec<(Gtin, Point)>,
    /// Codes that were the likeliest valid ones where other digits fit better.
    denied: Vec<Gtin>,
}

impl Rumours {
    /// Adds a code that stands out on a profile, and the middle of its bars.
    pub(super) fn add(&self, gtin: Gtin, middle: Point) {
        self.0.borrow_mut().shown.push((gtin, middle));
    }

    /// Adds a code that is the likeliest valid one on a profile where other digits fit better.
    pub(super) fn deny(&self, gtin: Gtin) {
        self.0.borrow_mut().denied.push(gtin);
    }

    /// Whether another profile said that of this code.
    pub(super) fn denies(&self, gtin: Gtin) -> bool {
        self.0.borrow().denied.contains(&gtin)
    }

    /// Whether another code than that of bars of this middle and width, in picture px, stood out about there. Symbols one above the
    /// other are farther apart.
    pub(super) fn contradict(&self, gtin: Gtin, middle: Point, width_px: f32) -> bool {
        /// Share of its width.
        const NEAR: f32 = 0.3;
        let about = |there: Point| length(sub(there, middle)) < NEAR * width_px;
        self.0.borrow().shown.iter().any(|(other, there)| *other != gtin && about(*there))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn another_code_stands_against_one_in_the_same_place_alone() {
        let code = |last: u8| Gtin::from_digits(&[0, 0, 6, 1, 4, 1, 4, 1, 0, 0, 0, 0, last]);
        let codes: Vec<Gtin> = (0..10).filter_map(|last| code(last).ok()).collect();
        let [other] = codes[..] else { panic!("one check digit is right") };
        let gtin: Gtin = "0061414999991".parse().unwrap();
        let rumours = Rumours::default();
        rumours.add(other, [100.0, 50.0]);
        assert!(
            rumours.contradict(gtin, [110.0, 60.0], 200.0) && rumours.clone().contradict(gtin, [100.0, 50.0], 200.0)
        );
        assert!(!rumours.contradict(other, [100.0, 50.0], 200.0), "the same code");
        assert!(!rumours.contradict(gtin, [100.0, 140.0], 200.0), "a symbol below");
        rumours.deny(gtin);
        assert!(rumours.denies(gtin) && !rumours.denies(other));
    }
}
