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
