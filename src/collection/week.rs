//! Weeks, in which books come.

use std::fmt;
use std::str::FromStr;

use jiff::ToSpan;
use jiff::civil::{Date, ISOWeekDate, Weekday};
use serde::{Serialize, Serializer};

/// A week from Monday to Sunday. Source: ISO 8601, week dates.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Week(Date);

/// Why text is no week.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("'{0}' is no week; write it as 2026-W10, or as a day of it, such as 2026-03-04")]
pub struct WeekError(String);

impl Week {
    /// The week of a day.
    #[must_use]
    pub fn of(day: Date) -> Self {
        let since_monday = day.weekday().since(Weekday::Monday);
        Self(day.saturating_sub(i64::from(since_monday).days()))
    }

    /// Its first day.
    #[must_use]
    pub fn monday(self) -> Date {
        self.0
    }

    /// Its last day.
    #[must_use]
    pub fn sunday(self) -> Date {
        self.0.saturating_add(6.days())
    }

    /// The week so many weeks later.
    #[must_use]
    pub fn after(self, weeks: u32) -> Self {
        Self(self.0.saturating_add(i64::from(weeks).weeks()))
    }
}

impl FromStr for Week {
    type Err = WeekError;

    fn from_str(text: &str) -> Result<Self, WeekError> {
        let wrong = || WeekError(text.to_owned());
        let text = text.trim();
        let Some((year, week)) = text.split_once("-W").or_else(|| text.split_once("-w")) else {
            return text.parse().map(Self::of).map_err(|_| wrong());
        };
        let monday =
            ISOWeekDate::new(year.parse().map_err(|_| wrong())?, week.parse().map_err(|_| wrong())?, Weekday::Monday);
        monday.map(|monday| Self(monday.date())).map_err(|_| wrong())
    }
}

impl fmt::Display for Week {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let week = self.0.iso_week_date();
        write!(f, "{:04}-W{:02}", week.year(), week.week())
    }
}

impl Serialize for Week {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;

    #[test]
    fn weeks_begin_on_monday_and_belong_to_the_year_of_their_thursday() {
        // ISO 8601's rule; the days about the turn of the years from a printed calendar: 1 January 2027 is a Friday.
        for (day, name) in [
            (date(2026, 3, 4), "2026-W10"),
            (date(2026, 3, 2), "2026-W10"),
            (date(2026, 3, 8), "2026-W10"),
            (date(2026, 3, 9), "2026-W11"),
            (date(2026, 12, 31), "2026-W53"),
            (date(2027, 1, 3), "2026-W53"),
            (date(2027, 1, 4), "2027-W01"),
            (date(2025, 12, 29), "2026-W01"),
        ] {
            let week = Week::of(day);
            assert_eq!((week.to_string().as_str(), name.parse()), (name, Ok(week)), "{day}");
            assert_eq!(day.to_string().parse(), Ok(week));
            assert!(week.monday() <= day && day <= week.sunday());
        }
        assert_eq!("2026-W53".parse::<Week>().unwrap().after(1).to_string(), "2027-W01");
        for text in ["", "2026", "2026-W54", "2027-W53", "2026-W00", "W10", "2026-10", "soon"] {
            assert!(text.parse::<Week>().is_err(), "{text}");
        }
    }
}
