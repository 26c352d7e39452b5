//! What may be spent in a month, and what is left of it.

use jiff::Timestamp;
use jiff::civil::Date;
use serde::Serialize;

use super::{WorkflowError, spend};
use crate::collection::{Currency, Money, SpendBy, SpendGroup};
use crate::intake::RunId;
use crate::store::{RunKind, Store};

/// A limit and what is left of it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct MonthLimit {
    /// The month, such as 2026-03.
    pub month: String,
    /// What may be spent in it.
    pub limit: Money,
    /// What was spent, by the prices that were recorded.
    pub spent: Money,
    /// The rest; below zero if it was too much.
    pub left: Money,
}

/// The limits as they stand in the month of `today`.
///
/// # Errors
/// If the collection can't be read, or a sum is too large.
pub fn month_limits(store: &Store, today: Date) -> Result<Vec<MonthLimit>, WorkflowError> {
    let limits = store.month_limits()?;
    if limits.is_empty() {
        return Ok(Vec::new());
    }
    let total = spend(store, SpendBy::Month, Some(today.first_of_month()), Some(today.last_of_month()))?.total;
    let month = SpendGroup::month(today).name;
    let stand = |limit: Money| {
        let spent = total.paid.iter().find(|sum| sum.currency == limit.currency).copied();
        let spent = spent.unwrap_or(Money { minor_units: 0, ..limit });
        let left = Money { minor_units: limit.minor_units.saturating_sub(spent.minor_units), ..limit };
        MonthLimit { month: month.clone(), limit, spent, left }
    };
    Ok(limits.into_iter().map(stand).collect())
}

/// Sets the limit in a currency.
///
/// # Errors
/// If the collection fails.
pub fn set_month_limit(store: &Store, limit: Money, now: Timestamp) -> Result<Option<RunId>, WorkflowError> {
    let mut run = None;
    store.write(&mut run, RunKind::Limit, now, |writer| writer.set_month_limit(limit))?;
    Ok(run)
}

/// Removes the limit in a currency.
///
/// # Errors
/// If there is none, or the collection fails.
pub fn remove_month_limit(store: &Store, currency: Currency, now: Timestamp) -> Result<Option<RunId>, WorkflowError> {
    let mut run = None;
    store.write(&mut run, RunKind::Limit, now, |writer| writer.remove_month_limit(currency))?;
    Ok(run)
}
