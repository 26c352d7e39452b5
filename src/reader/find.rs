//! Where in a picture bars may be: patches whose edges all point the same way.
//!
//! Method: the linear symmetry of small cells thresholded at several levels, and cells of like angle grown together.

use super::gradients::CELL;
use super::sample::{Point, add, dot, length, quarter_turn, scale, share_of, sub};
use super::surface::Surfaces;
use super::tensor::{Cell, FAINTEST, Field};
use super::wide::widest;

/// A patch of parallel edges.
#[derive(Debug, Clone, Copy)]
pub(super) struct Region {
    /// Its middle, in picture px.
    pub(super) middle: Point,
    /// Unit vector across the bars; which of the two ways is open.
    pub(super) along: Point,
    /// Half its extent across and along the bars, in picture px.
    pub(super) half: [f32; 2],
    /// How much edge it holds: for ranking only.
    strength: f32,
}

impl Region {
    pub(super) fn strength(&self) -> f32 {
        self.strength
    }

    /// Overlapping parts of its height: where its bars do not go on from top to bottom.
    pub(super) fn parts(&self) -> [Self; 3] {
        const HEIGHT: f32 = 0.4;
        let down = scale(quarter_turn(self.along), self.half[1] * (1.0 - HEIGHT));
        [-1.0, 0.0, 1.0].map(|by| Self {
            middle: add(self.middle, scale(down, by)),
            half: [self.half[0], self.half[1] * HEIGHT],
            ..*self
        })
    }

    /// The share of its area in which `lies` holds.
    pub(super) fn share(&self, lies: impl Fn(Point) -> bool) -> f32 {
        share_of(self.corners(), lies)
    }

    /// Whether `p` lies in it.
    pub(super) fn holds(&self, p: Point) -> bool {
        let from_middle = sub(p, self.middle);
        dot(from_middle, self.along).abs() <= self.half[0]
            && dot(from_middle, quarter_turn(self.along)).abs() <= self.half[1]
    }

    /// Its corners in picture px, one after the other.
    pub(super) fn corners(&self) -> [Point; 4] {
        let (across, down) = (scale(self.along, self.half[0]), scale(quarter_turn(self.along), self.half[1]));
        let corner = |x: f32, y: f32| add(self.middle, add(scale(across, x), scale(down, y)));
        [corner(-1.0, -1.0), corner(1.0, -1.0), corner(1.0, 1.0), corner(-1.0, 1.0)]
    }

    /// Whether both name the same patch: middles near each other, directions and sizes alike.
    fn is_like(&self, other: &Self) -> bool {
        let turn = (self.along[0] * other.along[1] - self.along[1] * other.along[0]).abs();
        let ratio = |axis: usize| {
            let (a, b) = (self.half[axis], other.half[axis]);
            a.max(b) / a.min(b).max(1.0)
        };
        length(sub(self.middle, other.middle)) < 0.2 * self.half[0] && turn < 0.1 && ratio(0) < 1.2 && ratio(1) < 1.6
    }
}

/// The patches of parallel edges in the picture, the strongest first, at most `most`.
pub(super) fn regions(surfaces: &mut Surfaces<'_>, most: usize) -> Vec<Region> {
    let mut all: Vec<Region> = Vec::new();
    for factor in surfaces.levels() {
        let field = Field::of(surfaces.reduced(factor));
        for region in field.regions(factor as f32) {
            if !all.iter().any(|known| known.is_like(&region)) {
                all.push(region);
            }
        }
    }
    all.sort_by(|a, b| b.strength.total_cmp(&a.strength));
    all.truncate(most);
    all
}

/// Where a cell lies: its column and row, the rim included. A level is too small for more than 16 bits.
type Spot = [u16; 2];

impl Field {
    fn regions(&self, unit: f32) -> Vec<Region> {
        /// Shares of the picture's strongest cell from which on a cell counts.
        const SHARES: [f32; 3] = [0.5, 0.25, 0.1];
        let strongest = self.cells.iter().map(|c| c.energy).fold(0.0, f32::max);
        let thresholds = SHARES.map(|share| (share * strongest).max(FAINTEST));
        // How many thresholds it reaches; once it is taken, one less than that of the round, so that the next finds it free.
        let mut free: Vec<u8> =
            self.cells.iter().map(|c| thresholds.map(|t| u8::from(c.energy >= t)).iter().sum()).collect();
        let rows = free.chunks_exact(self.stride.max(1)).enumerate();
        let seeds =
            rows.flat_map(|(y, row)| row.iter().enumerate().map(move |(x, &free)| ([x as u16, y as u16], free)));
        let seeds: Vec<Spot> = seeds.filter(|&(_, free)| free > 0).map(|(spot, _)| spot).collect();
        let mut regions = Vec::new();
        let mut cells = Vec::new();
        for round in (1..=SHARES.len() as u8).rev() {
            for &seed in &seeds {
                if free[self.index(seed)] >= round {
                    self.grow(seed, round, &mut free, &mut cells);
                    regions.extend(self.outline(&cells, unit));
                }
            }
        }
        regions
    }

    /// Collects in `cells` those that are free, hang together with `seed` and have an angle like the mean so far.
    fn grow(&self, seed: Spot, round: u8, free: &mut [u8], cells: &mut Vec<Spot>) {
        /// Cosine of twice 14 degrees.
        const LIKE: f32 = 0.88;
        cells.clear();
        cells.push(seed);
        free[self.index(seed)] = round - 1;
        // Two numbers: as a pair, compilers pack them into a word for each cell.
        let (mut cos, mut sin) = (0.0f32, 0.0f32);
        let mut next = 0;
        while let Some(&[x, y]) = cells.get(next) {
            next += 1;
            let at = self.index([x, y]);
            let Cell { energy, twice } = self.cells[at];
            cos += twice[0] * energy;
            sin += twice[1] * energy;
            let least = LIKE * LIKE * (cos * cos + sin * sin);
            // No cell of the rim is free.
            let near = [
                (at - 1, [x - 1, y]),
                (at + 1, [x + 1, y]),
                (at - self.stride, [x, y - 1]),
                (at + self.stride, [x, y + 1]),
            ];
            for (other, spot) in near {
                if free[other] >= round {
                    let twice = self.cells[other].twice;
                    let like = twice[0] * cos + twice[1] * sin;
                    if like > 0.0 && like * like > least {
                        free[other] = round - 1;
                        cells.push(spot);
                    }
                }
            }
        }
    }

    fn index(&self, [x, y]: Spot) -> usize {
        usize::from(y) * self.stride + usize::from(x)
    }

    /// The rectangle that most of `cells` lie in; none if it is too small for a symbol.
    fn outline(&self, cells: &[Spot], unit: f32) -> Option<Region> {
        /// A symbol of 95 modules of 0.7 px, and rows enough to tell it from print; in px.
        const SHORTEST: f32 = 60.0;
        const LOWEST: f32 = 8.0;
        /// Height over width. UPC-A's bars are 69 modules high at most (GS1 General Specifications: 22.85 mm at 0.33 mm a module),
        /// 95 wide; glare may hide a part of the width. Drawn lines are stronger than any symbol, and often higher than wide.
        const HIGHEST: f32 = 1.5;
        let smallest = (SHORTEST * LOWEST / (CELL * CELL) as f32) as usize;
        if cells.len() < smallest {
            return None;
        }
        let (mut cos, mut sin, mut strength) = (0.0f32, 0.0f32, 0.0f32);
        for &spot in cells {
            let Cell { energy, twice } = self.cells[self.index(spot)];
            cos += twice[0] * energy;
            sin += twice[1] * energy;
            strength += energy;
        }
        let angle = sin.atan2(cos) / 2.0;
        let (along, down) = ([angle.cos(), angle.sin()], [-angle.sin(), angle.cos()]);
        let [[a0, a1], [d0, d1]] = [along, down].map(|axis| extent(cells, axis));
        let cell = CELL as f32 * unit;
        let half = [(a1 - a0) / 2.0 * cell, (d1 - d0) / 2.0 * cell];
        let small = 2.0 * half[0] < SHORTEST * unit || 2.0 * half[1] < LOWEST * unit;
        if small || half[1] > HIGHEST * half[0] {
            return None;
        }
        let middle = add(scale(along, (a0 + a1) / 2.0), scale(down, (d0 + d1) / 2.0));
        // A cell's gradients lie half a px right of and below the pixels that they are taken from.
        let middle = add(scale(middle, cell), [0.5 * unit, 0.5 * unit]);
        Some(Region { middle, along, half, strength: strength * unit * unit })
    }
}

/// First and last place along `axis` between which most of `cells` lie, in cells: ends with few of them are whiskers.
fn extent(cells: &[Spot], axis: Point) -> [f32; 2] {
    const FEW: f32 = 0.2;
    /// Bits behind the point: whole numbers are compared side by side, and up to a level of 1,400 cells none overflows.
    const BITS: u32 = 20;
    const ONE: f32 = (1 << BITS) as f32;
    let [ax, ay] = axis.map(|part| (part * ONE).round() as i32);
    let mut places = vec![0; cells.len()];
    let (mut low, mut high) = (i32::MAX, i32::MIN);
    widest(
        #[inline(always)]
        || {
            for (place, [x, y]) in places.iter_mut().zip(cells) {
                *place = i32::from(*x) * ax + i32::from(*y) * ay;
                (low, high) = (low.min(*place), high.max(*place));
            }
        },
    );
    let mut counts = vec![0u32; ((high - low) >> BITS) as usize + 1];
    for place in places {
        counts[((place - low) >> BITS) as usize] += 1;
    }
    let most = counts.iter().copied().max().unwrap_or(0) as f32;
    let enough = |&count: &u32| count as f32 >= FEW * most;
    let first = counts.iter().position(enough).unwrap_or(0);
    let last = counts.iter().rposition(enough).unwrap_or(0);
    // The rim is a cell wide, and cells reach half a cell beyond their middles.
    let rim = 0.5 * (axis[0] + axis[1]);
    let [low, high] = [low, high].map(|place| place as f32 / ONE - rim);
    [low + first as f32 - 0.5, (low + last as f32 + 0.5).min(high + 0.5)]
}

#[cfg(test)]
mod tests {
    use super::super::sample::mix;
    use super::*;
    use crate::picture::Luma;

    /// Noise of `deviation` grey levels on grey that is darker by `dark`.
    fn noisy(deviation: f32, dark: impl Fn(usize, usize) -> f32) -> Luma {
        let mut state = 1u64;
        Luma::from_fn(240, 240, |x, y| {
            // Knuth's 64-bit linear congruence; the sum of four even numbers is nearly normal.
            let mut even = || {
                state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                (state >> 40) as f32 / (1u64 << 24) as f32 - 0.5
            };
            let normal = 3f32.sqrt() * (even() + even() + even() + even());
            (150.0 + deviation * normal - dark(x, y)).clamp(0.0, 255.0) as u8
        })
    }

    fn found(picture: &Luma) -> Vec<Region> {
        regions(&mut Surfaces::new(picture), 12)
    }

    /// Whether upright bars are found in the middle.
    fn shows_bars(picture: &Luma) -> bool {
        let there = |region: &Region| length(sub(region.middle, [120.0, 120.0])) < 8.0 && region.along[0].abs() > 0.98;
        found(picture).iter().any(there)
    }

    /// Bars of two px that a reduced px sees half of: there they are gone, and at full size noise has more than half of their
    /// gradient in every direction.
    #[test]
    fn faint_bars_are_found_in_noise() {
        let bars = |x: usize, y: usize| {
            let inside = (60..180).contains(&x) && (90..150).contains(&y);
            if inside && x.div_ceil(2).is_multiple_of(2) { 30.0 } else { 0.0 }
        };
        for deviation in [0.0, 8.0, 16.0] {
            assert!(shows_bars(&noisy(deviation, bars)), "{deviation}");
        }
    }

    /// Blurred bars in so little light that their greys differ by four.
    #[test]
    fn dim_bars_are_found() {
        let bars = |x: usize, y: usize| {
            let inside = (60..180).contains(&x) && (90..150).contains(&y);
            if inside { 2.0 + 2.0 * (std::f32::consts::TAU * x as f32 / 8.0).sin() } else { 0.0 }
        };
        for deviation in [0.0, 1.0] {
            assert!(shows_bars(&noisy(deviation, bars)), "{deviation}");
        }
    }

    #[test]
    fn a_region_holds_what_lies_between_its_corners() {
        let turned = Region { middle: [50.0, 40.0], along: [0.8, 0.6], half: [20.0, 10.0], strength: 1.0 };
        assert!(turned.corners().iter().all(|&corner| turned.holds(mix(corner, turned.middle, 1e-4))));
        assert!(!turned.corners().iter().any(|&corner| turned.holds(mix(corner, turned.middle, -1e-2))));
        let half = |p: Point| dot(sub(p, turned.middle), turned.along) > 0.0;
        assert!((turned.share(half) - 0.5).abs() < 0.1 && turned.share(|p| turned.holds(p)) == 1.0);
    }

    #[test]
    fn noise_alone_has_no_direction() {
        for deviation in [0.0, 8.0, 20.0, 60.0] {
            assert_eq!(found(&noisy(deviation, |_, _| 0.0)).len(), 0, "{deviation}");
        }
    }
}
