//! Numbers of books and serials that have a check digit of their own: ISBN-10 and ISSN, modulo 11.

use std::fmt;
use std::str::FromStr;

use super::{Gtin, GtinError, check_digit};

/// Why text is no ISBN-10 or no ISSN.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum BookNumberError {
    /// A character that stands in the wrong place or in no such number.
    #[error("'{0}' can't stand there: digits, and X as the last one only")]
    NotADigit(char),
    /// Wrong number of digits.
    #[error("{expected} digits are needed, this has {found}")]
    Length {
        /// How many there are.
        found: usize,
        /// How many there must be.
        expected: usize,
    },
    /// The last digit does not fit the ones before it.
    #[error("check digit {found} does not fit, {expected} would")]
    CheckDigit {
        /// The digit that stands there.
        found: char,
        /// The digit that the others call for.
        expected: char,
    },
    /// The GTIN does not begin with 977.
    #[error("{0} does not begin with 977: it holds no ISSN")]
    NoSerial(Gtin),
}

/// An International Standard Serial Number, its check digit right.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Issn([u8; 7]);

impl Issn {
    /// From the seven digits before the check digit; `None` if one is above 9.
    #[must_use]
    pub fn from_body(body: [u8; 7]) -> Option<Self> {
        body.iter().all(|&d| d <= 9).then_some(Self(body))
    }

    /// The ISSN inside a GTIN-13 of prefix 977: its digits 4 to 10.
    ///
    /// # Errors
    /// If `gtin` has another prefix.
    pub fn from_gtin(gtin: Gtin) -> Result<Self, BookNumberError> {
        match gtin.digits() {
            [9, 7, 7, a, b, c, d, e, f, g, _, _, _] => Ok(Self([a, b, c, d, e, f, g])),
            _ => Err(BookNumberError::NoSerial(gtin)),
        }
    }

    /// The GTIN-13 of this serial with a two-digit variant (00 for the plain edition).
    ///
    /// # Errors
    /// If a variant digit is above 9.
    pub fn to_gtin(self, variant: [u8; 2]) -> Result<Gtin, GtinError> {
        let mut digits = [9, 7, 7, 0, 0, 0, 0, 0, 0, 0, variant[0], variant[1], 0];
        digits[3..10].copy_from_slice(&self.0);
        digits[12] = check_digit(&digits[..12]);
        Gtin::from_digits(&digits)
    }

    /// The check digit: 0 to 9 or X.
    #[must_use]
    pub fn check_digit(self) -> char {
        mod_11_check_digit(&self.0)
    }
}

impl FromStr for Issn {
    type Err = BookNumberError;

    fn from_str(text: &str) -> Result<Self, BookNumberError> {
        mod_11_body(text).map(Self)
    }
}

impl fmt::Display for Issn {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let [a, b, c, d, e, g, h] = self.0;
        write!(f, "{a}{b}{c}{d}-{e}{g}{h}{}", self.check_digit())
    }
}

impl serde::Serialize for Issn {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

/// The check digit, modulo 11 with X for 10, that belongs behind the digits of an ISBN-10 or ISSN.
///
/// Weights 2, 3, 4 … from the right. Source: ISO 2108 (ISBN-10, editions before 2005) and ISO 3297 (ISSN).
#[must_use]
pub fn mod_11_check_digit(body: &[u8]) -> char {
    let sum: u32 = body.iter().rev().zip(2u32..).map(|(&d, weight)| u32::from(d) * weight).sum();
    match (11 - sum % 11) % 11 {
        10 => 'X',
        digit => char::from_digit(digit, 10).unwrap_or('X'),
    }
}

/// The GTIN-13 of a book that is known by its ISBN-10 (hyphens and blanks allowed).
///
/// # Errors
/// If it has not ten digits or its check digit is wrong.
pub fn isbn_10_to_gtin(text: &str) -> Result<Gtin, BookNumberError> {
    let body: [u8; 9] = mod_11_body(text)?;
    let mut digits = [9, 7, 8, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0];
    digits[3..12].copy_from_slice(&body);
    digits[12] = check_digit(&digits[..12]);
    Gtin::from_digits(&digits).map_err(|_| BookNumberError::Length { found: 13, expected: 10 })
}

/// `N` digits and their check digit, hyphens and blanks left out.
fn mod_11_body<const N: usize>(text: &str) -> Result<[u8; N], BookNumberError> {
    let marks: Vec<char> = text.chars().filter(|c| !matches!(c, '-' | ' ')).collect();
    let length = BookNumberError::Length { found: marks.len(), expected: N + 1 };
    let Some((&last, rest)) = marks.split_last() else { return Err(length) };
    let digits = rest
        .iter()
        .map(|&c| c.to_digit(10).map(|d| d as u8).ok_or(BookNumberError::NotADigit(c)))
        .collect::<Result<Vec<u8>, _>>()?;
    let found = last.to_ascii_uppercase();
    if !found.is_ascii_digit() && found != 'X' {
        return Err(BookNumberError::NotADigit(last));
    }
    let body: [u8; N] = digits.try_into().map_err(|_| length)?;
    let expected = mod_11_check_digit(&body);
    if found == expected { Ok(body) } else { Err(BookNumberError::CheckDigit { found, expected }) }
}
