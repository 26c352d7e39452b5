//! What a symbol's bars look like along a line across them: ideal bars, blurred, with ink gain.

use std::sync::OnceLock;

use crate::code::NumberSet;

/// Samples a module in every profile that is laid out by modules.
pub(super) const PER_MODULE: usize = 4;

/// Bars as their edges in modules: light to dark at the first of each pair, back at the second.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Bars(Vec<[f32; 2]>);

impl Bars {
    /// The bars of a row of modules (true is dark), the first module at `start` modules.
    pub(super) fn new(modules: &[bool], start: f32) -> Self {
        let mut bars = Vec::new();
        let mut from = None;
        for (i, &dark) in modules.iter().chain(&[false]).enumerate() {
            match (dark, from) {
                (true, None) => from = Some(i),
                (false, Some(f)) => {
                    bars.push([start + f as f32, start + i as f32]);
                    from = None;
                }
                _ => {}
            }
        }
        Self(bars)
    }

    /// The bars with every edge moved to where `to` says.
    #[cfg(test)]
    pub(super) fn moved(mut self, to: impl Fn(f32) -> f32) -> Self {
        for bar in &mut self.0 {
            *bar = bar.map(&to);
        }
        self
    }

    /// The bars' darkness (0 light, 1 dark) on `samples` samples from modules `first` on, `PER_MODULE` a module. `sigma`
    /// is the blur and `gain` how far ink spreads at each edge, both in modules.
    pub(super) fn wave(&self, samples: usize, first: f32, sigma: f32, gain: f32) -> Vec<f32> {
        let mut wave = vec![0.0; samples];
        self.add_to(&mut wave, first, sigma, gain);
        wave
    }

    /// Adds the bars' darkness to `wave`, whose first sample lies at modules `first`.
    fn add_to(&self, wave: &mut [f32], first: f32, sigma: f32, gain: f32) {
        let mut steps = vec![0.0f32; wave.len()];
        let samples = wave.len();
        let add = |i: usize, edge: Edge| wave[i] += edge.darkness;
        self.each_edge(samples, first, PER_MODULE as f32, [sigma, gain], add, |i, by| steps[i] += by);
        add_steps(wave, &steps);
    }

    /// Calls `add` with what each blurred edge adds to each sample near it, and `step` with how much darker all samples
    /// from one on are because of it.
    fn each_edge(
        &self,
        samples: usize,
        first: f32,
        per_module: f32,
        [sigma, gain]: [f32; 2],
        mut add: impl FnMut(usize, Edge),
        mut step: impl FnMut(usize, f32),
    ) {
        let sigma = sigma.max(0.05);
        let (reach, scale) = (REACH * sigma, 1.0 / sigma);
        let table = normal_table();
        for (edge, sign) in self.0.iter().flat_map(|&[a, b]| [(a - gain, 1.0f32), (b + gain, -1.0)]) {
            let index = |m: f32| (((m - first) * per_module).ceil().max(0.0) as usize).min(samples);
            let (begin, end) = (index(edge - reach), index(edge + reach));
            let stride = scale / per_module;
            let start = (first - edge) * scale;
            for i in begin..end {
                let z = start + i as f32 * stride;
                let (below, density) = normal(table, z);
                let slope = sign * density * scale;
                add(i, Edge { darkness: sign * below, slope, by_sigma: -slope * z, by_gain: density * scale });
            }
            if end < samples {
                step(end, sign);
            }
        }
    }
}

/// What a bar adds at a point: its darkness, and the darkness's derivatives by place, blur and ink gain, a module each.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Edge {
    pub(super) darkness: f32,
    pub(super) slope: f32,
    pub(super) by_sigma: f32,
    pub(super) by_gain: f32,
}

/// Adds to each value the sum of the steps up to it.
fn add_steps(values: &mut [f32], steps: &[f32]) {
    let mut level = 0.0;
    for (value, step) in values.iter_mut().zip(steps) {
        level += step;
        *value += level;
    }
}

/// The bars' darkness and its derivatives, tabulated along the symbol and a margin on both sides.
pub(super) struct Table {
    fine: f32,
    darkness: Vec<f32>,
    /// By place, blur and ink gain.
    derivatives: Vec<[f32; 3]>,
}

impl Table {
    /// Entries a module and sigma: between them a blurred edge is straight to a thousandth.
    const FINE: f32 = 5.5;
    /// Modules tabulated beyond the symbol's ends.
    pub(super) const MARGIN: f32 = 9.0;

    pub(super) fn new(bars: &Bars, modules: f32, sigma: f32, gain: f32) -> Self {
        let fine = Self::FINE / sigma.clamp(0.25, 1.4);
        let samples = ((modules + 2.0 * Self::MARGIN) * fine) as usize + 2;
        let mut darkness = vec![0.0f32; samples];
        let mut derivatives = vec![[0.0f32; 3]; samples];
        let mut steps = vec![0.0f32; samples];
        let add = |i: usize, edge: Edge| {
            darkness[i] += edge.darkness;
            let [slope, by_sigma, by_gain] = &mut derivatives[i];
            *slope += edge.slope;
            *by_sigma += edge.by_sigma;
            *by_gain += edge.by_gain;
        };
        bars.each_edge(samples, -Self::MARGIN, fine, [sigma, gain], add, |i, by| steps[i] += by);
        add_steps(&mut darkness, &steps);
        Self { fine, darkness, derivatives }
    }

    fn place(&self, m: f32) -> (usize, f32) {
        let at = ((m + Self::MARGIN) * self.fine).clamp(0.0, (self.darkness.len() - 2) as f32);
        let i = at as usize;
        (i, at - i as f32)
    }

    /// The darkness at `m` modules along the symbol; beyond the margin its last value.
    pub(super) fn darkness(&self, m: f32) -> f32 {
        let (i, part) = self.place(m);
        self.darkness[i] + (self.darkness[i + 1] - self.darkness[i]) * part
    }

    /// The darkness and its derivatives at `m` modules along the symbol.
    pub(super) fn at(&self, m: f32) -> Edge {
        let (i, part) = self.place(m);
        let (a, b) = (&self.derivatives[i], &self.derivatives[i + 1]);
        let [slope, by_sigma, by_gain] = [0, 1, 2].map(|k| a[k] + (b[k] - a[k]) * part);
        Edge { darkness: self.darkness[i] + (self.darkness[i + 1] - self.darkness[i]) * part, slope, by_sigma, by_gain }
    }
}

/// Modules before a digit and behind it to which its blurred bars reach.
pub(super) const DIGIT_REACH: f32 = 3.0;
/// Samples of a digit's wave: its seven modules and what it reaches.
pub(super) const DIGIT_SAMPLES: usize = 13 * PER_MODULE;

/// Waves of the ten digits in the three number sets, each from [`DIGIT_REACH`] modules before it on.
#[derive(Clone)]
pub(super) struct DigitWaves(Vec<[f32; DIGIT_SAMPLES]>);

impl DigitWaves {
    pub(super) fn new(sigma: f32, gain: f32) -> Self {
        let sets = [NumberSet::A, NumberSet::B, NumberSet::C];
        let wave = |(set, digit): (NumberSet, u8)| {
            let mut wave = [0.0; DIGIT_SAMPLES];
            Bars::new(&set.modules(digit), 0.0).add_to(&mut wave, -DIGIT_REACH, sigma, gain);
            wave
        };
        Self(sets.into_iter().flat_map(|set| (0..10).map(move |digit| (set, digit))).map(wave).collect())
    }

    pub(super) fn of(&self, set: NumberSet, digit: u8) -> &[f32; DIGIT_SAMPLES] {
        let first = match set {
            NumberSet::A => 0,
            NumberSet::B => 10,
            NumberSet::C => 20,
        };
        &self.0[first + usize::from(digit)]
    }
}

/// Beyond so many sigma an edge is flat to 3e-4.
const REACH: f32 = 3.5;

const NORMAL_PER_UNIT: f32 = 64.0;
const NORMAL_END: f32 = REACH + 0.25;

/// The standard normal distribution and its density, from `-NORMAL_END` on.
fn normal_table() -> &'static [(f32, f32)] {
    static TABLE: OnceLock<Vec<(f32, f32)>> = OnceLock::new();
    TABLE.get_or_init(|| {
        let density = |z: f64| (-0.5 * z * z).exp() / (2.0 * std::f64::consts::PI).sqrt();
        let step = 1.0 / f64::from(NORMAL_PER_UNIT);
        let mut below = 0.5;
        let mut upper = vec![(0.5f32, density(0.0) as f32)];
        for i in 1..=(NORMAL_END * NORMAL_PER_UNIT) as usize {
            // Simpson's rule over one step.
            let (a, b) = ((i - 1) as f64 * step, i as f64 * step);
            below += step / 6.0 * (density(a) + 4.0 * density((a + b) / 2.0) + density(b));
            upper.push((below as f32, density(b) as f32));
        }
        let lower = upper.iter().skip(1).rev().map(|&(p, d)| (1.0 - p, d));
        lower.chain(upper.iter().copied()).collect()
    })
}

/// The standard normal distribution and its density at `z`, within [`REACH`].
fn normal(table: &[(f32, f32)], z: f32) -> (f32, f32) {
    let at = ((z + NORMAL_END) * NORMAL_PER_UNIT).clamp(0.0, (table.len() - 2) as f32);
    let i = at as usize;
    let part = at - i as f32;
    let (a, b) = (table[i], table[i + 1]);
    (a.0 + (b.0 - a.0) * part, a.1 + (b.1 - a.1) * part)
}

/// How well two profiles go together: Pearson's correlation, −1 to 1; 0 if one is flat.
pub(super) fn correlation(a: &[f32], b: &[f32]) -> f32 {
    let n = a.len().min(b.len()) as f32;
    let (mean_a, mean_b) = (sum(a) / n, sum(b) / n);
    let (mut ab, mut aa, mut bb) = (0.0, 0.0, 0.0);
    for (&x, &y) in a.iter().zip(b) {
        let (x, y) = (x - mean_a, y - mean_b);
        ab += x * y;
        aa += x * x;
        bb += y * y;
    }
    if aa * bb > 0.0 { ab / (aa * bb).sqrt() } else { 0.0 }
}

/// The scalar product, in eight partial sums so that the compiler can use wide registers.
pub(super) fn dot(a: &[f32], b: &[f32]) -> f32 {
    let mut sums = [0.0f32; 8];
    let (a, b) = (a.chunks_exact(8), b.chunks_exact(8));
    let rest: f32 = a.remainder().iter().zip(b.remainder()).map(|(x, y)| x * y).sum();
    for (a, b) in a.zip(b) {
        for i in 0..8 {
            sums[i] += a[i] * b[i];
        }
    }
    sums.iter().sum::<f32>() + rest
}

fn sum(a: &[f32]) -> f32 {
    let mut sums = [0.0f32; 8];
    let chunks = a.chunks_exact(8);
    let rest: f32 = chunks.remainder().iter().sum();
    for chunk in chunks {
        sums.iter_mut().zip(chunk).for_each(|(s, v)| *s += v);
    }
    sums.iter().sum::<f32>() + rest
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bars_come_from_modules() {
        let bars = Bars::new(&[true, false, true, true, false], 10.0);
        assert_eq!(bars, Bars(vec![[10.0, 11.0], [12.0, 14.0]]));
    }

    #[test]
    fn a_wave_is_dark_in_bars_and_light_between() {
        let bars = Bars::new(&[true, true, true, true, false, false, false, false, true, true, true, true], 0.0);
        let wave = bars.wave(16 * PER_MODULE, -2.0, 0.3, 0.0);
        let at = |modules: f32| wave[((modules + 2.0) * PER_MODULE as f32) as usize];
        assert!(at(2.0) > 0.99 && at(6.0) < 0.01 && at(10.0) > 0.99 && at(-2.0) < 0.01 && at(13.5) < 0.01);
        assert!((at(4.0) - 0.5).abs() < 0.02, "an edge is half dark");
    }

    #[test]
    fn ink_gain_widens_bars() {
        let bars = Bars::new(&[true], 4.0);
        let dark = |gain| bars.wave(10 * PER_MODULE, 0.0, 0.3, gain).iter().sum::<f32>() / PER_MODULE as f32;
        assert!((dark(0.0) - 1.0).abs() < 0.02 && (dark(0.2) - 1.4).abs() < 0.02);
    }

    /// Reference: Abramowitz & Stegun, 'Handbook of Mathematical Functions', table 26.1.
    #[test]
    fn the_normal_distribution_is_the_handbooks() {
        for (z, below, density) in [(0.0, 0.5, 0.398_942), (1.0, 0.841_345, 0.241_971), (2.5, 0.993_790, 0.017_528)] {
            let (p, d) = normal(normal_table(), z);
            assert!((p - below).abs() < 1e-4 && (d - density).abs() < 1e-4, "{z}");
            assert!((normal(normal_table(), -z).0 - (1.0 - below)).abs() < 1e-4, "−{z}");
        }
    }

    /// The derivatives in the table are those of its own darkness.
    #[test]
    fn derivatives_agree_with_differences() {
        let bars = Bars::new(&[true, false, true, true, false, false, true], 0.0);
        let table = |sigma, gain| Table::new(&bars, 7.0, sigma, gain);
        let here = table(0.6, 0.05);
        for i in 0..90 {
            let m = -1.0 + 0.1 * i as f32;
            let edge = here.at(m);
            let close = |name: &str, derivative: f32, up: f32, down: f32, delta: f32| {
                let difference = (up - down) / (2.0 * delta);
                assert!((derivative - difference).abs() < 0.05, "{name} at {m}: {derivative} and {difference}");
            };
            close("place", edge.slope, here.at(m + 0.1).darkness, here.at(m - 0.1).darkness, 0.1);
            close("blur", edge.by_sigma, table(0.66, 0.05).at(m).darkness, table(0.54, 0.05).at(m).darkness, 0.06);
            close("gain", edge.by_gain, table(0.6, 0.1).at(m).darkness, table(0.6, 0.0).at(m).darkness, 0.05);
        }
    }
}
