//! Which regions are worth a look, and which of those a long one: most of what has parallel edges is no symbol.
//!
//! A region is refused only for what no readable symbol shows, however blurred or glared at.

use std::ops::Range;

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
    /// Edges from which on bars may stand apart. Where fewer are seen, they must run into one another.
    const APART: usize = 24;
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
    let few = within < FEWEST_EDGES || (within < APART && !run_together(&profile, &all, &inner));
    !few && unevenness(&all) > UNEVEN && {
        let light = (inner.len() / 16).max(3);
        let bars = without_light(&profile[inner.clone()], light);
        let mut alike: Vec<f32> =
            seen.iter().map(|s| correlation(&without_light(&s.profile[inner.clone()], light), &bars)).collect();
        alike.sort_by(f32::total_cmp);
        alike.get(alike.len() / 2).is_some_and(|middle| *middle > ALIKE)
    }
}

/// Whether most bars within these columns are so blurred that no top between two of their `edges` is flat.
fn run_together(profile: &[f32], edges: &[Edge], within: &Range<usize>) -> bool {
    /// How much of the way to the next edge it takes from one top to the next at the pace of the edge itself: 2/π of it along a sine,
    /// nothing at a sharp edge.
    const SMOOTH: f32 = 0.5;
    let smooth = |before: Edge, edge: Edge, behind: Edge| {
        let [first, second] =
            [(before, edge), (edge, behind)].map(|(a, b)| profile[((a.at + b.at) / 2.0).round() as usize]);
        2.0 * (first - second).abs() > SMOOTH * edge.steepness * (behind.at - before.at) / 2.0
    };
    let inner = edges.windows(3).filter(|edges| within.contains(&(edges[1].at as usize)));
    let all: Vec<bool> = inner.map(|edges| smooth(edges[0], edges[1], edges[2])).collect();
    2 * all.iter().filter(|smooth| **smooth).count() > all.len()
}

/// The gap between neighbouring edges that a tenth of all exceed, over the middle one.
fn unevenness(edges: &[Edge]) -> f32 {
    let mut gaps: Vec<f32> = edges.windows(2).map(|pair| pair[1].at - pair[0].at).collect();
    gaps.sort_by(f32::total_cmp);
    gaps.get(gaps.len() * 9 / 10).zip(gaps.get(gaps.len() / 2)).map_or(0.0, |(wide, middle)| wide / middle)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::code::{Gtin, main_modules};
    use crate::reader::model::{Bars, PER_MODULE};

    /// Strips that all show these modules, and the columns that these cover, blurred by so many modules.
    fn strips(modules: &[bool], sigma: f32) -> Strips {
        const QUIET: usize = 9;
        let samples = (modules.len() + 2 * QUIET) * PER_MODULE;
        let wave = Bars::new(modules, 0.0).wave(samples, -(QUIET as f32), sigma, 0.0);
        let profile: Vec<f32> = wave.iter().map(|dark| 200.0 - 120.0 * dark).collect();
        Strips::of_profiles(vec![profile; 9], [QUIET * PER_MODULE, samples - QUIET * PER_MODULE])
    }

    fn edges_of(strips: &Strips) -> usize {
        let inner = strips.inner();
        let all = edges(&strips.all()[0].profile, reach(inner.len()));
        all.iter().filter(|e| inner.contains(&(e.at as usize))).count()
    }

    /// Of 95 modules from EAN-13's example prefix 952.
    #[test]
    fn blurred_bars_may_show_a_third_of_their_edges() {
        let gtin: Gtin = "9527687296669".parse().unwrap();
        let blurred = strips(&main_modules(gtin), 1.2);
        assert_eq!(edges_of(&blurred), 20);
        assert!(may_be_symbol(&blurred));
    }

    #[test]
    fn sharp_bars_show_theirs() {
        // Ten bars where a symbol has thirty.
        let grille: Vec<bool> = (0..95).map(|module| [0, 1, 4, 5].contains(&(module % 19))).collect();
        let sharp = strips(&grille, 0.2);
        assert_eq!(edges_of(&sharp), 20);
        assert!(!may_be_symbol(&sharp));
        let inner = sharp.inner();
        let profile = &sharp.all()[0].profile;
        assert!(unevenness(&edges(profile, reach(inner.len()))) > 1.5, "nothing else speaks against them");
    }
}
