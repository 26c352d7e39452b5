//! Values by row number.

use std::collections::HashMap;

/// Memory that row numbers alone may claim: those of a million rows, whatever is kept of them.
const FREE_BYTES: usize = 32 << 20;

/// How many places there may be for each value: beyond that a table of the few costs less.
const SPARSEST: usize = 8;

/// Values by row number: numbers are given one after another, so few places stay empty. A file from elsewhere may number its
/// rows as it likes; numbers far beyond how many there are have a table of their own, so that memory goes by what is kept.
#[derive(Debug, Clone)]
pub struct ByRow<T> {
    near: Vec<Option<T>>,
    far: HashMap<i64, T>,
    /// How many values were set.
    kept: usize,
}

impl<T: Copy> ByRow<T> {
    /// None yet.
    #[must_use]
    pub fn new() -> Self {
        Self { near: Vec::new(), far: HashMap::new(), kept: 0 }
    }

    /// Keeps a value.
    pub fn set(&mut self, row: i64, value: T) {
        self.kept += 1;
        match usize::try_from(row) {
            Ok(near) if near < self.near.len() => self.near[near] = Some(value),
            Ok(near) if self.may_reach(near) => {
                self.near.resize((near + 1).next_power_of_two(), None);
                self.near[near] = Some(value);
            }
            _ => drop(self.far.insert(row, value)),
        }
    }

    /// The value of a row.
    #[must_use]
    pub fn get(&self, row: i64) -> Option<T> {
        let near = usize::try_from(row).ok().and_then(|row| self.near.get(row)).copied().flatten();
        // Beside the first, because a value may have been set before the near ones reached so far.
        if near.is_none() && !self.far.is_empty() { self.far.get(&row).copied() } else { near }
    }

    fn may_reach(&self, row: usize) -> bool {
        row < FREE_BYTES / size_of::<Option<T>>() || row / SPARSEST < self.kept
    }
}

impl<T: Copy> Default for ByRow<T> {
    fn default() -> Self {
        Self::new()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn memory_goes_by_how_many_there_are_and_not_by_their_numbers() {
        let mut by_row = ByRow::new();
        let rows = [0, 1, 7, 1 << 40, 1 << 60, i64::MAX, -1, i64::MIN];
        rows.iter().for_each(|&row| by_row.set(row, row));
        assert!(rows.iter().all(|&row| by_row.get(row) == Some(row)));
        assert_eq!([2, 1 << 41, i64::MAX - 1, -2].map(|row| by_row.get(row)), [None; 4]);
        assert!(by_row.near.len() <= 8, "{}", by_row.near.len());
    }

    #[test]
    fn a_value_set_far_off_is_found_and_set_again_once_the_near_ones_reach_it() {
        let mut by_row = ByRow::new();
        let far = (FREE_BYTES / size_of::<Option<i64>>()) as i64 + 5;
        by_row.set(far, 1);
        assert_eq!(by_row.near.len(), 0);
        (0..=far / SPARSEST as i64).for_each(|row| by_row.set(row, row));
        by_row.set(far - 1, 2);
        assert!(by_row.near.len() as i64 > far);
        assert_eq!((by_row.get(far), by_row.get(far - 1), by_row.get(3)), (Some(1), Some(2), Some(3)));
        by_row.set(far, 5);
        assert_eq!(by_row.get(far), Some(5));
    }
}
