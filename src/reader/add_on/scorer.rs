//! How well each add-on would fit the zone behind a symbol, at its best alignment.

use super::ZONE_START;
use super::parity::{Costs, best_five, best_two};
use crate::code::{AddOn, NumberSet, add_on_modules};
use crate::reader::fit::Fit;
use crate::reader::model::{Bars, PER_MODULE, correlation};
use crate::reader::verdict::residual_limit;

/// Modules behind the main symbol's last bar at which an add-on's first bar may stand. GS1 General Specifications:
/// 7 to 12 (9 for UPC-A); printers of covers stretch it, and a bent cover stretches it more.
const OFFSET_MODULES: std::ops::RangeInclusive<f32> = 5.5..=19.0;

/// The best add-on at the best alignment.
#[derive(Debug, Clone, Copy)]
pub(super) struct Best {
    pub(super) add_on: AddOn,
    alignment: Alignment,
    /// Residual variance over variance.
    residual: f32,
    /// Sum of squares of the second best add-on, at its own best alignment, over that of the best.
    ratio: f32,
    /// Mean darkness of the quiet zone behind it, the darkest module.
    behind: f32,
    /// Blur in modules.
    sigma: f32,
}

impl Best {
    /// Where the add-on ends, in modules behind the main symbol.
    pub(super) fn end(&self) -> f32 {
        let width = width_modules(self.add_on.digits().len());
        self.alignment.at(width + 0.5, width)
    }

    pub(super) fn is_certain(&self) -> bool {
        // Five digits carry their own check (one parity in 32 fits by chance, and each digit has to fit its set); two
        // digits carry a quarter of that, so they must fit better and end in a quiet zone: the beginning of a cut-off
        // five-digit add-on looks like one.
        match self.add_on {
            AddOn::Five(_) => self.residual < residual_limit(self.sigma) && self.ratio >= 1.5,
            AddOn::Two(_) => self.residual < residual_limit(self.sigma) * 0.7 && self.ratio >= 2.0 && self.behind < 0.3,
        }
    }
}

/// What fits best at one alignment.
#[derive(Debug, Clone, Copy)]
struct Scored {
    alignment: Alignment,
    /// The best and the second best add-on, each with its sum of squares.
    candidates: [(AddOn, f32); 2],
    /// Residual variance over variance of the best.
    residual: f32,
}

/// How an add-on lies in its zone.
#[derive(Debug, Clone, Copy)]
struct Alignment {
    /// Its first bar, in modules behind the main symbol.
    start: f32,
    /// Width of its modules, in modules of the main symbol.
    stretch: f32,
    /// How far its middle lies behind where it would lie if all modules were equal, in its own modules.
    bend: f32,
}

impl Alignment {
    /// Where what ought to lie at `m` of an add-on `modules` wide lies in the zone.
    fn at(&self, m: f32, modules: f32) -> f32 {
        let t = m / modules;
        self.start + self.stretch * (m + 4.0 * self.bend * t * (1.0 - t))
    }

    /// This one and those a step of `by` to each side in start, stretch and bend.
    fn around(self, by: [f32; 3]) -> impl Iterator<Item = Self> {
        let side = [-1.0, 0.0, 1.0f32];
        side.into_iter().flat_map(move |i| {
            side.into_iter().flat_map(move |j| {
                side.into_iter().map(move |k| Self {
                    start: self.start + i * by[0],
                    stretch: self.stretch + j * by[1],
                    bend: self.bend + k * by[2],
                })
            })
        })
    }
}

/// Modules before and behind an add-on that are compared with it.
const LEAD: f32 = 3.0;
const TRAIL: f32 = 3.0;
/// Modules before a digit at which its window begins; its window is `DIGIT_SAMPLES` long.
const DIGIT_LEAD: f32 = 1.5;
const DIGIT_SAMPLES: usize = 10 * PER_MODULE;

/// Modules of add-ons of two and five digits (GS1 General Specifications: guard 4, digits 7, separators 2).
fn width_modules(digits: usize) -> f32 {
    (4 + 7 * digits + 2 * (digits - 1)) as f32
}

pub(super) struct Scorer {
    /// Waves of the digits in set A and B, on a digit's window.
    digits: [[Vec<f32>; 10]; 2],
    /// Waves of the guard and the separators, for two and five digits, from [`LEAD`] modules before the add-on.
    fixed: [Vec<f32>; 2],
    sigma: f32,
    gain: f32,
    /// Width of a module where the main symbol ends.
    module: f32,
}

const COUNTS: [usize; 2] = [2, 5];

impl Scorer {
    pub(super) fn new(fit: &Fit) -> Self {
        Self::with(fit.sigma, fit.gain, fit.warp.narrowest_and_last().1)
    }

    /// For bars blurred by `sigma` and swollen by `gain` modules, `module` times as wide as the main symbol's.
    fn with(sigma: f32, gain: f32, module: f32) -> Self {
        let wave = |set: NumberSet, digit: u8| {
            Bars::new(&set.modules(digit), 0.0).wave(DIGIT_SAMPLES, -DIGIT_LEAD, sigma, gain)
        };
        let set_waves = |set| std::array::from_fn(|digit| wave(set, digit as u8));
        let fixed = COUNTS.map(|count| {
            let mut modules = vec![true, false, true, true];
            for place in 0..count {
                modules.extend([false; 7]);
                if place + 1 < count {
                    modules.extend([false, true]);
                }
            }
            let samples = ((LEAD + width_modules(count) + TRAIL) * PER_MODULE as f32) as usize;
            Bars::new(&modules, 0.0).wave(samples, -LEAD, sigma, gain)
        });
        Self { digits: [set_waves(NumberSet::A), set_waves(NumberSet::B)], fixed, sigma, gain, module }
    }

    /// The best add-on over all alignments, from the darkness of the zone behind the symbol.
    pub(super) fn best(&self, zone: &[f32]) -> Option<Best> {
        let start = start(zone)?;
        let alignments: Vec<Alignment> = (-3..=3)
            .flat_map(|i| (-4..=4).map(move |j| (0.2 * i as f32, 0.03 * j as f32)))
            .map(|(later, wider)| Alignment { start: start + later, stretch: self.module + wider, bend: 0.0 })
            .collect();
        let [five, two] = [5, 2].map(|count| self.best_of(zone, count, &alignments));
        match (five, two) {
            (Some(five), _) if five.is_certain() => Some(five),
            (_, Some(two)) if two.is_certain() => Some(two),
            (five, two) => five.or(two),
        }
    }

    /// The best add-on with as many digits as `before` in another part of the symbol's height, aligned much as there.
    pub(super) fn again(&self, zone: &[f32], before: &Best) -> Option<AddOn> {
        let alignments = before.alignment.around([0.2, 0.01, 0.2]);
        let scored = alignments.filter_map(|alignment| self.at(zone, before.add_on.digits().len(), alignment));
        least(scored, |s| s.residual).map(|s| s.candidates[0].0)
    }

    fn best_of(&self, zone: &[f32], count: usize, alignments: &[Alignment]) -> Option<Best> {
        let coarse: Vec<Scored> = alignments.iter().filter_map(|&alignment| self.at(zone, count, alignment)).collect();
        let best = self.refined(zone, count, least(coarse.iter().copied(), |s| s.residual)?, |s| s.residual);
        let (add_on, squares) = best.candidates[0];
        // The runner-up is looked for where it fits best itself: at the winner's own alignment it never looks good.
        let rival_squares = |s: &Scored| {
            s.candidates
                .iter()
                .filter(|(other, _)| *other != add_on)
                .map(|(_, squares)| *squares)
                .fold(f32::INFINITY, f32::min)
        };
        let rival = self.refined(zone, count, least(coarse, rival_squares)?, rival_squares);
        let rival = rival_squares(&rival).min(rival_squares(&best));
        let floor = 1e-3 * self.fixed[usize::from(count == 5)].len() as f32;
        let end = best.alignment.at(width_modules(count) + 1.0, width_modules(count));
        Some(Best {
            add_on,
            alignment: best.alignment,
            residual: best.residual,
            ratio: rival.max(floor) / squares.max(floor),
            behind: darkest_module(zone, end, 6.0),
            sigma: self.sigma,
        })
    }

    /// The alignment near `from`'s at which `cost` is least.
    fn refined(&self, zone: &[f32], count: usize, from: Scored, cost: impl Fn(&Scored) -> f32) -> Scored {
        [[0.1, 0.015, 0.6], [0.05, 0.008, 0.3]].into_iter().fold(from, |from, step| {
            let near = from.alignment.around(step).filter_map(|alignment| self.at(zone, count, alignment));
            least(near, &cost).unwrap_or(from)
        })
    }

    /// How well add-ons of `count` digits fit that lie as `alignment` says.
    fn at(&self, zone: &[f32], count: usize, alignment: Alignment) -> Option<Scored> {
        let fixed = &self.fixed[usize::from(count == 5)];
        let mut seen = resample(zone, fixed.len(), |m| alignment.at(m - LEAD, width_modules(count)))?;
        normalise(&mut seen);
        let rest: Vec<f32> = seen.iter().zip(fixed).map(|(s, f)| s - f).collect();
        let squares: f32 = rest.iter().map(|r| r * r).sum();
        let costs: Vec<Costs> = (0..count)
            .map(|place| {
                let from = ((LEAD + 4.0 + 9.0 * place as f32 - DIGIT_LEAD) * PER_MODULE as f32) as usize;
                let window = &rest[from..(from + DIGIT_SAMPLES).min(rest.len())];
                let cost = |wave: &Vec<f32>| window.iter().zip(wave).map(|(e, b)| b * (b - 2.0 * e)).sum::<f32>();
                std::array::from_fn(|set| std::array::from_fn(|digit| cost(&self.digits[set][digit])))
            })
            .collect();
        let cheapest = if count == 5 { best_five(&costs) } else { best_two(&costs) }?;
        let candidates = cheapest.map(|(add_on, cost)| (add_on, squares + cost));
        let wave = Bars::new(&add_on_modules(candidates[0].0), 0.0).wave(fixed.len(), -LEAD, self.sigma, self.gain);
        let fit = correlation(&seen, &wave);
        let residual = if fit > 0.0 { 1.0 - fit * fit } else { 1.0 };
        Some(Scored { alignment, candidates, residual })
    }
}

fn least(scored: impl IntoIterator<Item = Scored>, cost: impl Fn(&Scored) -> f32) -> Option<Scored> {
    scored.into_iter().min_by(|a, b| cost(a).total_cmp(&cost(b)))
}

/// Where the first bar in the zone begins, in modules behind the symbol; none if that is not where an add-on may begin.
/// A wide space inside a cut-off add-on must not be taken for the gap before another one.
fn start(zone: &[f32]) -> Option<f32> {
    /// Share of the darkest bar's darkness that begins a bar: one of a single module, blurred by one, keeps 0.38.
    const BEGINS: f32 = 0.3;
    let dark_level = zone.iter().copied().fold(0.0, f32::max) * BEGINS;
    let first = zone.iter().position(|&d| d >= dark_level)?;
    let before = *zone.get(first.checked_sub(1)?)?;
    let within = (dark_level - before) / (zone[first] - before).max(1e-6);
    let at = ZONE_START + (first as f32 - 1.0 + within) / PER_MODULE as f32;
    OFFSET_MODULES.contains(&at).then_some(at)
}

/// `samples` samples of the zone, the one at `m` modules of the add-on from where `place` says in modules behind the main
/// symbol; `None` if the zone does not reach so far.
fn resample(zone: &[f32], samples: usize, place: impl Fn(f32) -> f32) -> Option<Vec<f32>> {
    (0..samples)
        .map(|i| {
            let at = (place(i as f32 / PER_MODULE as f32) - ZONE_START) * PER_MODULE as f32;
            // What lies before the zone is the main symbol's quiet zone.
            if at < 0.0 {
                return zone.first().copied();
            }
            let (index, rest) = (at as usize, at.fract());
            Some(zone.get(index)? * (1.0 - rest) + zone.get(index + 1)? * rest)
        })
        .collect()
}

/// Stretches darkness so that the lightest tenth is 0 and the darkest tenth is 1: shadows and glare differ from the main
/// symbol's.
fn normalise(seen: &mut [f32]) {
    let mut sorted = seen.to_vec();
    sorted.sort_by(f32::total_cmp);
    let tenth = sorted.len() / 10;
    let mean = |part: &[f32]| part.iter().sum::<f32>() / part.len().max(1) as f32;
    let (light, dark) = (mean(&sorted[..tenth]), mean(&sorted[sorted.len() - tenth..]));
    let span = (dark - light).max(0.1);
    seen.iter_mut().for_each(|s| *s = (*s - light) / span);
}

/// The darkest module within `width` modules of the zone from `first` on.
fn darkest_module(zone: &[f32], first: f32, width: f32) -> f32 {
    let index = |m: f32| (((m - ZONE_START).max(0.0) * PER_MODULE as f32) as usize).min(zone.len());
    zone[index(first)..index(first + width)]
        .chunks(PER_MODULE)
        .map(|module| module.iter().sum::<f32>() / module.len() as f32)
        .fold(0.0, f32::max)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::reader::add_on::ZONE_MODULES;

    /// A zone as a camera sees it: `add_on` from `start` modules on, blurred, with a little noise.
    fn zone(add_on: Option<AddOn>, start: f32, stretch: f32, sigma: f32, noise: &[f32]) -> Vec<f32> {
        let samples = (ZONE_MODULES - ZONE_START) as usize * PER_MODULE;
        let modules = add_on.map(add_on_modules).unwrap_or_default();
        let wave = Bars::new(&modules, 0.0).moved(|m| start + stretch * m).wave(samples, ZONE_START, sigma, 0.0);
        wave.iter().zip(noise.iter().cycle()).map(|(w, n)| w + n).collect()
    }

    fn scorer(sigma: f32) -> Scorer {
        Scorer::with(sigma, 0.0, 1.0)
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 256, failure_persistence: None, ..ProptestConfig::default() })]

        /// Any add-on is read right or not at all; a sharp one is read.
        #[test]
        fn add_ons_are_read_right_or_not_at_all(
            five in prop::array::uniform5(0u8..10),
            two in prop::option::of(prop::array::uniform2(0u8..10)),
            start in 7.0f32..13.0,
            stretch in 0.95f32..1.05,
            sigma in 0.3f32..1.3,
            noise in prop::collection::vec(-0.06f32..0.06, 97),
        ) {
            let truth = two.map_or(AddOn::Five(five), AddOn::Two);
            let best = scorer(sigma).best(&zone(Some(truth), start, stretch, sigma, &noise));
            let read = best.filter(Best::is_certain).map(|b| b.add_on);
            if let Some(read) = read {
                prop_assert_eq!(read, truth);
            } else {
                // Two digits have to be clearer than five: little else speaks for them.
                let sharp = if two.is_some() { 0.35 } else { 0.6 };
                prop_assert!(sigma > sharp, "unread at sigma {}", sigma);
            }
        }

        /// Noise, however it falls, is no add-on.
        #[test]
        fn noise_is_no_add_on(noise in prop::collection::vec(-0.5f32..0.5, 300)) {
            let best = scorer(0.5).best(&zone(None, 0.0, 1.0, 0.5, &noise));
            prop_assert!(!best.is_some_and(|b| b.is_certain()));
        }

        /// The first two digits of five are not a two-digit add-on.
        #[test]
        fn a_cut_five_is_no_two(five in prop::array::uniform5(0u8..10), start in 7.0f32..13.0) {
            let whole = zone(Some(AddOn::Five(five)), start, 1.0, 0.5, &[0.0]);
            // Cut off in the middle of the third digit: what follows is as light as paper.
            let cut = ((start - ZONE_START + 27.0) * PER_MODULE as f32) as usize;
            let zone: Vec<f32> = whole.iter().enumerate().map(|(i, &d)| if i < cut { d } else { 0.0 }).collect();
            let best = scorer(0.5).best(&zone);
            prop_assert!(!best.is_some_and(|b| b.is_certain()), "{:?}", best);
        }
    }
}
