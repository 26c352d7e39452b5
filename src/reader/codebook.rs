//! Waves of all that a UPC-A or EAN-13 is made of, and what each digit in each place costs on a profile.
//!
//! The bars of a digit never merge with those of the next, so the sum of squares is one term a digit and one for each
//! pair of neighbours (Iwen, Santosa & Ward, 'A symbol-based algorithm for decoding bar codes', 2013).

use std::sync::OnceLock;

use super::fit::LEAST_SIGMA;
use super::model::{Bars, DIGIT_REACH, DIGIT_SAMPLES, DigitWaves, PER_MODULE, dot};
use super::wide::widest;
use crate::code::NumberSet;

/// Modules of quiet zone on each side that are compared as well.
pub(super) const MARGIN: f32 = 3.0;
/// Modules of a UPC-A or EAN-13.
pub(super) const MODULES: usize = 95;
/// Samples of a profile laid out by modules.
pub(super) const SAMPLES: usize = (MODULES + 2 * MARGIN as usize) * PER_MODULE;

pub(super) const DIGITS: usize = 10;
/// Digits of a half.
pub(super) const HALF: usize = 6;

/// What two neighbours share, by the first digit and the second.
pub(super) type Pairs = [[f32; DIGITS]; DIGITS];

/// Waves of all that a UPC-A or EAN-13 is made of, for one blur and ink gain. The left half's digits are of set A or B.
pub(super) struct Codebook {
    /// Sample by sample what each digit's wave is there, so that all digits' costs are summed side by side.
    left: Vec<[f32; 2 * DIGITS]>,
    right: Vec<[f32; DIGITS]>,
    /// The guards' bars.
    fixed: Vec<f32>,
    left_squares: [f32; 2 * DIGITS],
    right_squares: [f32; DIGITS],
    /// By the sets of both.
    pub(super) left_pairs: [[Pairs; 2]; 2],
    pub(super) right_pairs: Pairs,
}

/// What each digit in each place would add to the sum of squares, by its set.
#[derive(Clone)]
pub(super) struct Costs {
    pub(super) base: f32,
    pub(super) left: [[[f32; DIGITS]; 2]; HALF],
    pub(super) right: [[f32; DIGITS]; HALF],
}

/// First module of the half's digit `place`.
fn digit_at(right: bool, place: usize) -> usize {
    7 * place + if right { 50 } else { 3 }
}

impl Codebook {
    /// One for nearly this blur and ink gain, made once: near enough to tell which code is the likeliest.
    pub(super) fn near(sigma: f32, gain: f32) -> &'static Self {
        /// Steps of blur, each by this share, and of ink gain in modules, to each side.
        const BLURS: usize = 54;
        const BLUR: f32 = 0.05;
        const GAINS: usize = 4;
        const GAIN: f32 = 0.1;
        static BOOKS: [[OnceLock<Codebook>; 2 * GAINS + 1]; BLURS] =
            [const { [const { OnceLock::new() }; 2 * GAINS + 1] }; BLURS];
        let blur = ((sigma / LEAST_SIGMA).ln() / BLUR).round().clamp(0.0, (BLURS - 1) as f32);
        let swollen = (gain / GAIN).round().clamp(-(GAINS as f32), GAINS as f32);
        BOOKS[blur as usize][(swollen + GAINS as f32) as usize]
            .get_or_init(|| Self::new(LEAST_SIGMA * (blur * BLUR).exp(), swollen * GAIN))
    }

    /// For bars blurred by `sigma` and swollen by `gain` modules.
    pub(super) fn new(sigma: f32, gain: f32) -> Self {
        let digits = DigitWaves::new(sigma, gain);
        let mut guards = [false; MODULES];
        for dark in [0, 2, 46, 48, 92, 94] {
            guards[dark] = true;
        }
        let fixed = Bars::new(&guards, 0.0).wave(SAMPLES, -MARGIN, sigma, gain);
        let wave = |set: NumberSet, digit: usize| digits.of(set, digit as u8);
        let either = |state: usize| wave(LEFT_SETS[state / DIGITS], state % DIGITS);
        // A digit's wave reaches three modules into the next one's place, and back.
        let pairs = |a: NumberSet, b: NumberSet| -> Pairs {
            let shared = 2 * DIGIT_REACH as usize * PER_MODULE;
            std::array::from_fn(|d| {
                std::array::from_fn(|e| 2.0 * dot(&wave(a, d)[DIGIT_SAMPLES - shared..], &wave(b, e)[..shared]))
            })
        };
        Self {
            left: (0..DIGIT_SAMPLES).map(|i| std::array::from_fn(|s| either(s)[i])).collect(),
            right: (0..DIGIT_SAMPLES).map(|i| std::array::from_fn(|d| wave(NumberSet::C, d)[i])).collect(),
            fixed,
            left_squares: std::array::from_fn(|s| dot(either(s), either(s))),
            right_squares: std::array::from_fn(|d| dot(wave(NumberSet::C, d), wave(NumberSet::C, d))),
            left_pairs: LEFT_SETS.map(|a| LEFT_SETS.map(|b| pairs(a, b))),
            right_pairs: pairs(NumberSet::C, NumberSet::C),
        }
    }

    /// Costs on a profile of [`SAMPLES`] samples from [`MARGIN`] modules before the first bar on, as darkness.
    pub(super) fn costs(&self, darkness: &[f32]) -> Costs {
        widest(
            #[inline(always)]
            || self.costs_side_by_side(darkness),
        )
    }

    #[inline(always)]
    fn costs_side_by_side(&self, darkness: &[f32]) -> Costs {
        let rest: Vec<f32> = darkness.iter().zip(&self.fixed).map(|(d, f)| d - f).collect();
        let from = |right: bool, place: usize| (digit_at(right, place) + (MARGIN - DIGIT_REACH) as usize) * PER_MODULE;
        let mut left = [[[0.0; DIGITS]; 2]; HALF];
        let mut right = [[0.0; DIGITS]; HALF];
        for place in 0..HALF {
            let seen = &rest[from(false, place)..][..DIGIT_SAMPLES];
            left[place].as_flattened_mut().copy_from_slice(&costs(seen, &self.left, &self.left_squares));
            right[place] = costs(&rest[from(true, place)..][..DIGIT_SAMPLES], &self.right, &self.right_squares);
        }
        Costs { base: dot(&rest, &rest), left, right }
    }

    /// The least sum of squares of any row of digits, valid or not: a quick lower bound.
    pub(super) fn bound(&self, costs: &Costs) -> f32 {
        let right = costs.right.map(|costs| [costs]);
        widest(
            #[inline(always)]
            || costs.base + least(&costs.left, &self.left_pairs) + least(&right, &[[self.right_pairs]]),
        )
    }
}

/// The sets that the left half's digits may be of.
pub(super) const LEFT_SETS: [NumberSet; 2] = [NumberSet::A, NumberSet::B];

/// The least that any row of a half's digits costs, each of any of `SETS` sets.
#[inline(always)]
fn least<const SETS: usize>(costs: &[[[f32; DIGITS]; SETS]; HALF], pairs: &[[Pairs; SETS]; SETS]) -> f32 {
    let mut best = costs[0];
    for next in &costs[1..] {
        let mut longer = [[f32::INFINITY; DIGITS]; SETS];
        for (best, pairs) in best.iter().zip(pairs) {
            for (longer, pairs) in longer.iter_mut().zip(pairs) {
                lengthen(longer, best, pairs);
            }
        }
        for (longer, next) in longer.as_flattened_mut().iter_mut().zip(next.as_flattened()) {
            *longer += next;
        }
        best = longer;
    }
    best.into_iter().flatten().fold(f32::INFINITY, f32::min)
}

/// Lowers what each digit costs behind what was the cheapest before it.
#[inline(always)]
pub(super) fn lengthen(longer: &mut [f32; DIGITS], before: &[f32; DIGITS], pairs: &Pairs) {
    for (before, pairs) in before.iter().zip(pairs) {
        for (longer, pair) in longer.iter_mut().zip(pairs) {
            let cost = before + pair;
            *longer = if cost < *longer { cost } else { *longer };
        }
    }
}

/// What each wave would add to the sum of squares of what is `seen` in its place.
#[inline(always)]
pub(super) fn costs<const N: usize>(seen: &[f32], waves: &[[f32; N]], squares: &[f32; N]) -> [f32; N] {
    let mut products = [0.0f32; N];
    for (value, waves) in seen.iter().zip(waves) {
        for (product, wave) in products.iter_mut().zip(waves) {
            *product += value * wave;
        }
    }
    for (product, square) in products.iter_mut().zip(squares) {
        *product = square - 2.0 * *product;
    }
    products
}
