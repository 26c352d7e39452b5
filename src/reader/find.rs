//! Where in a picture bars may be: patches whose edges all point the same way.
//!
//! Method: the structure tensor of small cells (Bigün & Granlund, 'Optimal orientation detection of linear symmetry',
//! 1987), its linear symmetry thresholded at several levels, and cells of like angle grown together.

use super::sample::{Point, add, length, quarter_turn, scale, sub};
use super::surface::Surfaces;
use crate::picture::Luma;

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
        /// Places looked at across it and along the bars.
        const GRID: usize = 9;
        let (across, down) = (scale(self.along, self.half[0]), scale(quarter_turn(self.along), self.half[1]));
        let part = |i: usize| (2 * i + 1) as f32 / GRID as f32 - 1.0;
        let place = |i| add(self.middle, add(scale(across, part(i % GRID)), scale(down, part(i / GRID))));
        (0..GRID * GRID).filter(|&i| lies(place(i))).count() as f32 / (GRID * GRID) as f32
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

/// Side of a cell in px of the level.
const CELL: usize = 4;
/// Grey levels a px below which no cell counts.
const FAINTEST: f32 = 1.5;

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

/// The smoothed structure tensor, cell by cell.
struct Field {
    width: usize,
    height: usize,
    cells: Vec<Cell>,
}

#[derive(Clone, Copy, Default)]
struct Cell {
    /// Strength of the linear symmetry, in grey levels a px; 0 where it is faint or edges point several ways.
    energy: f32,
    /// Cosine and sine of twice the angle across the edges.
    twice: [f32; 2],
}

impl Field {
    fn of(luma: &Luma) -> Self {
        let (width, height) = (luma.width().saturating_sub(1) / CELL, luma.height().saturating_sub(1) / CELL);
        // A line of px is no picture, and may have been reduced to nothing.
        if width == 0 || height == 0 {
            return Self { width: 0, height: 0, cells: Vec::new() };
        }
        let columns = width * CELL;
        let mut products = [0; 3].map(|_| vec![0i32; columns]);
        // A row of cells with nothing beyond its ends; those that a mean is taken of, smoothed along them, the next one and
        // the last one that left it; and the sum of the former. Whole numbers: no sum exceeds 25 · 16 · 510².
        let mut line = vec![0i32; width + 2 * REACH];
        let nothing = [0; 3].map(|_| vec![0i32; width]);
        let mut smoothed = vec![nothing.clone(); 2 * REACH + 2];
        let mut sums = nothing;
        let mut tensors = Vec::with_capacity(width * height);
        for row in 0..height + REACH {
            let slots = smoothed.len();
            if row < height {
                set_products(&std::array::from_fn(|i| luma.row(row * CELL + i)), &mut products);
                for ((product, new), sums) in products.iter().zip(&mut smoothed[row % slots]).zip(&mut sums) {
                    let cells = line[REACH..].iter_mut().zip(product.chunks_exact(CELL));
                    cells.for_each(|(cell, columns)| *cell = columns.iter().sum());
                    new.iter_mut().zip(line.windows(2 * REACH + 1)).for_each(|(new, near)| *new = near.iter().sum());
                    sums.iter_mut().zip(new).for_each(|(sum, new)| *sum += *new);
                }
            }
            if row > 2 * REACH {
                for (sums, old) in sums.iter_mut().zip(&smoothed[(row + 1) % slots]) {
                    sums.iter_mut().zip(old).for_each(|(sum, old)| *sum -= old);
                }
            }
            if row >= REACH {
                let [xx, yy, xy] = &sums;
                let each = xx.iter().zip(yy).zip(xy);
                tensors.extend(each.map(|((xx, yy), xy)| Tensor::of([xx, yy, xy].map(|sum| *sum as f32 * SCALE))));
            }
        }
        let noise = Tensor::noise(&tensors);
        Self { width, height, cells: tensors.iter().map(|tensor| tensor.cell(noise)).collect() }
    }

    fn regions(&self, unit: f32) -> Vec<Region> {
        /// Shares of the picture's strongest cell from which on a cell counts.
        const SHARES: [f32; 3] = [0.5, 0.25, 0.1];
        let strongest = self.cells.iter().map(|c| c.energy).fold(0.0, f32::max);
        let thresholds = SHARES.map(|share| (share * strongest).max(FAINTEST));
        let reached: Vec<u8> =
            self.cells.iter().map(|c| thresholds.map(|t| u8::from(c.energy >= t)).iter().sum()).collect();
        let seeds: Vec<usize> = (0..reached.len()).filter(|&at| reached[at] > 0).collect();
        let mut regions = Vec::new();
        let mut queue = Vec::new();
        for thresholds in (1..=SHARES.len() as u8).rev() {
            let mut taken: Vec<bool> = reached.iter().map(|&r| r < thresholds).collect();
            for &seed in &seeds {
                if !taken[seed] {
                    self.grow(seed, &mut taken, &mut queue);
                    regions.extend(self.outline(&queue, unit));
                }
            }
        }
        regions
    }

    /// Collects in `queue` the cells that hang together with `seed` and whose angle is like the mean so far.
    fn grow(&self, seed: usize, taken: &mut [bool], queue: &mut Vec<[usize; 2]>) {
        /// Cosine of twice 14 degrees.
        const LIKE: f32 = 0.88;
        queue.clear();
        queue.push([seed % self.width, seed / self.width]);
        taken[seed] = true;
        let mut mean = [0.0f32; 2];
        let mut next = 0;
        while let Some(&[x, y]) = queue.get(next) {
            next += 1;
            let at = self.index([x, y]);
            let cell = self.cells[at];
            mean = add(mean, scale(cell.twice, cell.energy));
            let size = length(mean);
            let near = [
                (x > 0).then(|| (at - 1, [x - 1, y])),
                (x + 1 < self.width).then(|| (at + 1, [x + 1, y])),
                (y > 0).then(|| (at - self.width, [x, y - 1])),
                (y + 1 < self.height).then(|| (at + self.width, [x, y + 1])),
            ];
            for (other, place) in near.into_iter().flatten() {
                let twice = self.cells[other].twice;
                if !taken[other] && twice[0] * mean[0] + twice[1] * mean[1] > LIKE * size {
                    taken[other] = true;
                    queue.push(place);
                }
            }
        }
    }

    fn index(&self, [x, y]: [usize; 2]) -> usize {
        y * self.width + x
    }

    /// The rectangle that most of `cells` lie in; none if it is too small for a symbol.
    fn outline(&self, cells: &[[usize; 2]], unit: f32) -> Option<Region> {
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
        let (mut twice, mut strength) = ([0.0f32; 2], 0.0);
        for &at in cells {
            let cell = self.cells[self.index(at)];
            twice = add(twice, scale(cell.twice, cell.energy));
            strength += cell.energy;
        }
        let angle = twice[1].atan2(twice[0]) / 2.0;
        let (along, down) = ([angle.cos(), angle.sin()], [-angle.sin(), angle.cos()]);
        let extent = |axis: Point| {
            let project = |&[x, y]: &[usize; 2]| (x as f32 + 0.5) * axis[0] + (y as f32 + 0.5) * axis[1];
            trimmed(&cells.iter().map(project).collect::<Vec<f32>>())
        };
        let ([a0, a1], [d0, d1]) = (extent(along), extent(down));
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

/// A structure tensor: the sum of its eigenvalues, and their difference by its direction.
#[derive(Clone, Copy)]
struct Tensor {
    sum: f32,
    difference: f32,
    twice_xy: f32,
}

impl Tensor {
    fn of([xx, yy, xy]: [f32; 3]) -> Self {
        Self { sum: xx + yy, difference: xx - yy, twice_xy: 2.0 * xy }
    }

    fn spread(&self) -> f32 {
        (self.difference * self.difference + self.twice_xy * self.twice_xy).sqrt()
    }

    /// What noise adds to both eigenvalues, everywhere: what the lesser one is where least is to be seen.
    fn noise(all: &[Self]) -> f32 {
        /// Share of the picture in which nothing but noise is seen; and every so manieth cell is asked, for speed.
        const SHARE: f32 = 0.1;
        const STRIDE: usize = 7;
        /// What rounding and a good camera leave is no noise.
        const LEAST: f32 = 1.0;
        let lesser = |tensor: &Self| 0.5 * (tensor.sum - tensor.spread());
        let mut lesser: Vec<f32> = all.iter().step_by(STRIDE).map(lesser).collect();
        if lesser.is_empty() {
            return 0.0;
        }
        let at = (SHARE * lesser.len() as f32) as usize;
        let (_, noise, _) = lesser.select_nth_unstable_by(at, f32::total_cmp);
        (*noise - LEAST).max(0.0)
    }

    fn cell(&self, noise: f32) -> Cell {
        /// Times the noise by which one direction must stand out: by chance it does so by a seventh.
        const CLEAR: f32 = 0.5;
        let spread = self.spread();
        // λ1 − 3 λ2, where spread = λ1 − λ2 and sum = λ1 + λ2: positive if the coherence is above a half.
        let symmetry = 2.0 * spread - (self.sum - 2.0 * noise);
        if symmetry < FAINTEST * FAINTEST || spread < CLEAR * noise {
            return Cell::default();
        }
        Cell { energy: symmetry.sqrt(), twice: [self.difference / spread, self.twice_xy / spread] }
    }
}

/// The products of the gradients between the rows of a cell and the one below, added up: xx, yy and xy for each column.
fn set_products(rows: &[&[u8]; CELL + 1], [xx, yy, xy]: &mut [Vec<i32>; 3]) {
    let n = xx.len();
    let (xx, yy, xy) = (&mut xx[..n], &mut yy[..n], &mut xy[..n]);
    let (left, right) = (rows.map(|row| &row[..n]), rows.map(|row| &row[1..n + 1]));
    for i in 0..n {
        let mut sums = [0i32; 3];
        for y in 0..CELL {
            let [a, b, c, d] = [left[y][i], right[y][i], left[y + 1][i], right[y + 1][i]].map(i16::from);
            let (falling, rising) = (d - a, b - c);
            let (gx, gy) = (i32::from(falling + rising), i32::from(falling - rising));
            sums[0] += gx * gx;
            sums[1] += gy * gy;
            sums[2] += gx * gy;
        }
        [xx[i], yy[i], xy[i]] = sums;
    }
}

/// Cells on each side that a smoothed one is the mean of.
const REACH: usize = 2;
/// Gradients in a cell of 4 by 4 px, each the sum of two differences, in five by five cells: so that an energy is in grey
/// levels a px.
const SCALE: f32 = 1.0 / (5.0 * 4.0 * 2.0 * 5.0 * 4.0 * 2.0);

/// First and last place between which most of `places` (in cells) lie: ends with few cells are whiskers.
fn trimmed(places: &[f32]) -> [f32; 2] {
    const FEW: f32 = 0.2;
    let (low, high) = places.iter().fold((f32::MAX, f32::MIN), |(l, h), &p| (l.min(p), h.max(p)));
    let mut counts = vec![0u32; (high - low) as usize + 1];
    for place in places {
        counts[(place - low) as usize] += 1;
    }
    let most = counts.iter().copied().max().unwrap_or(0) as f32;
    let enough = |&count: &u32| count as f32 >= FEW * most;
    let first = counts.iter().position(enough).unwrap_or(0);
    let last = counts.iter().rposition(enough).unwrap_or(0);
    // The cells reach half a cell beyond their middles.
    [low + first as f32 - 0.5, (low + last as f32 + 0.5).min(high + 0.5)]
}

#[cfg(test)]
mod tests {
    use super::*;

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

    /// Bars of two px that a reduced px sees half of: there they are gone, and at full size noise has more than half of their
    /// gradient in every direction.
    #[test]
    fn faint_bars_are_found_in_noise() {
        let bars = |x: usize, y: usize| {
            let inside = (60..180).contains(&x) && (90..150).contains(&y);
            if inside && x.div_ceil(2).is_multiple_of(2) { 30.0 } else { 0.0 }
        };
        for deviation in [0.0, 8.0, 16.0] {
            let near =
                |region: &Region| length(sub(region.middle, [120.0, 120.0])) < 8.0 && region.along[0].abs() > 0.98;
            assert!(found(&noisy(deviation, bars)).iter().any(near), "{deviation}");
        }
    }

    #[test]
    fn noise_alone_has_no_direction() {
        for deviation in [0.0, 8.0, 20.0, 60.0] {
            assert_eq!(found(&noisy(deviation, |_, _| 0.0)).len(), 0, "{deviation}");
        }
    }
}
