//! The add-on right of a symbol: read, absent or unread.
//!
//! Its bars share the main symbol's blur, ink gain and light, so the waveform of every digit is known before it is
//! looked for. The best and the second best add-on with a valid parity come from dynamic programming.

use super::fit::Fit;
use super::model::{Bars, PER_MODULE, correlation};
use super::place::{Place, Surface};
use super::sample::{Point, add, inside, scale, sub};
use crate::code::{AddOn, AddOnState, FIVE_DIGIT_SETS, NumberSet, TWO_DIGIT_SETS};
use crate::picture::Luma;

/// Modules behind the main symbol's last bar at which an add-on's first bar may stand. GS1 General Specifications:
/// 7 to 12 (9 for UPC-A); printers of covers stretch it, and a bent cover stretches it more.
const OFFSET_MODULES: [f32; 2] = [5.5, 19.0];
/// Modules that are looked at behind the main symbol: the farthest offset, 47 modules of bars, the quiet zone.
const ZONE_MODULES: f32 = 76.0;
/// The first of them.
const ZONE_START: f32 = 2.0;

/// Looks for the add-on of the symbol at `place`, whose bars go together with the picture as `fit` says.
pub(super) fn look(picture: &Luma, surface: &Surface, place: &Place, fit: &Fit) -> AddOnState {
    /// Parts of the main symbol's height; the add-on's bars begin lower, below its digits.
    const WHOLE: [f32; 2] = [0.3, 0.92];
    const PARTS: [[f32; 2]; 3] = [[0.25, 0.55], [0.4, 0.75], [0.6, 0.95]];
    let scorer = Scorer::new(fit);
    let zone = |band: [f32; 2]| darkness(surface, place, fit, band);
    if let Some(best) = scorer.best(&zone(WHOLE)).filter(Best::is_certain) {
        let agrees = |part| scorer.again(&zone(part), &best).is_some_and(|again| again.add_on == best.add_on);
        if PARTS.into_iter().filter(|&part| agrees(part)).count() >= 2 {
            return AddOnState::Read(best.add_on);
        }
    }
    if is_blank(picture, surface, place, fit) { AddOnState::Absent } else { AddOnState::Unread }
}

/// Mean darkness of the zone behind the symbol, over a part of the symbol's height.
fn darkness(surface: &Surface, place: &Place, fit: &Fit, band: [f32; 2]) -> Vec<f32> {
    const LINES: usize = 12;
    let samples = (ZONE_MODULES - ZONE_START) as usize * PER_MODULE;
    let mut mean = vec![0.0; samples];
    for i in 0..LINES {
        let t = band[0] + (band[1] - band[0]) * (i as f32 + 0.5) / LINES as f32;
        let profile = place.line(t).profile(surface, place.modules, place.modules + ZONE_START, samples);
        mean.iter_mut().zip(profile).for_each(|(m, grey)| *m += fit.darkness(place.modules, grey));
    }
    mean.iter_mut().for_each(|m| *m /= LINES as f32);
    mean
}

/// Whether nothing like bars stands right of the symbol, as far as an add-on could stand there.
fn is_blank(picture: &Luma, surface: &Surface, place: &Place, fit: &Fit) -> bool {
    /// Modules looked at: the usual offset and enough of an add-on for several bars.
    const LOOK: f32 = 30.0;
    /// A dark run this long is the edge of a label or of the paper, not a bar (the widest has four modules).
    const EDGE: usize = 7 * PER_MODULE;
    const LINES: usize = 9;
    /// Lines on which a bar, a letter or a picture's detail must show, so that a speck is not taken for one.
    const MARKED: usize = 2;
    /// Grey values from here on are burnt out, where paper elsewhere in the symbol is not.
    const BURNT: f32 = 252.0;
    const BURNT_SHARE: f32 = 0.2;
    let mut marked = 0;
    let mut burnt = 0;
    let samples = (LOOK - ZONE_START) as usize * PER_MODULE;
    for i in 0..LINES {
        let t = 0.15 + 0.7 * i as f32 / (LINES - 1) as f32;
        let line = place.line(t);
        let step = scale(sub(line.right, line.left), 1.0 / place.modules);
        let end: Point = add(line.right, scale(step, LOOK));
        if !inside(picture, end) {
            // The picture ends where an add-on could begin: nobody can say that there is none.
            return false;
        }
        let profile = line.profile(surface, place.modules, place.modules + ZONE_START, samples);
        burnt += profile.iter().filter(|&&grey| grey >= BURNT).count();
        let dark: Vec<f32> = profile.iter().map(|&grey| fit.darkness(place.modules, grey)).collect();
        if has_mark(&dark, EDGE) {
            marked += 1;
        }
    }
    let glare = fit.paper() < BURNT - 8.0 && burnt as f32 > BURNT_SHARE * (LINES * samples) as f32;
    marked < MARKED && !glare
}

/// Whether a dark run shorter than `edge` samples, with light on both sides of it, is in the profile.
fn has_mark(dark: &[f32], edge: usize) -> bool {
    /// Darkness from which on something is there, and below which it has ended: blur of a module's sigma still lets
    /// single bars stand out by 0.3.
    const THERE: f32 = 0.3;
    const GONE: f32 = 0.15;
    let mut from = None;
    let mut lightest = 0.0f32;
    for (i, &d) in dark.iter().enumerate() {
        match from {
            None if d - lightest.max(0.0) > THERE => from = Some(i),
            None => lightest = lightest.min(d).max(-0.3),
            Some(f) if d < GONE.max(lightest + GONE) => {
                if i - f < edge {
                    return true;
                }
                from = None;
            }
            Some(_) => {}
        }
    }
    false
}

/// The best add-on at the best alignment.
#[derive(Debug, Clone, Copy)]
struct Best {
    add_on: AddOn,
    alignment: Alignment,
    /// Residual variance over variance.
    residual: f32,
    /// Sum of squares of the second best add-on over that of the best.
    ratio: f32,
    /// Mean darkness of the quiet zone behind it, the darkest module.
    behind: f32,
    /// Blur in modules.
    sigma: f32,
}

impl Best {
    fn is_certain(&self) -> bool {
        // Five digits carry their own check (one parity in 32 fits by chance, and each digit has to fit its set); two
        // digits carry a quarter of that, so they must fit better and end in a quiet zone: the beginning of a cut-off
        // five-digit add-on looks like one.
        match self.add_on {
            AddOn::Five(_) => self.residual < residual_limit(self.sigma) && self.ratio >= 1.5,
            AddOn::Two(_) => {
                self.residual < residual_limit(self.sigma) * 0.7 && self.ratio >= 2.0 && self.behind < 0.3
            }
        }
    }
}

/// How much of a profile's variance may stay unexplained. Blur takes the contrast between rivals, so it must fit better.
pub(super) fn residual_limit(sigma: f32) -> f32 {
    if sigma < 0.7 {
        0.2
    } else if sigma < 1.2 {
        0.1
    } else {
        0.06
    }
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

struct Scorer {
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
    fn new(fit: &Fit) -> Self {
        let wave = |set: NumberSet, digit: u8| {
            Bars::new(&set.modules(digit), 0.0).wave(DIGIT_SAMPLES, -DIGIT_LEAD, fit.sigma, fit.gain)
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
            Bars::new(&modules, 0.0).wave(samples, -LEAD, fit.sigma, fit.gain)
        });
        Self { digits: [set_waves(NumberSet::A), set_waves(NumberSet::B)], fixed, sigma: fit.sigma, gain: fit.gain, module: fit.warp.module_at_end() }
    }

    /// The best add-on over all alignments, from the darkness of the zone behind the symbol.
    fn best(&self, zone: &[f32]) -> Option<Best> {
        let starts = starts(zone);
        let coarse = |count: usize| {
            let alignments = starts.iter().flat_map(|&start| {
                (-3..=3).flat_map(move |i| (-4..=4).map(move |j| (start + 0.2 * i as f32, 0.03 * j as f32)))
            });
            let best = self.least(
                zone,
                count,
                alignments.map(|(start, wider)| Alignment { start, stretch: self.module + wider, bend: 0.0 }),
            )?;
            let finer = self.least(zone, count, best.alignment.around([0.1, 0.015, 0.6]))?;
            self.least(zone, count, finer.alignment.around([0.05, 0.008, 0.3]))
        };
        let [five, two] = [5, 2].map(coarse);
        match (five, two) {
            (Some(five), _) if five.is_certain() => Some(five),
            (_, Some(two)) if two.is_certain() => Some(two),
            (five, two) => five.or(two),
        }
    }

    /// The best add-on with as many digits as `before` in another part of the symbol's height, aligned much as there.
    fn again(&self, zone: &[f32], before: &Best) -> Option<Best> {
        self.least(zone, before.add_on.digits().len(), before.alignment.around([0.2, 0.01, 0.2]))
    }

    fn least(&self, zone: &[f32], count: usize, alignments: impl Iterator<Item = Alignment>) -> Option<Best> {
        alignments
            .filter_map(|alignment| self.at(zone, count, alignment))
            .min_by(|a, b| a.residual.total_cmp(&b.residual))
    }

    /// The best add-on of `count` digits that lies as `alignment` says.
    fn at(&self, zone: &[f32], count: usize, alignment: Alignment) -> Option<Best> {
        let fixed = &self.fixed[usize::from(count == 5)];
        let mut seen = resample(zone, fixed.len(), |m| alignment.at(m - LEAD, width_modules(count)))?;
        normalise(&mut seen);
        let rest: Vec<f32> = seen.iter().zip(fixed).map(|(s, f)| s - f).collect();
        let squares: f32 = rest.iter().map(|r| r * r).sum();
        let costs: Vec<[[f32; 10]; 2]> = (0..count)
            .map(|place| {
                let from = ((LEAD + 4.0 + 9.0 * place as f32 - DIGIT_LEAD) * PER_MODULE as f32) as usize;
                let window = &rest[from..(from + DIGIT_SAMPLES).min(rest.len())];
                let cost = |wave: &Vec<f32>| window.iter().zip(wave).map(|(e, b)| b * (b - 2.0 * e)).sum::<f32>();
                std::array::from_fn(|set| std::array::from_fn(|digit| cost(&self.digits[set][digit])))
            })
            .collect();
        let (add_on, best, second) = if count == 5 { best_five(&costs) } else { best_two(&costs) }?;
        let behind = darkest_module(zone, alignment.at(width_modules(count) + 1.0, width_modules(count)), 6.0);
        let wave = Bars::new(&crate::code::add_on_modules(add_on), 0.0).wave(fixed.len(), -LEAD, self.sigma, self.gain);
        let fit = correlation(&seen, &wave);
        let residual = if fit > 0.0 { 1.0 - fit * fit } else { 1.0 };
        let floor = 1e-3 * seen.len() as f32;
        let ratio = (squares + second).max(floor) / (squares + best).max(floor);
        Some(Best { add_on, alignment, residual, ratio, behind, sigma: self.sigma })
    }
}

/// Where bars begin in the zone, in modules behind the symbol: rising edges after at least three light modules.
fn starts(zone: &[f32]) -> Vec<f32> {
    let mut starts = Vec::new();
    let dark_level = zone.iter().copied().fold(0.0, f32::max) / 2.0;
    let mut light = 3 * PER_MODULE;
    for (i, pair) in zone.windows(2).enumerate() {
        let at = ZONE_START + i as f32 / PER_MODULE as f32;
        if pair[0] < dark_level && pair[1] >= dark_level {
            let within = (dark_level - pair[0]) / (pair[1] - pair[0]).max(1e-6);
            if light >= 3 * PER_MODULE && at >= OFFSET_MODULES[0] && at <= OFFSET_MODULES[1] {
                starts.push(at + within / PER_MODULE as f32);
            }
        }
        light = if pair[1] < dark_level { light + 1 } else { 0 };
    }
    starts
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
}

/// The cheapest five digits whose value calls for the sets that they were read in, its cost and the runner-up's.
///
/// For each of the ten values: dynamic programming over the digits with the weighted sum modulo 10 as state.
fn best_five(costs: &[[[f32; 10]; 2]]) -> Option<(AddOn, f32, f32)> {
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
    let ((best, digits), (second, _)) = (overall.best?, overall.second?);
    Some((AddOn::Five(digits), best, second))
}

/// The cheapest two digits whose value calls for the sets that they were read in, its cost and the runner-up's.
fn best_two(costs: &[[[f32; 10]; 2]]) -> Option<(AddOn, f32, f32)> {
    let mut overall = Two::NONE;
    for value in 0..100usize {
        let digits = [(value / 10) as u8, (value % 10) as u8];
        let sets = TWO_DIGIT_SETS[value % 4];
        let cost = (0..2).map(|k| costs[k][usize::from(sets[k] == NumberSet::B)][usize::from(digits[k])]).sum();
        overall.offer(cost, digits);
    }
    let ((best, digits), (second, _)) = (overall.best?, overall.second?);
    Some((AddOn::Two(digits), best, second))
}
