//! A year in review.

use jiff::civil::Date;

use super::{WorkflowError, spend};
use crate::collection::{MonthCounts, SpendBy, YearReview};
use crate::store::Store;

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
