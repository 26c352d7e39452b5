//! The cheapest add-on with a valid parity, and the runner-up, from what each digit in each set costs.
//!
//! Source of the rules: GS1 General Specifications, 'two-digit add-on symbol' and 'five-digit add-on symbol'.

use crate::code::{AddOn, FIVE_DIGIT_SETS, NumberSet, TWO_DIGIT_SETS};

/// What a digit costs in set A and in set B, for each place.
pub(super) type Costs = [[f32; 10]; 2];

/// What a digit costs beside the one before it, whose blur reaches over: set and digit of that one, then its own.
pub(super) type Pairs = [[Costs; 10]; 2];

/// The two cheapest candidates seen so far.
#[derive(Debug, Clone, Copy)]
struct Two<T> {
    best: Option<(f32, T)>,
    second: Option<(f32, T)>,
}

impl<T: Copy> Two<T> {
    const NONE: Self = Self { best: None, second: None };

    fn offer(&mut self, cost: f32, what: T) {
        if self.best.is_none_or(|(c, _)| cost < c) {
            self.second = self.best;
            self.best = Some((cost, what));
        } else if self.second.is_none_or(|(c, _)| cost < c) {
            self.second = Some((cost, what));
        }
    }

    fn both(self, add_on: impl Fn(T) -> AddOn) -> Option<[(AddOn, f32); 2]> {
        let ((best, first), (second, other)) = (self.best?, self.second?);
        Some([(add_on(first), best), (add_on(other), second)])
    }

    fn each(self) -> impl Iterator<Item = (f32, T)> {
        [self.best, self.second].into_iter().flatten()
    }
}

fn index(set: NumberSet) -> usize {
    usize::from(set == NumberSet::B)
}

/// The two cheapest add-ons of five digits whose value calls for the sets that they were read in, with their costs.
///
/// For each of the ten values: dynamic programming over the digits, the weighted sum modulo 10 and the last digit as state.
/// What costs more than a limit is left out; if that leaves fewer than two, the limit was too low.
pub(super) fn best_five(costs: &[Costs; 5], pairs: &Pairs) -> Option<[(AddOn, f32); 2]> {
    /// How far above the least cost the limit is at first, and by how much it grows.
    const SLACK: f32 = 1.0;
    const GROWTH: f32 = 2.5;
    const TRIES: i32 = 10;
    let mut rows: Vec<Row> =
        FIVE_DIGIT_SETS.iter().enumerate().map(|(v, sets)| Row::new(v, sets, costs, pairs)).collect();
    rows.sort_by(|a, b| a.least.total_cmp(&b.least));
    let least = rows.first()?.least;
    let limits = (0..TRIES).map(|i| least + SLACK * GROWTH.powi(i)).chain([f32::INFINITY]);
    limits.into_iter().find_map(|limit| cheaper(limit, &rows, costs, pairs).both(AddOn::Five))
}

/// The two cheapest of those that cost less than `limit`.
fn cheaper(limit: f32, rows: &[Row], costs: &[Costs; 5], pairs: &Pairs) -> Two<[u8; 5]> {
    const WEIGHTS: [usize; 5] = [3, 9, 3, 9, 3];
    let mut overall = Two::NONE;
    for Row { value, sets, rest, least } in rows {
        let limit = overall.second.map_or(limit, |(cost, _)| cost);
        if *least >= limit {
            break;
        }
        let mut states = [[Two::NONE; 10]; 10];
        for (digit, &cost) in costs[0][sets[0]].iter().enumerate() {
            states[WEIGHTS[0] * digit % 10][digit].offer(cost, [digit as u8, 0, 0, 0, 0]);
        }
        for place in 1..5 {
            let mut next = [[Two::NONE; 10]; 10];
            for (sum, states) in states.iter().enumerate() {
                for (last, state) in states.iter().enumerate() {
                    let beside = &pairs[sets[place - 1]][last][sets[place]];
                    for (cost, digits) in state.each().filter(|(cost, _)| cost + rest[place - 1][last] < limit) {
                        for digit in 0..10 {
                            let mut longer = digits;
                            longer[place] = digit as u8;
                            let step = costs[place][sets[place]][digit] + beside[digit];
                            next[(sum + WEIGHTS[place] * digit) % 10][digit].offer(cost + step, longer);
                        }
                    }
                }
            }
            states = next;
        }
        let ends = states[*value].iter().flat_map(|state| state.each());
        ends.filter(|(cost, _)| *cost < limit).for_each(|(cost, digits)| overall.offer(cost, digits));
    }
    overall
}

/// The sets that a value calls for.
struct Row {
    value: usize,
    sets: [usize; 5],
    /// What the digits behind each place cost at least, by the digit that stands there, whatever their sum.
    rest: [[f32; 10]; 5],
    /// What all digits cost at least.
    least: f32,
}

impl Row {
    fn new(value: usize, sets: &[NumberSet; 5], costs: &[Costs; 5], pairs: &Pairs) -> Self {
        let sets = sets.map(index);
        let mut rest = [[0.0; 10]; 5];
        for place in (1..5).rev() {
            for last in 0..10 {
                let beside = &pairs[sets[place - 1]][last][sets[place]];
                let one = |digit: usize| costs[place][sets[place]][digit] + beside[digit] + rest[place][digit];
                rest[place - 1][last] = (0..10).map(one).fold(f32::INFINITY, f32::min);
            }
        }
        let all = costs[0][sets[0]].iter().zip(&rest[0]).map(|(cost, rest)| cost + rest);
        Self { value, sets, rest, least: all.fold(f32::INFINITY, f32::min) }
    }
}

/// The two cheapest add-ons of two digits whose value calls for the sets that they were read in, with their costs.
pub(super) fn best_two(costs: &[Costs; 2], pairs: &Pairs) -> Option<[(AddOn, f32); 2]> {
    let mut overall = Two::NONE;
    for value in 0..100usize {
        let [first, second] = [value / 10, value % 10];
        let [a, b] = TWO_DIGIT_SETS[value % 4].map(index);
        let cost = costs[0][a][first] + costs[1][b][second] + pairs[a][first][b][second];
        overall.offer(cost, [first as u8, second as u8]);
    }
    overall.both(AddOn::Two)
}

/// No add-on costs less: each digit its cheapest in any row of sets, whatever its value calls for.
pub(super) fn bound(costs: &[Costs]) -> f32 {
    let cheapest: Vec<[f32; 2]> =
        costs.iter().map(|place| place.map(|set| set.into_iter().fold(f32::INFINITY, f32::min))).collect();
    let row = |sets: &[NumberSet]| sets.iter().zip(&cheapest).map(|(set, place)| place[index(*set)]).sum::<f32>();
    if costs.len() == 5 {
        FIVE_DIGIT_SETS.iter().map(|sets| row(sets)).fold(f32::INFINITY, f32::min)
    } else {
        TWO_DIGIT_SETS.iter().map(|sets| row(sets)).fold(f32::INFINITY, f32::min)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::code::{five_digit_sets, two_digit_sets};

    fn cost_of(costs: &[Costs], pairs: &Pairs, digits: &[u8], sets: &[NumberSet]) -> f32 {
        let placed: Vec<(usize, usize)> =
            digits.iter().zip(sets).map(|(&digit, &set)| (index(set), usize::from(digit))).collect();
        let alone: f32 = placed.iter().zip(costs).map(|(&(set, digit), costs)| costs[set][digit]).sum();
        alone + placed.windows(2).map(|w| pairs[w[0].0][w[0].1][w[1].0][w[1].1]).sum::<f32>()
    }

    fn costs<const N: usize>() -> impl Strategy<Value = ([Costs; N], Box<Pairs>)> {
        let cost = || prop::collection::vec(-1.0f32..1.0, 20 * N + 400);
        cost().prop_map(|values| {
            let costs = std::array::from_fn(|place| {
                std::array::from_fn(|set| std::array::from_fn(|digit| values[20 * place + 10 * set + digit]))
            });
            let beside = |at: usize| values[20 * N + at];
            let pairs = std::array::from_fn(|a| {
                std::array::from_fn(|i| {
                    std::array::from_fn(|b| std::array::from_fn(|j| beside(200 * a + 20 * i + 10 * b + j)))
                })
            });
            (costs, Box::new(pairs))
        })
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

        /// Reference: all 100,000 add-ons, one by one.
        #[test]
        fn five_digits_are_the_cheapest_of_all((costs, pairs) in costs::<5>()) {
            let mut all: Vec<f32> = (0..100_000u32)
                .map(|n| {
                    let digits = [10_000, 1000, 100, 10, 1].map(|place| (n / place % 10) as u8);
                    cost_of(&costs, &pairs, &digits, &five_digit_sets(&digits))
                })
                .collect();
            all.sort_by(f32::total_cmp);
            let [(add_on, best), (_, second)] = best_five(&costs, &pairs).unwrap();
            let AddOn::Five(digits) = add_on else { panic!("five digits asked for") };
            prop_assert!((cost_of(&costs, &pairs, &digits, &five_digit_sets(&digits)) - best).abs() < 1e-4);
            prop_assert!((best - all[0]).abs() < 1e-4 && (second - all[1]).abs() < 1e-4);
        }

        #[test]
        fn two_digits_are_the_cheapest_of_all((costs, pairs) in costs::<2>()) {
            let mut all: Vec<f32> = (0..100u8)
                .map(|n| [n / 10, n % 10])
                .map(|digits| cost_of(&costs, &pairs, &digits, &two_digit_sets(&digits)))
                .collect();
            all.sort_by(f32::total_cmp);
            let [(add_on, best), (_, second)] = best_two(&costs, &pairs).unwrap();
            let AddOn::Two(digits) = add_on else { panic!("two digits asked for") };
            prop_assert!((cost_of(&costs, &pairs, &digits, &two_digit_sets(&digits)) - best).abs() < 1e-5);
            prop_assert!((best - all[0]).abs() < 1e-5 && (second - all[1]).abs() < 1e-5);
        }

        #[test]
        fn nothing_costs_less_than_the_bound((costs, _) in costs::<5>()) {
            let alone = [[[[0.0; 10]; 2]; 10]; 2];
            let [(_, best), _] = best_five(&costs, &alone).unwrap();
            prop_assert!(bound(&costs) <= best + 1e-5);
            let two = [costs[0], costs[1]];
            let [(_, best), _] = best_two(&two, &alone).unwrap();
            prop_assert!(bound(&two) <= best + 1e-5);
        }
    }
}
