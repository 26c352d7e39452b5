//! Which lines show the symbol's own last bars: what hides these may hide what stands behind them, as light as paper.

use std::ops::Range;

use crate::reader::fit::Fit;
use crate::reader::model::{Bars, PER_MODULE, correlation, moments};
use crate::reader::place::Place;
use crate::reader::surface::Surface;

/// The symbol's end on some lines.
pub(super) struct End {
    /// Grey values, from top to bottom.
    lines: Vec<Vec<f32>>,
    /// How dark its bars are there.
    bars: Vec<f32>,
}

impl End {
    /// That of the symbol of these modules at `place`, on `lines` (fractions of its height).
    pub(super) fn of(surface: &Surface, place: &Place, fit: &Fit, modules: &[bool], lines: &[f32]) -> Self {
        /// Modules that are compared: the last digit, the guard, and of the quiet zone what is never printed on.
        const WIDTH: usize = 14;
        const BEHIND: f32 = 4.0;
        let (first, samples) = (place.modules + BEHIND - WIDTH as f32, WIDTH * PER_MODULE);
        let seen = |t: &f32| place.line(*t).profile(surface, place.modules, first, PER_MODULE, samples);
        let bars = Bars::new(modules, 0.0).wave(samples, first, fit.sigma, fit.gain);
        Self { lines: lines.iter().map(seen).collect(), bars }
    }

    /// Some of the lines.
    pub(super) fn lines(&self, lines: Range<usize>) -> &[Vec<f32>] {
        let last = self.lines.len();
        &self.lines[lines.start.min(last)..lines.end.min(last)]
    }

    /// Whether grey values show it, about as dark as `contrast` has ink.
    pub(super) fn is_shown(&self, seen: &[f32], contrast: f32) -> bool {
        /// Share of that contrast, and correlation, from which on they do: paper in its place is even.
        const SHARE: f32 = 0.4;
        const LIKE: f32 = 0.5;
        let like = -correlation(seen, &self.bars);
        let [(_, swing), (_, expected)] = [seen, &self.bars].map(moments);
        like > LIKE && like * swing > SHARE * contrast * expected
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Bars of a last digit and a guard, and paper behind them.
    const MODULES: [bool; 14] =
        [true, false, false, true, true, true, false, true, false, true, false, false, false, false];
    const CONTRAST: f32 = 150.0;

    fn end(light: impl Fn(usize, f32) -> f32) -> End {
        let bars = Bars::new(&MODULES, 0.0).wave(MODULES.len() * PER_MODULE, 0.0, 0.5, 0.0);
        let line = |l: usize| bars.iter().map(|dark| light(l, *dark)).collect();
        End { lines: (0..6).map(line).collect(), bars: bars.clone() }
    }

    fn mean(lines: &[Vec<f32>]) -> Vec<f32> {
        (0..lines[0].len()).map(|x| lines.iter().map(|line| line[x]).sum::<f32>() / lines.len() as f32).collect()
    }

    #[test]
    fn bars_are_shown_by_lines_on_which_nothing_covers_them() {
        let is_shown = |end: &End, lines| end.is_shown(&mean(end.lines(lines)), CONTRAST);
        let torn = end(|line, dark| if line < 3 { 215.0 - 2.0 * dark } else { 200.0 - CONTRAST * dark });
        assert!(!is_shown(&torn, 0..3), "paper through which a trace of them is seen");
        assert!(is_shown(&torn, 3..6) && is_shown(&torn, 3..9));
        assert!(is_shown(&end(|_, dark| 120.0 - 0.5 * CONTRAST * dark), 0..3), "in half a shadow");
        assert!(!is_shown(&end(|_, dark| 60.0 + CONTRAST * dark), 0..3), "other bars");
    }
}
