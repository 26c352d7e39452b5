//! The price in a book's five-digit add-on.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::code::AddOn;

/// A currency that a cover price is in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "UPPERCASE")]
pub enum Currency {
    /// Australian dollar.
    Aud,
    /// Canadian dollar.
    Cad,
    /// Pound sterling.
    Gbp,
    /// New Zealand dollar.
    Nzd,
    /// US dollar.
    Usd,
}

/// Why text is no currency.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("'{0}' is no currency that cover prices come in: AUD, CAD, GBP, NZD or USD")]
pub struct CurrencyError(pub String);

impl Currency {
    /// Every currency, by code.
    pub const ALL: [Self; 5] = [Self::Aud, Self::Cad, Self::Gbp, Self::Nzd, Self::Usd];

    /// The three-letter code (ISO 4217).
    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            Self::Aud => "AUD",
            Self::Cad => "CAD",
            Self::Gbp => "GBP",
            Self::Nzd => "NZD",
            Self::Usd => "USD",
        }
    }
}

impl FromStr for Currency {
    type Err = CurrencyError;

    fn from_str(text: &str) -> Result<Self, CurrencyError> {
        let named = |currency: &Self| currency.code().eq_ignore_ascii_case(text.trim());
        Self::ALL.into_iter().find(named).ok_or_else(|| CurrencyError(text.to_owned()))
    }
}

impl fmt::Display for Currency {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.code())
    }
}

/// A price as the publisher printed it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
pub struct CoverPrice {
    /// In hundredths of the currency's unit.
    pub minor_units: u32,
    /// The currency.
    pub currency: Currency,
    /// The price is this or higher: four digits hold no more than 99.99.
    pub at_least: bool,
}

impl CoverPrice {
    /// The price in a book's add-on; `None` for two digits, for 'no price' (90000) and whatever else is no price.
    ///
    /// Source: Book Industry Study Group's bar-coding guideline, from memory. A price of 0000 is none: book shops keep
    /// 50000 for other purposes (common practice).
    #[must_use]
    pub fn from_add_on(add_on: AddOn) -> Option<Self> {
        let AddOn::Five([first, rest @ ..]) = add_on else { return None };
        let currency = match first {
            0 | 1 => Currency::Gbp,
            3 => Currency::Aud,
            4 => Currency::Nzd,
            5 => Currency::Usd,
            6 => Currency::Cad,
            _ => return None,
        };
        let minor_units = rest.iter().fold(0, |n, &d| n * 10 + u32::from(d));
        (minor_units > 0).then_some(Self { minor_units, currency, at_least: minor_units == 9999 })
    }
}

impl fmt::Display for CoverPrice {
    /// As in `USD 19.95`; with a plus behind it if the price may be higher.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let more = if self.at_least { "+" } else { "" };
        write!(f, "{} {}.{:02}{more}", self.currency, self.minor_units / 100, self.minor_units % 100)
    }
}
