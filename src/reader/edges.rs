//! The edges of a profile: where it falls or rises fastest.

use super::warp::Warp;

/// An edge between light and dark.
#[derive(Debug, Clone, Copy)]
pub(super) struct Edge {
    /// Where it is, in columns, between them.
    pub(super) at: f32,
    /// Whether it gets darker there.
    pub(super) darker: bool,
    /// How steep it is, in grey levels over two columns.
    pub(super) steepness: f32,
}

/// Edges that a symbol shows at least: where blur makes one of bars that stand close together, 20 of its 60 may be left.
pub(super) const FEWEST_EDGES: usize = 20;

/// Columns within which a symbol's edges are alike, of as many as it covers.
pub(super) fn reach(columns: usize) -> usize {
    (columns / 10).max(4)
}

/// The edges of `profile`, darker and lighter in turn; those much fainter than others within `reach` columns are texture.
pub(super) fn edges(profile: &[f32], reach: usize) -> Vec<Edge> {
    const FAINT: f32 = 0.12;
    const FAINTEST: f32 = 0.5;
    let slope: Vec<f32> = profile.windows(3).map(|w| w[2] - w[0]).collect();
    let strongest = strongest_within(&slope, reach);
    let mut edges: Vec<Edge> = Vec::new();
    for i in 1..slope.len().saturating_sub(1) {
        let [a, b, c] = [slope[i - 1], slope[i], slope[i + 1]].map(|s| if slope[i] < 0.0 { -s } else { s });
        if b < FAINTEST || b < FAINT * strongest[i] || a > b || c >= b {
            continue;
        }
        // The top of the parabola through the three.
        let bow = a - 2.0 * b + c;
        let part = if bow < 0.0 { (0.5 * (a - c) / bow).clamp(-0.5, 0.5) } else { 0.0 };
        let edge = Edge { at: i as f32 + 1.0 + part, darker: slope[i] < 0.0, steepness: b };
        match edges.last_mut() {
            Some(last) if last.darker == edge.darker => {
                if edge.steepness > last.steepness {
                    *last = edge;
                }
            }
            _ => edges.push(edge),
        }
    }
    edges
}

/// For each slope the steepest within `reach` around it, to the nearest block.
fn strongest_within(slope: &[f32], reach: usize) -> Vec<f32> {
    let block = (reach / 2).max(1);
    let blocks: Vec<f32> = slope.chunks(block).map(|c| c.iter().fold(0.0f32, |m, s| m.max(s.abs()))).collect();
    (0..slope.len())
        .map(|i| {
            let b = i / block;
            blocks[b.saturating_sub(2)..(b + 3).min(blocks.len())].iter().copied().fold(0.0, f32::max)
        })
        .collect()
}

/// Edges of a UPC-A or EAN-13, whatever its digits.
const EDGES: usize = 60;

/// Modules at which the edges lie that are the same for all digits: those of the guards and between digits (GS1 General
/// Specifications, 'EAN/UPC symbology'), each with its place in the row of edges.
fn fixed_edges() -> impl Iterator<Item = (usize, f32)> {
    let start = [(0, 0), (1, 1), (2, 2)];
    let left = (0..=6).map(|k| (3 + 4 * k, 3 + 7 * k));
    let centre = [(28, 46), (29, 47), (30, 48), (31, 49)];
    let right = (0..=6).map(|k| (32 + 4 * k, 50 + 7 * k));
    let end = [(57, 93), (58, 94), (59, 95)];
    start.into_iter().chain(left).chain(centre).chain(right).chain(end).map(|(i, m)| (i, m as f32))
}

/// Where a symbol may lie for which every edge was seen: rows of 60 with quiet zones on both sides.
pub(super) fn whole_rows(edges: &[Edge], columns: usize) -> Vec<Warp> {
    /// Modules of quiet zone. GS1 asks for 7 to 11; covers grant less.
    const QUIET: f32 = 4.0;
    let mut rows = Vec::new();
    for (k, row) in edges.windows(EDGES).enumerate() {
        if !row[0].darker {
            continue;
        }
        let (first, last) = (row[0].at, row[EDGES - 1].at);
        let module = (last - first) / 95.0;
        let before = k.checked_sub(1).map_or(0.0, |i| edges[i].at);
        let behind = edges.get(k + EDGES).map_or(columns as f32 - 1.0, |e| e.at);
        if first - before < QUIET * module || behind - last < QUIET * module {
            continue;
        }
        let pairs: Vec<(f32, f32)> = fixed_edges().map(|(i, m)| (row[i].at, m)).collect();
        rows.extend(Warp::through(&pairs, 95.0));
    }
    rows
}

/// The warp that puts each of a known code's edges on one of `edges` between two columns, if they are as many.
pub(super) fn matched(edges: &[Edge], modules: &[bool], left: f32, right: f32) -> Option<Warp> {
    let module = (right - left) / modules.len() as f32;
    let between: Vec<f32> =
        edges.iter().map(|e| e.at).filter(|at| (left - 1.5 * module..right + 1.5 * module).contains(at)).collect();
    let dark = |i: usize| i.checked_sub(1).is_some_and(|i| modules.get(i).copied().unwrap_or(false));
    let places: Vec<f32> = (0..=modules.len()).filter(|&i| dark(i) != dark(i + 1)).map(|i| i as f32).collect();
    if between.len() != places.len() {
        return None;
    }
    let pairs: Vec<(f32, f32)> = between.into_iter().zip(places).collect();
    Warp::through(&pairs, modules.len() as f32)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A mean of many rows tells greys apart that differ by less than one.
    #[test]
    fn edges_of_faint_bars_are_seen() {
        let bars = |height: f32| -> Vec<f32> {
            (0..100).map(|x| 40.0 + height * (std::f32::consts::TAU * x as f32 / 10.0).sin()).collect()
        };
        for (height, seen) in [(60.0, true), (0.7, true), (0.2, false)] {
            let edges = edges(&bars(height), 20);
            assert_eq!(edges.len(), if seen { 19 } else { 0 }, "{height}");
            assert!(edges.windows(2).all(|pair| pair[0].darker != pair[1].darker));
        }
    }

    #[test]
    fn texture_beside_strong_edges_is_not_taken_for_edges() {
        let wave = |x: usize| (std::f32::consts::TAU * x as f32 / 10.0).sin();
        let profile: Vec<f32> =
            (0..100).map(|x| 40.0 + wave(x) * if (40..60).contains(&x) { 3.0 } else { 40.0 }).collect();
        assert!(edges(&profile, 20).iter().all(|edge| !(42.0..58.0).contains(&edge.at)));
    }
}
