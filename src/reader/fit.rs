//! The fit of a code's bars to the picture, and how much worse the nearest other digits would fit.
//!
//! Method: the waveform model of Gallo & Manduchi, 'Reading 1D barcodes with mobile phones using deformable templates'
//! (2011); positions, blur and ink gain by Levenberg–Marquardt, light and dark levels by linear least squares inside.

use super::model::{Bars, PER_MODULE};
use crate::code::NumberSet;

/// Modules of quiet zone that are compared, too, on each side of a symbol.
pub(super) const MARGIN: f32 = 4.0;

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

/// How light, blurred, shifted and swollen the bars are that fit a profile best.
#[derive(Debug, Clone)]
pub(super) struct Fit {
    /// Residual variance over the profile's variance: 0 is perfect, 1 explains nothing.
    pub(super) residual: f32,
    /// Blur, as a Gaussian's standard deviation in modules.
    pub(super) sigma: f32,
    /// How far ink spreads at each edge, in modules.
    pub(super) gain: f32,
    /// How the symbol is shifted, stretched and bent.
    pub(super) warp: Warp,
    levels: Levels,
    /// The profile minus the model, in units of darkness.
    remainder: Vec<f32>,
}

/// Where an edge lies that ought to lie at `m` modules: a shift, a stretch and two bends of the symbol.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Warp {
    modules: f32,
    terms: [f32; 4],
}

impl Warp {
    /// Shift of the two ends in modules.
    pub(super) fn ends(&self) -> [f32; 2] {
        let [shift, stretch, ..] = self.terms;
        [shift, shift + stretch]
    }

    /// The bends alone: what is left once the ends have been moved to where they are.
    pub(super) fn within_ends(self) -> Self {
        let [_, _, bend, skew] = self.terms;
        Self { terms: [0.0, 0.0, bend, skew], ..self }
    }

    /// Width that a module behind the symbol's end has, in modules of the symbol's mean width: where the last modules
    /// of a bent symbol are narrow, those of its add-on are, too.
    pub(super) fn module_at_end(&self) -> f32 {
        let [_, stretch, bend, skew] = self.terms;
        1.0 + (stretch - 4.0 * bend + 8.0 * skew) / self.modules
    }

    /// Width of the narrowest module, in modules of the symbol's mean width.
    pub(super) fn narrowest_module(&self) -> f32 {
        const STEPS: u8 = 16;
        let [_, stretch, bend, skew] = self.terms;
        (0..=STEPS)
            .map(|i| {
                let t = f32::from(i) / f32::from(STEPS);
                1.0 + (stretch + 4.0 * bend * (1.0 - 2.0 * t) + 8.0 * skew * (1.0 - 6.0 * t + 6.0 * t * t))
                    / self.modules
            })
            .fold(f32::INFINITY, f32::min)
    }

    pub(super) fn at(&self, m: f32) -> f32 {
        let t = m / self.modules;
        let s = t * (1.0 - t);
        let [shift, stretch, bend, skew] = self.terms;
        m + shift + stretch * t + bend * 4.0 * s + skew * 8.0 * s * (1.0 - 2.0 * t)
    }
}

/// Light and amplitude along the symbol.
#[derive(Debug, Clone, Copy, Default)]
struct Levels([f32; 5]);

impl Levels {
    /// The five factors of the coefficients at `t` (0 to 1 along the symbol) where the bars' darkness is `dark`.
    fn basis(t: f32, dark: f32) -> [f32; 5] {
        [1.0, t, t * t, -dark, -dark * t]
    }

    fn value(&self, t: f32, dark: f32) -> f32 {
        Self::basis(t, dark).iter().zip(self.0).map(|(b, c)| b * c).sum()
    }

    /// How dark a grey value is at `t`: 0 is paper, 1 is ink.
    pub(super) fn darkness(&self, t: f32, grey: f32) -> f32 {
        (self.value(t, 0.0) - grey) / self.amplitude(t)
    }

    /// Grey levels between paper and ink.
    fn amplitude(&self, t: f32) -> f32 {
        self.value(t, 0.0) - self.value(t, 1.0)
    }
}

/// Fits the bars of `modules` to `profile`, whose first sample lies [`MARGIN`] modules before them.
///
/// `near` is the warp of a neighbouring line, if one is known; without it, bends of up to three modules are tried.
/// `None` if nothing like bars is there.
pub(super) fn fit(profile: &[f32], modules: &[bool], near: Option<Warp>) -> Option<Fit> {
    /// Starts that are followed to their end.
    const FOLLOWED: usize = 2;
    let problem = Problem { profile, modules, width: modules.len() as f32 };
    let starts = match near {
        Some(warp) => vec![Theta { warp: warp.terms, ..Theta::START }],
        None => Theta::starts(),
    };
    let mut solved: Vec<Solved> = starts.into_iter().map(|theta| problem.solve(theta)).collect();
    solved.sort_by(|a, b| a.cost.total_cmp(&b.cost));
    solved
        .into_iter()
        .take(FOLLOWED)
        .map(|start| problem.descend(start))
        .min_by(|a, b| a.cost.total_cmp(&b.cost))
        .and_then(|best| problem.finish(best))
}

#[derive(Debug, Clone, Copy)]
struct Theta {
    warp: [f32; 4],
    sigma: f32,
    gain: f32,
}

impl Theta {
    /// What a phone's photo usually is; blurred pictures walk from there.
    const START: Self = Self { warp: [0.0; 4], sigma: 0.6, gain: 0.0 };

    /// Starts close enough together (three quarters of a module) that one of them leads to the best fit.
    fn starts() -> Vec<Self> {
        let grid = |steps: i32| (-steps..=steps).map(|i| 0.75 * i as f32);
        grid(4)
            .flat_map(|bend| grid(1).flat_map(move |shift| grid(1).map(move |end| [shift, end - shift, bend, 0.0])))
            .map(|warp| Self { warp, ..Self::START })
            .collect()
    }

    fn array(self) -> [f32; 6] {
        let [a, b, c, d] = self.warp;
        [a, b, c, d, self.sigma, self.gain]
    }

    fn from_array([a, b, c, d, sigma, gain]: [f32; 6]) -> Self {
        // Bounds keep the model a symbol: more blur than two modules or gain than half a one leaves no information.
        Self { warp: [a, b, c, d], sigma: sigma.clamp(0.1, 2.0), gain: gain.clamp(-0.45, 0.45) }
    }
}

struct Solved {
    theta: Theta,
    levels: Levels,
    /// Profile minus model, in grey levels.
    remainder: Vec<f32>,
    cost: f32,
}

struct Problem<'a> {
    profile: &'a [f32],
    modules: &'a [bool],
    width: f32,
}

impl Problem<'_> {
    fn warp(&self, theta: Theta) -> Warp {
        Warp { modules: self.width, terms: theta.warp }
    }

    fn t(&self, sample: usize) -> f32 {
        (sample as f32 / PER_MODULE as f32 - MARGIN) / self.width
    }

    fn wave(&self, theta: Theta) -> Vec<f32> {
        let warp = self.warp(theta);
        Bars::new(self.modules, 0.0).moved(|m| warp.at(m)).wave(self.profile.len(), -MARGIN, theta.sigma, theta.gain)
    }

    /// The best levels for `theta`, and what remains.
    fn solve(&self, theta: Theta) -> Solved {
        let wave = self.wave(theta);
        let mut normal = [[0.0f32; 6]; 5];
        for (i, (&y, &dark)) in self.profile.iter().zip(&wave).enumerate() {
            let basis = Levels::basis(self.t(i), dark);
            for (r, row) in normal.iter_mut().enumerate() {
                for (c, cell) in row.iter_mut().enumerate() {
                    *cell += basis[r] * basis.get(c).copied().unwrap_or(y);
                }
            }
        }
        for (i, row) in normal.iter_mut().enumerate() {
            row[i] += 1e-3;
        }
        let levels = Levels(solve_linear(normal).unwrap_or_default());
        let remainder: Vec<f32> =
            self.profile.iter().zip(&wave).enumerate().map(|(i, (&y, &b))| y - levels.value(self.t(i), b)).collect();
        let cost = remainder.iter().map(|r| r * r).sum();
        Solved { theta, levels, remainder, cost }
    }

    /// Levenberg–Marquardt from `start`.
    fn descend(&self, start: Solved) -> Solved {
        const ROUNDS: usize = 12;
        let mut best = start;
        let mut damping = 1e-2;
        for _ in 0..ROUNDS {
            let Some(theta) = self.step(&best, damping) else { break };
            let next = self.solve(theta);
            if next.cost < best.cost {
                let gained = (best.cost - next.cost) / best.cost;
                best = next;
                damping = (damping * 0.3f32).max(1e-4);
                if gained < 1e-3 {
                    break;
                }
            } else {
                damping *= 5.0;
                if damping > 1e3 {
                    break;
                }
            }
        }
        best
    }

    /// One Levenberg–Marquardt step with numeric derivatives.
    fn step(&self, at: &Solved, damping: f32) -> Option<Theta> {
        const DELTA: [f32; 6] = [0.05, 0.05, 0.05, 0.05, 0.03, 0.02];
        let theta = at.theta.array();
        let columns: Vec<Vec<f32>> = (0..6)
            .map(|p| {
                let mut moved = theta;
                moved[p] += DELTA[p];
                let solved = self.solve(Theta::from_array(moved));
                solved.remainder.iter().zip(&at.remainder).map(|(b, a)| (b - a) / DELTA[p]).collect()
            })
            .collect();
        let product = |a: &[f32], b: &[f32]| a.iter().zip(b).map(|(x, y)| x * y).sum::<f32>();
        let mut normal = [[0.0f32; 7]; 6];
        for r in 0..6 {
            for c in 0..6 {
                normal[r][c] = product(&columns[r], &columns[c]);
            }
            normal[r][r] = normal[r][r] * (1.0 + damping) + 1e-3;
            normal[r][6] = -product(&columns[r], &at.remainder);
        }
        let step = solve_linear(normal)?;
        let mut next = theta;
        for (n, s) in next.iter_mut().zip(step) {
            *n += s.clamp(-0.5, 0.5);
        }
        Some(Theta::from_array(next))
    }

    fn finish(&self, solved: Solved) -> Option<Fit> {
        let Solved { theta, levels, remainder, cost } = solved;
        let n = self.profile.len() as f32;
        let mean = self.profile.iter().sum::<f32>() / n;
        let variance: f32 = self.profile.iter().map(|y| (y - mean) * (y - mean)).sum();
        // Ink must be darker than paper, by more than noise, all along the symbol.
        let weakest = levels.amplitude(0.0).min(levels.amplitude(1.0));
        if variance <= 0.0 || weakest < 4.0 {
            return None;
        }
        let remainder = remainder.iter().enumerate().map(|(i, r)| -r / levels.amplitude(self.t(i)).max(1.0)).collect();
        Some(Fit {
            residual: cost / variance,
            sigma: theta.sigma,
            gain: theta.gain,
            warp: self.warp(theta),
            levels,
            remainder,
        })
    }
}

/// A digit in its place.
#[derive(Debug, Clone, Copy)]
pub(super) struct PlacedDigit {
    pub(super) digit: u8,
    pub(super) set: NumberSet,
    /// Its first module.
    pub(super) at: f32,
}

impl Fit {
    /// How much worse the profile fits if each digit in turn is replaced by its best rival from `sets`: the factor by
    /// which the sum of squares grows with the two cheapest replacements together, since one alone breaks a check digit
    /// or a parity. Below 1 the rival fits better.
    pub(super) fn rivals(&self, digits: &[PlacedDigit], sets: impl Fn(&PlacedDigit) -> Vec<NumberSet>) -> f32 {
        let squares: f32 = self.remainder.iter().map(|r| r * r).sum::<f32>().max(1e-6);
        let mut costs: Vec<f32> = digits
            .iter()
            .map(|placed| {
                let claimed = self.digit_wave(placed);
                sets(placed)
                    .into_iter()
                    .flat_map(|set| (0..10).map(move |digit| PlacedDigit { digit, set, at: placed.at }))
                    .filter(|rival| (rival.digit, rival.set) != (placed.digit, placed.set))
                    .map(|rival| self.replacement_cost(&claimed, &self.digit_wave(&rival)))
                    .fold(f32::INFINITY, f32::min)
            })
            .collect();
        costs.sort_by(f32::total_cmp);
        1.0 + costs.iter().take(2).sum::<f32>() / squares
    }

    /// Growth of the sum of squares when one wave replaces another in the model.
    fn replacement_cost(&self, claimed: &[f32], rival: &[f32]) -> f32 {
        self.remainder
            .iter()
            .zip(claimed.iter().zip(rival))
            .map(|(e, (c, r))| {
                let changed = e + c - r;
                changed * changed - e * e
            })
            .sum()
    }

    fn digit_wave(&self, placed: &PlacedDigit) -> Vec<f32> {
        Bars::new(&placed.set.modules(placed.digit), placed.at).moved(|m| self.warp.at(m)).wave(
            self.remainder.len(),
            -MARGIN,
            self.sigma,
            self.gain,
        )
    }

    /// The grey value of paper in the middle of the symbol.
    pub(super) fn paper(&self) -> f32 {
        self.levels.value(0.5, 0.0)
    }

    /// How dark `grey` is at `modules` along the symbol; beyond its end the levels of its end hold.
    pub(super) fn darkness(&self, modules: f32, grey: f32) -> f32 {
        self.levels.darkness((modules / self.warp.modules).clamp(0.0, 1.0), grey)
    }
}

/// Gauss elimination with pivoting; the last column is the right-hand side. `None` if singular.
fn solve_linear<const N: usize, const W: usize>(mut m: [[f32; W]; N]) -> Option<[f32; N]> {
    for i in 0..N {
        let pivot = (i..N).max_by(|&a, &b| m[a][i].abs().total_cmp(&m[b][i].abs()))?;
        m.swap(i, pivot);
        if m[i][i].abs() < 1e-12 {
            return None;
        }
        for r in i + 1..N {
            let factor = m[r][i] / m[i][i];
            let pivot_row = m[i];
            m[r].iter_mut().zip(pivot_row).skip(i).for_each(|(cell, p)| *cell -= factor * p);
        }
    }
    let mut x = [0.0; N];
    for i in (0..N).rev() {
        let known: f32 = (i + 1..N).map(|c| m[i][c] * x[c]).sum();
        x[i] = (m[i][N] - known) / m[i][i];
    }
    Some(x)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::code::{Gtin, check_digit, main_modules, main_sets};

    fn gtin(body: [u8; 12]) -> Gtin {
        let mut digits = body.to_vec();
        digits.push(check_digit(&body));
        Gtin::from_digits(&digits).unwrap()
    }

    /// A line across the symbol as a camera sees it, in grey levels.
    fn profile(gtin: Gtin, warp: [f32; 4], sigma: f32, gain: f32, noise: &[f32]) -> Vec<f32> {
        let warp = Warp { modules: 95.0, terms: warp };
        let samples = ((95.0 + 2.0 * MARGIN) * PER_MODULE as f32) as usize;
        let wave = Bars::new(&main_modules(gtin), 0.0).moved(|m| warp.at(m)).wave(samples, -MARGIN, sigma, gain);
        wave.iter()
            .zip(noise.iter().cycle())
            .enumerate()
            .map(|(i, (w, n))| 190.0 - 0.1 * i as f32 - 120.0 * w + n)
            .collect()
    }

    fn placed(gtin: Gtin) -> Vec<PlacedDigit> {
        let [first, rest @ ..] = gtin.digits();
        let sets = [&main_sets(first)[..], &[NumberSet::C; 6]].concat();
        let at = |i: usize| (3 + 7 * i + if i >= 6 { 5 } else { 0 }) as f32;
        rest.iter().zip(sets).enumerate().map(|(i, (&digit, set))| PlacedDigit { digit, set, at: at(i) }).collect()
    }

    fn sets(placed: &PlacedDigit) -> Vec<NumberSet> {
        if placed.set == NumberSet::C { vec![NumberSet::C] } else { vec![NumberSet::A, NumberSet::B] }
    }

    fn believed(profile: &[f32], gtin: Gtin) -> bool {
        fit(profile, &main_modules(gtin), None)
            .is_some_and(|fit| fit.residual < residual_limit(fit.sigma) && fit.rivals(&placed(gtin), sets) >= 1.3)
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

        /// The true code fits, bent and blurred as it may be; a code that differs in two digits, so that its check digit
        /// fits, too, does not.
        #[test]
        fn the_true_code_fits_and_a_near_one_does_not(
            body in prop::array::uniform12(0u8..10),
            place in 0usize..12,
            other in 1u8..10,
            ends in prop::array::uniform2(-0.5f32..0.5),
            bend in -4.0f32..4.0,
            sigma in 0.3f32..1.0,
            gain in -0.15f32..0.15,
            noise in prop::collection::vec(-4.0f32..4.0, 101),
        ) {
            let truth = gtin(body);
            let profile = profile(truth, [ends[0], ends[1], bend, 0.3], sigma, gain, &noise);
            prop_assert!(believed(&profile, truth));
            let mut near = body;
            near[place] = (near[place] + other) % 10;
            prop_assert!(!believed(&profile, gtin(near)));
        }
    }
}
