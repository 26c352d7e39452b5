//! A year in review: what was bought and read, month by month, and what left.

use serde::Serialize;

use super::{Leaving, Money, Spending};

/// A month of a year.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
pub struct MonthCounts {
    /// From 1 to 12.
    pub month: i8,
    /// Copies acquired.
    pub bought: u64,
    /// Copies read.
    #[serde(rename = "was_read")]
    pub read: u64,
}

/// Copies that left in one way, and what they brought in one currency.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct LeftCount {
    /// How.
    pub how: Leaving,
    /// How many.
    pub copies: u64,
    /// For how much; `None` for those without a price.
    pub price: Option<Money>,
}

/// Copies that no year counts, because nobody said on which day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
pub struct WithoutDay {
    /// Copies acquired.
    pub bought: u64,
    /// Copies read.
    #[serde(rename = "was_read")]
    pub read: u64,
}

/// What happened in a year, as far as days are known.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct YearReview {
    /// The year.
    pub year: i16,
    /// Its twelve months.
    pub months: [MonthCounts; 12],
    /// What was spent, by publisher.
    pub spending: Spending,
    /// What left.
    pub left: Vec<LeftCount>,
    /// Of all that is or was owned.
    pub without_day: WithoutDay,
}

impl YearReview {
    /// Copies bought, and copies read.
    #[must_use]
    pub fn totals(&self) -> (u64, u64) {
        self.months.iter().fold((0, 0), |(bought, read), month| (bought + month.bought, read + month.read))
    }
}
