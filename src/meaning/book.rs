//! A book's number and price.

use isbn::Isbn13;
use serde::Serialize;

use super::price::CoverPrice;
use crate::code::{AddOn, Gtin};

/// A book.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Book {
    /// The number.
    pub gtin: Gtin,
    /// The ISBN with its hyphens by the International ISBN Agency's ranges; without, if the range is not assigned.
    pub isbn: String,
    /// The price in the add-on, if one is there.
    pub price: Option<CoverPrice>,
}

impl Book {
    /// The book whose ISBN `gtin` is.
    #[must_use]
    pub fn new(gtin: Gtin, add_on: Option<AddOn>) -> Self {
        let hyphenated = Isbn13::new(gtin.digits()).and_then(|isbn| isbn.hyphenate());
        let isbn = hyphenated.map_or_else(|_| gtin.to_string(), |text| text.to_string());
        Self { gtin, isbn, price: add_on.and_then(CoverPrice::from_add_on) }
    }
}
