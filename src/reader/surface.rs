//! A picture in the sizes in which its symbols are looked at, all addressed in picture px.

use std::collections::BTreeMap;
use std::ops::Range;

use super::line::{line, within};
use super::sample::{Point, scale};
use crate::picture::Luma;

/// A picture, or a reduced copy of it, addressed in picture px.
#[derive(Clone, Copy)]
pub(super) struct Surface<'a> {
    luma: &'a Luma,
    unit: f32,
}

impl Surface<'_> {
    /// Those of `count` points, from `start` on and `step` apart, at which the picture shows anything.
    pub(super) fn shown(&self, start: Point, step: Point, count: usize) -> Range<usize> {
        within(self.luma, 0.0, scale(start, 1.0 / self.unit), scale(step, 1.0 / self.unit), count)
    }

    /// Grey values on a straight line: `out[i]` at `start + i · step`, in picture px.
    pub(super) fn line(&self, start: Point, step: Point, out: &mut [f32]) {
        line(self.luma, scale(start, 1.0 / self.unit), scale(step, 1.0 / self.unit), out);
    }

    /// Picture px that one of its px means.
    pub(super) fn unit(&self) -> f32 {
        self.unit
    }
}

/// A picture in the sizes that its symbols are looked at in, each made once.
pub(super) struct Surfaces<'a> {
    picture: &'a Luma,
    made: BTreeMap<usize, Luma>,
}

impl<'a> Surfaces<'a> {
    pub(super) fn new(picture: &'a Luma) -> Self {
        Self { picture, made: BTreeMap::new() }
    }

    /// Width and height in px.
    pub(super) fn size(&self) -> [f32; 2] {
        [self.picture.width() as f32, self.picture.height() as f32]
    }

    /// By how much the picture is reduced to look for symbols: first to a size in which a symbol a tenth of it wide still
    /// shows its bars, then smaller, for large and blurred ones.
    pub(super) fn levels(&self) -> Vec<usize> {
        /// Longest side of the largest level in px, and shortest side of the smallest.
        const LARGEST: usize = 1400;
        const SMALLEST: usize = 100;
        const LEVELS: usize = 3;
        let longest = self.picture.width().max(self.picture.height());
        let shortest = self.picture.width().min(self.picture.height());
        let first = longest.div_ceil(LARGEST).max(1);
        let sizes = std::iter::successors(Some(first), |f| Some(2 * f)).take(LEVELS);
        sizes.take_while(|f| *f == first || shortest / f >= SMALLEST).collect()
    }

    /// The picture reduced by `factor`.
    pub(super) fn reduced(&mut self, factor: usize) -> &Luma {
        let picture = self.picture;
        if factor <= 1 {
            return picture;
        }
        // Means of means are means: a reduced copy at hand is quicker to reduce than the picture.
        let half = if factor.is_multiple_of(2) { self.made.get(&(factor / 2)).map(|l| l.reduced(2)) } else { None };
        self.made.entry(factor).or_insert_with(|| half.unwrap_or_else(|| picture.reduced(factor)))
    }

    /// The picture in the smallest size at hand whose px are no larger than `px` picture px.
    pub(super) fn for_px_of(&self, px: f32) -> Surface<'_> {
        let coarse = self.made.iter().rev().find(|(factor, _)| **factor as f32 <= px);
        match coarse {
            Some((factor, luma)) => Surface { luma, unit: *factor as f32 },
            None => Surface { luma: self.picture, unit: 1.0 },
        }
    }
}
