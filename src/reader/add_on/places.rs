//! Where an add-on may lie in the zone behind a symbol.

use super::decode::{Book, SETS, add_digit, by_digit, fixed, window};
use super::fit::{LEAD, Prior, Theta, width_modules};
use super::parity::{Costs, bound};
use super::zone::START;
use crate::reader::model::{PER_MODULE, dot};

/// Modules behind the main symbol's last bar at which an add-on's first bar may stand. GS1 General Specifications:
/// 7 to 12 (9 for UPC-A); printers of covers stretch it, and a bent cover stretches it more.
const OFFSET_MODULES: std::ops::RangeInclusive<f32> = 5.5..=19.0;

/// Where add-ons are looked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Search {
    /// Where the first bar behind the symbol is: quick, and right where nothing else is printed there.
    FirstBar,
    /// Wherever one may stand.
    Everywhere,
}

/// Waves that places are scored with.
pub(super) struct Places {
    prior: Prior,
    waves: Book,
    /// Guards and separators of five and of two digits.
    fixed: [Vec<f32>; 2],
    /// Blur in modules by which the zone is smoothed to match them.
    smoothing: f32,
}

/// A place, in modules behind the symbol and as the width of a module over the symbol's mean one.
#[derive(Debug, Clone, Copy)]
struct Guess {
    start: f32,
    stretch: f32,
    cost: f32,
}

impl Places {
    pub(super) fn new(prior: Prior) -> Self {
        /// Blur of the waves, in modules: at least so much, so that a place somewhat off scores well.
        const COARSE: f32 = 0.7;
        let sigma = prior.sigma.max(COARSE);
        let smoothing = (sigma * sigma - prior.sigma * prior.sigma).sqrt();
        let fixed = [5, 2].map(|count| fixed(count, sigma, prior.gain));
        Self { prior, waves: Book::new(sigma, prior.gain), fixed, smoothing }
    }

    /// At most `most` places for an add-on of `count` digits, the likeliest first.
    pub(super) fn likeliest(&self, zone: &[f32], count: usize, search: Search, most: usize) -> Vec<Theta> {
        /// Both ends within so many modules, it is the same place.
        const NEAR: f32 = 0.4;
        let width = width_modules(count);
        let mut guesses = self.guesses(zone, count, search);
        guesses.sort_by(|a, b| a.cost.total_cmp(&b.cost));
        let mut kept: Vec<Guess> = Vec::new();
        for guess in guesses {
            let same = |k: &Guess| {
                let begin = guess.start - k.start;
                [begin, begin + (guess.stretch - k.stretch) * width].into_iter().all(|off| off.abs() < NEAR)
            };
            if kept.len() == most {
                break;
            }
            if !kept.iter().any(same) {
                kept.push(guess);
            }
        }
        let theta = |guess: Guess| {
            let first = (guess.start - START) * PER_MODULE as f32;
            Theta::straight(first, first + guess.stretch * width * PER_MODULE as f32, &self.prior).with_levels(zone)
        };
        kept.into_iter().map(theta).collect()
    }

    /// What each place costs at least, whatever the digits.
    fn guesses(&self, zone: &[f32], count: usize, search: Search) -> Vec<Guess> {
        /// By how much a module's width may differ from what the main symbol says: a step.
        const STRETCH: f32 = 0.02;
        /// Modules around the first bar that are looked at.
        const AROUND: f32 = 0.9;
        let stretches: i32 = match search {
            Search::FirstBar => 3,
            Search::Everywhere => 6,
        };
        let zone = smooth(zone, self.smoothing * PER_MODULE as f32);
        let first = first_bar(&zone);
        let looked_at = |start: f32| {
            let near = || first.is_some_and(|first| (start - first).abs() < AROUND);
            OFFSET_MODULES.contains(&start) && (search == Search::Everywhere || near())
        };
        let fixed = &self.fixed[usize::from(count == 2)];
        let n = fixed.len();
        let fixed_sums = [fixed.iter().sum::<f32>(), dot(fixed, fixed)];
        let mut usual = fixed.clone();
        (0..count).for_each(|place| add_digit(&mut usual, &self.waves.usual, place, count));
        let (usual_mean, usual_deviation) = moments(&usual);
        let beside = self.beside(&usual, count);
        let mut guesses: Vec<Guess> = Vec::new();
        for wider in -stretches..=stretches {
            let stretch = self.prior.module * (1.0 + STRETCH * wider as f32);
            let laid = stretched(&zone, stretch);
            let mut answers: Vec<Option<Costs>> = vec![None; laid.len()];
            for i in 0..laid.len().saturating_sub(n) {
                let start = START + (i as f32 / PER_MODULE as f32 + LEAD) * stretch;
                if !looked_at(start) {
                    continue;
                }
                let part = &laid[i..i + n];
                let (mean, deviation) = moments(part);
                let scale = usual_deviation / deviation.max(0.02);
                let offset = usual_mean - scale * mean;
                let (sum, square) = (mean * n as f32, (deviation * deviation + mean * mean) * n as f32);
                let cost = scale * scale * square + 2.0 * scale * offset * sum + n as f32 * offset * offset
                    - 2.0 * scale * dot(part, fixed)
                    - 2.0 * offset * fixed_sums[0]
                    + fixed_sums[1];
                let costs: Vec<Costs> = (0..count)
                    .map(|place| {
                        let window = window(place, count);
                        let seen = &laid[i + window.start..i + window.end];
                        let answer = answers[i + window.start].get_or_insert_with(|| self.answers(seen));
                        by_digit(|set, digit| {
                            let [sum, square] = self.waves.sums[set][digit];
                            square - 2.0 * scale * answer[set][digit] - 2.0 * offset * sum
                                + 2.0 * beside[place][set][digit]
                        })
                    })
                    .collect();
                guesses.push(Guess { start, stretch, cost: cost + bound(&costs) });
            }
        }
        guesses
    }

    /// How each digit's wave answers to a part of the zone.
    fn answers(&self, seen: &[f32]) -> Costs {
        by_digit(|set, digit| dot(seen, &self.waves.waves.of(SETS[set], digit as u8)[..seen.len()]))
    }

    /// What guards and the usual digits beside it cost a digit in its place, whatever is seen.
    fn beside(&self, usual: &[f32], count: usize) -> Vec<Costs> {
        (0..count)
            .map(|place| {
                let others = usual[window(place, count)].iter().zip(&self.waves.usual).map(|(all, own)| all - own);
                self.answers(&others.collect::<Vec<f32>>())
            })
            .collect()
    }
}

/// The first bar in the zone, in modules behind the symbol.
fn first_bar(zone: &[f32]) -> Option<f32> {
    /// Share of the darkest bar's darkness that begins a bar: one of a single module, blurred by one, keeps 0.38.
    const BEGINS: f32 = 0.3;
    let dark_level = zone.iter().copied().fold(0.0, f32::max) * BEGINS;
    let first = zone.iter().position(|&d| d >= dark_level)?;
    Some(START + first as f32 / PER_MODULE as f32)
}

/// The zone with so many modules of its own to a module.
fn stretched(zone: &[f32], stretch: f32) -> Vec<f32> {
    let Some(last) = zone.len().checked_sub(1).filter(|&last| last > 0) else { return Vec::new() };
    let samples = (last as f32 / stretch) as usize;
    (0..samples)
        .map(|i| {
            let at = i as f32 * stretch;
            let whole = (at as usize).min(last - 1);
            zone[whole] + (zone[whole + 1] - zone[whole]) * (at - whole as f32)
        })
        .collect()
}

/// The zone blurred by a Gaussian of `sigma` samples; its ends go on as they are.
fn smooth(zone: &[f32], sigma: f32) -> Vec<f32> {
    /// Below this a sample's neighbours count for nothing.
    const LEAST: f32 = 0.3;
    let (Some(&first), Some(&last)) = (zone.first(), zone.last()) else { return Vec::new() };
    if sigma < LEAST {
        return zone.to_vec();
    }
    let reach = (2.5 * sigma).ceil() as usize;
    let kernel: Vec<f32> = (0..=2 * reach)
        .map(|i| {
            let z = (i as f32 - reach as f32) / sigma;
            (-0.5 * z * z).exp()
        })
        .collect();
    let sum: f32 = kernel.iter().sum();
    let mut padded = vec![first; reach];
    padded.extend_from_slice(zone);
    padded.resize(zone.len() + 2 * reach, last);
    let mut out = vec![0.0; zone.len()];
    for (k, weight) in kernel.iter().enumerate() {
        out.iter_mut().zip(&padded[k..]).for_each(|(o, p)| *o += weight / sum * p);
    }
    out
}

fn moments(values: &[f32]) -> (f32, f32) {
    let n = values.len() as f32;
    let mean = values.iter().sum::<f32>() / n;
    (mean, (dot(values, values) / n - mean * mean).max(0.0).sqrt())
}
