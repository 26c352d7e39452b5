//! The reading pile: what is unread, and how fast it is read.

use jiff::civil::Date;
use serde::Serialize;

use super::{CopyId, Money, Title};

/// The weeks that the pace is taken over: long enough for a holiday, short enough to follow a habit.
pub const PACE_WEEKS: u32 = 8;

/// Bagged and boarded comics that a short box holds, at least and at most (common practice).
const SHORT_BOX: (u32, u32) = (100, 150);

/// A copy, as it is taken from the pile.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Unread {
    /// Its number.
    pub copy: CopyId,
    /// Its title.
    pub title: Title,
    /// Its issue; empty for a whole book.
    pub issue: String,
    /// Its cover.
    pub cover: String,
    /// Its printing, from 1.
    pub printing: u32,
    /// When it was acquired or, if nobody said, seen.
    pub came: Option<Date>,
}

/// The pile in numbers.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pile {
    /// Unread copies.
    pub copies: u32,
    /// Copies that came within [`PACE_WEEKS`].
    pub came: u32,
    /// Copies that were read within [`PACE_WEEKS`].
    pub read: u32,
    /// What the unread copies cost, one sum a currency.
    pub paid: Vec<Money>,
    /// Unread copies whose price is not known.
    pub without_price: u32,
}

impl Pile {
    /// Tenths of weeks that the pile lasts at the present pace, rounded up; `None` if nothing was read.
    #[must_use]
    pub fn lasts_tenths_of_weeks(&self) -> Option<u64> {
        (self.read > 0).then(|| (u64::from(self.copies) * u64::from(PACE_WEEKS) * 10).div_ceil(self.read.into()))
    }

    /// Tenths of short boxes that the pile will fill, at least and at most, rounded up.
    #[must_use]
    pub fn tenths_of_short_boxes(&self) -> (u64, u64) {
        let boxes = |holds: u32| (u64::from(self.copies) * 10).div_ceil(holds.into());
        (boxes(SHORT_BOX.1), boxes(SHORT_BOX.0))
    }

    /// Whether more came than was read.
    #[must_use]
    pub fn grows(&self) -> bool {
        self.came > self.read
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pile(copies: u32, came: u32, read: u32) -> Pile {
        Pile { copies, came, read, paid: Vec::new(), without_price: 0 }
    }

    #[test]
    fn a_pile_lasts_as_long_as_the_pace_says() {
        assert_eq!(pile(60, 0, 16).lasts_tenths_of_weeks(), Some(300));
        assert_eq!(pile(1, 0, 3).lasts_tenths_of_weeks(), Some(27));
        assert_eq!(pile(0, 0, 3).lasts_tenths_of_weeks(), Some(0));
        assert_eq!(pile(5, 0, 0).lasts_tenths_of_weeks(), None);
    }

    #[test]
    fn a_pile_grows_if_more_comes_than_is_read() {
        assert!(pile(1, 3, 2).grows() && !pile(1, 2, 2).grows() && !pile(1, 0, 0).grows());
        assert_eq!(pile(300, 0, 0).tenths_of_short_boxes(), (20, 30));
        assert_eq!(pile(1, 0, 0).tenths_of_short_boxes(), (1, 1));
    }
}
