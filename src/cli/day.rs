//! A day as a person types it.

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;

use super::failure::Failure;

/// A day, as typed.
#[derive(Debug, Clone, Copy)]
pub(super) enum Day {
    Today,
    On(Date),
}

impl Day {
    /// The date where the program runs.
    pub(super) fn date(self, now: Timestamp) -> Date {
        match self {
            Self::Today => TimeZone::system().to_datetime(now).date(),
            Self::On(date) => date,
        }
    }

    /// The date of what has happened, as `--on` says.
    pub(super) fn happened(self, now: Timestamp) -> Result<Date, Failure> {
        let (date, today) = (self.date(now), Self::Today.date(now));
        if date > today {
            return Err(Failure::call(format!("--on: {date} is still to come; today is {today}")));
        }
        Ok(date)
    }
}

/// Reads a day for clap.
pub(super) fn day(text: &str) -> Result<Day, jiff::Error> {
    if text == "today" { Ok(Day::Today) } else { text.parse().map(Day::On) }
}
