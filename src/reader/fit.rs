//! The fit of a code's bars to a profile: where each module lies, how blurred and swollen the bars are, how light paper and
//! ink are along the symbol.
//!
//! Method: the waveform model of Gallo & Manduchi, 'Reading 1D barcodes with mobile phones using deformable templates'
//! (2011), its parameters by Levenberg–Marquardt (Nocedal & Wright, 'Numerical Optimization', chapter 10).

use super::model::{Bars, PER_MODULE};
use super::sample::{mirror, solve};
use super::table::Table;
use super::trellis::{MARGIN, SAMPLES};
use super::warp::{CREASES, Warp};

/// Levels of paper and ink along the symbol: straight between so many knots each.
const KNOTS: usize = 5;
const LINEAR: usize = 2 * KNOTS;
const WARP: usize = 4;
const SIGMA: usize = WARP;
const GAIN: usize = WARP + 1;
const FREE: usize = WARP + 2;
const SMOOTH: usize = FREE + LINEAR;
const CREASED: usize = SMOOTH + CREASES;
/// What a crease by one module costs, as a share of the profile's sum of squares about its mean.
const STIFFNESS: f32 = 0.01;

/// Paper's grey value and how much darker ink is, at each knot.
#[derive(Debug, Clone, Copy)]
struct Levels([f32; LINEAR]);

impl Levels {
    /// The knot left of `t` (0 to 1 along the symbol; beyond, the last stretch goes on) and the share of the one right of it.
    fn knot(t: f32) -> (usize, f32) {
        let at = t.clamp(-0.05, 1.05) * (KNOTS - 1) as f32;
        let knot = (at.max(0.0) as usize).min(KNOTS - 2);
        (knot, at - knot as f32)
    }

    fn paper(&self, t: f32) -> f32 {
        let (k, part) = Self::knot(t);
        self.0[k] * (1.0 - part) + self.0[k + 1] * part
    }

    fn contrast(&self, t: f32) -> f32 {
        let (k, part) = Self::knot(t);
        self.0[KNOTS + k] * (1.0 - part) + self.0[KNOTS + k + 1] * part
    }
}

/// How light, blurred, shifted and swollen the bars are that fit a profile best.
#[derive(Debug, Clone)]
pub(super) struct Fit {
    /// Residual variance over the profile's variance: 0 is perfect, 1 explains nothing.
    pub(super) residual: f32,
    /// Sum of squares that remains, in grey levels.
    pub(super) squares: f32,
    /// Blur, as a Gaussian's standard deviation in modules.
    pub(super) sigma: f32,
    /// How far ink spreads at each edge, in modules.
    pub(super) gain: f32,
    /// Where its modules lie.
    pub(super) warp: Warp,
    levels: Levels,
}

/// A place to start from, or that has been reached.
#[derive(Debug, Clone, Copy)]
pub(super) struct Theta {
    pub(super) warp: Warp,
    pub(super) sigma: f32,
    pub(super) gain: f32,
}

/// Least blur, in modules: a pixel's own.
pub(super) const LEAST_SIGMA: f32 = 0.15;
/// Most blur, in modules, and most ink gain at an edge that leave information to read.
const MOST_SIGMA: f32 = 2.0;
const MOST_GAIN: f32 = 0.4;

/// Fits `bars` to `profile` from `start` on, in at most `rounds` steps. `None` if nothing like bars is there.
pub(super) fn fit(profile: &[f32], bars: &Bars, start: Theta, rounds: usize) -> Option<Fit> {
    /// Share of the sum of squares by which a step must improve on the last for another to be worth it.
    const GAINED: f32 = 2e-3;
    let range = {
        let (from, to) = (start.warp.column_at(-MARGIN), start.warp.column_at(start.warp.modules + MARGIN));
        // At least a module and a half of quiet zone on both sides must be in sight.
        let (least, most) = (start.warp.column_at(-1.5), start.warp.column_at(start.warp.modules + 1.5));
        if !(least >= 0.0 && most <= profile.len() as f32 - 1.0) {
            return None;
        }
        from.max(0.0).ceil() as usize..(to.min(profile.len() as f32 - 1.0) as usize + 1)
    };
    // Two samples a module and a half say all that there is.
    let step = ((start.warp.module_columns() / 2.6) as usize).max(1);
    let stiffness = if start.warp.is_creased() { STIFFNESS * about_mean(profile, range.clone(), step) } else { 0.0 };
    let problem = Problem { profile, bars, range, step, stiffness };
    let mut best = problem.solve(start)?;
    let mut damping = 1e-2f32;
    let mut round = 0;
    while round < rounds {
        round += 1;
        let theta = if start.warp.is_creased() {
            problem.step::<CREASED, { CREASED + 1 }>(&best, damping)
        } else {
            problem.step::<SMOOTH, { SMOOTH + 1 }>(&best, damping)
        };
        let Some(next) = theta.and_then(|theta| problem.solve(theta)) else { break };
        if next.cost < best.cost {
            let gained = 1.0 - next.cost / best.cost;
            best = next;
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
    problem.finish(&best)
}

struct Problem<'a> {
    profile: &'a [f32],
    bars: &'a Bars,
    range: std::ops::Range<usize>,
    /// Columns from one sample to the next.
    step: usize,
    /// What a crease by one module costs.
    stiffness: f32,
}

/// The sum of squares about the mean of every `step`th value.
fn about_mean(profile: &[f32], range: std::ops::Range<usize>, step: usize) -> f32 {
    let values = || profile[range.clone()].iter().copied().step_by(step);
    let mean = values().sum::<f32>() / values().count() as f32;
    values().map(|y| (y - mean) * (y - mean)).sum()
}

struct Solved {
    theta: Theta,
    table: Table,
    levels: Levels,
    /// Sum of squares, and what creases cost.
    cost: f32,
}

impl Problem<'_> {
    /// The best levels at `theta`, and what remains.
    fn solve(&self, theta: Theta) -> Option<Solved> {
        let table = Table::new(self.bars, theta.warp.modules, theta.sigma, theta.gain);
        let mut normal = [[0.0f32; LINEAR + 1]; LINEAR];
        for x in self.range.clone().step_by(self.step) {
            let m = theta.warp.modules_at(x as f32);
            let dark = table.darkness(m);
            let (k, part) = Levels::knot(m / theta.warp.modules);
            let y = self.profile[x];
            let (l, r) = (1.0 - part, part);
            let terms = [(k, l), (k + 1, r), (KNOTS + k, -dark * l), (KNOTS + k + 1, -dark * r)];
            for (i, &(row, a)) in terms.iter().enumerate() {
                for &(column, b) in &terms[i..] {
                    normal[row][column] += a * b;
                }
                normal[row][LINEAR] += a * y;
            }
        }
        mirror(&mut normal);
        self.smooth(&mut normal);
        let levels = solve(normal)?;
        let levels = Levels(levels);
        let mut squares = 0.0;
        for x in self.range.clone().step_by(self.step) {
            let m = theta.warp.modules_at(x as f32);
            let t = m / theta.warp.modules;
            let rest = self.profile[x] - levels.paper(t) + levels.contrast(t) * table.darkness(m);
            squares += rest * rest;
        }
        let bent: f32 = theta.warp.creases.iter().flatten().map(|c| c * c).sum();
        Some(Solved { theta, table, levels, cost: squares + self.stiffness * bent })
    }

    /// Light falls smoothly: weak springs against kinks of the levels between knots.
    fn smooth<const W: usize>(&self, normal: &mut [[f32; W]; LINEAR]) {
        let strength = 0.004 * (self.range.len() / self.step) as f32;
        for first in [0, KNOTS] {
            for k in first..first + KNOTS - 2 {
                for (i, a) in [1.0, -2.0, 1.0].into_iter().enumerate() {
                    for (j, b) in [1.0, -2.0, 1.0].into_iter().enumerate() {
                        normal[k + i][k + j] += strength * a * b;
                    }
                }
            }
        }
        for (i, row) in normal.iter_mut().enumerate() {
            row[i] += 1e-3;
        }
    }

    /// One Levenberg–Marquardt step over all parameters together.
    fn step<const N: usize, const W: usize>(&self, at: &Solved, damping: f32) -> Option<Theta> {
        let Theta { warp, .. } = at.theta;
        let mut normal = [[0.0f32; W]; N];
        for x in self.range.clone().step_by(self.step) {
            let column = x as f32;
            let u = warp.u(column);
            let m = warp.modules_at(column);
            let edge = at.table.at(m);
            let t = m / warp.modules;
            let (k, part) = Levels::knot(t);
            let contrast = at.levels.contrast(t);
            let rest = self.profile[x] - at.levels.paper(t) + contrast * edge.darkness;
            let slope = -contrast * edge.slope;
            let [b0, b1, b2, b3] = Warp::basis(u);
            let terms = [
                (0, slope * b0),
                (1, slope * b1),
                (2, slope * b2),
                (3, slope * b3),
                (SIGMA, -contrast * edge.by_sigma),
                (GAIN, -contrast * edge.by_gain),
                (FREE + k, 1.0 - part),
                (FREE + k + 1, part),
                (FREE + KNOTS + k, -edge.darkness * (1.0 - part)),
                (FREE + KNOTS + k + 1, -edge.darkness * part),
            ];
            for (i, &(row, a)) in terms.iter().enumerate() {
                for &(column, b) in &terms[i..] {
                    normal[row][column] += a * b;
                }
                normal[row][N] += a * rest;
            }
            if N == CREASED && u.abs() < 1.0 {
                let (stretch, part) = Warp::stretch(u);
                // Rows of the creases at its ends; the first and the last stretch have one each.
                let ends = [(SMOOTH + stretch).wrapping_sub(1), SMOOTH + stretch];
                let inner = |row: &(usize, f32)| (SMOOTH..CREASED).contains(&row.0);
                let creases = [(ends[0], slope * (1.0 - part)), (ends[1], slope * part)];
                for (i, &(column, a)) in creases.iter().enumerate().filter(|(_, crease)| inner(crease)) {
                    for &(row, b) in terms.iter().chain(creases[..=i].iter().filter(|crease| inner(crease))) {
                        normal[row][column] += a * b;
                    }
                    normal[column][N] += a * rest;
                }
            }
        }
        mirror(&mut normal);
        for (i, row) in normal.iter_mut().enumerate() {
            row[i] += if (FREE..SMOOTH).contains(&i) { 1e-3 } else { damping * row[i] + 1e-2 };
        }
        for (i, crease) in warp.creases.iter().flatten().enumerate() {
            normal[SMOOTH + i][SMOOTH + i] += self.stiffness;
            normal[SMOOTH + i][N] -= self.stiffness * crease;
        }
        let step = solve(normal)?;
        let mut theta = at.theta;
        for (term, s) in theta.warp.terms.iter_mut().zip(&step) {
            *term += s.clamp(-1.5, 1.5);
        }
        for (crease, s) in theta.warp.creases.iter_mut().flatten().zip(&step[SMOOTH..]) {
            *crease += s.clamp(-0.7, 0.7);
        }
        theta.sigma = (theta.sigma + step[SIGMA].clamp(-0.4, 0.4)).clamp(LEAST_SIGMA, MOST_SIGMA);
        theta.gain = (theta.gain + step[GAIN].clamp(-0.2, 0.2)).clamp(-MOST_GAIN, MOST_GAIN);
        // A symbol that folds over is none.
        let (narrowest, _) = theta.warp.narrowest_and_last();
        (narrowest > 0.2 && narrowest.is_finite()).then_some(theta)
    }

    fn finish(&self, solved: &Solved) -> Option<Fit> {
        let variance = about_mean(self.profile, self.range.clone(), self.step);
        // Ink must be darker than paper all along the symbol.
        let levels = solved.levels;
        let (mut weakest, mut strongest) = (f32::INFINITY, 0.0f32);
        for contrast in &levels.0[KNOTS..] {
            weakest = weakest.min(*contrast);
            strongest = strongest.max(*contrast);
        }
        if variance <= 0.0 || weakest < 0.08 * strongest || weakest < 1.0 {
            return None;
        }
        Some(Fit {
            residual: solved.cost / variance,
            squares: solved.cost,
            sigma: solved.theta.sigma,
            gain: solved.theta.gain,
            warp: solved.theta.warp,
            levels,
        })
    }
}

impl Fit {
    /// The same light and blur with the modules elsewhere.
    pub(super) fn moved(&self, warp: Warp) -> Self {
        Self { warp, ..self.clone() }
    }

    /// Where to start a fit of much the same bars from.
    pub(super) fn theta(&self) -> Theta {
        Theta { warp: self.warp, sigma: self.sigma, gain: self.gain }
    }

    /// How dark the profile is, laid out by modules: `samples` from `first` modules on, 0 paper, 1 ink.
    pub(super) fn darkness_of(&self, profile: &[f32], first: f32, samples: usize) -> Vec<f32> {
        let last = profile.len() - 1;
        self.warp
            .columns(first, 1.0 / PER_MODULE as f32, samples)
            .enumerate()
            .map(|(i, column)| {
                let m = first + i as f32 / PER_MODULE as f32;
                let column = column.clamp(0.0, last as f32);
                let at = (column as usize).min(last - 1);
                let part = column - at as f32;
                self.darkness(m, profile[at] * (1.0 - part) + profile[at + 1] * part)
            })
            .collect()
    }

    /// The same for all that a UPC-A or EAN-13 covers.
    pub(super) fn main_darkness_of(&self, profile: &[f32]) -> Vec<f32> {
        self.darkness_of(profile, -MARGIN, SAMPLES)
    }

    /// The grey value of paper in the middle of the symbol.
    pub(super) fn paper(&self) -> f32 {
        self.levels.paper(0.5)
    }

    /// How dark `grey` is at `m` modules along the symbol; beyond its end the levels of its end hold.
    pub(super) fn darkness(&self, m: f32, grey: f32) -> f32 {
        let t = (m / self.warp.modules).clamp(0.0, 1.0);
        (self.levels.paper(t) - grey) / self.levels.contrast(t)
    }
}
