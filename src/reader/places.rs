//! Where in a profile a symbol may lie, whatever its digits: what stage two starts from.
//!
//! Places are tried from two sides: rows of 60 edges, which follow any bend of a sharp symbol, and pairs of columns with
//! quiet outside and bars inside, which need no edge. What a place shows is scored there with blurred waves of all digits; what
//! lies beside it does not count, however dark it is.

use std::sync::OnceLock;

use super::align::Aligner;
use super::codebook::{Codebook, MARGIN, MODULES, SAMPLES};
use super::edges::{Edge, whole_rows};
use super::fit::Theta;
use super::likelihood::{SMALLEST_PX, bars};
use super::model::{PER_MODULE, dot, moments};
use super::sample::between;
use super::warp::Warp;
use super::wide::widest;
use crate::code::{Gtin, check_digit};

/// A code and where its bars may lie.
#[derive(Debug, Clone, Copy)]
pub(super) struct Start {
    pub(super) gtin: Gtin,
    pub(super) theta: Theta,
}

/// Places of a profile as one glance shows them, the likeliest first.
pub(super) struct Glanced {
    dark: Dark,
    places: Vec<Scored>,
}

impl Glanced {
    /// Places in `profile`, whose edges are `edges`, that may be symbols; `inner` is how many columns the region covers.
    pub(super) fn of(profile: &[f32], edges: &[Edge], inner: usize, column_px: f32) -> Self {
        let dark = Dark(profile.iter().map(|grey| 255.0 - grey).collect());
        let mut warps = whole_rows(edges, profile.len());
        warps.extend(quiet_pairs(profile, inner, SMALLEST_PX / column_px));
        let mut places: Vec<Scored> = warps.into_iter().filter_map(|warp| dark.glanced(warp)).collect();
        places.sort_by(|a, b| a.cost.total_cmp(&b.cost));
        Self { dark, places }
    }

    /// How badly the likeliest place looks like a symbol, whatever its digits.
    pub(super) fn least_cost(&self) -> f32 {
        self.places.first().map_or(f32::INFINITY, |place| place.cost)
    }
}

/// The places of a profile, the likeliest first.
pub(super) struct Places {
    dark: Dark,
    kept: Vec<Scored>,
}

impl Places {
    /// Those of the places glanced at that are likeliest, put where digits are seen best.
    pub(super) fn of(Glanced { dark, places }: Glanced) -> Self {
        /// Places that are scored with each blur, those that look likeliest with a middling one.
        const SCORED: usize = 24;
        /// Places that are kept, and the cost from which on one is no symbol.
        const KEPT: usize = 10;
        const HOPELESS: f32 = 0.6;
        let mut places: Vec<Scored> = places.into_iter().take(SCORED).map(|place| dark.with_best_blur(place)).collect();
        places.sort_by(|a, b| a.cost.total_cmp(&b.cost));
        let mut kept: Vec<Scored> = Vec::new();
        for place in places.into_iter().filter(|p| p.cost < HOPELESS) {
            if kept.len() < KEPT && !kept.iter().any(|t| t.is_near(&place)) {
                kept.push(dark.aligned(place));
            }
        }
        kept.sort_by(|a, b| a.cost.total_cmp(&b.cost));
        Self { dark, kept }
    }

    /// How badly each place looks like a symbol, whatever its digits.
    pub(super) fn costs(&self) -> impl Iterator<Item = f32> {
        self.kept.iter().map(|place| place.cost)
    }

    /// What seeking from a place costs, over that from a sharp one.
    pub(super) fn work(&self, place: usize) -> f32 {
        self.kept[place].blur.work
    }

    /// The likeliest codes at a place.
    pub(super) fn likeliest(&self, place: usize) -> Vec<Start> {
        let place = &self.kept[place];
        let Some(seen) = self.dark.laid_out(place.warp) else { return Vec::new() };
        let book = &place.blur.book;
        let best = book.best_two(&book.costs(&place.blur.matched(&smooth(&seen))));
        best.into_iter().flatten().map(|candidate| Start { gtin: candidate.gtin, theta: place.theta() }).collect()
    }
}

#[derive(Clone, Copy)]
struct Scored {
    warp: Warp,
    /// Least sum of squares of any row of digits, over the sum of squares about the mean.
    cost: f32,
    /// The columns of its first bar's outer edge and of its last one's.
    ends: [f32; 2],
    blur: &'static Blur,
}

impl Scored {
    fn theta(&self) -> Theta {
        let sigma = self.blur.sigma;
        Theta { warp: self.warp, sigma: (sigma * sigma - SMOOTHING * SMOOTHING).sqrt(), gain: 0.0 }
    }

    fn is_near(&self, other: &Self) -> bool {
        let module = (self.ends[1] - self.ends[0]) / MODULES as f32;
        self.ends.iter().zip(other.ends).all(|(here, there)| (here - there).abs() < module)
    }
}

/// A profile in which what is dark is more.
struct Dark(Vec<f32>);

/// Blurs of the waves that places are scored with, in modules; and what seeking from such places was measured to cost, over that from
/// sharp ones: blurred edges reach over more of the profile. The profile is blurred a little beforehand, so that a
/// place that is half a module off still scores well.
const BLURS: [(f32, f32); 3] = [(0.75, 1.0), (1.1, 1.1), (1.55, 1.5)];
const SMOOTHING: f32 = 0.6;

/// Waves and templates for one blur, and the mean and deviation that a symbol's darkness has with it.
struct Blur {
    sigma: f32,
    work: f32,
    book: Codebook,
    aligner: Aligner,
    mean: f32,
    deviation: f32,
    /// The share of a code's variance that a straight line explains.
    slant: f32,
}

impl Blur {
    fn all() -> &'static [Self; 3] {
        static ALL: OnceLock<[Blur; 3]> = OnceLock::new();
        ALL.get_or_init(|| BLURS.map(|(sigma, work)| Self::of(sigma, work)))
    }

    fn of(sigma: f32, work: f32) -> Self {
        // Codes at random, so to speak: a hundred that share no digits.
        let codes = (0..100u64).filter_map(|i| {
            let body = (i * 15_485_863 * 32_452_843) % 1_000_000_000_000;
            let mut digits: Vec<u8> = (0..12).rev().map(|p| (body / 10u64.pow(p) % 10) as u8).collect();
            digits.push(check_digit(&digits));
            Gtin::from_digits(&digits).ok()
        });
        let waves: Vec<Vec<f32>> = codes.map(|c| bars(c).wave(SAMPLES, -MARGIN, sigma, 0.0)).collect();
        let slant = waves.iter().map(|wave| Line::through(wave).share).sum::<f32>() / waves.len() as f32;
        let (mean, deviation) = moments(&waves.concat());
        Blur { sigma, work, book: Codebook::new(sigma, 0.0), aligner: Aligner::new(sigma), mean, deviation, slant }
    }

    fn scored(&'static self, warp: Warp, seen: &[f32]) -> Scored {
        let squares = self.book.bound(&self.book.costs(&self.matched(seen)));
        let ends = [0.0, MODULES as f32].map(|m| warp.column_at(m));
        Scored { warp, cost: self.share(squares), ends, blur: self }
    }

    /// A sum of squares as a share of the sum of squares about the mean.
    fn share(&self, squares: f32) -> f32 {
        squares / (SAMPLES as f32 * self.deviation * self.deviation)
    }

    /// The profile with the mean and deviation that this blur would give it, light that falls off along it made even: what a
    /// straight line explains of it, if that is more than it explains of codes.
    fn matched(&self, seen: &[f32]) -> Vec<f32> {
        let Line { mean, along, slope, share } = Line::through(seen);
        let [explained, of_codes] = [share, self.slant].map(|share| share * share);
        let light = slope * explained / (explained + of_codes).max(1e-9);
        let even: Vec<f32> = seen.iter().zip(&along).map(|(s, a)| s - mean - light * a).collect();
        let scale = self.deviation / moments(&even).1.max(1e-3);
        even.iter().map(|s| self.mean + s * scale).collect()
    }
}

/// A straight line through values.
struct Line {
    /// Of the values.
    mean: f32,
    /// Places of the values about their middle.
    along: Vec<f32>,
    slope: f32,
    /// The share of their variance that it explains.
    share: f32,
}

impl Line {
    fn through(values: &[f32]) -> Self {
        let middle = (values.len() as f32 - 1.0) / 2.0;
        let along: Vec<f32> = (0..values.len()).map(|i| i as f32 - middle).collect();
        let squares = dot(&along, &along).max(1.0);
        let slope = dot(&along, values) / squares;
        let (mean, deviation) = moments(values);
        let share = slope * slope * squares / (deviation * deviation * values.len() as f32).max(1e-6);
        Self { mean, along, slope, share }
    }
}

impl Dark {
    /// The darkness where `warp` says that modules lie, [`SAMPLES`] samples; none if they leave the profile.
    fn laid_out(&self, warp: Warp) -> Option<Vec<f32>> {
        let last = self.0.len() - 1;
        let (least, most) = (warp.column_at(-1.5), warp.column_at(MODULES as f32 + 1.5));
        if !(least >= 0.0 && most <= last as f32) {
            return None;
        }
        Some(between(&self.0, warp.columns(-MARGIN, SAMPLES)))
    }

    /// `place` with the blur with which it looks most like a symbol.
    fn with_best_blur(&self, place: Scored) -> Scored {
        self.laid_out(place.warp).map_or(place, |seen| Self::of_any_blur(place, &smooth(&seen)))
    }

    /// Scores a place with the middle blur alone.
    fn glanced(&self, warp: Warp) -> Option<Scored> {
        Some(Blur::all()[BLURS.len() / 2].scored(warp, &smooth(&self.laid_out(warp)?)))
    }

    /// `place` with its modules moved to where digits and guards are seen best, whatever digits they are.
    fn aligned(&self, place: Scored) -> Scored {
        const ROUNDS: usize = 4;
        let Some(mut seen) = self.laid_out(place.warp).map(|seen| smooth(&seen)) else { return place };
        let mut best = place;
        for _ in 0..ROUNDS {
            let moved = best.blur.aligner.warp(&best.blur.matched(&seen), &best.warp);
            let Some((warp, there)) = moved.and_then(|warp| Some((warp, smooth(&self.laid_out(warp)?)))) else { break };
            let next = best.blur.scored(warp, &there);
            if next.cost >= best.cost {
                break;
            }
            (best, seen) = (next, there);
        }
        Self::of_any_blur(best, &seen)
    }

    /// A place that has been scored with one blur, with the one with which it looks most like a symbol.
    fn of_any_blur(place: Scored, seen: &[f32]) -> Scored {
        let others = Blur::all().iter().filter(|blur| blur.sigma != place.blur.sigma);
        let scored = others.map(|blur| blur.scored(place.warp, seen));
        scored.fold(place, |a, b| if b.cost < a.cost { b } else { a })
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
    widest(
        #[inline(always)]
        || {
            for (k, weight) in kernel.iter().enumerate() {
                out.iter_mut().zip(&padded[k..]).for_each(|(o, p)| *o += weight * p);
            }
        },
    );
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
            // Most are told by their left side.
            if before < CALM * within {
                let behind = mean(end + LEFT_OUT * module, end + (QUIET + LEFT_OUT) * module);
                let calm = before.max(behind) / within;
                // The guards are as busy as anything.
                let guards =
                    mean(first - 0.5 * module, first + 3.0 * module).min(mean(end - 3.0 * module, end + 0.5 * module));
                if calm < CALM && guards > 0.5 * within {
                    pairs.push((calm - 0.3 * (guards / within).min(1.5), first, end));
                }
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reader::edges::edges;

    const COLUMNS: f32 = 3.0;
    /// Modules beside the bars.
    const BESIDE: f32 = 16.0;

    /// The least cost of any place where a symbol of these greys stands, `light` added at each share of the way.
    fn least_cost(light: impl Fn(f32) -> f32) -> f32 {
        let gtin: Gtin = "0061414999991".parse().unwrap();
        let samples = ((MODULES as f32 + 2.0 * BESIDE) * PER_MODULE as f32) as usize;
        let wave = bars(gtin).wave(samples, -BESIDE, 0.6, 0.0);
        let columns = (samples as f32 / PER_MODULE as f32 * COLUMNS) as usize;
        let places = (0..columns).map(|x| x as f32 / COLUMNS * PER_MODULE as f32).collect();
        let dark = between(&wave, places);
        let grey = |(x, dark): (usize, &f32)| 150.0 - 30.0 * dark + light(x as f32 / columns as f32);
        let profile: Vec<f32> = dark.iter().enumerate().map(grey).collect();
        let inner = (MODULES as f32 * COLUMNS) as usize;
        let glanced = Glanced::of(&profile, &edges(&profile, inner / 8), inner, 1.0);
        Places::of(glanced).costs().fold(f32::INFINITY, f32::min)
    }

    #[test]
    fn a_place_is_scored_by_its_own_bars() {
        let plain = least_cost(|_| 0.0);
        assert!(plain < 0.05, "{plain}");
        let beside_black = least_cost(|share| if share > 0.95 { -130.0 } else { 0.0 });
        assert!(beside_black < plain + 0.02, "black 9 modules behind faint bars: {beside_black} and {plain}");
        let falling_off = least_cost(|share| -60.0 * share);
        assert!(falling_off < plain + 0.05, "light that falls off by twice their contrast: {falling_off} and {plain}");
    }
}
