//! Codes as the bar-code standards define them: GTINs with their check digits, number sets, add-ons with their parity,
//! and what a person or a handheld scanner typed.
//!
//! What a code *means* (issue, cover, printing, ISBN, price) is left to [`crate::meaning`].
//! [`Gtin`]'s 13-digit text form is stored in collections and printed as JSON: it must stay.

mod add_on;
mod book_number;
mod correction;
mod gtin;
mod line;
mod modules;
mod number_set;
mod prefix;
mod typed;
mod upc_e;

pub use add_on::{AddOn, AddOnError, AddOnState};
pub use book_number::{BookNumberError, Issn, isbn_10_to_gtin, mod_11_check_digit};
pub use correction::{Correction, CorrectionKind, MOST_UNKNOWN, corrections, every_correction};
pub use gtin::{Gtin, GtinError, check_digit};
pub use line::LONGEST_LINE;
pub use modules::{add_on_modules, ean_8_modules, main_modules, upc_e_modules};
pub use number_set::{
    FIVE_DIGIT_SETS, MAIN_SETS, NumberSet, TWO_DIGIT_SETS, UPC_E_SETS, WIDTHS_A_MODULES, WIDTHS_B_MODULES,
    five_digit_sets, five_digit_value, main_sets, two_digit_sets, upc_e_sets,
};
pub use prefix::{PrefixKind, prefix_kind};
pub use typed::{Repair, Typed, TypedError, parse_typed};
pub use upc_e::{UpcEError, compress as upc_e_compress, upc_e_expand};

use serde::{Deserialize, Serialize};

/// The kind of symbol that a code was printed as.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Symbology {
    /// UPC-A: twelve digits.
    #[serde(rename = "UPC-A")]
    UpcA,
    /// UPC-E: a zero-suppressed UPC-A; a [`Gtin`] always holds it expanded.
    #[serde(rename = "UPC-E")]
    UpcE,
    /// EAN-13: thirteen digits.
    #[serde(rename = "EAN-13")]
    Ean13,
    /// EAN-8: eight digits.
    #[serde(rename = "EAN-8")]
    Ean8,
}

impl Symbology {
    /// The standard's name, as printed and stored.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::UpcA => "UPC-A",
            Self::UpcE => "UPC-E",
            Self::Ean13 => "EAN-13",
            Self::Ean8 => "EAN-8",
        }
    }

    /// The symbol that a number is printed as unless something else is known.
    #[must_use]
    pub fn usual(gtin: Gtin) -> Self {
        if gtin.is_gtin8() {
            Self::Ean8
        } else if gtin.is_gtin12() {
            Self::UpcA
        } else {
            Self::Ean13
        }
    }
}

/// How far a code can be trusted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Certainty {
    /// A second frame, photo or person should confirm it; it never enters the collection by itself.
    Confirm,
    /// As certain as the reader gets.
    Sure,
}

/// A main code and what is known of its add-on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Code {
    /// The main symbol's number.
    pub gtin: Gtin,
    /// The add-on, or why there is none.
    pub add_on: AddOnState,
}
