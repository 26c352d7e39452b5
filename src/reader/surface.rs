//! A picture in the sizes in which its symbols are looked at, all addressed in picture px.

use std::borrow::Cow;
use std::collections::BTreeMap;

use super::sample::{Point, grey, inside, scale};
use crate::picture::Luma;

/// A picture, or a reduced copy of it, addressed in picture px.
pub(super) struct Surface<'a> {
    luma: Cow<'a, Luma>,
    unit: f32,
}

impl Surface<'_> {
    /// Whether the picture shows anything at `p`.
    pub(super) fn shows(&self, p: Point) -> bool {
        inside(&self.luma, scale(p, 1.0 / self.unit))
    }

    pub(super) fn grey(&self, p: Point) -> f32 {
        grey(&self.luma, scale(p, 1.0 / self.unit))
    }
}

/// A picture in the sizes that its symbols are looked at in, each made once.
pub(super) struct Surfaces<'a> {
    picture: &'a Luma,
    made: BTreeMap<usize, Surface<'a>>,
}

impl<'a> Surfaces<'a> {
    pub(super) fn new(picture: &'a Luma) -> Self {
        Self { picture, made: BTreeMap::new() }
    }

    /// The picture reduced so that a module of `module_px` keeps at least three px: enough for its edges, little to read.
    pub(super) fn for_modules_of(&mut self, module_px: f32) -> &Surface<'a> {
        let factor = (module_px / 3.0).floor().max(1.0) as usize;
        let picture = self.picture;
        self.made.entry(factor).or_insert_with(|| {
            let luma = if factor == 1 { Cow::Borrowed(picture) } else { Cow::Owned(picture.reduced(factor)) };
            Surface { luma, unit: factor as f32 }
        })
    }
}
