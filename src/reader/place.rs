//! Where a symbol lies in the picture.

use super::find::Region;
use super::sample::{Point, add, dot, length, mix, quarter_turn, scale, share_of, sub};
use super::strips::{Strip, Strips};
use super::surface::Surface;
use super::warp::Warp;

/// One line across the bars: the outer edges of its first and last bar, in picture px, in reading direction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Line {
    pub(super) left: Point,
    pub(super) right: Point,
}

impl Line {
    /// Grey values along the line, from `first` modules on, where the symbol is `modules` wide and `per_module` samples
    /// are taken of each.
    pub(super) fn profile(
        &self,
        surface: &Surface,
        modules: f32,
        first: f32,
        per_module: usize,
        samples: usize,
    ) -> Vec<f32> {
        let module = scale(sub(self.right, self.left), 1.0 / modules);
        let mut out = vec![0.0; samples];
        surface.line(add(self.left, scale(module, first)), scale(module, 1.0 / per_module as f32), &mut out);
        out
    }
}

/// A symbol's place.
#[derive(Debug, Clone)]
pub(super) struct Place {
    /// Top left, top right, bottom right, bottom left, in picture px.
    pub(super) corners: [Point; 4],
    /// Width of the symbol in modules.
    pub(super) modules: f32,
}

impl Place {
    /// The place of bars that lie as `warp` says in the profiles of `strips`, which are read from right to left if
    /// `backwards`; none if they are seen on hardly any.
    pub(super) fn new(strips: &Strips, warp: &Warp, backwards: bool, seen: impl Fn(&Strip) -> bool) -> Option<Self> {
        let column = |m: f32| {
            let column = warp.column_at(m);
            if backwards { strips.columns() as f32 - 1.0 - column } else { column }
        };
        let (left, right) = (column(0.0), column(warp.modules));
        let lines: Vec<(f32, Line)> = strips
            .all()
            .iter()
            .filter(|s| seen(s))
            .map(|s| (s.row(), Line { left: strips.point(s, left), right: strips.point(s, right) }))
            .collect();
        let (first, last) = (lines.first()?.0, lines.last()?.0);
        let half = strips.strip_rows() / 2.0;
        let (top, bottom) = (first - half, last + half);
        let left = straight(&lines, |line| line.left);
        let right = straight(&lines, |line| line.right);
        let mut corners = [left(top), right(top), right(bottom), left(bottom)];
        if backwards {
            corners.reverse();
        }
        Some(Self { corners, modules: warp.modules })
    }

    /// The same from the top of `region` to its bottom, where bars that were seen on a part of it go on.
    pub(super) fn reaching(&self, region: &Region) -> Self {
        let [tl, tr, br, bl] = self.corners;
        let down = quarter_turn(region.along);
        let down = if dot(sub(bl, tl), down) < 0.0 { scale(down, -1.0) } else { down };
        // Fractions of the height at which a side enters the region and leaves it.
        let ends = |top: Point, bottom: Point| {
            let (height, first) = (dot(sub(bottom, top), down), dot(sub(top, region.middle), down));
            let at = |to: f32| (to * region.half[1] - first) / height.max(1.0);
            [mix(top, bottom, at(-1.0).min(0.0)), mix(top, bottom, at(1.0).max(1.0))]
        };
        let ([tl, bl], [tr, br]) = (ends(tl, bl), ends(tr, br));
        Self { corners: [tl, tr, br, bl], ..*self }
    }

    /// The line across the symbol at a fraction `t` of its height, from 0 (top) to 1.
    pub(super) fn line(&self, t: f32) -> Line {
        let [tl, tr, br, bl] = self.corners;
        Line { left: mix(tl, bl, t), right: mix(tr, br, t) }
    }

    /// Mean width of a module in picture px.
    pub(super) fn module_px(&self) -> f32 {
        self.width_px() / self.modules
    }

    /// Mean width of the bars in picture px.
    pub(super) fn width_px(&self) -> f32 {
        let line = self.line(0.5);
        length(sub(line.right, line.left))
    }

    /// The middle of its bars.
    pub(super) fn middle(&self) -> Point {
        let line = self.line(0.5);
        mix(line.left, line.right, 0.5)
    }

    /// Mean height of the bars in modules.
    pub(super) fn height_modules(&self) -> f32 {
        let [tl, tr, br, bl] = self.corners;
        length(sub(mix(bl, br, 0.5), mix(tl, tr, 0.5))) / self.module_px()
    }

    /// The place with its quiet zones, and behind it, if `with_add_on`, the farthest add-on's place.
    pub(super) fn with_surroundings(&self, with_add_on: bool) -> Self {
        /// Modules: GS1's quiet zone of a UPC-A or more; an add-on of 47 modules after the widest gap.
        const QUIET: f32 = 12.0;
        const ADD_ON: f32 = 70.0;
        let [tl, tr, br, bl] = self.corners;
        let (before, behind) = (-QUIET, self.modules + if with_add_on { ADD_ON } else { QUIET });
        let at = |left, right, m: f32| mix(left, right, m / self.modules);
        let corners = [at(tl, tr, before), at(tl, tr, behind), at(bl, br, behind), at(bl, br, before)];
        Self { corners, modules: behind - before }
    }

    /// The share of the bars' outline in which `lies` holds.
    pub(super) fn share(&self, lies: impl Fn(Point) -> bool) -> f32 {
        share_of(self.corners, lies)
    }

    /// Whether `p` lies within the bars' outline.
    pub(super) fn holds(&self, p: Point) -> bool {
        (0..4).all(|i| {
            let (a, b) = (self.corners[i], self.corners[(i + 1) % 4]);
            dot(quarter_turn(sub(b, a)), sub(p, a)) >= 0.0
        })
    }
}

/// The straight line, by least squares, that an end of the lines follows from row to row.
fn straight(lines: &[(f32, Line)], end: impl Fn(&Line) -> Point) -> impl Fn(f32) -> Point {
    let n = lines.len() as f32;
    let mean_row = lines.iter().map(|(row, _)| row).sum::<f32>() / n;
    let mean = scale(lines.iter().fold([0.0, 0.0], |sum, (_, l)| add(sum, end(l))), 1.0 / n);
    let (mut tp, mut tt) = ([0.0, 0.0], 0.0);
    for (row, line) in lines {
        let t = row - mean_row;
        tp = add(tp, scale(sub(end(line), mean), t));
        tt += t * t;
    }
    let slope = if tt > 0.0 { scale(tp, 1.0 / tt) } else { [0.0, 0.0] };
    move |row| add(mean, scale(slope, row - mean_row))
}
