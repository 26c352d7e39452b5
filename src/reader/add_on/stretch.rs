//! What stands on a stretch behind a symbol: nothing, marks such as bars or letters, or glare.

use crate::reader::fit::Fit;
use crate::reader::model::PER_MODULE;
use crate::reader::place::Place;
use crate::reader::sample::{Point, add, scale, sub};
use crate::reader::surface::Surface;

/// A stretch behind the symbol, looked at line by line.
#[derive(Debug, Default)]
pub(super) struct Stretch {
    /// Darkness along each line, from top to bottom.
    lines: Vec<Vec<f32>>,
    /// Whether the picture ends before it does.
    cut: bool,
    /// Whether much of it is burnt out.
    glare: bool,
    /// Whether single bars may run into one another.
    blurred: bool,
}

impl Stretch {
    /// Looks at `width` modules from `first` modules behind the symbol on, over most of the symbol's height.
    pub(super) fn new(surface: &Surface, place: &Place, fit: &Fit, first: f32, width: f32) -> Self {
        const LINES: usize = 27;
        /// The part of the symbol's height that is looked at: below it stand digits.
        const PART: [f32; 2] = [0.15, 0.82];
        /// Grey values from here on are burnt out, where paper elsewhere in the symbol is not.
        const BURNT: f32 = 252.0;
        const BURNT_SHARE: f32 = 0.2;
        /// Blur in modules from which on single bars swing too little to be marks.
        const BLURRED: f32 = 0.6;
        let mut stretch = Self { blurred: fit.sigma > BLURRED, ..Self::default() };
        let mut burnt = 0;
        let samples = (width * PER_MODULE as f32) as usize;
        for i in 0..LINES {
            let line = place.line(PART[0] + (PART[1] - PART[0]) * i as f32 / (LINES - 1) as f32);
            let module = scale(sub(line.right, line.left), 1.0 / place.modules);
            let end: Point = add(line.right, scale(module, first + width));
            stretch.cut |= !surface.shows(end);
            let profile = line.profile(surface, place.modules, place.modules + first, PER_MODULE, samples);
            burnt += profile.iter().filter(|&&grey| grey >= BURNT).count();
            stretch.lines.push(profile.iter().map(|&grey| fit.darkness(place.modules, grey)).collect());
        }
        stretch.glare = fit.paper() < BURNT - 8.0 && burnt as f32 > BURNT_SHARE * (LINES * samples) as f32;
        stretch
    }

    /// Whether there is no add-on for certain: blank paper, or its end. Where the picture ends, nobody can say so.
    pub(super) fn is_blank(&self) -> bool {
        /// Lines on which a bar, a letter or a picture's detail must show, so that a speck is not taken for one.
        const MARKED: usize = 2;
        let few_marks = self.means_of(3).filter(|line| marks(line) > 0).count() < MARKED;
        let blank = few_marks && (!self.blurred || self.is_even());
        !self.cut && !self.glare && (blank || (!self.blurred && self.paper_ends()))
    }

    /// Whether it is nowhere much darker than elsewhere. However blurred, an add-on is nearly half ink.
    fn is_even(&self) -> bool {
        /// Samples over which blurred bars run into a grey area, and by how much that may be darker than paper.
        const AREA: usize = 5 * PER_MODULE;
        const DARKER: f32 = 0.15;
        self.means_of(9).all(|line| {
            let areas = line.windows(AREA.min(line.len())).map(|area| area.iter().sum::<f32>() / area.len() as f32);
            let [least, most] = areas.fold([f32::MAX, f32::MIN], |[l, m], area| [l.min(area), m.max(area)]);
            most - least < DARKER
        })
    }

    /// Whether the paper ends and something else begins, and what begins is not bars: it never becomes as light as paper
    /// again, and what it shows averages out from line to line, as bars don't.
    fn paper_ends(&self) -> bool {
        /// Darkness from which on it is no paper, and to which an add-on's spaces come back.
        const OTHER: f32 = 0.25;
        const PAPER: f32 = 0.15;
        let stays_other = |line: Vec<f32>| {
            let beyond = line.iter().skip_while(|&&d| d < OTHER);
            beyond.clone().next().is_some() && beyond.filter(|&&d| d < PAPER).count() == 0
        };
        self.means_of(3).all(stays_other) && self.means_of(9).all(|line| marks(&line) <= 1)
    }

    /// Whether not even a speck stands there.
    pub(super) fn is_bare(&self) -> bool {
        !self.cut && self.means_of(3).all(|line| marks(&line) == 0)
    }

    /// Whether glare may hide what stands there.
    pub(super) fn has_glare(&self) -> bool {
        self.glare
    }

    /// The means of `lines` neighbouring lines each: noise of a single one must not be taken for a mark.
    fn means_of(&self, lines: usize) -> impl Iterator<Item = Vec<f32>> {
        self.lines.chunks(lines).map(|group| {
            let mean = |i: usize| group.iter().map(|line| line[i]).sum::<f32>() / group.len() as f32;
            (0..group.first().map_or(0, Vec::len)).map(mean).collect()
        })
    }
}

/// How many dark runs no longer than a bar stand out from what is on both sides of them.
///
/// What counts is how far the profile swings, not how dark it is: in a blurred or narrowed add-on the spaces between bars
/// stay darker than paper.
fn marks(dark: &[f32]) -> usize {
    /// A swing of darkness below this is noise or texture: blur of a module's sigma leaves single bars 0.3.
    const SWING: f32 = 0.2;
    /// A dark run this long is the edge of a label or of the paper, not a bar (the widest has four modules).
    const EDGE: usize = 7 * PER_MODULE;
    let turns = turns(dark, SWING);
    let peaks = turns.windows(3).filter(|w| dark[w[1]] > dark[w[0]]);
    peaks
        .filter(|w| {
            let half = dark[w[1]] - (dark[w[1]] - dark[w[0]].max(dark[w[2]])) / 2.0;
            dark[w[0]..w[2]].iter().filter(|&&d| d >= half).count() < EDGE
        })
        .count()
}

/// Where the profile turns by more than `swing`: its lows and highs in turn, first and last sample included.
fn turns(profile: &[f32], swing: f32) -> Vec<usize> {
    let mut turns = vec![0];
    let (mut low, mut high) = (0, 0);
    let mut rising = None;
    for (i, &value) in profile.iter().enumerate() {
        low = if value < profile[low] { i } else { low };
        high = if value > profile[high] { i } else { high };
        if rising != Some(false) && profile[high] - value > swing {
            turns.push(high);
            (rising, low) = (Some(false), i);
        } else if rising != Some(true) && value - profile[low] > swing {
            turns.push(low);
            (rising, high) = (Some(true), i);
        }
    }
    turns.extend(match rising {
        Some(true) => Some(high),
        Some(false) => Some(low),
        None => None,
    });
    turns
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
        // Bars so narrow that the spaces between them stay half dark.
        assert_eq!(marks(&profile(&[(0.0, 5), (0.9, 2), (0.5, 1), (0.8, 1), (0.5, 2), (0.9, 1), (0.0, 3)])), 3);
        assert_eq!(marks(&profile(&[(0.05, 3), (0.0, 3), (0.1, 2), (0.0, 3)])), 0);
    }
}
