//! Where the modules of a symbol lie in a profile: smoothly, as perspective and bent paper have it, and off that where paper is
//! creased.

use super::model::PER_MODULE;
use super::normal::solve;
use super::wide::widest;

/// Places at which paper may be creased: about every ninth module.
pub(super) const CREASES: usize = 10;
/// Between them, and from the ends to the first and the last.
const STRETCHES: usize = CREASES + 1;

/// Where modules lie: a cubic, and straight lines from crease to crease.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Warp {
    /// The column around which, and the half width in columns over which, the terms are laid out.
    middle: f32,
    half: f32,
    /// Width of the symbol in modules.
    pub(super) modules: f32,
    /// Shift, stretch, bend and skew, in modules.
    pub(super) terms: [f32; 4],
    /// How far modules lie off that at places evenly spread between both ends, in modules, if paper may be creased.
    pub(super) creases: Option<[f32; CREASES]>,
}

impl Warp {
    /// Modules of equal width between two columns.
    pub(super) fn straight(first: f32, end: f32, modules: f32) -> Self {
        Self { middle: (first + end) / 2.0, half: (end - first) / 2.0, modules, terms: [0.0; 4], creases: None }
    }

    /// The same on paper that may be creased.
    pub(super) fn creased(self) -> Self {
        self.creased_by(self.creases.unwrap_or_default())
    }

    /// The same with modules so far off, in modules.
    pub(super) fn creased_by(self, creases: [f32; CREASES]) -> Self {
        Self { creases: Some(creases), ..self }
    }

    pub(super) fn is_creased(&self) -> bool {
        self.creases.is_some()
    }

    /// The stretch between two creases, or an end and a crease, in which `u` lies, and how far along it, 0 to 1.
    pub(super) fn stretch(u: f32) -> (usize, f32) {
        let at = ((u + 1.0) * 0.5 * STRETCHES as f32).clamp(0.0, STRETCHES as f32);
        let stretch = (at as usize).min(STRETCHES - 1);
        (stretch, at - stretch as f32)
    }

    /// How far modules lie off at both ends of a stretch. The ends of the symbol stay.
    fn off(creases: &[f32; CREASES], stretch: usize) -> [f32; 2] {
        [stretch.checked_sub(1), Some(stretch)].map(|i| i.and_then(|i| creases.get(i)).copied().unwrap_or(0.0))
    }

    /// The cubic through pairs of column and module, by least squares; none if they are too few or lie badly.
    pub(super) fn through(pairs: &[(f32, f32)], modules: f32) -> Option<Self> {
        let (&(x0, m0), &(x1, m1)) = (pairs.first()?, pairs.last()?);
        let module = (x1 - x0) / (m1 - m0);
        let straight = Self::straight(x0 - m0 * module, x0 + (modules - m0) * module, modules);
        let mut normal = [[0.0f32; 5]; 4];
        for &(x, m) in pairs {
            let u = straight.u(x);
            let basis = Self::basis(u);
            let off = m - straight.modules_at(x);
            for (r, row) in normal.iter_mut().enumerate() {
                for c in 0..4 {
                    row[c] += basis[r] * basis[c];
                }
                row[4] += basis[r] * off;
            }
        }
        Some(Self { terms: solve(normal)?, ..straight })
    }

    /// The same with shift, stretch, bend and skew changed, in modules.
    pub(super) fn plus(self, by: [f32; 4]) -> Self {
        Self { terms: std::array::from_fn(|i| self.terms[i] + by[i]), ..self }
    }

    /// The change of shift, stretch, bend and skew that moves both ends and what lies a third of the way from them so far, in modules,
    /// from left to right.
    pub(super) fn moving([first, left, right, last]: [f32; 4]) -> [f32; 4] {
        let (shift, stretch) = ((first + last) / 2.0, (last - first) / 2.0);
        let bend = ((left + right) / 2.0 - shift) * 9.0 / 8.0;
        let skew = ((right - left) / 2.0 - stretch / 3.0) * 27.0 / 8.0;
        [shift, stretch, bend, skew]
    }

    pub(super) fn u(&self, column: f32) -> f32 {
        (column - self.middle) / self.half
    }

    pub(super) fn basis(u: f32) -> [f32; 4] {
        let w = 1.0 - u * u;
        [1.0, u, w, u * w]
    }

    /// The module at `column`: 0 is the first bar's outer edge.
    pub(super) fn modules_at(&self, column: f32) -> f32 {
        let u = self.u(column);
        let smooth = self.smooth(u);
        let Some(creases) = &self.creases else { return smooth };
        let (stretch, part) = Self::stretch(u);
        let [left, right] = Self::off(creases, stretch);
        smooth + left * (1.0 - part) + right * part
    }

    /// The modules at `columns`, which rise; where the curve turns back, beyond the symbol, they stay.
    pub(super) fn places(&self, columns: &[f32]) -> Vec<f32> {
        let mut places: Vec<f32> = columns.iter().map(|column| self.modules_at(*column)).collect();
        let mut least = f32::NEG_INFINITY;
        for place in &mut places {
            least = least.max(*place);
            *place = least;
        }
        places
    }

    /// Modules a column at `column`.
    pub(super) fn density(&self, column: f32) -> f32 {
        let u = self.u(column);
        let smooth = self.smooth_density(u);
        let Some(creases) = self.creases.as_ref().filter(|_| u.abs() < 1.0) else { return smooth };
        let [left, right] = Self::off(creases, Self::stretch(u).0);
        smooth + (right - left) * 0.5 * STRETCHES as f32 / self.half
    }

    /// The module at `u` if nothing is creased.
    #[inline(always)]
    fn smooth(&self, u: f32) -> f32 {
        let [a, b, c, d] = self.terms;
        let w = 1.0 - u * u;
        self.modules * 0.5 * (1.0 + u) + a + b * u + w * (c + d * u)
    }

    /// Modules a column there.
    #[inline(always)]
    fn smooth_density(&self, u: f32) -> f32 {
        let [_, b, c, d] = self.terms;
        (self.modules * 0.5 + b - 2.0 * c * u + d * (1.0 - 3.0 * u * u)) / self.half
    }

    /// The column at which module `m` begins.
    pub(super) fn column_at(&self, m: f32) -> f32 {
        const ROUNDS: usize = 4;
        let mut column = self.middle + self.half * (2.0 * m / self.modules - 1.0);
        let least = self.least_density();
        for _ in 0..ROUNDS {
            column += (m - self.modules_at(column)) / self.density(column).max(least);
        }
        column
    }

    /// The columns of `count` places, [`PER_MODULE`] a module, the first at module `first`: exactly for each whole module from
    /// there on, and straight between them.
    pub(super) fn columns(&self, first: f32, count: usize) -> Vec<f32> {
        let modules = count.div_ceil(PER_MODULE) + 1;
        let nodes = widest(
            #[inline(always)]
            || self.nodes(first, modules),
        );
        let mut columns = Vec::with_capacity(modules * PER_MODULE);
        for ends in nodes.windows(2) {
            let by = (ends[1] - ends[0]) / PER_MODULE as f32;
            columns.extend((0..PER_MODULE).map(|i| ends[0] + i as f32 * by));
        }
        columns.truncate(count);
        if self.is_creased() {
            // Between two whole modules it may be creased.
            for (i, column) in columns.iter_mut().enumerate() {
                let off = first + i as f32 / PER_MODULE as f32 - self.modules_at(*column);
                *column += off / self.density(*column).max(self.least_density());
            }
        }
        columns
    }

    /// Where modules are denser than so many a column, or turn back, Newton's method would leap.
    fn least_density(&self) -> f32 {
        0.25 * self.modules * 0.5 / self.half
    }

    /// The columns of so many modules, from `first` on, all of them together by Newton's method.
    #[inline(always)]
    fn nodes(&self, first: f32, count: usize) -> Vec<f32> {
        const ROUNDS: usize = 4;
        let least = self.least_density();
        let start = |m: f32| self.middle + self.half * (2.0 * m / self.modules - 1.0);
        let mut columns: Vec<f32> = (0..count).map(|i| start(first + i as f32)).collect();
        if self.is_creased() {
            for _ in 0..ROUNDS {
                for (i, column) in columns.iter_mut().enumerate() {
                    *column += (first + i as f32 - self.modules_at(*column)) / self.density(*column).max(least);
                }
            }
            return columns;
        }
        if self.terms == [0.0; 4] {
            return columns;
        }
        for _ in 0..ROUNDS {
            for (i, column) in columns.iter_mut().enumerate() {
                let u = self.u(*column);
                let slope = self.smooth_density(u);
                let slope = if slope > least { slope } else { least };
                *column += (first + i as f32 - self.smooth(u)) / slope;
            }
        }
        columns
    }

    /// Mean width of a module in columns.
    pub(super) fn module_columns(&self) -> f32 {
        (self.column_at(self.modules) - self.column_at(0.0)) / self.modules
    }

    /// Widths of the narrowest and of the last module, in modules of mean width.
    pub(super) fn narrowest_and_last(&self) -> (f32, f32) {
        const STEPS: u8 = 24;
        let [first, end] = [0.0, self.modules].map(|m| self.column_at(m));
        let mean = self.modules / (end - first);
        let width = |column: f32| mean / self.density(column).max(1e-6);
        let steps = (0..=STEPS).map(|i| width(first + (end - first) * f32::from(i) / f32::from(STEPS)));
        (steps.fold(f32::INFINITY, f32::min), width(end))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn creased() -> Warp {
        let mut warp = Warp::straight(20.0, 229.0, 95.0).plus([0.4, -0.3, 1.5, -0.8]).creased();
        warp.creases = Some(std::array::from_fn(|i| [0.5, -0.4, 0.1][i % 3]));
        warp
    }

    #[test]
    fn density_is_the_slope_and_columns_lead_back() {
        for warp in [creased(), Warp { creases: None, ..creased() }] {
            for i in 0..=190 {
                let m = i as f32 / 2.0;
                let column = warp.column_at(m);
                assert!((warp.modules_at(column) - m).abs() < 2e-3, "{m}");
                // Away from a crease, where the slope jumps.
                let (stretch, part) = Warp::stretch(warp.u(column));
                if (0.1..0.9).contains(&part) {
                    let slope = (warp.modules_at(column + 0.2) - warp.modules_at(column - 0.2)) / 0.4;
                    assert!((warp.density(column) - slope).abs() < 1e-3, "{m} in {stretch}");
                }
            }
            for (at, column) in warp.columns(-3.0, 404).into_iter().enumerate() {
                assert!((warp.modules_at(column) - (at as f32 / 4.0 - 3.0)).abs() < 0.02, "{at}");
            }
        }
    }

    #[test]
    fn modules_move_as_far_as_they_are_told() {
        let by = [1.5, -0.5, 0.25, -3.0];
        let straight = Warp::straight(20.0, 115.0, 95.0);
        let moved = straight.plus(Warp::moving(by));
        for (i, by) in by.into_iter().enumerate() {
            let column = 20.0 + 95.0 * i as f32 / 3.0;
            assert!((moved.modules_at(column) - straight.modules_at(column) - by).abs() < 1e-3, "{i}");
        }
    }

    #[test]
    fn creases_leave_the_ends_where_they_are() {
        let (warp, smooth) = (creased(), Warp { creases: None, ..creased() });
        for column in [0.0, 20.0, 229.0, 260.0] {
            assert_eq!(warp.modules_at(column), smooth.modules_at(column));
        }
        assert!((warp.modules_at(120.0) - smooth.modules_at(120.0)).abs() > 0.05);
    }
}
