//! Codes as the bar-code standards define them: GTINs with their check digits, number sets, add-ons with their parity,
//! and what a person or a handheld scanner typed.
//!
//! What a code *means* (issue, cover, printing, ISBN, price) is left to [`crate::meaning`].
//! [`Gtin`]'s 13-digit text form is stored in collections and printed as JSON: it must stay.

mod add_on;
mod gtin;

pub use add_on::{AddOn, AddOnError, AddOnState};
pub use gtin::{Gtin, GtinError, check_digit};

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
