//! What was bought and read over time; a year in review.

use jiff::ToSpan;
use jiff::civil::Date;

use super::{WorkflowError, spend};
use crate::collection::{MonthCounts, SpendBy, SpendGroup, YearReview};
use crate::store::Store;

/// Copies bought and read in a month.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BoughtAndRead {
    /// The month, such as 2026-03.
    pub month: String,
    /// Copies acquired.
    pub bought: u64,
    /// Copies read.
    pub read: u64,
}

/// What was bought and read in each month from one day to another.
///
/// # Errors
/// If the collection can't be read, or a sum is too large.
pub fn bought_and_read(store: &Store, from: Date, to: Date) -> Result<Vec<BoughtAndRead>, WorkflowError> {
    let mut months = Vec::new();
    let mut first = from.first_of_month();
    while first <= to {
        months.push(BoughtAndRead { month: SpendGroup::month(first).name, bought: 0, read: 0 });
        let Ok(next) = first.checked_add(1.month()) else { break };
        first = next;
    }
    let at =
        |months: &[BoughtAndRead], name: &str| months.binary_search_by(|month| month.month.as_str().cmp(name)).ok();
    store.read(|store| {
        for (group, spent) in spend(store, SpendBy::Month, Some(from), Some(to))?.groups() {
            if let Some(at) = group.and_then(|group| at(&months, &group.name)) {
                months[at].bought = spent.copies;
            }
        }
        for (name, read) in store.read_by_month(from, to)? {
            if let Some(at) = at(&months, &name) {
                months[at].read = read;
            }
        }
        Ok(months)
    })
}

/// What was bought, read and spent in a year, and what left.
///
/// # Errors
/// If the collection can't be read, or a sum is too large.
pub fn year_review(store: &Store, year: i16) -> Result<YearReview, WorkflowError> {
    let day = |month, day| Date::new(year, month, day).map_err(|_| WorkflowError::NoYear(year));
    let (from, to) = (day(1, 1)?, day(12, 31)?);
    store.read(|store| {
        let mut months: [MonthCounts; 12] = Default::default();
        for (month, number) in months.iter_mut().zip(1..) {
            month.month = number;
        }
        // A month's name ends in its number: 2026-03.
        let at = |name: &str| name.rsplit('-').next()?.parse::<usize>().ok()?.checked_sub(1);
        for (group, spent) in spend(store, SpendBy::Month, Some(from), Some(to))?.groups() {
            if let Some(month) = group.and_then(|group| at(&group.name)).and_then(|at| months.get_mut(at)) {
                month.bought = spent.copies;
            }
        }
        for (name, read) in store.read_by_month(from, to)? {
            if let Some(month) = at(&name).and_then(|at| months.get_mut(at)) {
                month.read = read;
            }
        }
        let spending = spend(store, SpendBy::Publisher, Some(from), Some(to))?;
        let (left, without_day) = (store.left_within(from, to)?, store.without_day()?);
        Ok(YearReview { year, months, spending, left, without_day })
    })
}
