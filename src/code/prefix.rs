//! What a number's first digits say about who may issue it.

use super::Gtin;

/// The kind of number that a GTIN's prefix makes it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum PrefixKind {
    /// For use inside one company; says nothing outside it.
    InStore,
    /// A coupon, refund receipt or the like: no product.
    Coupon,
    /// A book.
    Isbn,
    /// Printed music.
    Ismn,
    /// A serial.
    Issn,
    /// The lower symbol of a Japanese book: classification and price, no product. Only meant so under an ISBN; GS1 has
    /// given the prefixes to nobody else (common practice, from memory).
    JapaneseSecondTier,
    /// Reserved for examples.
    Example,
    /// A company's product.
    General,
}

/// The kind of number that `gtin` is.
///
/// Source: GS1 General Specifications, 'GS1 prefixes' (prefixes of the 13-digit form, and GS1-8 prefixes 0 and 2);
/// UPC number systems 2, 4 and 5 are prefixes 02, 04 and 05. Examples: 952, and GS1 US's company prefix 0614141.
#[must_use]
pub fn prefix_kind(gtin: Gtin) -> PrefixKind {
    if let Some([first, ..]) = gtin.gtin8() {
        return if matches!(first, 0 | 2) { PrefixKind::InStore } else { PrefixKind::General };
    }
    let number = gtin.number();
    if number / 1_000_000 == 614_141 {
        return PrefixKind::Example;
    }
    match number / 10_000_000_000 {
        20..=29 | 40..=49 | 200..=299 => PrefixKind::InStore,
        50..=59 | 980..=999 => PrefixKind::Coupon,
        191 | 192 => PrefixKind::JapaneseSecondTier,
        952 => PrefixKind::Example,
        977 => PrefixKind::Issn,
        979 if number / 1_000_000_000 == 9790 => PrefixKind::Ismn,
        978 | 979 => PrefixKind::Isbn,
        _ => PrefixKind::General,
    }
}
