//! The valid codes that fit a profile best, exactly: dynamic programming over digits, number sets and check sum.
//!
//! The bars of a digit never merge with those of the next, so the sum of squares is one term a digit and one for each
//! pair of neighbours (Iwen, Santosa & Ward, 'A symbol-based algorithm for decoding bar codes', 2013).

use std::sync::OnceLock;

use super::fit::LEAST_SIGMA;
use super::model::{Bars, DIGIT_REACH, DIGIT_SAMPLES, DigitWaves, PER_MODULE, dot};
use crate::code::{Gtin, MAIN_SETS, NumberSet};

/// Modules of quiet zone on each side that are compared as well.
pub(super) const MARGIN: f32 = 3.0;
/// Modules of a UPC-A or EAN-13.
pub(super) const MODULES: usize = 95;
/// Samples of a profile laid out by modules.
pub(super) const SAMPLES: usize = (MODULES + 2 * MARGIN as usize) * PER_MODULE;

/// Sets A and B of the left half's digits are states 0 to 9 and 10 to 19.
const LEFT: usize = 20;
const RIGHT: usize = 10;
const HALF: usize = 6;
/// Weights of a half's digits in the check sum (GS1 General Specifications, 'standard check digit calculations').
const WEIGHTS: [usize; HALF] = [3, 1, 3, 1, 3, 1];

/// Waves of all that a UPC-A or EAN-13 is made of, for one blur and ink gain.
pub(super) struct Codebook {
    /// Sample by sample what each state's wave is there, so that all states' costs are summed side by side.
    left: Vec<[f32; LEFT]>,
    right: Vec<[f32; RIGHT]>,
    /// The guards' bars.
    fixed: Vec<f32>,
    squares: [f32; LEFT + RIGHT],
    left_pairs: [[f32; LEFT]; LEFT],
    right_pairs: [[f32; RIGHT]; RIGHT],
}

/// What each digit in each place would add to the sum of squares.
#[derive(Clone)]
pub(super) struct Costs {
    base: f32,
    left: [[f32; LEFT]; HALF],
    right: [[f32; RIGHT]; HALF],
}

/// A code and the sum of squares that it leaves.
#[derive(Debug, Clone, Copy)]
pub(super) struct Candidate {
    pub(super) gtin: Gtin,
    pub(super) squares: f32,
}

/// Which codes come into question.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Among {
    All,
    /// Those with this first digit, which tells the left half's number sets.
    First(u8),
}

impl Among {
    fn has(self, first: usize) -> bool {
        match self {
            Self::All => true,
            Self::First(digit) => usize::from(digit) == first,
        }
    }
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
        let wave = |state: usize| digits.of(set_of(state), (state % 10) as u8);
        // A digit's wave reaches three modules into the next one's place, and back.
        let overlap = |a: usize, b: usize| {
            let shared = 2 * DIGIT_REACH as usize * PER_MODULE;
            2.0 * dot(&wave(a)[DIGIT_SAMPLES - shared..], &wave(b)[..shared])
        };
        Self {
            squares: std::array::from_fn(|s| dot(wave(s), wave(s))),
            left_pairs: std::array::from_fn(|a| std::array::from_fn(|b| overlap(a, b))),
            right_pairs: std::array::from_fn(|a| std::array::from_fn(|b| overlap(LEFT + a, LEFT + b))),
            left: (0..DIGIT_SAMPLES).map(|i| std::array::from_fn(|s| wave(s)[i])).collect(),
            right: (0..DIGIT_SAMPLES).map(|i| std::array::from_fn(|s| wave(LEFT + s)[i])).collect(),
            fixed,
        }
    }

    /// Costs on a profile of [`SAMPLES`] samples from [`MARGIN`] modules before the first bar on, as darkness.
    pub(super) fn costs(&self, darkness: &[f32]) -> Costs {
        let rest: Vec<f32> = darkness.iter().zip(&self.fixed).map(|(d, f)| d - f).collect();
        let window = |right: bool, place: usize| {
            let from = (digit_at(right, place) + (MARGIN - DIGIT_REACH) as usize) * PER_MODULE;
            &rest[from..from + DIGIT_SAMPLES]
        };
        Costs {
            base: dot(&rest, &rest),
            left: std::array::from_fn(|place| costs(window(false, place), &self.left, &self.squares[..LEFT])),
            right: std::array::from_fn(|place| costs(window(true, place), &self.right, &self.squares[LEFT..])),
        }
    }

    /// The least sum of squares of any row of digits, valid or not: a quick lower bound.
    pub(super) fn bound(&self, costs: &Costs) -> f32 {
        fn half<const N: usize>(costs: &[[f32; N]; HALF], pairs: &[[f32; N]; N]) -> f32 {
            let mut best = costs[0];
            for next in &costs[1..] {
                let mut longer = [f32::INFINITY; N];
                for (before, pairs) in best.iter().zip(pairs) {
                    for (l, p) in longer.iter_mut().zip(pairs) {
                        *l = l.min(before + p);
                    }
                }
                longer.iter_mut().zip(next).for_each(|(l, n)| *l += n);
                best = longer;
            }
            best.into_iter().fold(f32::INFINITY, f32::min)
        }
        costs.base + half(&costs.left, &self.left_pairs) + half(&costs.right, &self.right_pairs)
    }

    /// The valid code that leaves the least sum of squares.
    pub(super) fn best(&self, costs: &Costs, among: Among) -> Option<Candidate> {
        let [(cost, path), _] = self.cheapest::<false>(costs, among);
        candidate(costs, cost, path)
    }

    /// The two valid codes that leave the least sums of squares.
    pub(super) fn best_two(&self, costs: &Costs) -> Option<[Candidate; 2]> {
        let [(first, path), (second, other)] = self.cheapest::<true>(costs, Among::All);
        Some([candidate(costs, first, path)?, candidate(costs, second, other)?])
    }

    /// For each digit with bars of its own, the valid code that leaves the least sum of squares with another one there.
    pub(super) fn rivals(&self, costs: &Costs, gtin: Gtin) -> Vec<Gtin> {
        let [first, digits @ ..] = gtin.digits().map(usize::from);
        let rival = |place: usize| {
            let mut costs = costs.clone();
            match place.checked_sub(HALF) {
                None => costs.left[place][offset(MAIN_SETS[first][place]) + digits[place]] = f32::INFINITY,
                Some(right) => costs.right[right][digits[place]] = f32::INFINITY,
            }
            self.best(&costs, Among::All)
        };
        (0..2 * HALF).filter_map(rival).map(|rival| rival.gtin).collect()
    }

    /// The cheapest codes' costs beside the base, and their digits, four bits each; the second only if `TWO`.
    fn cheapest<const TWO: bool>(&self, costs: &Costs, among: Among) -> [(f32, u64); 2] {
        let right = {
            let mut states = States::first(&costs.right[0]);
            for place in 1..HALF {
                states = states.longer::<TWO>(place, &costs.right[place], |a, b| self.right_pairs[a][b]);
            }
            states.by_sum()
        };
        let mut best: [(f32, u64); 2] = [(f32::INFINITY, 0); 2];
        let start = States::first(&set_costs(&costs.left[0], NumberSet::A));
        self.left_halves::<TWO>(costs, among, 1, 0, &start, &mut |first, left| {
            for (sum, left) in left.by_sum().into_iter().enumerate() {
                let needed = (20 - (first + sum) % 10) % 10;
                for l in left {
                    for r in right[needed] {
                        let path = (first as u64) << 48 | u64::from(l.1) << 24 | u64::from(r.1);
                        offer(&mut best, (l.0 + r.0, path));
                    }
                }
            }
        });
        best
    }

    /// Calls `done` with each first digit's left half, from the one of `place` digits on whose sets begin as those of
    /// `first` do. Halves that begin with the same sets share their beginning.
    fn left_halves<const TWO: bool>(
        &self,
        costs: &Costs,
        among: Among,
        place: usize,
        first: usize,
        states: &States,
        done: &mut impl FnMut(usize, &States),
    ) {
        if place == HALF {
            done(first, states);
            return;
        }
        let before = offset(MAIN_SETS[first][place - 1]);
        for set in [NumberSet::A, NumberSet::B] {
            let goes_on = |&other: &usize| {
                MAIN_SETS[other][..place] == MAIN_SETS[first][..place] && MAIN_SETS[other][place] == set
            };
            let Some(first) = (0..10).filter(|&other| among.has(other)).find(goes_on) else { continue };
            let pairs = |d: usize, e: usize| self.left_pairs[before + d][offset(set) + e];
            let longer = states.longer::<TWO>(place, &set_costs(&costs.left[place], set), pairs);
            self.left_halves::<TWO>(costs, among, place + 1, first, &longer, done);
        }
    }
}

/// What each wave would add to the sum of squares of what is `seen` in its place.
fn costs<const N: usize>(seen: &[f32], waves: &[[f32; N]], squares: &[f32]) -> [f32; N] {
    let mut products = [0.0f32; N];
    for (value, waves) in seen.iter().zip(waves) {
        products.iter_mut().zip(waves).for_each(|(p, w)| *p += value * w);
    }
    std::array::from_fn(|s| squares[s] - 2.0 * products[s])
}

fn candidate(costs: &Costs, cost: f32, path: u64) -> Option<Candidate> {
    let digits: [u8; 13] = std::array::from_fn(|i| (path >> (48 - 4 * i) & 15) as u8);
    Some(Candidate { gtin: Gtin::from_digits(&digits).ok()?, squares: costs.base + cost })
}

fn set_of(state: usize) -> NumberSet {
    match state / 10 {
        0 => NumberSet::A,
        1 => NumberSet::B,
        _ => NumberSet::C,
    }
}

fn offset(set: NumberSet) -> usize {
    if set == NumberSet::B { 10 } else { 0 }
}

fn set_costs(costs: &[f32; LEFT], set: NumberSet) -> [f32; 10] {
    std::array::from_fn(|digit| costs[offset(set) + digit])
}

/// The two cheapest rows of digits for each last digit and check sum, with their digits, four bits each.
struct States {
    best: [[f32; 10]; 10],
    best_path: [[u32; 10]; 10],
    second: [[f32; 10]; 10],
    second_path: [[u32; 10]; 10],
}

impl States {
    const EMPTY: Self = Self {
        best: [[f32::INFINITY; 10]; 10],
        best_path: [[0; 10]; 10],
        second: [[f32::INFINITY; 10]; 10],
        second_path: [[0; 10]; 10],
    };

    fn first(costs: &[f32; 10]) -> Self {
        let mut states = Self::EMPTY;
        for (digit, &cost) in costs.iter().enumerate() {
            let sum = WEIGHTS[0] * digit % 10;
            states.best[digit][sum] = cost;
            states.best_path[digit][sum] = digit as u32;
        }
        states
    }

    fn longer<const TWO: bool>(&self, place: usize, costs: &[f32; 10], pairs: impl Fn(usize, usize) -> f32) -> Self {
        let mut next = Self::EMPTY;
        for digit in 0..10 {
            let (mut c1, mut p1) = ([f32::INFINITY; 10], [0u32; 10]);
            let (mut c2, mut p2) = ([f32::INFINITY; 10], [0u32; 10]);
            for before in 0..10 {
                let pair = pairs(before, digit);
                let (costs, paths) = (&self.best[before], &self.best_path[before]);
                if TWO {
                    let rows = [(costs, paths), (&self.second[before], &self.second_path[before])];
                    for (costs, paths) in rows {
                        for sum in 0..10 {
                            let (cost, path) = (costs[sum] + pair, paths[sum]);
                            let (first, second) = (cost < c1[sum], cost < c2[sum]);
                            c2[sum] = if first {
                                c1[sum]
                            } else if second {
                                cost
                            } else {
                                c2[sum]
                            };
                            p2[sum] = if first {
                                p1[sum]
                            } else if second {
                                path
                            } else {
                                p2[sum]
                            };
                            c1[sum] = if first { cost } else { c1[sum] };
                            p1[sum] = if first { path } else { p1[sum] };
                        }
                    }
                } else {
                    for sum in 0..10 {
                        let cost = costs[sum] + pair;
                        let first = cost < c1[sum];
                        c1[sum] = if first { cost } else { c1[sum] };
                        p1[sum] = if first { paths[sum] } else { p1[sum] };
                    }
                }
            }
            for sum in 0..10 {
                let to = (sum + WEIGHTS[place] * digit) % 10;
                next.best[digit][to] = c1[sum] + costs[digit];
                next.best_path[digit][to] = p1[sum] << 4 | digit as u32;
                next.second[digit][to] = c2[sum] + costs[digit];
                next.second_path[digit][to] = p2[sum] << 4 | digit as u32;
            }
        }
        next
    }

    /// The two cheapest for each check sum.
    fn by_sum(&self) -> [[(f32, u32); 2]; 10] {
        std::array::from_fn(|sum| {
            let mut best = [(f32::INFINITY, 0u32); 2];
            for digit in 0..10 {
                offer(&mut best, (self.best[digit][sum], self.best_path[digit][sum]));
                offer(&mut best, (self.second[digit][sum], self.second_path[digit][sum]));
            }
            best
        })
    }
}

fn offer<T: Copy>(best: &mut [(f32, T); 2], new: (f32, T)) {
    if new.0 < best[0].0 {
        *best = [new, best[0]];
    } else if new.0 < best[1].0 {
        best[1] = new;
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::code::{check_digit, main_modules};

    fn gtin(body: [u8; 12]) -> Gtin {
        let mut digits = body.to_vec();
        digits.push(check_digit(&body));
        Gtin::from_digits(&digits).unwrap()
    }

    fn darkness(gtin: Gtin, sigma: f32, noise: &[f32]) -> Vec<f32> {
        let wave = Bars::new(&main_modules(gtin), 0.0).wave(SAMPLES, -MARGIN, sigma, 0.0);
        wave.iter().zip(noise.iter().cycle()).map(|(w, n)| w + n).collect()
    }

    fn squares(gtin: Gtin, sigma: f32, darkness: &[f32]) -> f32 {
        let wave = Bars::new(&main_modules(gtin), 0.0).wave(SAMPLES, -MARGIN, sigma, 0.0);
        wave.iter().zip(darkness).map(|(w, d)| (w - d) * (w - d)).sum()
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

        /// Any code, blurred and a little noisy, is the best one, and its cost is its sum of squares.
        #[test]
        fn the_code_that_is_there_is_the_cheapest(
            body in prop::array::uniform12(0u8..10),
            sigma in 0.3f32..1.1,
            noise in prop::collection::vec(-0.03f32..0.03, 97),
        ) {
            let truth = gtin(body);
            let seen = darkness(truth, sigma, &noise);
            let book = Codebook::new(sigma, 0.0);
            let costs = book.costs(&seen);
            let [best, second] = book.best_two(&costs).unwrap();
            prop_assert_eq!(best.gtin, truth);
            prop_assert!(second.gtin != truth && second.squares >= best.squares);
            prop_assert!((best.squares - squares(truth, sigma, &seen)).abs() < 0.05);
            prop_assert!((second.squares - squares(second.gtin, sigma, &seen)).abs() < 0.05);
            prop_assert!(book.bound(&costs) <= best.squares + 1e-3);
        }

        /// Each rival is a valid code with another digit in its place, and no other such code is cheaper.
        #[test]
        fn rivals_differ_digit_by_digit(
            body in prop::array::uniform12(0u8..10),
            noise in prop::collection::vec(-0.3f32..0.3, 197),
        ) {
            let truth = gtin(body);
            let seen = darkness(truth, 0.8, &noise);
            let book = Codebook::new(0.8, 0.0);
            let costs = book.costs(&seen);
            let [best, second] = book.best_two(&costs).unwrap();
            let rivals = book.rivals(&costs, best.gtin);
            prop_assert_eq!(rivals.len(), 12);
            prop_assert!(rivals.contains(&second.gtin) || second.gtin.digits()[1..] == best.gtin.digits()[1..]);
            for (place, rival) in rivals.iter().enumerate() {
                let set = |code: Gtin| MAIN_SETS[usize::from(code.digits()[0])].get(place).copied();
                let differs = rival.digits()[place + 1] != best.gtin.digits()[place + 1] || set(*rival) != set(best.gtin);
                prop_assert!(differs, "{rival} at {place}");
                prop_assert!(squares(*rival, 0.8, &seen) >= second.squares - 0.05);
            }
        }

        /// Reference: every code that differs in two digits, so that its check digit holds, one by one.
        #[test]
        fn no_near_code_is_cheaper_than_the_second(
            body in prop::array::uniform12(0u8..10),
            noise in prop::collection::vec(-0.5f32..0.5, 197),
        ) {
            let seen = darkness(gtin(body), 1.0, &noise);
            let book = Codebook::new(1.0, 0.0);
            let [best, second] = book.best_two(&book.costs(&seen)).unwrap();
            let digits = best.gtin.digits();
            for place in 0..12 {
                for digit in 0..10 {
                    let mut near: [u8; 12] = std::array::from_fn(|i| digits[i]);
                    near[place] = digit;
                    let near = gtin(near);
                    if near != best.gtin {
                        prop_assert!(squares(near, 1.0, &seen) >= second.squares - 0.05);
                    }
                }
            }
        }
    }
}
