//! The cheapest add-on with a valid parity, and the runner-up, from what each digit in each set costs.
//!
//! Source of the rules: GS1 General Specifications, 'two-digit add-on symbol' and 'five-digit add-on symbol'.

use crate::code::{AddOn, FIVE_DIGIT_SETS, NumberSet, TWO_DIGIT_SETS};

/// What a digit costs in set A and in set B, for each place.
pub(super) type Costs = [[f32; 10]; 2];

/// The two cheapest candidates seen so far.
#[derive(Debug, Clone, Copy)]
struct Two<T> {
    best: Option<(f32, T)>,
    second: Option<(f32, T)>,
}

impl<T: Copy> Two<T> {
    const NONE: Self = Self { best: None, second: None };

    fn both(self, add_on: impl Fn(T) -> AddOn) -> Option<[(AddOn, f32); 2]> {
        let ((best, first), (second, other)) = (self.best?, self.second?);
        Some([(add_on(first), best), (add_on(other), second)])
    }

    fn offer(&mut self, cost: f32, what: T) {
        if self.best.is_none_or(|(c, _)| cost < c) {
            self.second = self.best;
            self.best = Some((cost, what));
        } else if self.second.is_none_or(|(c, _)| cost < c) {
            self.second = Some((cost, what));
        }
    }
}

/// The two cheapest add-ons of five digits whose value calls for the sets that they were read in, with their costs.
///
/// For each of the ten values: dynamic programming over the digits with the weighted sum modulo 10 as state.
pub(super) fn best_five(costs: &[Costs]) -> Option<[(AddOn, f32); 2]> {
    const WEIGHTS: [usize; 5] = [3, 9, 3, 9, 3];
    let mut overall = Two::NONE;
    for (value, sets) in FIVE_DIGIT_SETS.iter().enumerate() {
        let mut states = [Two::NONE; 10];
        states[0].offer(0.0, [0u8; 5]);
        for (place, set) in sets.iter().enumerate() {
            let mut next = [Two::NONE; 10];
            for (sum, state) in states.iter().enumerate() {
                for (cost, digits) in [state.best, state.second].into_iter().flatten() {
                    for digit in 0..10 {
                        let mut longer = digits;
                        longer[place] = digit as u8;
                        let step = costs[place][usize::from(*set == NumberSet::B)][digit];
                        next[(sum + WEIGHTS[place] * digit) % 10].offer(cost + step, longer);
                    }
                }
            }
            states = next;
        }
        for (cost, digits) in [states[value].best, states[value].second].into_iter().flatten() {
            overall.offer(cost, digits);
        }
    }
    overall.both(AddOn::Five)
}

/// The two cheapest add-ons of two digits whose value calls for the sets that they were read in, with their costs.
pub(super) fn best_two(costs: &[Costs]) -> Option<[(AddOn, f32); 2]> {
    let mut overall = Two::NONE;
    for value in 0..100usize {
        let digits = [(value / 10) as u8, (value % 10) as u8];
        let sets = TWO_DIGIT_SETS[value % 4];
        let cost = (0..2).map(|k| costs[k][usize::from(sets[k] == NumberSet::B)][usize::from(digits[k])]).sum();
        overall.offer(cost, digits);
    }
    overall.both(AddOn::Two)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::code::{five_digit_sets, two_digit_sets};

    fn cost_of(costs: &[Costs], digits: &[u8], sets: &[NumberSet]) -> f32 {
        let one = |(place, (&digit, &set)): (usize, (&u8, &NumberSet))| {
            costs[place][usize::from(set == NumberSet::B)][usize::from(digit)]
        };
        digits.iter().zip(sets).enumerate().map(one).sum()
    }

    fn costs(places: usize) -> impl Strategy<Value = Vec<Costs>> {
        prop::collection::vec(prop::array::uniform2(prop::array::uniform10(-1.0f32..1.0)), places)
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

        /// Reference: all 100,000 add-ons, one by one.
        #[test]
        fn five_digits_are_the_cheapest_of_all(costs in costs(5)) {
            let mut all: Vec<f32> = (0..100_000u32)
                .map(|n| {
                    let digits = [10_000, 1000, 100, 10, 1].map(|place| (n / place % 10) as u8);
                    cost_of(&costs, &digits, &five_digit_sets(&digits))
                })
                .collect();
            all.sort_by(f32::total_cmp);
            let [(add_on, best), (_, second)] = best_five(&costs).unwrap();
            let AddOn::Five(digits) = add_on else { panic!("five digits asked for") };
            prop_assert!((cost_of(&costs, &digits, &five_digit_sets(&digits)) - best).abs() < 1e-4);
            prop_assert!((best - all[0]).abs() < 1e-4 && (second - all[1]).abs() < 1e-4);
        }

        #[test]
        fn two_digits_are_the_cheapest_of_all(costs in costs(2)) {
            let [(add_on, best), (_, second)] = best_two(&costs).unwrap();
            let AddOn::Two(digits) = add_on else { panic!("two digits asked for") };
            prop_assert!((cost_of(&costs, &digits, &two_digit_sets(&digits)) - best).abs() < 1e-5);
            prop_assert!(second >= best);
        }
    }
}
