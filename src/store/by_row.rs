//! Values by row number.

/// Values by row number: numbers are given one after another, so few places stay empty.
#[derive(Debug, Clone)]
pub struct ByRow<T>(Vec<Option<T>>);

impl<T: Copy> ByRow<T> {
    /// None yet.
    #[must_use]
    pub fn new() -> Self {
        Self(Vec::new())
    }

    /// Keeps a value; none is kept of a number below 0, which no row has.
    pub fn set(&mut self, row: i64, value: T) {
        let Ok(row) = usize::try_from(row) else { return };
        if row >= self.0.len() {
            self.0.resize((row + 1).next_power_of_two(), None);
        }
        self.0[row] = Some(value);
    }

    /// The value of a row.
    #[must_use]
    pub fn get(&self, row: i64) -> Option<T> {
        usize::try_from(row).ok().and_then(|row| self.0.get(row)).copied().flatten()
    }
}

impl<T: Copy> Default for ByRow<T> {
    fn default() -> Self {
        Self::new()
    }
}
