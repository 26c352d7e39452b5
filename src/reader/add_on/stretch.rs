//! What stands on a stretch behind a symbol: nothing, marks such as bars or letters, or glare.

use crate::reader::fit::Fit;
use crate::reader::model::PER_MODULE;
use crate::reader::place::Place;
use crate::reader::sample::{Point, add, scale, sub};
use crate::reader::surface::Surface;

/// A stretch behind the symbol, looked at line by line.
#[derive(Debug, Default)]
pub(super) struct Stretch {
    /// Marks on each line.
    marks: Vec<usize>,
    /// Whether the picture ends before it does.
    cut: bool,
    /// Whether much of it is burnt out.
    glare: bool,
}

impl Stretch {
    /// Looks at `width` modules from `first` modules behind the symbol on, over most of the symbol's height.
    pub(super) fn new(surface: &Surface, place: &Place, fit: &Fit, first: f32, width: f32) -> Self {
        const LINES: usize = 9;
        /// Grey values from here on are burnt out, where paper elsewhere in the symbol is not.
        const BURNT: f32 = 252.0;
        const BURNT_SHARE: f32 = 0.2;
        let mut stretch = Self::default();
        let mut burnt = 0;
        let samples = (width * PER_MODULE as f32) as usize;
        for i in 0..LINES {
            let line = place.line(0.15 + 0.75 * i as f32 / (LINES - 1) as f32);
            let module = scale(sub(line.right, line.left), 1.0 / place.modules);
            let end: Point = add(line.right, scale(module, first + width));
            stretch.cut |= !surface.shows(end);
            let profile = line.profile(surface, place.modules, place.modules + first, samples);
            burnt += profile.iter().filter(|&&grey| grey >= BURNT).count();
            let dark: Vec<f32> = profile.iter().map(|&grey| fit.darkness(place.modules, grey)).collect();
            stretch.marks.push(marks(&dark));
        }
        stretch.glare = fit.paper() < BURNT - 8.0 && burnt as f32 > BURNT_SHARE * (LINES * samples) as f32;
        stretch
    }

    /// Whether nothing stands there for certain. Where the picture ends, nobody can say so.
    pub(super) fn is_blank(&self) -> bool {
        /// Lines on which a bar, a letter or a picture's detail must show, so that a speck is not taken for one.
        const MARKED: usize = 2;
        !self.cut && !self.glare && self.marks.iter().filter(|&&marks| marks > 0).count() < MARKED
    }

    /// Whether not even a speck stands there.
    pub(super) fn is_bare(&self) -> bool {
        !self.cut && self.marks.iter().all(|&marks| marks == 0)
    }

    /// Whether glare may hide what stands there.
    pub(super) fn has_glare(&self) -> bool {
        self.glare
    }
}

/// How many dark runs no longer than a bar, with light on both sides of them, are in the profile.
fn marks(dark: &[f32]) -> usize {
    /// Darkness from which on something is there, and below which it has ended: blur of a module's sigma still lets
    /// single bars stand out by 0.3.
    const THERE: f32 = 0.3;
    const GONE: f32 = 0.15;
    /// A dark run this long is the edge of a label or of the paper, not a bar (the widest has four modules).
    const EDGE: usize = 7 * PER_MODULE;
    let mut found = 0;
    let mut from = None;
    let mut lightest = 0.0f32;
    for (i, &d) in dark.iter().enumerate() {
        match from {
            None if d - lightest.max(0.0) > THERE => from = Some(i),
            None => lightest = lightest.min(d).max(-0.3),
            Some(f) if d < GONE.max(lightest + GONE) => {
                found += usize::from(i - f < EDGE);
                from = None;
            }
            Some(_) => {}
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn profile(runs: &[(f32, usize)]) -> Vec<f32> {
        runs.iter().flat_map(|&(dark, modules)| vec![dark; modules * PER_MODULE]).collect()
    }

    #[test]
    fn marks_are_bars_and_not_edges() {
        assert_eq!(marks(&profile(&[(0.0, 20)])), 0);
        assert_eq!(marks(&profile(&[(0.0, 5), (1.0, 1), (0.0, 2), (0.5, 4), (0.05, 5)])), 2);
        // The edge of the paper: dark to the end, or for longer than any bar.
        assert_eq!(marks(&profile(&[(0.0, 5), (0.8, 15)])), 0);
        assert_eq!(marks(&profile(&[(0.0, 5), (0.8, 9), (0.0, 5)])), 0);
    }
}
