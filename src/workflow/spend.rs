//! What the hobby costs.

use jiff::civil::Date;

use super::WorkflowError;
use crate::collection::{SpendBy, Spending};
use crate::store::Store;

/// What was spent, on everything or on copies acquired from one day to another.
///
/// # Errors
/// If the collection can't be read, or a sum is too large.
pub fn spend(store: &Store, by: SpendBy, from: Option<Date>, to: Option<Date>) -> Result<Spending, WorkflowError> {
    let mut spending = Spending::default();
    for bought in store.bought(by, from, to)? {
        spending.add(bought)?;
    }
    Ok(spending)
}

/// The same, and what covers say against what was paid.
///
/// # Errors
/// As [`spend`].
pub fn spend_against_cover(
    store: &Store,
    by: SpendBy,
    from: Option<Date>,
    to: Option<Date>,
) -> Result<Spending, WorkflowError> {
    store.read(|store| {
        let mut spending = spend(store, by, from, to)?;
        for (group, against) in store.bought_against_cover(by, from, to)? {
            spending.add_against_cover(group, against)?;
        }
        Ok(spending)
    })
}
