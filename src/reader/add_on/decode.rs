//! The likeliest add-on at a place in the zone: what each digit would cost there, and the cheapest with a valid parity.

use super::fit::{LEAD, TRAIL, Theta, width_modules};
use super::parity::{Costs, Pairs, best_five, best_two};
use super::profile::Profile;
use crate::code::{AddOn, NumberSet};
use crate::reader::model::{Bars, DIGIT_REACH, DIGIT_SAMPLES, DigitWaves, PER_MODULE, dot};

pub(super) const SETS: [NumberSet; 2] = [NumberSet::A, NumberSet::B];

/// Samples from one digit to the next: seven modules and a separator of two.
const PITCH_SAMPLES: usize = 9 * PER_MODULE;

/// Waves of digits for one blur.
pub(super) struct Book {
    pub(super) waves: DigitWaves,
    /// The mean of all digits' waves.
    pub(super) usual: [f32; DIGIT_SAMPLES],
    /// Sums of each wave's values and squares.
    pub(super) sums: [[[f32; 2]; 10]; 2],
}

impl Book {
    /// For so much blur and ink gain, in modules.
    pub(super) fn new(sigma: f32, gain: f32) -> Self {
        let waves = DigitWaves::up_to(NumberSet::B, sigma, gain);
        let mut usual = [0.0; DIGIT_SAMPLES];
        let sums = SETS.map(|set| {
            std::array::from_fn(|digit| {
                let wave = waves.of(set, digit as u8);
                usual.iter_mut().zip(wave).for_each(|(u, w)| *u += w / 20.0);
                [wave.iter().sum(), dot(wave, wave)]
            })
        });
        Self { waves, usual, sums }
    }
}

/// Guard and separators of add-ons of `count` digits, laid out from [`LEAD`] modules before them on.
pub(super) fn fixed(count: usize, sigma: f32, gain: f32) -> Vec<f32> {
    let mut modules = vec![true, false, true, true];
    for place in 0..count {
        modules.extend([false; 7]);
        if place + 1 < count {
            modules.extend([false, true]);
        }
    }
    Bars::new(&modules, 0.0).wave(samples(count), -LEAD, sigma, gain)
}

fn samples(count: usize) -> usize {
    ((LEAD + width_modules(count) + TRAIL) * PER_MODULE as f32) as usize
}

/// Where a digit's wave begins and ends in what [`fixed`] lays out.
pub(super) fn window(place: usize, count: usize) -> std::ops::Range<usize> {
    const FIRST: usize = ((LEAD + 4.0 - DIGIT_REACH) * PER_MODULE as f32) as usize;
    let from = FIRST + place * PITCH_SAMPLES;
    from..(from + DIGIT_SAMPLES).min(samples(count))
}

/// Adds `wave` where the digit at `place` stands.
pub(super) fn add_digit(sum: &mut [f32], wave: &[f32; DIGIT_SAMPLES], place: usize, count: usize) {
    sum[window(place, count)].iter_mut().zip(wave).for_each(|(s, w)| *s += w);
}

/// The two likeliest add-ons of `count` digits where `theta` says that one lies, the likeliest first.
pub(super) fn decode(zone: Profile<'_>, count: usize, theta: &Theta) -> Option<[AddOn; 2]> {
    let waves = DigitWaves::up_to(NumberSet::B, theta.sigma, theta.gain);
    let mut seen = theta.laid_out(zone.dark, width_modules(count));
    let weights = theta.weights_laid_out(zone, width_modules(count));
    let fixed = fixed(count, theta.sigma, theta.gain);
    seen.iter_mut().zip(&fixed).for_each(|(s, f)| *s -= f);
    let costs = |place: usize| {
        let window = window(place, count);
        let (seen, weights) = (&seen[window.clone()], weights.as_ref().map(|weights| &weights[window]));
        by_digit(|set, digit| {
            let wave = &waves.of(SETS[set], digit as u8)[..seen.len()];
            match weights {
                None => dot(wave, wave) - 2.0 * dot(wave, seen),
                Some(weights) => {
                    wave.iter().zip(seen).zip(weights).map(|((wave, seen), w)| w * wave * (wave - 2.0 * seen)).sum()
                }
            }
        })
    };
    let pairs = pairs(&waves, theta.sigma);
    let likeliest = if count == 5 {
        best_five(&std::array::from_fn(costs), &pairs)
    } else {
        best_two(&std::array::from_fn(costs), &pairs)
    };
    likeliest.map(|two| two.map(|(add_on, _)| add_on))
}

/// What two neighbouring digits cost together beyond what each costs alone: twice the product of their waves.
fn pairs(waves: &DigitWaves, sigma: f32) -> Pairs {
    /// Blur in modules below which digits, at least three modules of space and separator apart, do not reach each other.
    const APART: f32 = 0.6;
    if sigma < APART {
        return [[[[0.0; 10]; 2]; 10]; 2];
    }
    let both = |a: &[f32; DIGIT_SAMPLES], b: &[f32; DIGIT_SAMPLES]| {
        2.0 * dot(&a[PITCH_SAMPLES..], &b[..DIGIT_SAMPLES - PITCH_SAMPLES])
    };
    SETS.map(|set| {
        std::array::from_fn(|digit| {
            let before = waves.of(set, digit as u8);
            by_digit(|set, digit| both(before, waves.of(SETS[set], digit as u8)))
        })
    })
}

/// A cost for each set and digit.
pub(super) fn by_digit(cost: impl Fn(usize, usize) -> f32) -> Costs {
    std::array::from_fn(|set| std::array::from_fn(|digit| cost(set, digit)))
}
