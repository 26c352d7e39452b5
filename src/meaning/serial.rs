//! A serial's number.

use serde::Serialize;

use crate::code::{AddOn, Gtin, Issn};

/// A serial with an ISSN.
///
/// Source: ISSN Manual, 'ISSN and bar codes': 977, seven digits of the ISSN, two digits variant, check digit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Serial {
    /// The ISSN.
    pub issn: Issn,
    /// 0 for the plain edition; else a price or edition that the publisher knows.
    pub variant: u8,
    /// The add-on: week, month or running number of the issue, as the publisher likes (common practice).
    pub add_on: Option<AddOn>,
}

impl Serial {
    /// The serial that `gtin` names, if it begins with 977.
    #[must_use]
    pub fn new(gtin: Gtin, add_on: Option<AddOn>) -> Option<Self> {
        let digits = gtin.digits();
        Issn::from_gtin(gtin).ok().map(|issn| Self { issn, variant: digits[10] * 10 + digits[11], add_on })
    }
}
