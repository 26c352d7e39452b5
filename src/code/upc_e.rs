//! UPC-E: a UPC-A whose zeros are left out.
//!
//! Source: GS1 General Specifications, 'UPC-E symbol' (zero suppression). Number system 1 is common practice: the
//! standard has number system 0 only.

use super::{Gtin, GtinError, check_digit};

/// Why eight digits are no UPC-E.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum UpcEError {
    /// The first digit is neither 0 nor 1.
    #[error("a UPC-E begins with 0 or 1, not with {0}")]
    NumberSystem(u8),
    /// The last digit does not fit the UPC-A that the others stand for.
    #[error("check digit {found} does not fit, {expected} would")]
    CheckDigit {
        /// The digit that stands there.
        found: u8,
        /// The digit that the others call for.
        expected: u8,
    },
    /// The same UPC-A has to be written with fewer digits kept, so no printer makes this one.
    #[error("these digits are not how the standard shortens {0}: type its twelve digits")]
    NotShortest(Gtin),
    /// A value is above 9.
    #[error(transparent)]
    Gtin(#[from] GtinError),
}

/// The number that a UPC-E (number system, six digits, check digit) stands for.
///
/// Digits that the standard's rules never produce are refused: a symbol that seems to hold them was misread.
///
/// # Errors
/// If the number system, the check digit or the way of shortening is wrong.
pub fn upc_e_expand(digits: &[u8; 8]) -> Result<Gtin, UpcEError> {
    let &[system, a, b, c, d, e, f, found] = digits;
    if system > 1 {
        return Err(UpcEError::NumberSystem(system));
    }
    let ten = match f {
        0..=2 => [a, b, f, 0, 0, 0, 0, c, d, e],
        3 => [a, b, c, 0, 0, 0, 0, 0, d, e],
        4 => [a, b, c, d, 0, 0, 0, 0, 0, e],
        _ => [a, b, c, d, e, 0, 0, 0, 0, f],
    };
    let mut upc_a = [0; 12];
    upc_a[0] = system;
    upc_a[1..11].copy_from_slice(&ten);
    upc_a[11] = found;
    let expected = check_digit(&upc_a[..11]);
    if found != expected {
        return Err(UpcEError::CheckDigit { found, expected });
    }
    let gtin = Gtin::from_digits(&upc_a)?;
    if compress(gtin) == Some(*digits) { Ok(gtin) } else { Err(UpcEError::NotShortest(gtin)) }
}

/// The eight digits of the UPC-E that carries `gtin`, if there is one.
#[must_use]
pub fn compress(gtin: Gtin) -> Option<[u8; 8]> {
    let [0, s, a, b, c, d, e, f, g, h, i, j, check] = gtin.digits() else { return None };
    let six = match [c, d, e, f, g, h, i, j] {
        [0..=2, 0, 0, 0, 0, _, _, _] => [a, b, h, i, j, c],
        [3..=9, 0, 0, 0, 0, 0, _, _] => [a, b, c, i, j, 3],
        [_, 1..=9, 0, 0, 0, 0, 0, _] => [a, b, c, d, j, 4],
        [_, _, 1..=9, 0, 0, 0, 0, 5..=9] => [a, b, c, d, e, j],
        _ => return None,
    };
    let [a, b, c, d, e, f] = six;
    (s <= 1).then_some([s, a, b, c, d, e, f, check])
}
