//! The issue number behind the issue digits: add-ons hold two or three digits, and some titles count further.

use crate::meaning::Reading;

/// What the digits can mean.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Count {
    /// One number is far likelier than any other.
    Clear(u32),
    /// The title's run, or something else?
    Unclear {
        /// The lower number.
        printed: u32,
        /// The higher one.
        counted_on: u32,
        /// The base that the title has if it counts on.
        base: u32,
    },
}

/// What `reading` can mean for a title with this base and this highest issue owned.
///
/// A tenth of what the digits hold is 'near': within it a run that goes on is expected, beyond it a person is asked. A
/// leap of more than half is no leap ahead but an earlier issue.
pub(super) fn count(reading: Reading, base: u32, highest: Option<u32>) -> Count {
    let modulus = reading.layout.modulus();
    let near = modulus / 10;
    let number = if base == 0 { reading.issue } else { reading.with_base(base) };
    let Some(highest) = highest else { return Count::Clear(number) };
    let next_base = (base / modulus + 1) * modulus;
    if highest >= next_base - near && highest < next_base && number <= next_base - modulus + near {
        return Count::Unclear { printed: number, counted_on: number + modulus, base: next_base };
    }
    let ahead = number.saturating_sub(highest.max(base));
    if base == 0 || ahead <= near || number < modulus {
        Count::Clear(number)
    } else if ahead > modulus / 2 {
        Count::Clear(number - modulus)
    } else {
        Count::Unclear { printed: number - modulus, counted_on: number, base }
    }
}

/// The likelier number where both are possible: the one that `have` answers with, which decides nothing.
#[must_use]
pub fn likely_number(reading: Reading, base: u32, highest: Option<u32>) -> u32 {
    match count(reading, base, highest) {
        Count::Clear(number) => number,
        Count::Unclear { counted_on, .. } => counted_on,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::meaning::Layout;

    fn of(issue: u32, layout: Layout, base: u32, highest: Option<u32>) -> Count {
        count(Reading { layout, issue, cover: 1, printing: 1 }, base, highest)
    }

    fn unclear(printed: u32, counted_on: u32, base: u32) -> Count {
        Count::Unclear { printed, counted_on, base }
    }

    #[test]
    fn only_what_is_likely_is_clear() {
        for (issue, base, highest, expected) in [
            // Nothing owned: the digits are all there is.
            (1, 0, None, Count::Clear(1)),
            (1, 1000, None, Count::Clear(1001)),
            // A run that goes on, and back issues of it.
            (998, 0, Some(997), Count::Clear(998)),
            (500, 0, Some(998), Count::Clear(500)),
            (1, 0, Some(899), Count::Clear(1)),
            // At the end of what three digits hold.
            (1, 0, Some(998), unclear(1, 1001, 1000)),
            (0, 0, Some(999), unclear(0, 1000, 1000)),
            (100, 0, Some(900), unclear(100, 1100, 1000)),
            (101, 0, Some(999), Count::Clear(101)),
            // Past it.
            (2, 1000, Some(1001), Count::Clear(1002)),
            (2, 1000, Some(998), Count::Clear(1002)),
            (999, 1000, Some(1001), Count::Clear(999)),
            (300, 1000, Some(1001), unclear(300, 1300, 1000)),
            (1, 1000, Some(1999), unclear(1001, 2001, 2000)),
        ] {
            assert_eq!(of(issue, Layout::Iiicp, base, highest), expected, "{issue} {base} {highest:?}");
        }
        // Two digits.
        assert_eq!(of(1, Layout::Iiccp, 0, Some(99)), unclear(1, 101, 100));
        assert_eq!(of(2, Layout::Iiccp, 100, Some(101)), Count::Clear(102));
        assert_eq!(of(98, Layout::Iiccp, 100, Some(101)), Count::Clear(98));
        assert_eq!(of(11, Layout::Iiccp, 0, Some(99)), Count::Clear(11));
    }
}
