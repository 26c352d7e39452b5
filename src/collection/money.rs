//! Sums of money in minor units: never a float, never a text.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::meaning::CoverPrice;

/// A currency by its three letters.
///
/// Source: ISO 4217.
#[derive(Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Currency([u8; 3]);

/// A sum of money.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Money {
    /// In the currency's minor unit: cents, pence, or the yen itself.
    pub minor_units: i64,
    /// The currency.
    pub currency: Currency,
}

/// Why text is no sum of money.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum MoneyError {
    /// Not three letters.
    #[error("'{0}' is no currency; a currency has three letters, such as USD")]
    Currency(String),
    /// Not an amount.
    #[error("'{0}' is no amount; write it as 3.99 USD")]
    Amount(String),
}

impl Currency {
    /// The three letters.
    #[must_use]
    pub fn as_str(&self) -> &str {
        // Only ASCII letters get in, so this never falls back.
        std::str::from_utf8(&self.0).unwrap_or("XXX")
    }

    /// Decimal places of its minor unit. Source: ISO 4217, the currencies that differ from two.
    #[must_use]
    pub fn decimals(&self) -> u32 {
        match self.as_str() {
            "BIF" | "CLP" | "DJF" | "GNF" | "ISK" | "JPY" | "KMF" | "KRW" | "PYG" | "RWF" | "UGX" | "VND" | "VUV"
            | "XAF" | "XOF" | "XPF" => 0,
            "BHD" | "IQD" | "JOD" | "KWD" | "LYD" | "OMR" | "TND" => 3,
            _ => 2,
        }
    }
}

impl FromStr for Currency {
    type Err = MoneyError;

    fn from_str(text: &str) -> Result<Self, MoneyError> {
        match text.as_bytes() {
            [a, b, c] if text.bytes().all(|c| c.is_ascii_alphabetic()) => {
                Ok(Self([a, b, c].map(u8::to_ascii_uppercase)))
            }
            _ => Err(MoneyError::Currency(text.to_owned())),
        }
    }
}

impl FromStr for Money {
    type Err = MoneyError;

    /// From an amount and a currency, such as `3.99 USD`.
    fn from_str(text: &str) -> Result<Self, MoneyError> {
        let wrong = || MoneyError::Amount(text.to_owned());
        let text_trimmed = text.trim();
        let split = text_trimmed.find(|c: char| c.is_ascii_alphabetic()).ok_or_else(wrong)?;
        let (amount, currency) = text_trimmed.split_at(split);
        let currency: Currency = currency.parse()?;
        let (whole, part) = amount.trim().split_once(['.', ',']).unwrap_or((amount.trim(), ""));
        let places = currency.decimals() as usize;
        let digits = |s: &str| s.bytes().all(|c| c.is_ascii_digit());
        if whole.is_empty() || !digits(whole) || !digits(part) || part.len() > places {
            return Err(wrong());
        }
        let minor_units = format!("{whole}{part:0<places$}").parse().map_err(|_| wrong())?;
        Ok(Self { minor_units, currency })
    }
}

impl Money {
    /// The amount alone, such as 3.99.
    #[must_use]
    pub fn amount(&self) -> String {
        let unit = 10_u64.pow(self.currency.decimals());
        let sign = if self.minor_units < 0 { "-" } else { "" };
        let (whole, part) = (self.minor_units.unsigned_abs() / unit, self.minor_units.unsigned_abs() % unit);
        match self.currency.decimals() as usize {
            0 => format!("{sign}{whole}"),
            places => format!("{sign}{whole}.{part:0places$}"),
        }
    }

    /// The price that a book's add-on says; `None` if the cover's is higher than an add-on can hold.
    #[must_use]
    pub fn of_cover(price: CoverPrice) -> Option<Self> {
        let currency = price.currency.code().parse().ok()?;
        (!price.at_least).then_some(Self { minor_units: price.minor_units.into(), currency })
    }
}

impl fmt::Display for Money {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.amount(), self.currency)
    }
}

impl fmt::Display for Currency {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

impl fmt::Debug for Currency {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

impl Serialize for Currency {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.as_str())
    }
}

impl<'de> Deserialize<'de> for Currency {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        String::deserialize(deserializer)?.parse().map_err(serde::de::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn amounts_are_read_in_the_currencys_minor_unit() {
        // Decimal places: ISO 4217.
        for (text, minor_units, shown) in [
            ("3.99 USD", 399, "3.99 USD"),
            ("3,9usd", 390, "3.90 USD"),
            ("4 EUR", 400, "4.00 EUR"),
            ("480 JPY", 480, "480 JPY"),
            ("1.250 KWD", 1250, "1.250 KWD"),
            ("0.05 GBP", 5, "0.05 GBP"),
        ] {
            let money: Money = text.parse().unwrap();
            assert_eq!((money.minor_units, money.to_string().as_str()), (minor_units, shown), "{text}");
        }
        for text in [
            "",
            "USD",
            "3.99",
            "3.999 USD",
            "4.80 JPY",
            "-1 USD",
            "1.2.3 USD",
            "3.99 US",
            "9999999999999999999 USD",
            "3.99 $",
        ] {
            assert!(text.parse::<Money>().is_err(), "{text}");
        }
    }
}
