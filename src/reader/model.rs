//! What a symbol's bars look like along a line across them: ideal bars, blurred, with ink gain.

/// Samples a module in every profile.
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
    pub(super) fn moved(mut self, to: impl Fn(f32) -> f32) -> Self {
        for bar in &mut self.0 {
            *bar = bar.map(&to);
        }
        self
    }

    /// Adds the bars' darkness (0 light, 1 dark) to `wave`, whose sample `i` lies at modules
    /// `first + i / PER_MODULE`. `sigma` is the blur and `gain` how far ink spreads at each edge, both in modules.
    pub(super) fn add_to(&self, wave: &mut [f32], first: f32, sigma: f32, gain: f32) {
        let sigma = sigma.max(0.05);
        let index =
            |modules: f32| ((modules - first) * PER_MODULE as f32).ceil().clamp(0.0, wave.len() as f32) as usize;
        // Beyond 3.5 sigma an edge is flat to 3e-4.
        let reach = 3.5 * sigma;
        let edges: Vec<(usize, usize, f32, f32)> = self
            .0
            .iter()
            .flat_map(|&[a, b]| [(a - gain, 1.0), (b + gain, -1.0)])
            .map(|(edge, sign)| (index(edge - reach), index(edge + reach), edge, sign))
            .collect();
        let mut level = 0.0;
        let mut flat_from = 0;
        // Each edge adds its own ramp and a flat rest behind it; the flat rests are summed in one sweep.
        let mut flats: Vec<(usize, f32)> = edges.iter().map(|&(_, to, _, sign)| (to, sign)).collect();
        flats.sort_by_key(|&(to, _)| to);
        for (to, sign) in flats.into_iter().chain([(wave.len(), 0.0)]) {
            for sample in &mut wave[flat_from..to.max(flat_from)] {
                *sample += level;
            }
            flat_from = flat_from.max(to);
            level += sign;
        }
        for (from, to, edge, sign) in edges {
            for (i, sample) in wave.iter_mut().enumerate().take(to).skip(from) {
                let x = first + i as f32 / PER_MODULE as f32;
                *sample += sign * normal((x - edge) / sigma);
            }
        }
    }

    /// The bars' darkness on `samples` samples from modules `first` on.
    pub(super) fn wave(&self, samples: usize, first: f32, sigma: f32, gain: f32) -> Vec<f32> {
        let mut wave = vec![0.0; samples];
        self.add_to(&mut wave, first, sigma, gain);
        wave
    }
}

/// The standard normal distribution, by the logistic approximation of Bowling et al. 2009 (error below 1.5e-4).
fn normal(z: f32) -> f32 {
    1.0 / (1.0 + (-0.07056 * z * z * z - 1.5976 * z).exp())
}

/// How well two profiles go together: Pearson's correlation, −1 to 1; 0 if one is flat.
pub(super) fn correlation(a: &[f32], b: &[f32]) -> f32 {
    let n = a.len().min(b.len()) as f32;
    let (mean_a, mean_b) = (a.iter().sum::<f32>() / n, b.iter().sum::<f32>() / n);
    let (mut ab, mut aa, mut bb) = (0.0, 0.0, 0.0);
    for (&x, &y) in a.iter().zip(b) {
        let (x, y) = (x - mean_a, y - mean_b);
        ab += x * y;
        aa += x * x;
        bb += y * y;
    }
    if aa * bb > 0.0 { ab / (aa * bb).sqrt() } else { 0.0 }
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
