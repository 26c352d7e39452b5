//! What a code that fails its check was most likely meant to be.

use std::cmp::Reverse;
use std::fmt;

use super::line::{Line, X, tidy};
use super::typed::{Typed, TypedError, ends_unbroken, main_readings, parse_typed, without_word};
use super::{AddOn, Gtin};

/// Most corrections to propose that the collection does not know: nobody compares more with a cover.
pub const MOST_UNKNOWN: usize = 12;

/// The slip that a correction undoes. Places count from 0 in the digits as typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum CorrectionKind {
    /// The digit at `at` and the one behind it changed places.
    Swapped {
        /// The first of the two.
        at: usize,
    },
    /// The check digit alone is wrong.
    CheckDigit {
        /// The digit that would fit.
        expected: char,
    },
    /// One other digit is wrong.
    OneDigit {
        /// Its place.
        at: usize,
        /// The digit that would fit.
        expected: char,
    },
    /// The digit at `at` was typed twice.
    Doubled {
        /// The first of the two.
        at: usize,
    },
    /// A digit is missing before the one at `at`.
    Missing {
        /// Its place.
        at: usize,
        /// The digit that would fit.
        expected: char,
    },
}

/// A code that differs by one slip from what was typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Correction {
    /// The code.
    pub gtin: Gtin,
    /// The add-on as typed.
    pub add_on: Option<AddOn>,
    /// The slip.
    pub kind: CorrectionKind,
    /// Whether the collection knows the code.
    pub known: bool,
}

impl CorrectionKind {
    /// Order of likelihood, the likeliest first.
    ///
    /// Of typed numbers' errors about 79 % are one wrong digit and 10 % two neighbours swapped (J. Verhoeff, Error
    /// Detecting Decimal Codes, 1969, from memory). One wrong digit can be any of twelve with nine wrong values, a swap
    /// any of eleven: a single swap that fits is likelier (10 % / 11) than a single other digit (79 % / 108). That a
    /// digit is too many or missing counts after them (common practice).
    fn rank(self) -> u8 {
        match self {
            Self::Swapped { .. } => 0,
            Self::CheckDigit { .. } => 1,
            Self::OneDigit { .. } => 2,
            Self::Doubled { .. } => 3,
            Self::Missing { .. } => 4,
        }
    }
}

impl fmt::Display for CorrectionKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::Swapped { at } => write!(f, "digits {} and {} swapped", at + 1, at + 2),
            Self::CheckDigit { expected } => write!(f, "check digit is {expected}"),
            Self::OneDigit { at, expected } => write!(f, "digit {} is {expected}", at + 1),
            Self::Doubled { at } => write!(f, "digit {} typed twice", at + 1),
            Self::Missing { at, expected } => write!(f, "{expected} missing as digit {}", at + 1),
        }
    }
}

/// The likeliest codes behind a line that fails its check: all that the collection knows first, then at most
/// [`MOST_UNKNOWN`] others, each by likelihood. Empty if the line fits as it is, or is nothing like a code.
#[must_use]
pub fn corrections(digits: &str, known: impl Fn(Gtin) -> bool) -> Vec<Correction> {
    let mut all = every_correction(digits, known);
    let known = all.iter().filter(|c| c.known).count();
    all.truncate(known + MOST_UNKNOWN);
    all
}

/// As [`corrections`], without a limit.
#[must_use]
pub fn every_correction(digits: &str, known: impl Fn(Gtin) -> bool) -> Vec<Correction> {
    if matches!(
        parse_typed(digits),
        Ok(Typed::AddOn(_) | Typed::Code { repair: None, .. }) | Err(TypedError::Ambiguous(_))
    ) {
        return Vec::new();
    }
    let Some(line) = tidy(digits).ok().and_then(|text| Line::scan(without_word(&text)).ok()) else { return Vec::new() };
    let n = line.digits.len();
    let ends = match (line.plus, line.tail_apart()) {
        (Some(at), _) => vec![at],
        // The blank may stand before an add-on or only inside a number that was broken for reading.
        (None, Some(at)) if at >= 7 => {
            if n <= 13 {
                vec![at, n]
            } else {
                vec![at]
            }
        }
        (None, _) if n <= 13 => vec![n],
        (None, _) => ends_unbroken(n).unwrap_or_default().to_vec(),
    };
    let mut found: Vec<Correction> = Vec::new();
    for end in ends {
        let (main, rest) = line.digits.split_at(end);
        if rest.contains(&X) || !matches!(rest.len(), 0 | 2 | 5) {
            continue;
        }
        for (edited, kind) in edits(main) {
            // Fourteen digits are no code on a book, and eleven only after a repair.
            let readings = main_readings(&edited).into_iter().filter(|r| r.repair.is_none() && edited.len() < 14);
            let add_on = AddOn::from_digits(rest);
            found.extend(readings.map(|r| Correction { gtin: r.gtin, add_on, kind, known: known(r.gtin) }));
        }
    }
    found.sort_by_key(|c| (Reverse(c.known), c.kind.rank()));
    let mut seen = std::collections::HashSet::new();
    found.retain(|c| seen.insert((c.gtin, c.add_on)));
    found
}

/// `main` with each single slip undone.
fn edits(main: &[u8]) -> Vec<(Vec<u8>, CorrectionKind)> {
    let mut edits = Vec::new();
    let n = main.len();
    let mark = |d: u8| if d == X { 'X' } else { char::from(b'0' + d) };
    for at in 0..n {
        if at + 1 < n && main[at] != main[at + 1] {
            let mut swapped = main.to_vec();
            swapped.swap(at, at + 1);
            edits.push((swapped, CorrectionKind::Swapped { at }));
        }
        if at + 1 < n && main[at] == main[at + 1] {
            let single = [&main[..at], &main[at + 1..]].concat();
            edits.push((single, CorrectionKind::Doubled { at }));
        }
        for digit in (0..=X).filter(|&d| d != main[at] && (d < X || at + 1 == n)) {
            let mut other = main.to_vec();
            other[at] = digit;
            let expected = mark(digit);
            let kind = if at + 1 == n {
                CorrectionKind::CheckDigit { expected }
            } else {
                CorrectionKind::OneDigit { at, expected }
            };
            edits.push((other, kind));
        }
    }
    for at in 0..=n {
        for digit in (0..=X).filter(|&d| d < X || at == n) {
            let longer = [&main[..at], &[digit], &main[at..]].concat();
            edits.push((longer, CorrectionKind::Missing { at, expected: mark(digit) }));
        }
    }
    edits
}
