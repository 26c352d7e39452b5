//! How strongly the edges in each small part of a picture point in one direction, and in which.
//!
//! Method: the structure tensor of small cells and its linear symmetry (Bigün & Granlund, 'Optimal orientation detection of linear
//! symmetry', 1987).

use super::gradients::{CELL, set_products};
use super::wide::widest;
use crate::picture::Luma;

/// Grey levels a px below which no cell counts.
pub(super) const FAINTEST: f32 = 0.5;

/// The smoothed structure tensor, cell by cell, with a rim of empty cells around it.
pub(super) struct Field {
    /// Cells in a row, the rim included.
    pub(super) stride: usize,
    /// Row by row.
    pub(super) cells: Vec<Cell>,
}

/// The edges in a cell and around it.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Cell {
    /// Strength of the linear symmetry, in grey levels a px; 0 where it is faint or edges point several ways.
    pub(super) energy: f32,
    /// Cosine and sine of twice the angle across the edges.
    pub(super) twice: [f32; 2],
}

/// Cells on each side that a smoothed one is the mean of.
const REACH: usize = 2;
const NEAR: usize = 2 * REACH + 1;
/// Gradients in a cell of 4 by 4 px, each the sum of two differences, in five by five cells: so that an energy is in grey
/// levels a px.
const SCALE: f32 = 1.0 / (5.0 * 4.0 * 2.0 * 5.0 * 4.0 * 2.0);

impl Field {
    pub(super) fn of(luma: &Luma) -> Self {
        let (width, height) = (luma.width().saturating_sub(1) / CELL, luma.height().saturating_sub(1) / CELL);
        // A line of px is no picture, and may have been reduced to nothing.
        if width == 0 || height == 0 {
            return Self { stride: 0, cells: Vec::new() };
        }
        // A row of cells with nothing beyond its ends; those that a mean is taken of, smoothed along them, the next one and
        // the last one that left it; and the sum of the former. Whole numbers: no sum exceeds 25 · 16 · 510².
        let mut products = [0; 3].map(|_| vec![0i32; width + 2 * REACH]);
        let nothing = [0; 3].map(|_| vec![0i32; width]);
        let mut smoothed = vec![nothing.clone(); NEAR + 1];
        let mut sums = nothing;
        let stride = width + 2;
        let mut tensors = Vec::with_capacity(stride * (height + 2));
        tensors.resize(stride, Tensor::NONE);
        for row in 0..height + REACH {
            let slots = smoothed.len();
            if row < height {
                let cells = products.each_mut().map(|cells| &mut cells[REACH..REACH + width]);
                set_products(&std::array::from_fn(|i| luma.row(row * CELL + i)), cells);
                widest(
                    #[inline(always)]
                    || {
                        for ((cells, new), sums) in products.iter().zip(&mut smoothed[row % slots]).zip(&mut sums) {
                            let cells: [&[i32]; NEAR] = std::array::from_fn(|k| &cells[k..k + width]);
                            for (i, (new, sum)) in new.iter_mut().zip(sums).enumerate() {
                                *new = cells.iter().map(|cells| cells[i]).sum();
                                *sum += *new;
                            }
                        }
                    },
                );
            }
            if row >= NEAR {
                for (sums, old) in sums.iter_mut().zip(&smoothed[(row + 1) % slots]) {
                    sums.iter_mut().zip(old).for_each(|(sum, old)| *sum -= old);
                }
            }
            if row >= REACH {
                let [xx, yy, xy] = &sums;
                let each = xx.iter().zip(yy).zip(xy);
                tensors.push(Tensor::NONE);
                tensors.extend(each.map(|((xx, yy), xy)| Tensor::of([xx, yy, xy].map(|sum| *sum as f32 * SCALE))));
                tensors.push(Tensor::NONE);
            }
        }
        tensors.resize(stride * (height + 2), Tensor::NONE);
        let noise = Tensor::noise(&tensors, stride);
        let cells = widest(
            #[inline(always)]
            || tensors.iter().map(|tensor| tensor.cell(noise)).collect(),
        );
        Self { stride, cells }
    }
}

/// A structure tensor: the sum of its eigenvalues, and their difference by its direction.
#[derive(Debug, Clone, Copy)]
struct Tensor {
    sum: f32,
    difference: f32,
    twice_xy: f32,
}

impl Tensor {
    const NONE: Self = Self { sum: 0.0, difference: 0.0, twice_xy: 0.0 };

    fn of([xx, yy, xy]: [f32; 3]) -> Self {
        Self { sum: xx + yy, difference: xx - yy, twice_xy: 2.0 * xy }
    }

    #[inline(always)]
    fn spread(&self) -> f32 {
        (self.difference * self.difference + self.twice_xy * self.twice_xy).sqrt()
    }

    /// What noise adds to both eigenvalues, everywhere: what the lesser one is where least is to be seen. Rows are `stride`
    /// long, the rim included.
    fn noise(all: &[Self], stride: usize) -> f32 {
        /// Share of the picture in which nothing but noise is seen; and every so manieth cell of a row is asked, for speed.
        const SHARE: f32 = 0.1;
        const STRIDE: usize = 7;
        /// What rounding and a good camera leave is no noise.
        const LEAST: f32 = 1.0;
        let lesser = |tensor: &Self| 0.5 * (tensor.sum - tensor.spread());
        let rows = all[stride..all.len() - stride].chunks_exact(stride).map(|row| &row[1..stride - 1]);
        let asked = rows.enumerate().flat_map(|(y, row)| row.iter().skip(y % STRIDE).step_by(STRIDE));
        let mut lesser: Vec<f32> = asked.map(lesser).collect();
        if lesser.is_empty() {
            return 0.0;
        }
        let at = (SHARE * lesser.len() as f32) as usize;
        let (_, noise, _) = lesser.select_nth_unstable_by(at, f32::total_cmp);
        (*noise - LEAST).max(0.0)
    }

    #[inline(always)]
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
