//! A symbol's blurred bars tabulated along it, with what they change by: what a fit looks up.

use std::sync::OnceLock;

use super::fit::LEAST_SIGMA;
use super::model::{Bars, REACH, below, density};

/// What bars are at a point: their darkness, and the darkness's derivatives by place, blur and ink gain, a module each.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Edge {
    pub(super) darkness: f32,
    pub(super) slope: f32,
    pub(super) by_sigma: f32,
    pub(super) by_gain: f32,
}

/// Entries a sigma: between them a blurred edge is straight to a thousandth.
const PER_SIGMA: f32 = 5.5;
/// Entries that an edge reaches.
const LONG: usize = (2.0 * REACH * PER_SIGMA) as usize + 2;
/// Places between two entries at which an edge may lie; between them it is straight, too.
const PHASES: usize = 16;

/// Darkness, slope, and derivatives by blur and by ink gain of one edge, for each phase.
type Phases = [[[f32; 4]; LONG]; PHASES + 1];

/// An edge at module 0 that is blurred by one, from `-REACH` on.
fn phases() -> &'static Phases {
    static EDGE: OnceLock<Box<Phases>> = OnceLock::new();
    EDGE.get_or_init(|| {
        let mut edge = Box::new([[[0.0; 4]; LONG]; PHASES + 1]);
        for (p, phase) in edge.iter_mut().enumerate() {
            for (j, entry) in phase.iter_mut().enumerate() {
                let z = (j as f32 + p as f32 / PHASES as f32) / PER_SIGMA - REACH;
                let high = density(f64::from(z)) as f32;
                *entry = [below(z), high, -z * high, high];
            }
        }
        edge
    })
}

/// The bars' darkness and its derivatives, tabulated along the symbol and a margin on both sides.
pub(super) struct Table {
    /// Entries a module.
    fine: f32,
    /// Darkness, slope, and derivatives by blur and by ink gain.
    entries: Vec<[f32; 4]>,
}

impl Table {
    /// Modules tabulated beyond the symbol's ends.
    pub(super) const MARGIN: f32 = 9.0;

    /// For `bars` of so many `modules`, blurred by `sigma` and swollen by `gain` modules.
    pub(super) fn new(bars: &Bars, modules: f32, sigma: f32, gain: f32) -> Self {
        let sigma = sigma.max(LEAST_SIGMA);
        let fine = PER_SIGMA / sigma;
        let count = ((modules + 2.0 * Self::MARGIN) * fine) as usize + 2;
        let mut entries = vec![[0.0f32; 4]; count];
        let mut steps = vec![0.0f32; count + 1];
        let edge = phases();
        for (at, sign) in bars.swollen(gain) {
            let from = (at - REACH * sigma + Self::MARGIN) * fine;
            let begin = from.ceil().max(0.0);
            let phase = ((begin - from) * PHASES as f32).clamp(0.0, PHASES as f32 - 0.001);
            let (p, part) = (phase as usize, phase.fract());
            let begin = (begin as usize).min(count);
            let scale = [sign, sign / sigma, sign / sigma, 1.0 / sigma];
            for (entry, (a, b)) in entries[begin..].iter_mut().zip(edge[p].iter().zip(&edge[p + 1])) {
                for k in 0..4 {
                    entry[k] += scale[k] * (a[k] + (b[k] - a[k]) * part);
                }
            }
            steps[(begin + LONG).min(count)] += sign;
        }
        let mut level = 0.0;
        for (entry, step) in entries.iter_mut().zip(&steps) {
            level += step;
            entry[0] += level;
        }
        Self { fine, entries }
    }

    fn place(&self, m: f32) -> (usize, f32) {
        let at = ((m + Self::MARGIN) * self.fine).clamp(0.0, (self.entries.len() - 2) as f32);
        let i = at as usize;
        (i, at - i as f32)
    }

    /// The darkness at `m` modules along the symbol; beyond the margin its last value.
    pub(super) fn darkness(&self, m: f32) -> f32 {
        let (i, part) = self.place(m);
        let (a, b) = (self.entries[i][0], self.entries[i + 1][0]);
        a + (b - a) * part
    }

    /// The darkness and its derivatives at `m` modules along the symbol.
    pub(super) fn at(&self, m: f32) -> Edge {
        let (i, part) = self.place(m);
        let (a, b) = (&self.entries[i], &self.entries[i + 1]);
        let [darkness, slope, by_sigma, by_gain] = [0, 1, 2, 3].map(|k| a[k] + (b[k] - a[k]) * part);
        Edge { darkness, slope, by_sigma, by_gain }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reader::model::PER_MODULE;

    /// The table says what a wave says, which is made otherwise.
    #[test]
    fn tabulated_bars_are_the_waves() {
        let bars = Bars::new(&[true, false, true, true, false, false, true], 0.0);
        for (sigma, gain) in [(0.15, 0.0), (0.4, 0.1), (1.0, -0.2), (2.0, 0.0)] {
            let table = Table::new(&bars, 7.0, sigma, gain);
            let wave = bars.wave(15 * PER_MODULE, -4.0, sigma, gain);
            for (i, dark) in wave.iter().enumerate() {
                let m = -4.0 + i as f32 / PER_MODULE as f32;
                assert!((table.darkness(m) - dark).abs() < 4e-3, "{m} with {sigma}: {} and {dark}", table.darkness(m));
            }
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
