//! Stage two: the valid code whose bars are the likeliest to have given a profile, wherever it lies in it.
//!
//! Places are tried from two sides: rows of 60 edges, which follow any bend of a sharp symbol, and pairs of columns with
//! quiet outside and bars inside, which need no edge. A profile freed of its changing light is scored there with blurred
//! waves of all digits; the best places are then refined on the profile itself, code and geometry in turn.

use std::sync::OnceLock;

use super::align::Aligner;
use super::edges::{Edge, whole_rows};
use super::fit::{Fit, Theta, Warp, fit};
use super::model::{Bars, PER_MODULE};
use super::trellis::{Candidate, Codebook, MARGIN, MODULES, SAMPLES};
use crate::code::{Gtin, check_digit, main_modules};

/// A code, where its bars lie, and the code that comes next.
#[derive(Debug, Clone)]
pub(super) struct Reading {
    pub(super) gtin: Gtin,
    pub(super) fit: Fit,
    /// The runner-up at the same place, and its sum of squares there over that of the code.
    pub(super) second: Gtin,
    pub(super) gap: f32,
}

/// Width of the narrowest module that can be read, in picture px.
pub(super) const SMALLEST_PX: f32 = 0.85;

/// A place where a symbol may lie, and the codes that it may be.
pub(super) struct Guess {
    /// How badly the place looks like a symbol, whatever its digits.
    pub(super) cost: f32,
    theta: Theta,
    gtins: Vec<Gtin>,
}

/// Places in `profile` that may be symbols, the likeliest first; `inner` is how many columns the region covers.
pub(super) fn guesses(profile: &[f32], edges: &[Edge], inner: usize, column_px: f32) -> Vec<Guess> {
    /// Places that are kept, and the cost from which on one is no symbol.
    const KEPT: usize = 10;
    const HOPELESS: f32 = 0.6;
    let flat = Flat::of(profile, inner / 4);
    let mut places: Vec<Scored> = whole_rows(edges, profile.len()).iter().filter_map(|w| flat.score(*w)).collect();
    places.extend(quiet_pairs(profile, inner, SMALLEST_PX / column_px).into_iter().filter_map(|warp| flat.score(warp)));
    places.sort_by(|a, b| a.cost.total_cmp(&b.cost));
    let mut kept: Vec<Scored> = Vec::new();
    for place in places.into_iter().filter(|p| p.cost < HOPELESS) {
        if kept.len() < KEPT && !kept.iter().any(|t| t.is_near(&place)) {
            kept.push(flat.aligned(place));
        }
    }
    kept.sort_by(|a, b| a.cost.total_cmp(&b.cost));
    kept.iter().map(|place| Guess { cost: place.cost, theta: place.theta(), gtins: flat.decode(place) }).collect()
}

impl Guess {
    /// The likeliest code that comes of it.
    pub(super) fn reading(&self, profile: &[f32]) -> Option<Reading> {
        let refined = self.gtins.iter().filter_map(|&gtin| refined(profile, gtin, self.theta));
        refined.min_by(|a, b| a.fit.residual.total_cmp(&b.fit.residual))
    }
}

/// `reading`, or what fits better with its modules moved about: a wrong code holds them where it fits.
pub(super) fn shaken(profile: &[f32], reading: Reading) -> Reading {
    /// Rounds, and places followed in each.
    const ROUNDS: usize = 3;
    const FOLLOWED: usize = 4;
    /// How far shift, stretch, bend and skew are moved, in modules.
    const BY: [f32; 4] = [0.6, 0.8, 1.5, 1.2];
    let mut best = reading;
    for _ in 0..ROUNDS {
        let book = Codebook::new(best.fit.sigma, best.fit.gain);
        let mut moved: Vec<(f32, Fit)> = (0..81)
            .filter(|i| *i != 40)
            .map(|i| {
                let by: [f32; 4] = std::array::from_fn(|k| BY[k] * ((i / 3usize.pow(k as u32) % 3) as f32 - 1.0));
                let fit = best.fit.moved(best.fit.warp.plus(by));
                (book.bound(&book.costs(&fit.main_darkness_of(profile))), fit)
            })
            .collect();
        moved.sort_by(|a, b| a.0.total_cmp(&b.0));
        let better = moved
            .iter()
            .take(FOLLOWED)
            .filter_map(|(_, fit)| {
                let first = book.best(&book.costs(&fit.main_darkness_of(profile)))?;
                if first.gtin == best.gtin { None } else { refined(profile, first.gtin, fit.theta()) }
            })
            .min_by(|a, b| a.fit.residual.total_cmp(&b.fit.residual));
        match better {
            Some(better) if better.fit.residual < best.fit.residual => best = better,
            _ => break,
        }
    }
    best
}

/// The bars of `gtin` fitted from `start` on, and the code decoded anew where they lie, until it stays the same.
pub(super) fn refined(profile: &[f32], gtin: Gtin, start: Theta) -> Option<Reading> {
    const ROUNDS: usize = 6;
    /// Residual from which on no code lies there.
    const HOPELESS: f32 = 0.45;
    let mut gtin = gtin;
    let mut start = start;
    for _ in 0..ROUNDS {
        let fit = fit(profile, &bars(gtin), start, 6)?;
        if fit.residual > HOPELESS {
            return None;
        }
        let book = Codebook::new(fit.sigma, fit.gain);
        let seen = fit.main_darkness_of(profile);
        let costs = book.costs(&seen);
        let best = book.best(&costs)?;
        if best.gtin == gtin {
            let [first, second] = book.best_two(&costs)?;
            let gap = second.squares / first.squares.max(1e-3);
            return Some(Reading { gtin, fit, second: second.gtin, gap });
        }
        // A wrong code pulls the modules to where it fits: they are put back to where digits are seen, whatever they are.
        let moved = Aligner::new(fit.sigma).warp(&seen, &fit.warp).and_then(|warp| {
            let there = fit.moved(warp);
            let other = book.best(&book.costs(&there.main_darkness_of(profile)))?;
            (other.squares < best.squares).then_some((other.gtin, warp))
        });
        start = fit.theta();
        match moved {
            Some((other, warp)) => (gtin, start.warp) = (other, warp),
            None => gtin = best.gtin,
        }
    }
    None
}

/// The likeliest code where `fit` says that modules lie.
pub(super) fn decode(profile: &[f32], fit: &Fit) -> Option<Candidate> {
    let book = Codebook::new(fit.sigma, fit.gain);
    book.best(&book.costs(&fit.main_darkness_of(profile)))
}

pub(super) fn bars(gtin: Gtin) -> Bars {
    Bars::new(&main_modules(gtin), 0.0)
}

#[derive(Clone, Copy)]
struct Scored {
    warp: Warp,
    /// Least sum of squares of any row of digits, over the sum of squares about the mean.
    cost: f32,
    blur: &'static Blur,
}

impl Scored {
    fn theta(&self) -> Theta {
        let sigma = self.blur.sigma;
        Theta { warp: self.warp, sigma: (sigma * sigma - SMOOTHING * SMOOTHING).sqrt(), gain: 0.0 }
    }

    fn is_near(&self, other: &Self) -> bool {
        let near = |m: f32| (self.warp.column_at(m) - other.warp.column_at(m)).abs() < 1.0 * self.warp.module_columns();
        near(0.0) && near(MODULES as f32)
    }
}

/// A profile with the changes of light taken out: about 0 in the darkest and 1... see [`Flat::of`].
struct Flat {
    darkness: Vec<f32>,
}

/// Blurs of the waves that places are scored with, in modules. The profile is blurred a little beforehand, so that a
/// place that is half a module off still scores well.
const SIGMAS: [f32; 3] = [0.75, 1.1, 1.55];
const SMOOTHING: f32 = 0.6;

/// Waves and templates for one blur, and the mean and deviation that a symbol's darkness has with it.
struct Blur {
    sigma: f32,
    book: Codebook,
    aligner: Aligner,
    mean: f32,
    deviation: f32,
}

impl Blur {
    fn all() -> &'static [Self; 3] {
        static ALL: OnceLock<[Blur; 3]> = OnceLock::new();
        ALL.get_or_init(|| {
            SIGMAS.map(|sigma| {
                // Codes at random, so to speak: a hundred that share no digits.
                let codes = (0..100u64).filter_map(|i| {
                    let body = (i * 15_485_863 * 32_452_843) % 1_000_000_000_000;
                    let mut digits: Vec<u8> = (0..12).rev().map(|p| (body / 10u64.pow(p) % 10) as u8).collect();
                    digits.push(check_digit(&digits));
                    Gtin::from_digits(&digits).ok()
                });
                let waves: Vec<f32> = codes.flat_map(|c| bars(c).wave(SAMPLES, -MARGIN, sigma, 0.0)).collect();
                let (mean, deviation) = moments(&waves);
                Blur { sigma, book: Codebook::new(sigma, 0.0), aligner: Aligner::new(sigma), mean, deviation }
            })
        })
    }

    /// The profile with the mean and deviation that this blur would give it.
    fn matched(&self, seen: &[f32]) -> Vec<f32> {
        let (mean, deviation) = moments(seen);
        let scale = self.deviation / deviation.max(1e-3);
        seen.iter().map(|s| self.mean + (s - mean) * scale).collect()
    }
}

fn moments(values: &[f32]) -> (f32, f32) {
    let n = values.len() as f32;
    let mean = values.iter().sum::<f32>() / n;
    let variance = values.iter().map(|v| (v - mean) * (v - mean)).sum::<f32>() / n;
    (mean, variance.sqrt())
}

impl Flat {
    /// The profile as darkness between the lightest and the darkest within `reach` columns around each.
    fn of(profile: &[f32], reach: usize) -> Self {
        let block = (reach / 3).max(2);
        let ends = |values: &[f32]| values.iter().fold([f32::MAX, f32::MIN], |[l, h], &v| [l.min(v), h.max(v)]);
        let blocks: Vec<[f32; 2]> = profile.chunks(block).map(ends).collect();
        let wide: Vec<[f32; 2]> = (0..blocks.len())
            .map(|b| {
                let near = &blocks[b.saturating_sub(3)..(b + 4).min(blocks.len())];
                near.iter().fold([f32::MAX, f32::MIN], |[l, h], n| [l.min(n[0]), h.max(n[1])])
            })
            .collect();
        let [low, high] = ends(profile);
        let least = 0.1 * (high - low).max(1.0);
        let darkness = profile
            .iter()
            .enumerate()
            .map(|(x, value)| {
                let at = ((x as f32 + 0.5) / block as f32 - 0.5).clamp(0.0, (wide.len() - 1) as f32);
                let (b, part) = (at as usize, at.fract());
                let next = (b + 1).min(wide.len() - 1);
                let [l, h] = [0, 1].map(|i| wide[b][i] * (1.0 - part) + wide[next][i] * part);
                (h - value) / (h - l).max(least)
            })
            .collect();
        Self { darkness }
    }

    fn laid_out(&self, warp: Warp) -> Option<Vec<f32>> {
        let last = self.darkness.len() - 1;
        let (least, most) = (warp.column_at(-1.5), warp.column_at(MODULES as f32 + 1.5));
        if !(least >= 0.0 && most <= last as f32) {
            return None;
        }
        let seen: Vec<f32> = warp
            .columns(-MARGIN, 1.0 / PER_MODULE as f32, SAMPLES)
            .map(|column| {
                let column = column.clamp(0.0, last as f32);
                let at = (column as usize).min(last - 1);
                let part = column - at as f32;
                self.darkness[at] * (1.0 - part) + self.darkness[at + 1] * part
            })
            .collect();
        Some(smooth(&seen))
    }

    fn score(&self, warp: Warp) -> Option<Scored> {
        let seen = self.laid_out(warp)?;
        let cost = |blur: &'static Blur| {
            let cost = blur.book.bound(&blur.book.costs(&blur.matched(&seen)));
            Scored { warp, cost: cost / (SAMPLES as f32 * blur.deviation * blur.deviation), blur }
        };
        Blur::all().iter().map(cost).min_by(|a, b| a.cost.total_cmp(&b.cost))
    }

    /// `place` with its modules moved to where digits and guards are seen best, whatever digits they are.
    fn aligned(&self, place: Scored) -> Scored {
        const ROUNDS: usize = 4;
        let mut best = place;
        for _ in 0..ROUNDS {
            let next = self.laid_out(best.warp).and_then(|seen| {
                let warp = best.blur.aligner.warp(&best.blur.matched(&seen), &best.warp)?;
                self.score(warp)
            });
            match next {
                Some(next) if next.cost < best.cost => best = next,
                _ => break,
            }
        }
        best
    }

    /// The likeliest codes at `place`.
    fn decode(&self, place: &Scored) -> Vec<Gtin> {
        let Some(seen) = self.laid_out(place.warp) else { return Vec::new() };
        let book = &place.blur.book;
        let best = book.best_two(&book.costs(&place.blur.matched(&seen)));
        best.into_iter().flatten().map(|candidate| candidate.gtin).collect()
    }
}

/// The profile blurred by [`SMOOTHING`] modules.
fn smooth(seen: &[f32]) -> Vec<f32> {
    const REACH: usize = 6;
    static KERNEL: OnceLock<[f32; 2 * REACH + 1]> = OnceLock::new();
    let kernel = KERNEL.get_or_init(|| {
        let raw: [f32; 2 * REACH + 1] = std::array::from_fn(|i| {
            let z = (i as f32 - REACH as f32) / (SMOOTHING * PER_MODULE as f32);
            (-0.5 * z * z).exp()
        });
        let sum: f32 = raw.iter().sum();
        raw.map(|k| k / sum)
    });
    let mut padded = vec![seen[0]; REACH];
    padded.extend_from_slice(seen);
    padded.resize(seen.len() + 2 * REACH, seen[seen.len() - 1]);
    let mut out = vec![0.0; seen.len()];
    for (k, weight) in kernel.iter().enumerate() {
        out.iter_mut().zip(&padded[k..]).for_each(|(o, p)| *o += weight * p);
    }
    out
}

/// Pairs of columns between which a symbol may lie: quiet on the outer sides, busy within.
fn quiet_pairs(profile: &[f32], inner: usize, least_module: f32) -> Vec<Warp> {
    /// Modules of quiet zone looked at, the nearest blurred one left out, and how much less than within may go on there.
    const QUIET: f32 = 2.6;
    const LEFT_OUT: f32 = 1.2;
    const CALM: f32 = 0.45;
    /// Pairs kept, the calmest.
    const KEPT: usize = 40;
    /// The region is a symbol, or one with its add-on and more; it may reach into the quiet zones.
    const MODULES_SHOWN: [f32; 2] = [85.0, 180.0];
    const WIDER: f32 = 1.025;
    let columns = profile.len();
    let mut busy = Vec::with_capacity(columns);
    let mut sum = 0.0f32;
    let mut last = profile[0];
    for &value in profile {
        sum += (value - last).abs();
        last = value;
        busy.push(sum);
    }
    let mean = |from: f32, to: f32| {
        let index = |x: f32| (x.max(0.0) as usize).min(columns - 1);
        (busy[index(to)] - busy[index(from)]) / (to - from).max(1.0)
    };
    let mut pairs: Vec<(f32, f32, f32)> = Vec::new();
    let mut module = (inner as f32 / MODULES_SHOWN[1]).max(least_module);
    while module < inner as f32 / MODULES_SHOWN[0] {
        let width = MODULES as f32 * module;
        let mut first = 1.5 * module;
        while first + width + 1.5 * module < columns as f32 {
            let end = first + width;
            let within = mean(first, end).max(0.05);
            let before = mean(first - (QUIET + LEFT_OUT) * module, first - LEFT_OUT * module);
            let behind = mean(end + LEFT_OUT * module, end + (QUIET + LEFT_OUT) * module);
            // The guards are as busy as anything.
            let guards =
                mean(first - 0.5 * module, first + 3.0 * module).min(mean(end - 3.0 * module, end + 0.5 * module));
            let calm = before.max(behind) / within;
            if calm < CALM && guards > 0.5 * within {
                pairs.push((calm - 0.3 * (guards / within).min(1.5), first, end));
            }
            first += 0.5 * module;
        }
        module *= WIDER;
    }
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut kept: Vec<(f32, f32)> = Vec::new();
    for (_, first, end) in pairs {
        let apart = 0.9 * (end - first) / MODULES as f32;
        if kept.len() < KEPT && !kept.iter().any(|k| (k.0 - first).abs() < apart && (k.1 - end).abs() < apart) {
            kept.push((first, end));
        }
    }
    kept.into_iter().map(|(first, end)| Warp::straight(first, end, MODULES as f32)).collect()
}
