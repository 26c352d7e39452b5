//! What a symbol's blurred bars are at given places, and what that changes by: what a fit asks.

use super::fit::LEAST_SIGMA;
use super::model::{Bars, REACH};
use super::wide::{LANES, Lanes, normal, widest};

/// Darkness of bars at places along them, and its derivatives by place, blur and ink gain, a module each.
#[derive(Debug)]
pub(super) struct Slopes {
    pub(super) darkness: Vec<f32>,
    pub(super) slope: Vec<f32>,
    pub(super) by_sigma: Vec<f32>,
    pub(super) by_gain: Vec<f32>,
}

impl Slopes {
    /// Those of `bars`, blurred by `sigma` and swollen by `gain` modules, at `places` in modules that never fall.
    pub(super) fn new(bars: &Bars, sigma: f32, gain: f32, places: &[f32]) -> Self {
        let sigma = sigma.max(LEAST_SIGMA);
        let count = places.len();
        // Room for whole registers at the end; beyond it lies only paper.
        let padded = count + LANES;
        let mut all = Self {
            darkness: vec![0.0; padded],
            slope: vec![0.0; padded],
            by_sigma: vec![0.0; padded],
            by_gain: vec![0.0; padded],
        };
        let mut at = Vec::with_capacity(padded);
        at.extend_from_slice(places);
        at.resize(padded, places.last().copied().unwrap_or(0.0));
        let mut steps = vec![0.0f32; padded + LANES];
        widest(
            #[inline(always)]
            || {
                let (mut from, over) = (0, 1.0 / sigma);
                for (edge, sign) in bars.swollen(gain) {
                    // Edges may swap where ink gain is great and bars are thin.
                    while from > 0 && at[from - 1] > edge - REACH * sigma {
                        from -= 1;
                    }
                    while from < count && at[from] < edge - REACH * sigma {
                        from += 1;
                    }
                    let mut i = from;
                    while i < count && at[i] < edge + REACH * sigma {
                        all.add(i, &at, edge, sign, over);
                        i += LANES;
                    }
                    steps[i] += sign;
                }
            },
        );
        let mut level = 0.0;
        for (darkness, step) in all.darkness.iter_mut().zip(&steps) {
            level += step;
            *darkness += level;
        }
        for values in [&mut all.darkness, &mut all.slope, &mut all.by_sigma, &mut all.by_gain] {
            values.truncate(count);
        }
        all
    }

    /// Adds an edge to the places from `i` on.
    #[inline(always)]
    fn add(&mut self, i: usize, at: &[f32], edge: f32, sign: f32, over: f32) {
        let Some(at) = at[i..].first_chunk::<LANES>() else { return };
        let mut z: Lanes = *at;
        z.iter_mut().for_each(|z| *z = (*z - edge) * over);
        let [below, density] = normal(z);
        let parts = [&mut self.darkness, &mut self.slope, &mut self.by_sigma, &mut self.by_gain];
        let [Some(darkness), Some(slope), Some(by_sigma), Some(by_gain)] =
            parts.map(|part| part[i..].first_chunk_mut::<LANES>())
        else {
            return;
        };
        for k in 0..LANES {
            let high = density[k] * over;
            darkness[k] += sign * below[k];
            slope[k] += sign * high;
            by_sigma[k] -= sign * z[k] * high;
            by_gain[k] += high;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reader::model::PER_MODULE;

    fn bars() -> Bars {
        Bars::new(&[true, false, true, true, false, false, true], 0.0)
    }

    /// They say what a wave says, which is made otherwise.
    #[test]
    fn darkness_is_that_of_the_wave() {
        let places: Vec<f32> = (0..15 * PER_MODULE).map(|i| -4.0 + i as f32 / PER_MODULE as f32).collect();
        for (sigma, gain) in [(0.15, 0.0), (0.4, 0.1), (1.0, -0.2), (2.0, 0.0), (0.5, 0.6)] {
            let here = Slopes::new(&bars(), sigma, gain, &places);
            let wave = bars().wave(places.len(), -4.0, sigma, gain);
            for ((m, dark), wave) in places.iter().zip(&here.darkness).zip(&wave) {
                assert!((dark - wave).abs() < 2e-3, "{m} with {sigma}: {dark} and {wave}");
            }
        }
    }

    /// The derivatives are those of its own darkness.
    #[test]
    fn derivatives_agree_with_differences() {
        let places: Vec<f32> = (0..90).map(|i| -1.0 + 0.1 * i as f32).collect();
        let moved = |by: f32| places.iter().map(|m| m + by).collect::<Vec<f32>>();
        let darkness = |sigma, gain, by| Slopes::new(&bars(), sigma, gain, &moved(by)).darkness;
        let here = Slopes::new(&bars(), 0.6, 0.05, &places);
        let close = |name: &str, derivative: &[f32], up: Vec<f32>, down: Vec<f32>, delta: f32| {
            for ((derivative, up), down) in derivative.iter().zip(up).zip(down) {
                let difference = (up - down) / (2.0 * delta);
                assert!((derivative - difference).abs() < 0.01, "{name}: {derivative} and {difference}");
            }
        };
        close("place", &here.slope, darkness(0.6, 0.05, 0.02), darkness(0.6, 0.05, -0.02), 0.02);
        close("blur", &here.by_sigma, darkness(0.62, 0.05, 0.0), darkness(0.58, 0.05, 0.0), 0.02);
        close("gain", &here.by_gain, darkness(0.6, 0.07, 0.0), darkness(0.6, 0.03, 0.0), 0.02);
    }
}
