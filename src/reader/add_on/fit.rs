//! The fit of an add-on's bars to the zone behind a symbol.
//!
//! The model is that of the main symbol's fit, but what the main symbol says of blur, ink gain, light and the width of
//! modules goes in as a prior: twenty modules alone say too little of all that.

use super::profile::Profile;
use crate::code::{AddOn, add_on_modules};
use crate::reader::fit::Fit;
use crate::reader::model::{Bars, PER_MODULE, correlation};
use crate::reader::normal::solve;
use crate::reader::slopes::Slopes;
use crate::reader::warp::Warp;

/// Modules before and behind an add-on that are compared with it.
pub(super) const LEAD: f32 = 3.0;
pub(super) const TRAIL: f32 = 3.5;

/// What the main symbol says of bars near its end.
#[derive(Debug, Clone, Copy)]
pub(super) struct Prior {
    /// Blur and ink gain, in modules.
    pub(super) sigma: f32,
    pub(super) gain: f32,
    /// Width of a module, in modules of mean width.
    pub(super) module: f32,
}

impl Prior {
    pub(super) fn of(fit: &Fit) -> Self {
        Self { sigma: fit.sigma, gain: fit.gain, module: fit.warp.narrowest_and_last().1 }
    }
}

/// How an add-on lies in the zone, and how light, blurred and swollen it is.
#[derive(Debug, Clone, Copy)]
pub(super) struct Theta {
    pub(super) first: f32,
    pub(super) end: f32,
    bend: f32,
    pub(super) sigma: f32,
    pub(super) gain: f32,
    /// Darkness of paper in its middle and by how much it rises to its end; the same for how much darker ink is.
    levels: [f32; 4],
}

const SHIFT: usize = 0;
const STRETCH: usize = 1;
const BEND: usize = 2;
const SIGMA: usize = 3;
const GAIN: usize = 4;
const LEVELS: usize = 5;
const ALL: usize = 9;

impl Theta {
    /// Modules of equal width between two samples of the zone.
    pub(super) fn straight(first: f32, end: f32, prior: &Prior) -> Self {
        Self { first, end, bend: 0.0, sigma: prior.sigma, gain: prior.gain, levels: [0.0, 0.0, 1.0, 0.0] }
    }

    /// The same with the levels that give what it covers the mean and deviation of an add-on's usual darkness.
    pub(super) fn with_levels(self, zone: &[f32]) -> Self {
        /// Mean darkness of sharp bars.
        const USUAL: f32 = 0.45;
        /// Paper is looked for so many modules before where the first bar's blur, of twice sigma, ends.
        const PAPER: f32 = 1.5;
        const BLUR: f32 = 2.0;
        const CONTRAST: [f32; 2] = [0.15, 2.0];
        let mean = |from: f32, to: f32| {
            let index = |x: f32| (x.max(0.0) as usize).min(zone.len());
            let part = &zone[index(from)..index(to)];
            part.iter().sum::<f32>() / part.len().max(1) as f32
        };
        let bare = self.first - BLUR * self.sigma * PER_MODULE as f32;
        let paper = mean(bare - PAPER * PER_MODULE as f32, bare);
        let contrast = ((mean(self.first, self.end) - paper) / USUAL).clamp(CONTRAST[0], CONTRAST[1]);
        Self { levels: [paper, 0.0, contrast, 0.0], ..self }
    }

    /// Darkness of paper and of ink at sample `x` of the zone.
    pub(super) fn paper_and_ink(&self, x: f32) -> [f32; 2] {
        let u = self.u(x).clamp(-1.2, 1.2);
        [self.paper(u), self.paper(u) + self.contrast(u)]
    }

    pub(super) fn warp(&self, modules: f32) -> Warp {
        Warp::straight(self.first, self.end, modules).plus([0.0, 0.0, self.bend, 0.0])
    }

    /// Width of its modules over that of the main symbol's.
    pub(super) fn module(&self, modules: f32) -> f32 {
        (self.end - self.first) / modules / PER_MODULE as f32
    }

    fn u(&self, x: f32) -> f32 {
        (2.0 * x - self.first - self.end) / (self.end - self.first)
    }

    fn paper(&self, u: f32) -> f32 {
        self.levels[0] + self.levels[1] * u
    }

    fn contrast(&self, u: f32) -> f32 {
        self.levels[2] + self.levels[3] * u
    }

    fn columns(&self, modules: f32) -> Vec<f32> {
        let samples = ((LEAD + modules + TRAIL) * PER_MODULE as f32) as usize;
        self.warp(modules).columns(-LEAD, samples)
    }

    /// How much each sample counts of what is laid out by modules of the add-on; none if all count alike.
    pub(super) fn weights_laid_out(&self, zone: Profile<'_>, modules: f32) -> Option<Vec<f32>> {
        zone.weights?;
        let weight = |column: f32| if column < 0.0 { 0.0 } else { zone.weight(column.round() as usize) };
        Some(self.columns(modules).into_iter().map(weight).collect())
    }

    /// The zone laid out by modules of the add-on: 0 paper, 1 ink.
    pub(super) fn laid_out(&self, zone: &[f32], modules: f32) -> Vec<f32> {
        let last = zone.len() - 1;
        self.columns(modules)
            .into_iter()
            .map(|column| {
                let column = column.clamp(0.0, last as f32);
                let at = (column as usize).min(last - 1);
                let part = column - at as f32;
                let u = self.u(column).clamp(-1.2, 1.2);
                (zone[at] * (1.0 - part) + zone[at + 1] * part - self.paper(u)) / self.contrast(u).max(0.05)
            })
            .collect()
    }
}

/// An add-on where it fits best.
#[derive(Debug, Clone, Copy)]
pub(super) struct Fitted {
    pub(super) add_on: AddOn,
    pub(super) theta: Theta,
    /// Share of the variance that stays unexplained.
    pub(super) residual: f32,
    /// Sum of squares, with what the priors add.
    pub(super) cost: f32,
}

impl Fitted {
    /// How well the digit that is seen worst in the zone goes together with its bars: Pearson's correlation.
    pub(super) fn dimmest(&self, zone: Profile<'_>) -> f32 {
        let digits = self.add_on.digits().len();
        let seen = self.theta.laid_out(zone.dark, width_modules(digits));
        let bars = Bars::new(&add_on_modules(self.add_on), 0.0);
        let expected = bars.wave(seen.len(), -LEAD, self.theta.sigma, self.theta.gain);
        let digit = |place: usize| {
            let first = (LEAD as usize + 4 + 9 * place) * PER_MODULE;
            first..first + 7 * PER_MODULE
        };
        (0..digits).map(|place| correlation(&seen[digit(place)], &expected[digit(place)])).fold(1.0, f32::min)
    }
}

/// Modules of add-ons of so many digits (GS1 General Specifications: guard 4, digits 7, separators 2).
pub(super) fn width_modules(digits: usize) -> f32 {
    (4 + 7 * digits + 2 * (digits - 1)) as f32
}

/// Fits the bars of `add_on` from `start` on, in at most `rounds` steps. `None` if they do not lie in the zone.
pub(super) fn fit<'a>(
    zone: impl Into<Profile<'a>>,
    add_on: AddOn,
    start: Theta,
    prior: &Prior,
    rounds: usize,
) -> Option<Fitted> {
    let zone = zone.into();
    const GAINED: f32 = 2e-3;
    let modules = width_modules(add_on.digits().len());
    let warp = start.warp(modules);
    let from = warp.column_at(-LEAD).ceil().max(0.0) as usize;
    let to = (warp.column_at(modules + TRAIL) as usize + 1).min(zone.dark.len());
    if to < from + 8 || warp.column_at(modules + 1.0) > zone.dark.len() as f32 {
        return None;
    }
    let bars = Bars::new(&add_on_modules(add_on), 0.0);
    let problem = Problem { zone, bars, range: from..to, modules, prior };
    let (mut theta, mut normal, mut squares) = problem.normal(start);
    let mut cost = squares + problem.penalty(&theta);
    let mut damping = 1e-2f32;
    for _ in 0..rounds {
        let Some(next) = problem.step(&theta, &normal, damping) else { break };
        let (next, next_normal, next_squares) = problem.normal(next);
        let next_cost = next_squares + problem.penalty(&next);
        if next_cost < cost {
            let gained = 1.0 - next_cost / cost;
            (theta, normal, squares, cost) = (next, next_normal, next_squares, next_cost);
            damping = (damping * 0.2).max(1e-4);
            if gained < GAINED {
                break;
            }
        } else {
            damping *= 8.0;
            if damping > 1e2 {
                break;
            }
        }
    }
    let counted = || problem.range.clone().map(|x| (zone.dark[x], zone.weight(x)));
    let mean = counted().map(|(d, w)| w * d).sum::<f32>() / counted().map(|(_, w)| w).sum::<f32>().max(1.0);
    let variance: f32 = counted().map(|(d, w)| w * (d - mean) * (d - mean)).sum();
    // Ink is darker than paper all along.
    let weakest = theta.levels[2] - theta.levels[3].abs();
    if weakest < 0.1 || variance <= 0.0 {
        return None;
    }
    Some(Fitted { add_on, theta, residual: squares / variance, cost })
}

type Normal = [[f32; ALL + 1]; ALL];

struct Problem<'a> {
    zone: Profile<'a>,
    bars: Bars,
    range: std::ops::Range<usize>,
    modules: f32,
    prior: &'a Prior,
}

/// What a deviation of one standard deviation costs, as the sum of squares of so much noise.
const WEIGHT: f32 = 0.004;

impl Problem<'_> {
    /// Normal equations of the deviations at `theta`, and their sum of squares.
    fn normal(&self, theta: Theta) -> (Theta, Normal, f32) {
        let columns: Vec<f32> = self.range.clone().map(|x| x as f32).collect();
        let places = theta.warp(self.modules).places(&columns);
        let bars = Slopes::new(&self.bars, theta.sigma, theta.gain, &places);
        let mut normal = [[0.0f32; ALL + 1]; ALL];
        let mut squares = 0.0;
        for (i, (column, seen)) in columns.iter().zip(&self.zone.dark[self.range.clone()]).enumerate() {
            let u = theta.u(*column);
            let contrast = theta.contrast(u);
            let darkness = bars.darkness[i];
            let rest = seen - theta.paper(u) - contrast * darkness;
            let weight = self.zone.weight(self.range.start + i);
            squares += weight * rest * rest;
            let slope = contrast * bars.slope[i];
            let terms = [
                slope,
                slope * u,
                slope * (1.0 - u * u),
                contrast * bars.by_sigma[i],
                contrast * bars.by_gain[i],
                1.0,
                u,
                darkness,
                darkness * u,
            ];
            for (i, a) in terms.iter().map(|a| weight * a).enumerate() {
                let row = &mut normal[i];
                for (cell, &b) in row[i..ALL].iter_mut().zip(&terms[i..]) {
                    *cell += a * b;
                }
                row[ALL] += a * rest;
            }
        }
        (theta, normal, squares)
    }

    /// What is expected: parameter, deviation from it in standard deviations, and one over the standard deviation.
    fn expected(&self, theta: &Theta) -> [(usize, f32, f32); 8] {
        /// Standard deviations: width of modules, bend, blur, gain, and the levels.
        const MODULE: f32 = 0.04;
        const BEND_MODULES: f32 = 0.35;
        const BLUR: f32 = 0.12;
        const SWELL: f32 = 0.05;
        const LIGHT: [f32; 4] = [0.2, 0.1, 0.3, 0.15];
        let module = theta.module(self.modules);
        let level = |i: usize| {
            let mean = if i == 2 { 1.0 } else { 0.0 };
            (LEVELS + i, (theta.levels[i] - mean) / LIGHT[i], 1.0 / LIGHT[i])
        };
        [
            (STRETCH, (module - self.prior.module) / MODULE, -module / (self.modules / 2.0) / MODULE),
            (BEND, theta.bend / BEND_MODULES, 1.0 / BEND_MODULES),
            (SIGMA, (theta.sigma - self.prior.sigma) / BLUR, 1.0 / BLUR),
            (GAIN, (theta.gain - self.prior.gain) / SWELL, 1.0 / SWELL),
            level(0),
            level(1),
            level(2),
            level(3),
        ]
    }

    fn penalty(&self, theta: &Theta) -> f32 {
        WEIGHT * self.expected(theta).iter().map(|(_, off, _)| off * off).sum::<f32>()
    }

    /// One Levenberg–Marquardt step over all parameters together.
    fn step(&self, at: &Theta, normal: &Normal, damping: f32) -> Option<Theta> {
        let mut normal = *normal;
        for (i, off, slope) in self.expected(at) {
            normal[i][i] += WEIGHT * slope * slope;
            normal[i][ALL] -= WEIGHT * off * slope;
        }
        for (i, row) in normal.iter_mut().enumerate().take(LEVELS) {
            row[i] += damping * row[i] + 1e-4;
        }
        let step = solve(normal)?;
        let mut theta = *at;
        // Moving the modules up by one moves the bars down by one.
        let (shift, stretch) = (step[SHIFT].clamp(-1.5, 1.5), step[STRETCH].clamp(-1.5, 1.5));
        let half = self.modules / 2.0;
        let middle = (at.first + at.end) / 2.0 - shift * (at.end - at.first) / self.modules;
        let width = (at.end - at.first) * half / (half + stretch);
        (theta.first, theta.end) = (middle - width / 2.0, middle + width / 2.0);
        theta.bend = (theta.bend + step[BEND].clamp(-1.0, 1.0)).clamp(-2.5, 2.5);
        theta.sigma = (theta.sigma + step[SIGMA].clamp(-0.3, 0.3)).clamp(0.15, 2.0);
        theta.gain = (theta.gain + step[GAIN].clamp(-0.2, 0.2)).clamp(-0.4, 0.4);
        theta.levels.iter_mut().zip(&step[LEVELS..]).for_each(|(level, s)| *level += s);
        let module = theta.module(self.modules) / self.prior.module;
        (0.75..1.3).contains(&module).then_some(theta)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const FIVE: AddOn = AddOn::Five([5, 2, 4, 9, 5]);

    /// Where light may fade, a covered digit costs next to nothing; but its bars are not there.
    #[test]
    fn a_covered_digit_is_not_seen() {
        let prior = Prior { sigma: 0.4, gain: 0.0, module: 1.0 };
        let bars = Bars::new(&add_on_modules(FIVE), 0.0).moved(|m| 9.0 + m);
        let printed = bars.wave(280, 0.0, 0.4, 0.0);
        let start = Theta::straight(9.0 * PER_MODULE as f32, 56.0 * PER_MODULE as f32, &prior);
        let dimmest = |covered: usize, dark: f32| {
            let zone: Vec<f32> = printed.iter().enumerate().map(|(x, d)| if x < covered { *d } else { dark }).collect();
            fit(&zone, FIVE, start, &prior, 12).map(|fitted| fitted.dimmest(Profile::from(&zone)))
        };
        assert!(dimmest(280, 0.0).is_some_and(|seen| seen > 0.99));
        // From the fourth digit on: the digits begin 4, 13, 22, 31 and 40 modules behind the first bar.
        for dark in [0.4, 0.6, 0.8] {
            assert!(dimmest((9 + 31) * PER_MODULE, dark).is_none_or(|seen| seen < 0.5), "{dark}");
        }
    }

    #[test]
    fn place_blur_and_light_are_found_again() {
        let prior = Prior { sigma: 0.6, gain: 0.0, module: 1.0 };
        for (first, module, sigma, light) in [(9.3, 1.0, 0.55, [0.0, 1.0]), (8.8, 1.02, 0.7, [0.1, 0.7])] {
            let bars = Bars::new(&add_on_modules(FIVE), 0.0).moved(|m| first + m * module);
            let zone: Vec<f32> = bars.wave(280, 0.0, sigma, 0.0).iter().map(|d| light[0] + light[1] * d).collect();
            let start = Theta::straight(9.0 * PER_MODULE as f32, 56.0 * PER_MODULE as f32, &prior).with_levels(&zone);
            let fitted = fit(&zone, FIVE, start, &prior, 12).unwrap();
            assert!(fitted.residual < 1e-3, "{fitted:?}");
            assert!((fitted.theta.first / PER_MODULE as f32 - first).abs() < 0.05, "{fitted:?}");
            assert!((fitted.theta.module(47.0) - module).abs() < 0.005 && (fitted.theta.sigma - sigma).abs() < 0.05);
            let [paper, ink] = fitted.theta.paper_and_ink(fitted.theta.end);
            assert!((paper - light[0]).abs() < 0.05 && (ink - light[0] - light[1]).abs() < 0.05, "{fitted:?}");
        }
    }

    #[test]
    fn bars_beyond_the_zone_and_light_ink_do_not_fit() {
        let prior = Prior { sigma: 0.6, gain: 0.0, module: 1.0 };
        let start = Theta::straight(9.0 * PER_MODULE as f32, 56.0 * PER_MODULE as f32, &prior);
        let wave = Bars::new(&add_on_modules(FIVE), 9.0).wave(280, 0.0, 0.6, 0.0);
        assert!(fit(&wave, FIVE, start, &prior, 8).is_some());
        assert!(fit(&wave[..220], FIVE, start, &prior, 8).is_none(), "the last bars are not in the zone");
        let negative: Vec<f32> = wave.iter().map(|d| 1.0 - d).collect();
        assert!(fit(&negative, FIVE, start, &prior, 8).is_none());
    }
}
