//! The fit of a code's bars to a profile: where each module lies, how blurred and swollen the bars are, how light paper and
//! ink are along the symbol.
//!
//! Method: the waveform model of Gallo & Manduchi, 'Reading 1D barcodes with mobile phones using deformable templates'
//! (2011), its parameters by Levenberg–Marquardt (Nocedal & Wright, 'Numerical Optimization', chapter 10).

use std::ops::Range;

use smallvec::SmallVec;

use super::codebook::{MARGIN, SAMPLES};
use super::model::{Bars, PER_MODULE, dot};
use super::normal::{Terms, runs, solve};
use super::sample::between;
use super::slopes::Slopes;
use super::warp::{CREASES, Warp};
use super::wide::widest;

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
    let (solved, variance) = solved(profile, bars, start, rounds, STIFFNESS)?;
    solved.finish(variance)
}

/// The fit of `bars` where paper may be creased at hardly any cost, fitted likewise; creases don't count in its sum of squares.
pub(super) fn fit_on_limp_paper(profile: &[f32], bars: &Bars, start: Theta, rounds: usize) -> Option<Fit> {
    /// What a crease by one module costs there. A code on creased paper needs some by half a module.
    const LIMP: f32 = 0.1 * STIFFNESS;
    let start = Theta { warp: start.warp.creased(), ..start };
    let (solved, variance) = solved(profile, bars, start, rounds, LIMP)?;
    let squares = dot(&solved.rest, &solved.rest);
    Some(Fit { squares, residual: squares / variance, ..solved.finish(variance)? })
}

/// The best step of so many, with the profile's sum of squares about its mean; `stiffness` is what a crease by one module costs, as a
/// share of that.
fn solved(profile: &[f32], bars: &Bars, start: Theta, rounds: usize, stiffness: f32) -> Option<(Solved, f32)> {
    /// Samples a module that are looked at, if the profile has as many; and from so much blur on, in modules, which leaves nothing finer.
    const SAMPLES_A_MODULE: f32 = 2.6;
    const BLURRED: f32 = 1.0;
    const FEWER_SAMPLES: f32 = 1.8;
    /// Share of the sum of squares by which a step must improve on the last for another to be worth it.
    const GAINED: f32 = 2e-3;
    /// And that the last step gained at least for a shorter one to be tried where the next leads too far.
    const FAR: f32 = 0.1;
    /// Share of the profile's variance that no start leaves unexplained after one step if it leads anywhere.
    const HOPELESS: f32 = 0.5;
    let range = {
        let (from, to) = (start.warp.column_at(-MARGIN), start.warp.column_at(start.warp.modules + MARGIN));
        // At least a module and a half of quiet zone on both sides must be in sight.
        let (least, most) = (start.warp.column_at(-1.5), start.warp.column_at(start.warp.modules + 1.5));
        if !(least >= 0.0 && most <= profile.len() as f32 - 1.0) {
            return None;
        }
        from.max(0.0).ceil() as usize..(to.min(profile.len() as f32 - 1.0) as usize + 1)
    };
    let samples = if start.sigma < BLURRED { SAMPLES_A_MODULE } else { FEWER_SAMPLES };
    let step = (start.warp.module_columns() / samples).max(1.0);
    let columns = (0..).map(|i| range.start + (step * i as f32) as usize).take_while(|x| range.contains(x));
    let (columns, seen): (Vec<f32>, Vec<f32>) = columns.map(|x| (x as f32, profile[x])).unzip();
    let variance = about_mean(&seen);
    let stiffness = if start.warp.is_creased() { stiffness * variance } else { 0.0 };
    let problem = Problem { bars, columns, seen, stiffness };
    let mut terms = Terms::default();
    let mut best = problem.solve(start, &mut terms)?;
    let mut damping = 1e-2f32;
    let mut gained = 1.0;
    for round in 0..rounds {
        if round == 1 && best.cost > HOPELESS * variance {
            return None;
        }
        let theta = if start.warp.is_creased() {
            problem.step::<CREASED, { CREASED + 1 }>(&best, damping, &mut terms)
        } else {
            problem.step::<SMOOTH, { SMOOTH + 1 }>(&best, damping, &mut terms)
        };
        let Some(next) = theta.and_then(|theta| problem.solve(theta, &mut terms)) else { break };
        if next.cost < best.cost {
            gained = 1.0 - next.cost / best.cost;
            best = next;
            damping = (damping * 0.2).max(1e-4);
            if gained < GAINED {
                break;
            }
        } else {
            damping *= 8.0;
            if gained < FAR || damping > 1e2 {
                break;
            }
        }
    }
    Some((best, variance))
}

struct Problem<'a> {
    bars: &'a Bars,
    /// Columns that are looked at, evenly spread, and the grey values there.
    columns: Vec<f32>,
    seen: Vec<f32>,
    /// What a crease by one module costs.
    stiffness: f32,
}

/// The sum of squares about the mean.
fn about_mean(values: &[f32]) -> f32 {
    let mean = values.iter().sum::<f32>() / values.len() as f32;
    values.iter().map(|y| (y - mean) * (y - mean)).sum()
}

struct Solved {
    theta: Theta,
    bars: Slopes,
    levels: Levels,
    /// Where the columns lie between knots.
    knots: Vec<(Range<usize>, usize)>,
    /// How far each lies from its knot to the next one.
    parts: Vec<f32>,
    /// How much darker ink is than paper, and what the bars leave unexplained.
    contrast: Vec<f32>,
    rest: Vec<f32>,
    /// Sum of squares, and what creases cost.
    cost: f32,
}

impl Problem<'_> {
    /// The best levels at `theta`, and what remains.
    fn solve(&self, theta: Theta, terms: &mut Terms) -> Option<Solved> {
        let places = theta.warp.places(&self.columns);
        let bars = Slopes::new(self.bars, theta.sigma, theta.gain, &places);
        let modules = theta.warp.modules;
        let knots = runs(places.len(), |i| Levels::knot(places[i] / modules).0);
        let parts: Vec<f32> = places.iter().map(|m| Levels::knot(m / modules).1).collect();
        let mut normal = [[0.0f32; LINEAR + 1]; LINEAR];
        for (run, k) in &knots {
            let (parts, dark, seen) = (&parts[run.clone()], &bars.darkness[run.clone()], &self.seen[run.clone()]);
            terms.begin(5, run.len());
            terms.fill(0, parts.iter().map(|part| 1.0 - part));
            terms.fill(1, parts.iter().copied());
            terms.fill(2, parts.iter().zip(dark).map(|(part, dark)| dark * (part - 1.0)));
            terms.fill(3, parts.iter().zip(dark).map(|(part, dark)| -dark * part));
            terms.fill(4, seen.iter().copied());
            terms.add_to(&mut normal, &[*k, k + 1, KNOTS + k, KNOTS + k + 1]);
        }
        self.smooth(&mut normal);
        let levels = Levels(solve(normal)?);
        let (mut contrast, mut rest) = (Vec::with_capacity(places.len()), Vec::with_capacity(places.len()));
        for (run, k) in &knots {
            let [paper, ink] = [*k, KNOTS + k].map(|k| [levels.0[k], levels.0[k + 1] - levels.0[k]]);
            let parts = &parts[run.clone()];
            contrast.extend(parts.iter().map(|part| ink[0] + ink[1] * part));
            let light = parts.iter().map(|part| paper[0] + paper[1] * part);
            let dark = contrast[run.clone()].iter().zip(&bars.darkness[run.clone()]).map(|(c, d)| c * d);
            rest.extend(
                self.seen[run.clone()].iter().zip(light).zip(dark).map(|((seen, light), dark)| seen - light + dark),
            );
        }
        let squares = dot(&rest, &rest);
        let bent: f32 = theta.warp.creases.iter().flatten().map(|c| c * c).sum();
        Some(Solved { theta, bars, levels, knots, parts, contrast, rest, cost: squares + self.stiffness * bent })
    }

    /// Light falls smoothly: weak springs against kinks of the levels between knots.
    fn smooth<const W: usize>(&self, normal: &mut [[f32; W]; LINEAR]) {
        let strength = 0.004 * self.columns.len() as f32;
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
    fn step<const N: usize, const W: usize>(&self, at: &Solved, damping: f32, terms: &mut Terms) -> Option<Theta> {
        let Theta { warp, .. } = at.theta;
        let mut normal = [[0.0f32; W]; N];
        let u: Vec<f32> = self.columns.iter().map(|column| warp.u(*column)).collect();
        for &(ref run, k) in &at.knots {
            // Beyond the ends nothing is creased.
            let stretch = |i: usize| {
                let u = u[run.start + i];
                (N == CREASED && u.abs() < 1.0).then(|| Warp::stretch(u).0)
            };
            for (part, stretch) in runs(run.len(), stretch) {
                let run = run.start + part.start..run.start + part.end;
                let (u, parts, dark) = (&u[run.clone()], &at.parts[run.clone()], &at.bars.darkness[run.clone()]);
                let contrast = &at.contrast[run.clone()];
                let by = |derivative: &[f32], out: &mut [f32]| {
                    let values = contrast.iter().zip(&derivative[run.clone()]).map(|(c, d)| -c * d);
                    out.iter_mut().zip(values).for_each(|(out, value)| *out = value);
                };
                // The creases at the ends of the stretch; the first and the last stretch have one each.
                let creases = stretch.map_or([None; 2], |s| [s.checked_sub(1), (s < CREASES).then_some(s)]);
                let mut rows: SmallVec<[usize; 12]> = SmallVec::from_slice(&[0, 1, 2, 3, SIGMA, GAIN]);
                rows.extend([k, k + 1, KNOTS + k, KNOTS + k + 1].map(|row| FREE + row));
                rows.extend(creases.iter().flatten().map(|crease| SMOOTH + crease));
                terms.begin(rows.len() + 1, run.len());
                by(&at.bars.slope, terms.of(0));
                for i in 1..WARP {
                    terms.fill_from(0, i, u.iter().map(|u| Warp::basis(*u)[i]));
                }
                by(&at.bars.by_sigma, terms.of(SIGMA));
                by(&at.bars.by_gain, terms.of(GAIN));
                terms.fill(FREE, parts.iter().map(|part| 1.0 - part));
                terms.fill(FREE + 1, parts.iter().copied());
                terms.fill(FREE + 2, parts.iter().zip(dark).map(|(part, dark)| dark * (part - 1.0)));
                terms.fill(FREE + 3, parts.iter().zip(dark).map(|(part, dark)| -dark * part));
                let mut next = FREE + 4;
                for (end, _) in creases.iter().enumerate().filter(|(_, crease)| crease.is_some()) {
                    let share = |u: &f32| if end == 0 { 1.0 - Warp::stretch(*u).1 } else { Warp::stretch(*u).1 };
                    terms.fill_from(0, next, u.iter().map(share));
                    next += 1;
                }
                terms.fill(next, at.rest[run.clone()].iter().copied());
                terms.add_to(&mut normal, &rows);
            }
        }
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
}

impl Solved {
    fn finish(&self, variance: f32) -> Option<Fit> {
        // Ink must be darker than paper all along the symbol.
        let levels = self.levels;
        let (mut weakest, mut strongest) = (f32::INFINITY, 0.0f32);
        for contrast in &levels.0[KNOTS..] {
            weakest = weakest.min(*contrast);
            strongest = strongest.max(*contrast);
        }
        if variance <= 0.0 || weakest < 0.08 * strongest || weakest < 1.0 {
            return None;
        }
        Some(Fit {
            residual: self.cost / variance,
            squares: self.cost,
            sigma: self.theta.sigma,
            gain: self.theta.gain,
            warp: self.theta.warp,
            levels,
        })
    }
}

impl Fit {
    /// The same light and blur with the modules elsewhere.
    pub(super) fn moved(&self, warp: Warp) -> Self {
        Self { warp, ..self.clone() }
    }

    /// The same lit all over as the half that is far from its first bar, or from its `last` one: the bars of a wrong code, held where
    /// they are not, bend light about them. Ink reflects the same share of light everywhere.
    pub(super) fn lit_as_far_from(&self, last: bool) -> Self {
        const FAR: usize = KNOTS / 2 + 1;
        let (paper, contrast) = self.levels.0.split_at(KNOTS);
        let from = if last { 0 } else { KNOTS - FAR };
        let (far, ink) = (&paper[from..from + FAR], &contrast[from..from + FAR]);
        let mean = far.iter().sum::<f32>() / FAR as f32;
        let slope = (far[FAR - 1] - far[0]) / (FAR - 1) as f32;
        let middle = from as f32 + (FAR - 1) as f32 / 2.0;
        let share = ink.iter().sum::<f32>() / far.iter().sum::<f32>();
        let paper = |k: usize| (mean + slope * (k as f32 - middle)).max(1.0);
        let levels = std::array::from_fn(|i| if i < KNOTS { paper(i) } else { share * paper(i - KNOTS) });
        Self { levels: Levels(levels), ..self.clone() }
    }

    /// Where to start a fit of much the same bars from.
    pub(super) fn theta(&self) -> Theta {
        Theta { warp: self.warp, sigma: self.sigma, gain: self.gain }
    }

    /// How dark the profile is, laid out by modules: `samples` from `first` modules on, 0 paper, 1 ink.
    pub(super) fn darkness_of(&self, profile: &[f32], first: f32, samples: usize) -> Vec<f32> {
        let mut greys = between(profile, self.warp.columns(first, samples));
        let knots_a_sample = (KNOTS - 1) as f32 / self.warp.modules / PER_MODULE as f32;
        let zero = first * PER_MODULE as f32 * knots_a_sample;
        let index = |knot: usize| ((knot as f32 - zero) / knots_a_sample).ceil().max(0.0) as usize;
        widest(
            #[inline(always)]
            || {
                let mut from = 0;
                for k in 0..KNOTS - 1 {
                    let end = if k + 2 == KNOTS { samples } else { index(k + 1).min(samples) };
                    let [paper, ink] =
                        [k, KNOTS + k].map(|k| [self.levels.0[k], self.levels.0[k + 1] - self.levels.0[k]]);
                    for (i, grey) in (from..).zip(&mut greys[from..end]) {
                        let at = zero + i as f32 * knots_a_sample - k as f32;
                        let part = at.clamp(0.0, 1.0);
                        *grey = (paper[0] + paper[1] * part - *grey) / (ink[0] + ink[1] * part);
                    }
                    from = end;
                }
            },
        );
        greys
    }

    /// The same for all that a UPC-A or EAN-13 covers.
    pub(super) fn main_darkness_of(&self, profile: &[f32]) -> Vec<f32> {
        self.darkness_of(profile, -MARGIN, SAMPLES)
    }

    /// The grey value of paper where it is darkest.
    pub(super) fn darkest_paper(&self) -> f32 {
        self.levels.0[..KNOTS].iter().copied().fold(f32::INFINITY, f32::min)
    }

    /// The grey value of paper at the symbol's end, and how much darker ink is there.
    pub(super) fn end_levels(&self) -> [f32; 2] {
        [self.levels.paper(1.0), self.levels.contrast(1.0)]
    }
}
