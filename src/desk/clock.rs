//! The clock that the desk goes by: given to it, so that a test can hold it.

use std::fmt;
use std::sync::Arc;

use jiff::Timestamp;
use jiff::civil::{Date, DateTime};
use jiff::tz::TimeZone;

/// Tells the time, and the day where the program runs.
#[derive(Clone)]
pub struct Clock {
    now: Arc<dyn Fn() -> Timestamp + Send + Sync>,
    zone: TimeZone,
}

impl Clock {
    /// Asks `now` for the time; days are those of `zone`.
    pub fn new(now: impl Fn() -> Timestamp + Send + Sync + 'static, zone: TimeZone) -> Self {
        Self { now: Arc::new(now), zone }
    }

    /// The time.
    #[must_use]
    pub fn now(&self) -> Timestamp {
        (self.now)()
    }

    /// The day.
    #[must_use]
    pub fn today(&self) -> Date {
        self.local(self.now()).date()
    }

    /// A moment as clocks show it where the program runs.
    #[must_use]
    pub fn local(&self, moment: Timestamp) -> DateTime {
        self.zone.to_datetime(moment)
    }
}

impl fmt::Debug for Clock {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Clock").field("now", &self.now()).finish_non_exhaustive()
    }
}
