//! Normal equations of least squares: summed run by run, and solved.

use std::ops::Range;

use super::wide::{LANES, Lanes, dot, widest};

/// Stretches of `0..count` in which `of` stays the same, with what it is there.
pub(super) fn runs<T: PartialEq + Copy>(count: usize, of: impl Fn(usize) -> T) -> Vec<(Range<usize>, T)> {
    let mut runs: Vec<(Range<usize>, T)> = Vec::new();
    for i in 0..count {
        let here = of(i);
        match runs.last_mut() {
            Some((run, there)) if *there == here => run.end = i + 1,
            _ => runs.push((i..i + 1, here)),
        }
    }
    runs
}

/// The terms of a run of samples that all bear on the same unknowns; last what they are to explain.
#[derive(Default)]
pub(super) struct Terms {
    /// Term by term, each filled up with zeros.
    values: Vec<Lanes>,
    samples: usize,
    /// Groups of lanes a term.
    groups: usize,
}

impl Terms {
    /// Makes room for `count` terms of `samples` samples.
    pub(super) fn begin(&mut self, count: usize, samples: usize) {
        (self.samples, self.groups) = (samples, samples.div_ceil(LANES));
        self.values.clear();
        self.values.resize(count * self.groups, [0.0; LANES]);
    }

    /// The samples of a term.
    pub(super) fn of(&mut self, term: usize) -> &mut [f32] {
        &mut self.values[term * self.groups..].as_flattened_mut()[..self.samples]
    }

    /// Sets a term.
    pub(super) fn fill(&mut self, term: usize, values: impl Iterator<Item = f32>) {
        self.of(term).iter_mut().zip(values).for_each(|(out, value)| *out = value);
    }

    /// Sets a term to an earlier one times `factors`.
    pub(super) fn fill_from(&mut self, earlier: usize, term: usize, factors: impl Iterator<Item = f32>) {
        let (before, here) = self.values.split_at_mut(term * self.groups);
        let from = &before[earlier * self.groups..].as_flattened()[..self.samples];
        let to = here.as_flattened_mut().iter_mut();
        to.zip(from).zip(factors).for_each(|((to, from), factor)| *to = from * factor);
    }

    /// Adds the terms' products to the normal equations, above the diagonal: `rows`, rising, are the terms' unknowns.
    pub(super) fn add_to<const N: usize, const W: usize>(&self, normal: &mut [[f32; W]; N], rows: &[usize]) {
        widest(
            #[inline(always)]
            || {
                let mut terms = self.values.chunks_exact(self.groups);
                let Some(seen) = terms.next_back() else { return };
                let terms = &self.values[..rows.len() * self.groups];
                for (i, a) in terms.chunks_exact(self.groups).enumerate() {
                    for (b, column) in terms.chunks_exact(self.groups).zip(rows).skip(i) {
                        normal[rows[i]][*column] += dot(a, b);
                    }
                    normal[rows[i]][N] += dot(a, seen);
                }
            },
        );
    }
}

/// Solves normal equations of which only what is on and above the diagonal counts; the last column is the right-hand side.
/// `None` if they have no single solution.
///
/// Source: Golub & Van Loan, 'Matrix Computations', elimination of symmetric positive definite systems, which needs no pivots.
pub(super) fn solve<const N: usize, const W: usize>(mut m: [[f32; W]; N]) -> Option<[f32; N]> {
    for i in 0..N {
        let (above, below) = m.split_at_mut(i + 1);
        let pivot = &above[i];
        if pivot[i].is_nan() || pivot[i] < 1e-12 {
            return None;
        }
        let over = 1.0 / pivot[i];
        for (r, row) in (i + 1..).zip(below) {
            let factor = pivot[r] * over;
            for (cell, p) in row[r..].iter_mut().zip(&pivot[r..]) {
                *cell -= factor * p;
            }
        }
    }
    let mut x = [0.0; N];
    for i in (0..N).rev() {
        let known: f32 = (i + 1..N).map(|c| m[i][c] * x[c]).sum();
        x[i] = (m[i][N] - known) / m[i][i];
    }
    Some(x)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn runs_cover_all_and_change_where_the_value_does() {
        let of = |i: usize| [1, 1, 2, 2, 2, 1][i];
        assert_eq!(runs(6, of), [(0..2, 1), (2..5, 2), (5..6, 1)]);
        assert!(runs(0, of).is_empty());
    }

    /// A straight line through points that lie on one, summed in two runs.
    #[test]
    fn a_line_is_found_again() {
        let mut normal = [[0.0f32; 3]; 2];
        let mut terms = Terms::default();
        for run in [0..11, 11..30] {
            terms.begin(3, run.len());
            terms.fill(0, run.clone().map(|_| 1.0));
            terms.fill_from(0, 1, run.clone().map(|x| x as f32));
            terms.fill(2, run.map(|x| 3.0 - 0.5 * x as f32));
            terms.add_to(&mut normal, &[0, 1]);
        }
        let [start, slope] = solve(normal).unwrap();
        assert!((start - 3.0).abs() < 1e-3 && (slope + 0.5).abs() < 1e-3, "{start} {slope}");
    }
}
