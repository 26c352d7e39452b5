//! Points between pixels, vectors, and small linear systems.

use std::ops::Range;

use crate::picture::Luma;

/// A point in picture px; pixel (0, 0) covers 0 to 1, its centre is (0.5, 0.5).
pub(super) type Point = [f32; 2];

pub(super) fn add(a: Point, b: Point) -> Point {
    [a[0] + b[0], a[1] + b[1]]
}

pub(super) fn sub(a: Point, b: Point) -> Point {
    [a[0] - b[0], a[1] - b[1]]
}

pub(super) fn scale(a: Point, by: f32) -> Point {
    [a[0] * by, a[1] * by]
}

pub(super) fn dot(a: Point, b: Point) -> f32 {
    a[0] * b[0] + a[1] * b[1]
}

pub(super) fn length(a: Point) -> f32 {
    dot(a, a).sqrt()
}

/// The point a fraction `t` of the way from `a` to `b`.
pub(super) fn mix(a: Point, b: Point, t: f32) -> Point {
    add(a, scale(sub(b, a), t))
}

/// A quarter turn: from reading direction to "down" in a picture whose y grows downwards.
pub(super) fn quarter_turn(a: Point) -> Point {
    [-a[1], a[0]]
}

/// The grey value at `p`, interpolated between the four pixels around it; beyond the edge the edge's own value.
pub(super) fn grey(luma: &Luma, p: Point) -> f32 {
    let clamp = |v: f32, size: usize| (v - 0.5).clamp(0.0, (size - 1) as f32);
    let (x, y) = (clamp(p[0], luma.width()), clamp(p[1], luma.height()));
    let (x0, y0) = (x as usize, y as usize);
    let (x1, y1) = ((x0 + 1).min(luma.width() - 1), (y0 + 1).min(luma.height() - 1));
    let (fx, fy) = (x - x0 as f32, y - y0 as f32);
    let (upper, lower) = (luma.row(y0), luma.row(y1));
    let at = |row: &[u8], x: usize| f32::from(row[x]);
    let top = at(upper, x0) * (1.0 - fx) + at(upper, x1) * fx;
    let bottom = at(lower, x0) * (1.0 - fx) + at(lower, x1) * fx;
    top * (1.0 - fy) + bottom * fy
}

/// Those of `count` points, from `start` on and `step` apart, that lie in the picture and `margin` px from its edges.
pub(super) fn within(luma: &Luma, margin: f32, start: Point, step: Point, count: usize) -> Range<usize> {
    let (mut first, mut end) = (0.0f32, count as f32);
    for (axis, size) in [luma.width(), luma.height()].into_iter().enumerate() {
        let (low, high) = (margin - start[axis], size as f32 - margin - start[axis]);
        if step[axis] == 0.0 {
            if low > 0.0 || high < 0.0 {
                return 0..0;
            }
            continue;
        }
        let [enter, leave] = if step[axis] > 0.0 { [low, high] } else { [high, low] }.map(|way| way / step[axis]);
        first = first.max(enter.ceil());
        end = end.min(leave.floor() + 1.0);
    }
    if first < end { first as usize..end as usize } else { 0..0 }
}

/// Grey values on a straight line: `out[i]` at `start + i · step`, all in px.
pub(super) fn line(luma: &Luma, start: Point, step: Point, out: &mut [f32]) {
    /// From the edge, in px: half a px for the neighbours, the rest for rounding.
    const MARGIN: f32 = 1.0;
    let at = |i: usize| add(start, scale(step, i as f32));
    let mut inner = within(luma, MARGIN, start, step, out.len());
    if inner.len() < BLOCK {
        inner = 0..0;
    }
    for i in (0..inner.start).chain(inner.end..out.len()) {
        out[i] = grey(luma, at(i));
    }
    // All four px around every point lie in the picture: no clamping. Steps are added in whole parts of 2⁻³² px, which
    // is quicker than turning each place into a whole number, and exact enough for any line.
    let fixed = |px: f32| (f64::from(px) * (1u64 << 32) as f64) as i64;
    let (start, step) = (at(inner.start).map(|px| fixed(px - 0.5)), step.map(fixed));
    let out = &mut out[inner];
    // What the blocks leave, the last one reaches back from.
    let last = out.len().checked_sub(BLOCK);
    let (blocks, rest) = out.as_chunks_mut::<BLOCK>();
    for (i, block) in blocks.iter_mut().enumerate() {
        mixed(luma, start, step, i * BLOCK, block);
    }
    if let Some(from) = last.filter(|_| !rest.is_empty())
        && let Some(block) = out[from..].first_chunk_mut::<BLOCK>()
    {
        mixed(luma, start, step, from, block);
    }
}

/// Points whose px are fetched one after the other and then mixed side by side.
const BLOCK: usize = 8;

/// Grey values from the point `first` of a line on, whose `start` and `step` are in 2⁻³² px between middles of pixels.
#[inline(always)]
fn mixed(luma: &Luma, start: [i64; 2], step: [i64; 2], first: usize, out: &mut [f32; BLOCK]) {
    let (pixels, width) = (luma.pixels(), luma.width());
    let [mut x, mut y] = [0, 1].map(|axis| start[axis] + first as i64 * step[axis]);
    let (mut upper, mut lower) = ([0u16; BLOCK], [0u16; BLOCK]);
    let (mut right, mut down) = ([0u32; BLOCK], [0u32; BLOCK]);
    for i in 0..BLOCK {
        let at = (y >> 32) as usize * width + (x >> 32) as usize;
        if let Some(px) = pixels.get(at..at + width + 2) {
            upper[i] = u16::from_le_bytes([px[0], px[1]]);
            lower[i] = u16::from_le_bytes([px[width], px[width + 1]]);
        }
        (right[i], down[i]) = (x as u32, y as u32);
        (x, y) = (x + step[0], y + step[1]);
    }
    for i in 0..BLOCK {
        let part = |at: u32| (at >> 8) as i32 as f32 / (1 << 24) as f32;
        let [a, b, c, d] =
            [upper[i] & 255, upper[i] >> 8, lower[i] & 255, lower[i] >> 8].map(|px| i32::from(px) as f32);
        let (top, bottom) = (a + (b - a) * part(right[i]), c + (d - c) * part(right[i]));
        out[i] = top + (bottom - top) * part(down[i]);
    }
}

/// A row of values at `columns` that may lie between two of them; beyond its ends, its first and its last.
pub(super) fn between(values: &[f32], columns: Vec<f32>) -> Vec<f32> {
    let last = values.len() - 1;
    let mut columns = columns;
    for column in &mut columns {
        let at = column.clamp(0.0, last as f32);
        let left = (at as usize).min(last - 1);
        *column = values[left] + (values[left + 1] - values[left]) * (at - left as f32);
    }
    columns
}

/// Means over `reach` values to each side; at the ends over those that there are.
pub(super) fn windowed(values: &[f32], reach: usize) -> Vec<f32> {
    let n = values.len();
    let mut sums = Vec::with_capacity(n + 1);
    let mut sum = 0.0f64;
    sums.push(0.0);
    for &value in values {
        sum += f64::from(value);
        sums.push(sum);
    }
    let mean = |from: usize, to: usize| ((sums[to] - sums[from]) / (to - from) as f64) as f32;
    let span = 2 * reach + 1;
    let mut means = Vec::with_capacity(n);
    means.extend((0..reach.min(n)).map(|x| mean(0, (x + reach + 1).min(n))));
    // Where the whole reach is there, several at a time.
    let whole = sums.iter().zip(sums.get(span..).unwrap_or(&[]));
    means.extend(whole.map(|(from, to)| ((to - from) / span as f64) as f32));
    means.extend((means.len()..n).map(|x| mean(x.saturating_sub(reach), n)));
    means
}

/// What is picked of the values within `reach` of each.
pub(super) fn extreme(values: &[f32], reach: usize, pick: fn(f32, f32) -> f32) -> Vec<f32> {
    let near = |x: usize| &values[x.saturating_sub(reach)..(x + reach + 1).min(values.len())];
    (0..values.len()).map(|x| near(x).iter().copied().fold(values[x], pick)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_holds_the_points_it_passes() {
        let luma = Luma::from_fn(90, 60, |x, y| (x * 2 + y) as u8);
        for (start, step) in [([5.0, 5.0], [0.9, 0.4]), ([80.0, 50.0], [-1.0, -0.5]), ([-3.0, 20.0], [1.0, 0.7])] {
            for points in [1, 7, 8, 9, 15, 16, 70] {
                let mut out = vec![-1.0; points];
                line(&luma, start, step, &mut out);
                for (i, value) in out.iter().enumerate() {
                    let there = grey(&luma, add(start, scale(step, i as f32)));
                    assert!((value - there).abs() < 1e-2, "{i} of {points} of the line from {start:?}");
                }
            }
        }
    }

    #[test]
    fn a_windowed_value_is_the_mean_of_those_near_it() {
        let values: Vec<f32> = (0..23).map(|i| ((i * i) % 17) as f32).collect();
        for n in 0..values.len() {
            for reach in 0..14 {
                let windowed = windowed(&values[..n], reach);
                assert_eq!(windowed.len(), n);
                for (x, mean) in windowed.iter().enumerate() {
                    let near = &values[x.saturating_sub(reach)..(x + reach + 1).min(n)];
                    let expected = near.iter().sum::<f32>() / near.len() as f32;
                    assert!((mean - expected).abs() < 1e-4, "{x} of {n}, reach {reach}");
                }
            }
        }
    }
}
