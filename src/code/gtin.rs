//! GTIN-8, GTIN-12 and GTIN-13, all held as thirteen digits.

use std::fmt;
use std::str::FromStr;

/// A GTIN whose check digit is right, as a 13-digit number: a GTIN-12 with one leading 0, a GTIN-8 with five.
///
/// Source: GS1 General Specifications, 'GTIN' data structures.
#[derive(Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Gtin(u64);

/// Why digits are no GTIN.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum GtinError {
    /// Not 8, 12 or 13 digits (or 14 with a leading 0).
    #[error("a GTIN has 8, 12 or 13 digits, this has {0}")]
    Length(usize),
    /// A character that is no digit.
    #[error("'{0}' is no digit")]
    NotADigit(char),
    /// A digit value above 9.
    #[error("{0} is no digit's value, 0 to 9 are")]
    Value(u8),
    /// The last digit does not fit the ones before it.
    #[error("check digit {found} does not fit, {expected} would")]
    CheckDigit {
        /// The digit that stands there.
        found: u8,
        /// The digit that the others call for.
        expected: u8,
    },
}

/// The check digit that belongs behind `digits` (values 0 to 9, check digit left out).
///
/// Weights 3 and 1 from the right, modulo 10. Source: GS1 General Specifications, 'standard check digit calculations'.
#[must_use]
pub fn check_digit(digits: &[u8]) -> u8 {
    let sum: u32 = digits.iter().rev().enumerate().map(|(i, &d)| u32::from(d) * if i % 2 == 0 { 3 } else { 1 }).sum();
    ((10 - sum % 10) % 10) as u8
}

impl Gtin {
    /// From 8, 12 or 13 digit values (or 14 whose first is 0), check digit last.
    ///
    /// # Errors
    /// If the length, a value or the check digit is wrong.
    pub fn from_digits(digits: &[u8]) -> Result<Self, GtinError> {
        let digits = match digits.len() {
            8 | 12 | 13 => digits,
            14 if digits[0] == 0 => &digits[1..],
            n => return Err(GtinError::Length(n)),
        };
        if let Some(&value) = digits.iter().find(|&&d| d > 9) {
            return Err(GtinError::Value(value));
        }
        let (&found, body) = digits.split_last().ok_or(GtinError::Length(0))?;
        let expected = check_digit(body);
        if found != expected {
            return Err(GtinError::CheckDigit { found, expected });
        }
        Ok(Self(digits.iter().fold(0, |n, &d| n * 10 + u64::from(d))))
    }

    /// From the number that [`Gtin::number`] gave.
    ///
    /// # Errors
    /// If it has more than 13 digits or its check digit is wrong.
    pub fn from_number(number: u64) -> Result<Self, GtinError> {
        format!("{number:013}").parse()
    }

    /// The thirteen digits as one number.
    #[must_use]
    pub fn number(self) -> u64 {
        self.0
    }

    /// The thirteen digit values, check digit last.
    #[must_use]
    pub fn digits(self) -> [u8; 13] {
        let mut digits = [0; 13];
        let mut rest = self.0;
        for d in digits.iter_mut().rev() {
            *d = (rest % 10) as u8;
            rest /= 10;
        }
        digits
    }

    /// Whether this is a GTIN-8. GS1 issues no longer number with five leading zeros, so the two can't be confused.
    #[must_use]
    pub fn is_gtin8(self) -> bool {
        self.0 < 100_000_000
    }

    /// Whether this is a GTIN-12, the number of a UPC-A.
    #[must_use]
    pub fn is_gtin12(self) -> bool {
        !self.is_gtin8() && self.0 < 1_000_000_000_000
    }

    /// The eight digit values of a GTIN-8.
    #[must_use]
    pub fn gtin8(self) -> Option<[u8; 8]> {
        let [_, _, _, _, _, rest @ ..] = self.digits();
        self.is_gtin8().then_some(rest)
    }

    /// The twelve digit values of a GTIN-12.
    #[must_use]
    pub fn gtin12(self) -> Option<[u8; 12]> {
        let [_, rest @ ..] = self.digits();
        self.is_gtin12().then_some(rest)
    }

    /// The digits as they stand under the bars: eight, twelve or thirteen.
    #[must_use]
    pub fn printed(self) -> String {
        if self.is_gtin8() {
            format!("{:08}", self.0)
        } else if self.is_gtin12() {
            format!("{:012}", self.0)
        } else {
            self.to_string()
        }
    }
}

impl FromStr for Gtin {
    type Err = GtinError;

    fn from_str(text: &str) -> Result<Self, GtinError> {
        let digits = text
            .chars()
            .map(|c| c.to_digit(10).map(|d| d as u8).ok_or(GtinError::NotADigit(c)))
            .collect::<Result<Vec<u8>, _>>()?;
        Self::from_digits(&digits)
    }
}

impl fmt::Display for Gtin {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:013}", self.0)
    }
}

impl fmt::Debug for Gtin {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Gtin({self})")
    }
}

impl serde::Serialize for Gtin {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> serde::Deserialize<'de> for Gtin {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        String::deserialize(deserializer)?.parse().map_err(serde::de::Error::custom)
    }
}
