//! Which regions are worth a look, and which of those a long one: most of what has parallel edges is no symbol.
//!
//! A region is refused only for what no readable symbol shows, however blurred or glared at.

use super::blend::mean;
use super::edges::{Edge, FEWEST_EDGES, edges, reach};
use super::find::Region;
use super::likelihood::SMALLEST_PX;
use super::model::correlation;
use super::sample::{add, quarter_turn, scale};
use super::strips::{Strip, Strips, without_light};
use super::surface::Surfaces;

/// Whether any line across `region` shows as many edges as a symbol, quickly.
pub(super) fn is_busy(surfaces: &Surfaces<'_>, region: &Region) -> bool {
    /// Lines, and the part of the height over which they are spread: glare or a fold hides some of them.
    const LINES: usize = 7;
    const SPREAD: f32 = 0.8;
    /// Samples of a line: six for each edge of a UPC-A.
    const SAMPLES: f32 = 360.0;
    let [half_length, half_height] = region.half;
    let step = (2.0 * half_length / SAMPLES).max(1.0);
    let surface = surfaces.for_px_of(step);
    let mut line = vec![0.0; (2.0 * half_length / step) as usize];
    (0..LINES).any(|i| {
        let down = SPREAD * half_height * (2.0 * (i as f32 + 0.5) / LINES as f32 - 1.0);
        let middle = add(region.middle, scale(quarter_turn(region.along), down));
        surface.line(add(middle, scale(region.along, -half_length)), scale(region.along, step), &mut line);
        edges(&line, reach(line.len())).len() >= FEWEST_EDGES
    })
}

/// Whether the bars laid out may be a symbol's, so that the slow stage is worth its time.
pub(super) fn may_be_symbol(strips: &Strips) -> bool {
    /// Height over width of what shows bars: a region reaches farther than the bars go on.
    const HIGHEST: f32 = 1.0;
    /// By what share of their width the bars may run together from the first strip to the last: a symbol tilted by 45°
    /// and seen from six times its height does so by an eighth, the rays of a burst much more.
    const TOGETHER: f32 = 0.25;
    /// Modules that the region itself must show; strips reach beyond it on both sides.
    const SHOWN_MODULES: f32 = 90.0;
    /// How much the middle strip, ranked by that, must be like the mean of all: lettering changes from row to row.
    const ALIKE: f32 = 0.8;
    /// How much wider than usual the wide gaps between edges must be: bars and spaces are one to four modules wide, the
    /// lines of a screen or a grille are alike.
    const UNEVEN: f32 = 1.5;
    let width_px = strips.inner_columns() as f32 * strips.column_px();
    if strips.height_px() > HIGHEST * width_px
        || strips.convergence() > TOGETHER
        || width_px < SHOWN_MODULES * SMALLEST_PX
    {
        return false;
    }
    let seen: Vec<&Strip> = strips.seen().collect();
    let profile = mean(seen.iter().copied());
    let inner = strips.inner();
    let all = edges(&profile, reach(inner.len()));
    let within = all.iter().filter(|e| inner.contains(&(e.at as usize))).count();
    within >= FEWEST_EDGES && unevenness(&all) > UNEVEN && {
        let light = (inner.len() / 16).max(3);
        let bars = without_light(&profile[inner.clone()], light);
        let mut alike: Vec<f32> =
            seen.iter().map(|s| correlation(&without_light(&s.profile[inner.clone()], light), &bars)).collect();
        alike.sort_by(f32::total_cmp);
        alike.get(alike.len() / 2).is_some_and(|middle| *middle > ALIKE)
    }
}

/// The gap between neighbouring edges that a tenth of all exceed, over the middle one.
fn unevenness(edges: &[Edge]) -> f32 {
    let mut gaps: Vec<f32> = edges.windows(2).map(|pair| pair[1].at - pair[0].at).collect();
    gaps.sort_by(f32::total_cmp);
    gaps.get(gaps.len() * 9 / 10).zip(gaps.get(gaps.len() / 2)).map_or(0.0, |(wide, middle)| wide / middle)
}
