//! Grey values on straight lines through a picture, between its pixels.

use std::ops::Range;

use super::sample::{Point, add, scale};
use crate::picture::Luma;

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
    let way = Way { luma, start: at(inner.start).map(|px| fixed(px - 0.5)), step: step.map(fixed) };
    way.fill(&mut out[inner]);
}

/// Points that are mixed side by side.
const BLOCK: usize = 8;

/// A line's way through a picture, in 2⁻³² px from the middle of the first pixel.
#[derive(Clone, Copy)]
struct Way<'a> {
    luma: &'a Luma,
    start: [i64; 2],
    step: [i64; 2],
}

impl Way<'_> {
    #[cfg(target_arch = "x86_64")]
    fn fill(self, out: &mut [f32]) {
        match pulp::x86::V3::try_new() {
            Some(simd) => simd.vectorize(Filling { simd, way: self, out }),
            None => self.fill_with(out, |first, block| self.mix(first, block)),
        }
    }

    #[cfg(not(target_arch = "x86_64"))]
    fn fill(self, out: &mut [f32]) {
        self.fill_with(out, |first, block| self.mix(first, block));
    }

    /// Sets all values, each block by itself; what they leave, the last one reaches back from.
    #[inline(always)]
    fn fill_with(self, out: &mut [f32], mix: impl Fn(usize, &mut [f32; BLOCK])) {
        let last = out.len().saturating_sub(BLOCK);
        let firsts = (0..last).step_by(BLOCK).chain([last]);
        for first in firsts {
            if let Some(block) = out[first..].first_chunk_mut::<BLOCK>() {
                mix(first, block);
            }
        }
    }

    /// The point `first` of the line.
    #[inline(always)]
    fn at(self, first: usize) -> [i64; 2] {
        [0, 1].map(|axis| self.start[axis] + first as i64 * self.step[axis])
    }

    /// Grey values from the point `first` on, px fetched one after the other.
    #[inline(always)]
    fn mix(self, first: usize, out: &mut [f32; BLOCK]) {
        let (pixels, width) = (self.luma.pixels(), self.luma.width());
        let [mut x, mut y] = self.at(first);
        let (mut upper, mut lower) = ([0u16; BLOCK], [0u16; BLOCK]);
        let (mut right, mut down) = ([0u32; BLOCK], [0u32; BLOCK]);
        for i in 0..BLOCK {
            let at = (y >> 32) as usize * width + (x >> 32) as usize;
            if let Some(px) = pixels.get(at..at + width + 2) {
                upper[i] = u16::from_le_bytes([px[0], px[1]]);
                lower[i] = u16::from_le_bytes([px[width], px[width + 1]]);
            }
            (right[i], down[i]) = (x as u32, y as u32);
            (x, y) = (x + self.step[0], y + self.step[1]);
        }
        for i in 0..BLOCK {
            let part = |at: u32| (at >> 8) as i32 as f32 * PART;
            let [a, b, c, d] =
                [upper[i] & 255, upper[i] >> 8, lower[i] & 255, lower[i] >> 8].map(|px| i32::from(px) as f32);
            let (top, bottom) = (a + (b - a) * part(right[i]), c + (d - c) * part(right[i]));
            out[i] = top + (bottom - top) * part(down[i]);
        }
    }
}

/// What the upper 24 bits behind a whole px are multiplied with.
const PART: f32 = 1.0 / (1 << 24) as f32;

#[cfg(target_arch = "x86_64")]
struct Filling<'a, 'out> {
    simd: pulp::x86::V3,
    way: Way<'a>,
    out: &'out mut [f32],
}

#[cfg(target_arch = "x86_64")]
impl pulp::NullaryFnOnce for Filling<'_, '_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        let Self { simd, way, out } = self;
        way.fill_with(
            out,
            #[inline(always)]
            |first, block| match Patch::around(way, first) {
                Some(patch) => *block = patch.mixed(simd, way),
                None => way.mix(first, block),
            },
        );
    }
}

/// The px around a block's points, where these lie so close to one row that they are at hand at once.
#[cfg(target_arch = "x86_64")]
struct Patch<'a> {
    /// The first point.
    at: [i64; 2],
    /// The leftmost px and the topmost.
    left: i64,
    top: i64,
    rows: [&'a [u8; 2 * BLOCK]; 3],
}

#[cfg(target_arch = "x86_64")]
impl<'a> Patch<'a> {
    #[inline(always)]
    fn around(way: Way<'a>, first: usize) -> Option<Self> {
        const LAST: i64 = BLOCK as i64 - 1;
        let (pixels, width) = (way.luma.pixels(), way.luma.width());
        let at = way.at(first);
        let [(left, right), (top, bottom)] = [0, 1].map(|axis| {
            let (from, to) = (at[axis] >> 32, (at[axis] + LAST * way.step[axis]) >> 32);
            (from.min(to), from.max(to))
        });
        if right - left > 2 * LAST || bottom - top > 1 {
            return None;
        }
        let from = top as usize * width + left as usize;
        let row = |y: usize| pixels.get(from + y * width..)?.first_chunk();
        Some(Self { at, left, top, rows: [row(0)?, row(1)?, row(2)?] })
    }

    /// The values of the points, computed as [`Way::mix`] does.
    #[inline(always)]
    fn mixed(&self, simd: pulp::x86::V3, way: Way<'_>) -> [f32; BLOCK] {
        use pulp::cast;
        let (avx, avx2) = (simd.avx, simd.avx2);
        // The points 0, 1, 4, 5, 2, 3, 6, 7: what lies behind whole px of them, and whole px.
        let places = |axis: usize| {
            let (at, by) = (self.at[axis], way.step[axis]);
            let first = cast([at, at + by, at + 2 * by, at + 3 * by]);
            let more = avx2._mm256_add_epi64(first, avx._mm256_set1_epi64x(4 * by));
            let [first, more] = [cast(first), cast(more)];
            let parts = avx._mm256_shuffle_ps::<0x88>(first, more);
            let whole = avx._mm256_shuffle_ps::<0xdd>(first, more);
            let parts = avx._mm256_cvtepi32_ps(avx2._mm256_srli_epi32::<8>(cast(parts)));
            (avx._mm256_mul_ps(parts, avx._mm256_set1_ps(PART)), cast(whole))
        };
        let ((x, columns), (y, rows)) = (places(0), places(1));
        let is_lower = avx2._mm256_cmpgt_epi32(rows, avx._mm256_set1_epi32(self.top as i32));
        // A byte of a row for each point, the upper three bytes of each number left empty.
        let left = avx2._mm256_sub_epi32(columns, avx._mm256_set1_epi32(self.left as i32));
        let left = avx2._mm256_or_si256(left, avx._mm256_set1_epi32(0x8080_8000_u32 as i32));
        let right = avx2._mm256_add_epi32(left, avx._mm256_set1_epi32(1));
        let [first, second, third] = self.rows.map(|px| avx2._mm256_broadcastsi128_si256(cast(*px)));
        let px = |upper, lower, at| {
            let [upper, lower] = [avx2._mm256_shuffle_epi8(upper, at), avx2._mm256_shuffle_epi8(lower, at)];
            avx._mm256_cvtepi32_ps(avx2._mm256_blendv_epi8(upper, lower, is_lower))
        };
        let between = |a, b, part| avx._mm256_add_ps(a, avx._mm256_mul_ps(avx._mm256_sub_ps(b, a), part));
        let top = between(px(first, second, left), px(first, second, right), x);
        let bottom = between(px(second, third, left), px(second, third, right), x);
        let values = avx2._mm256_permute4x64_epi64::<0xd8>(cast(between(top, bottom, y)));
        cast(values)
    }
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

    /// Slopes from none to all, both ways, up to steps that leave the px at hand.
    #[test]
    fn what_is_at_hand_at_once_gives_the_same() {
        let luma = Luma::from_fn(97, 83, |x, y| (x * 89 + y * 151 + x * y) as u8);
        let mut at_hand = 0;
        for turn in 0..120 {
            for step in [0.3f32, 0.9, 1.7, 2.1] {
                let (sin, cos) = (turn as f32 * std::f32::consts::TAU / 120.0).sin_cos();
                let [step_x, step_y] = [cos, sin].map(|part| (f64::from(part * step) * (1u64 << 32) as f64) as i64);
                let way =
                    Way { luma: &luma, start: [48 << 32 | 12_345, 41 << 32 | 4_000_000_000], step: [step_x, step_y] };
                let (mut each, mut filled) = ([0.0; BLOCK], [-1.0; BLOCK]);
                way.mix(0, &mut each);
                way.fill(&mut filled);
                assert_eq!(filled, each, "turned by {turn} of 120, step {step}");
                #[cfg(target_arch = "x86_64")]
                {
                    at_hand += usize::from(Patch::around(way, 0).is_some());
                }
            }
        }
        assert!(cfg!(not(target_arch = "x86_64")) || (40..440).contains(&at_hand), "{at_hand} of 480");
    }
}
