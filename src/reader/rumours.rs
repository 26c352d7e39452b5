//! Codes that stood out on some profile of a region, whether or not they were believed.

use std::cell::RefCell;
use std::rc::Rc;

use super::sample::{Point, length, sub};
use crate::code::Gtin;

/// What profiles of one region have said.
#[derive(Default, Clone)]
pub(super) struct Rumours(Rc<RefCell<Vec<(Gtin, Point)>>>);

impl Rumours {
    /// Adds what a profile shows, and the middle of its bars.
    pub(super) fn add(&self, gtin: Gtin, middle: Point) {
        self.0.borrow_mut().push((gtin, middle));
    }

    /// Whether another code than that of bars of this middle and width, in picture px, stood out about there. Symbols one above the
    /// other are farther apart.
    pub(super) fn contradict(&self, gtin: Gtin, middle: Point, width_px: f32) -> bool {
        /// Share of its width.
        const NEAR: f32 = 0.3;
        let about = |there: Point| length(sub(there, middle)) < NEAR * width_px;
        self.0.borrow().iter().any(|(other, there)| *other != gtin && about(*there))
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
    }
}
