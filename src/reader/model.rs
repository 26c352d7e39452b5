//! What a symbol's bars look like along a line across them: ideal bars, blurred, with ink gain.

use super::wide::{LANES, normal};
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
        let per_module = PER_MODULE as f32;
        let sigma = sigma.max(0.05);
        let reach = REACH * sigma;
        let stride = 1.0 / (sigma * per_module);
        for (edge, sign) in self.swollen(gain) {
            let index = |m: f32| (((m - first) * per_module).ceil().max(0.0) as usize).min(samples);
            let (begin, end) = (index(edge - reach), index(edge + reach));
            let start = (first - edge) / sigma;
            for (chunk, values) in wave[begin..end].chunks_mut(LANES).enumerate() {
                let first = (begin + chunk * LANES) as f32;
                let [below, _] = normal(std::array::from_fn(|i| start + (first + i as f32) * stride));
                values.iter_mut().zip(below).for_each(|(value, below)| *value += sign * below);
            }
            if end < samples {
                steps[end] += sign;
            }
        }
        add_steps(wave, &steps);
    }

    /// Each edge in modules with ink spread by `gain`, and 1 if bars begin there, −1 if they end.
    pub(super) fn swollen(&self, gain: f32) -> impl Iterator<Item = (f32, f32)> {
        self.0.iter().flat_map(move |&[a, b]| [(a - gain, 1.0f32), (b + gain, -1.0)])
    }
}

/// Adds to each value the sum of the steps up to it.
fn add_steps(values: &mut [f32], steps: &[f32]) {
    let mut level = 0.0;
    for (value, step) in values.iter_mut().zip(steps) {
        level += step;
        *value += level;
    }
}

/// Modules before a digit and behind it to which its blurred bars reach.
pub(super) const DIGIT_REACH: f32 = 3.0;
/// Samples of a digit's wave: its seven modules and what it reaches.
pub(super) const DIGIT_SAMPLES: usize = 13 * PER_MODULE;

/// Waves of the ten digits in some number sets, each from [`DIGIT_REACH`] modules before it on.
#[derive(Clone)]
pub(super) struct DigitWaves(Vec<[f32; DIGIT_SAMPLES]>);

impl DigitWaves {
    /// Those of all sets.
    pub(super) fn new(sigma: f32, gain: f32) -> Self {
        Self::up_to(NumberSet::C, sigma, gain)
    }

    /// Those of the sets up to `last`: add-ons have no digits of set C.
    pub(super) fn up_to(last: NumberSet, sigma: f32, gain: f32) -> Self {
        let sets = [NumberSet::A, NumberSet::B, NumberSet::C];
        let sets = sets.into_iter().take(Self::first(last) / 10 + 1);
        let wave = |(set, digit): (NumberSet, u8)| {
            let mut wave = [0.0; DIGIT_SAMPLES];
            Bars::new(&set.modules(digit), 0.0).add_to(&mut wave, -DIGIT_REACH, sigma, gain);
            wave
        };
        Self(sets.flat_map(|set| (0..10).map(move |digit| (set, digit))).map(wave).collect())
    }

    pub(super) fn of(&self, set: NumberSet, digit: u8) -> &[f32; DIGIT_SAMPLES] {
        &self.0[Self::first(set) + usize::from(digit)]
    }

    /// The place of a set's waves.
    fn first(set: NumberSet) -> usize {
        match set {
            NumberSet::A => 0,
            NumberSet::B => 10,
            NumberSet::C => 20,
        }
    }
}

/// Beyond so many sigma an edge is flat to 3e-4.
pub(super) const REACH: f32 = 3.5;

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

/// Mean and standard deviation.
pub(super) fn moments(values: &[f32]) -> (f32, f32) {
    let n = values.len() as f32;
    let mean = sum(values) / n;
    let off: Vec<f32> = values.iter().map(|v| v - mean).collect();
    (mean, (dot(&off, &off) / n).sqrt())
}

/// The scalar product, in eight partial sums so that the compiler can use wide registers.
#[inline]
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

/// The sum, likewise.
pub(super) fn sum(a: &[f32]) -> f32 {
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
}
