//! The upright, tightly cropped picture of a symbol and its add-on's place: what a person is shown.

use super::place::Place;
use super::sample::{add, mix, scale, sub};
use super::surface::Surface;
use super::wide::widest;
use crate::picture::Luma;

/// Cuts the symbol at `place` out, with its quiet zones and digits, and with the add-on's place if `with_add_on`.
pub(super) fn cut(surface: &Surface, place: &Place, with_add_on: bool) -> Luma {
    /// Modules around the bars. Left and right: the quiet zones; above: the digits of an add-on whose main symbol is low;
    /// below: the digits; behind: the farthest add-on.
    const SIDE: f32 = 11.0;
    const ABOVE: f32 = 10.0;
    const BELOW: f32 = 12.0;
    const ADD_ON: f32 = 70.0;
    /// Plain grey where the photo ends, so that nothing is seen there that is not in it.
    const OUTSIDE: u8 = 128;
    let modules = place.modules;
    // More than the surface shows is no evidence.
    let px = (place.module_px() / surface.unit()).clamp(1.5, 3.0);
    let right = if with_add_on { ADD_ON } else { SIDE };
    let height = place.height_modules().max(1.0);
    let size = |m: f32| (m * px).round().max(1.0) as usize;
    let [tl, tr, br, bl] = place.corners;
    let mut line = vec![0.0; size(SIDE + modules + right)];
    Luma::from_rows(line.len(), size(ABOVE + height + BELOW), |y, row| {
        let down = ((y as f32 + 0.5) / px - ABOVE) / height;
        let (left, right) = (mix(tl, bl, down), mix(tr, br, down));
        let step = scale(sub(right, left), 1.0 / (px * modules));
        let start = add(left, scale(step, 0.5 - SIDE * px));
        let shown = surface.shown(start, step, row.len());
        row.fill(OUTSIDE);
        let (first, row) = (add(start, scale(step, shown.start as f32)), &mut row[shown]);
        let line = &mut line[..row.len()];
        surface.line(first, step, line);
        widest(
            #[inline(always)]
            || row.iter_mut().zip(&*line).for_each(|(pixel, grey)| *pixel = (grey + 0.5) as u8),
        );
    })
}
