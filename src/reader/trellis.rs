//! The valid codes that fit a profile best, exactly: dynamic programming over digits, number sets and check sum.
//!
//! The first digit tells the left half's number sets. What it allows is looked at only if the cheapest row of digits, valid or
//! not, may still be among the best (branch and bound: Land & Doig, 'An automatic method of solving discrete programming
//! problems', 1960).

use super::codebook::{Codebook, Costs, DIGITS, HALF, LEFT_SETS, Pairs, lengthen};
use super::wide::widest;
use crate::code::{Gtin, MAIN_SETS};

/// Weights of a half's digits in the check sum (GS1 General Specifications, 'standard check digit calculations').
const WEIGHTS: [usize; HALF] = [3, 1, 3, 1, 3, 1];
const SUMS: usize = 10;
/// Check sums, and room for whole registers.
const WIDE: usize = 12;

/// A code and the sum of squares that it leaves.
#[derive(Debug, Clone, Copy)]
pub(super) struct Candidate {
    pub(super) gtin: Gtin,
    pub(super) squares: f32,
}

impl Codebook {
    /// The valid code that leaves the least sum of squares.
    pub(super) fn best(&self, costs: &Costs) -> Option<Candidate> {
        let [best] = self.cheapest(costs);
        best
    }

    /// The two valid codes that leave the least sums of squares.
    pub(super) fn best_two(&self, costs: &Costs) -> Option<[Candidate; 2]> {
        let [first, second] = self.cheapest(costs);
        Some([first?, second?])
    }

    /// For each digit with bars of its own, the valid code that leaves the least sum of squares with another one there.
    pub(super) fn rivals(&self, costs: &Costs, gtin: Gtin) -> Vec<Gtin> {
        let [first, digits @ ..] = gtin.digits().map(usize::from);
        let rival = |place: usize| {
            let mut costs = costs.clone();
            match place.checked_sub(HALF) {
                None => costs.left[place][left_set(first, place)][digits[place]] = f32::INFINITY,
                Some(right) => costs.right[right][digits[place]] = f32::INFINITY,
            }
            self.best(&costs)
        };
        (0..2 * HALF).filter_map(rival).map(|rival| rival.gtin).collect()
    }

    /// The cheapest valid codes, in order.
    fn cheapest<const RANKS: usize>(&self, costs: &Costs) -> [Option<Candidate>; RANKS] {
        widest(
            #[inline(always)]
            || self.cheapest_side_by_side(costs),
        )
    }

    #[inline(always)]
    fn cheapest_side_by_side<const RANKS: usize>(&self, costs: &Costs) -> [Option<Candidate>; RANKS] {
        let right = Half { costs: costs.right, pairs: [&self.right_pairs; HALF - 1] };
        let least_right = right.least();
        let half = |first: u8| (self.left_half(costs, first), first);
        let mut lefts: Vec<(f32, u8, Half<'_>)> =
            (0..10).map(half).map(|(half, first)| (half.least(), first, half)).collect();
        lefts.sort_by(|a, b| a.0.total_cmp(&b.0));
        let rights = Rows::<RANKS>::of(&right);
        let right_ends = rights.ends();
        let mut best = [Found::NONE; RANKS];
        for (least, first, half) in lefts {
            if least + least_right >= best[RANKS - 1].cost {
                break;
            }
            let lefts = Rows::<RANKS>::of(&half);
            for (sum, left) in lefts.ends().into_iter().enumerate() {
                let needed = (20 - (usize::from(first) + sum) % 10) % 10;
                for l in left {
                    for r in right_ends[needed] {
                        let cost = l.cost + r.cost;
                        if cost < best[RANKS - 1].cost {
                            let left = lefts.digits(&half, l, sum);
                            let right = rights.digits(&right, r, needed);
                            offer(&mut best, Found { cost, first, left, right });
                        }
                    }
                }
            }
        }
        best.map(|found| found.candidate(costs.base))
    }

    /// The left half as this first digit has it.
    fn left_half(&self, costs: &Costs, first: u8) -> Half<'_> {
        let set = |place: usize| left_set(usize::from(first), place);
        Half {
            costs: std::array::from_fn(|place| costs.left[place][set(place)]),
            pairs: std::array::from_fn(|place| &self.left_pairs[set(place)][set(place + 1)]),
        }
    }
}

/// Which of [`LEFT_SETS`] the digit at `place` is of.
fn left_set(first: usize, place: usize) -> usize {
    usize::from(MAIN_SETS[first][place] == LEFT_SETS[1])
}

/// A code found, and what it costs beside the base.
#[derive(Clone, Copy)]
struct Found {
    cost: f32,
    first: u8,
    left: [u8; HALF],
    right: [u8; HALF],
}

impl Found {
    const NONE: Self = Self { cost: f32::INFINITY, first: 0, left: [0; HALF], right: [0; HALF] };

    fn candidate(self, base: f32) -> Option<Candidate> {
        let digits: [u8; 13] = std::array::from_fn(|i| match i {
            0 => self.first,
            1..=HALF => self.left[i - 1],
            _ => self.right[i - 1 - HALF],
        });
        let gtin = self.cost.is_finite().then(|| Gtin::from_digits(&digits).ok())??;
        Some(Candidate { gtin, squares: base + self.cost })
    }
}

/// Puts what is found into its place among the best.
fn offer<const RANKS: usize>(best: &mut [Found; RANKS], new: Found) {
    let at = best.partition_point(|found| found.cost <= new.cost);
    best[at..].rotate_right(1);
    best[at] = new;
}

/// What the digits of half a symbol cost, their sets known.
struct Half<'a> {
    costs: [[f32; DIGITS]; HALF],
    pairs: [&'a Pairs; HALF - 1],
}

impl Half<'_> {
    /// The least that any row of digits costs.
    #[inline(always)]
    fn least(&self) -> f32 {
        let mut best = self.costs[0];
        for (next, pairs) in self.costs[1..].iter().zip(self.pairs) {
            let mut longer = [f32::INFINITY; DIGITS];
            lengthen(&mut longer, &best, pairs);
            longer.iter_mut().zip(next).for_each(|(longer, next)| *longer += next);
            best = longer;
        }
        best.into_iter().fold(f32::INFINITY, f32::min)
    }
}

/// For each last digit and check sum what the cheapest rows of digits cost, those that come next behind them.
type Layer<const RANKS: usize> = [[[f32; WIDE]; RANKS]; DIGITS];

/// The cheapest rows of digits of half a symbol, digit by digit.
struct Rows<const RANKS: usize>([Layer<RANKS>; HALF]);

/// Where a row of digits ends: its last digit, and how many rows with this digit and check sum are cheaper.
#[derive(Clone, Copy)]
struct End {
    cost: f32,
    digit: usize,
    rank: usize,
}

impl<const RANKS: usize> Rows<RANKS> {
    #[inline(always)]
    fn of(half: &Half<'_>) -> Self {
        let mut layers = [[[[f32::INFINITY; WIDE]; RANKS]; DIGITS]; HALF];
        for (digit, &cost) in half.costs[0].iter().enumerate() {
            layers[0][digit][0][WEIGHTS[0] * digit % SUMS] = cost;
        }
        for place in 1..HALF {
            let (before, layer) = layers.split_at_mut(place);
            let (before, layer) = (&before[place - 1], &mut layer[0]);
            for digit in 0..DIGITS {
                let mut least = [[f32::INFINITY; WIDE]; RANKS];
                for (rows, pairs) in before.iter().zip(half.pairs[place - 1]) {
                    for row in rows {
                        merge(&mut least, row, pairs[digit]);
                    }
                }
                let turn = WEIGHTS[place] * digit % SUMS;
                for (row, least) in layer[digit].iter_mut().zip(&least) {
                    for sum in 0..SUMS {
                        row[(sum + turn) % SUMS] = least[sum] + half.costs[place][digit];
                    }
                }
            }
        }
        Self(layers)
    }

    /// For each check sum the ends of the cheapest rows.
    fn ends(&self) -> [[End; RANKS]; SUMS] {
        let layer = &self.0[HALF - 1];
        std::array::from_fn(|sum| {
            cheapest(
                (0..DIGITS)
                    .flat_map(|digit| (0..RANKS).map(move |rank| End { cost: layer[digit][rank][sum], digit, rank })),
            )
        })
    }

    /// The digits of the row that ends at `end` with this check sum: the same sums once more, backwards.
    fn digits(&self, half: &Half<'_>, end: End, sum: usize) -> [u8; HALF] {
        let (mut end, mut sum) = (end, sum);
        let mut digits = [0; HALF];
        for place in (0..HALF).rev() {
            digits[place] = end.digit as u8;
            let Some(before) = place.checked_sub(1) else { break };
            sum = (sum + SUMS - WEIGHTS[place] * end.digit % SUMS) % SUMS;
            let (layer, pairs) = (&self.0[before], half.pairs[before]);
            let ends: [End; RANKS] = cheapest((0..DIGITS).flat_map(|digit| {
                let pair = pairs[digit][end.digit];
                (0..RANKS).map(move |rank| End { cost: layer[digit][rank][sum] + pair, digit, rank })
            }));
            end = ends[end.rank];
        }
        digits
    }
}

/// Takes a row behind which comes a digit that shares `pair` with it among the least, sum by sum.
#[inline(always)]
fn merge<const RANKS: usize>(least: &mut [[f32; WIDE]; RANKS], row: &[f32; WIDE], pair: f32) {
    for sum in 0..WIDE {
        let mut cost = row[sum] + pair;
        for least in least.iter_mut() {
            let known = least[sum];
            (least[sum], cost) = if cost < known { (cost, known) } else { (known, cost) };
        }
    }
}

/// The cheapest in order; of equals the first.
fn cheapest<const RANKS: usize>(ends: impl Iterator<Item = End>) -> [End; RANKS] {
    let mut best = [End { cost: f32::INFINITY, digit: 0, rank: 0 }; RANKS];
    for end in ends {
        if end.cost < best[RANKS - 1].cost {
            let at = best.partition_point(|known| known.cost <= end.cost);
            best[at..].rotate_right(1);
            best[at] = end;
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::code::{check_digit, main_modules};
    use crate::reader::codebook::{MARGIN, SAMPLES};
    use crate::reader::model::Bars;

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
