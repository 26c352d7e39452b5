//! What a code's digits mean: issue, cover and printing of a comic; ISBN and price; ISSN; codes that say nothing
//! outside one company.
//!
//! Whether the collection knows the title is left to [`crate::resolve`]. The digits are strong evidence, never the last
//! word: publishers reuse a title's number and forget to change cover and printing.

mod book;
mod comic;
mod price;
mod serial;

pub use book::Book;
pub use comic::{Layout, LayoutError, Reading};
pub use price::{CoverPrice, Currency, CurrencyError};
pub use serial::Serial;

use std::fmt;

use serde::Serialize;

use crate::code::{AddOn, Gtin, PrefixKind, prefix_kind};

/// What a code says.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Meaning {
    /// A title's number, its five-digit add-on read under the layout that the title keeps.
    Issue {
        /// The number that names the title.
        title: Gtin,
        /// Issue, cover, printing.
        reading: Reading,
    },
    /// A title's number and a five-digit add-on whose layout nobody knows yet: a person must say which reading fits.
    EitherIssue {
        /// The number that names the title.
        title: Gtin,
        /// Read as three digits issue, one cover, one printing.
        iiicp: Reading,
        /// Read as two digits issue, two cover, one printing.
        iiccp: Reading,
    },
    /// A title's number and a two-digit add-on: the cover's month or a running number. Issue and year must come from a
    /// person or a list (common practice up to the early 1990s).
    MonthOrNumber {
        /// The number that names the title.
        title: Gtin,
        /// The add-on's value.
        value: u8,
    },
    /// A title's number alone.
    Title {
        /// The number that names the title.
        title: Gtin,
    },
    /// A book, such as a collected edition.
    Book(Book),
    /// A serial.
    Serial(Serial),
    /// Printed music.
    Music {
        /// The ISMN, as a GTIN-13.
        ismn: Gtin,
    },
    /// A number for use inside one company.
    InStore,
    /// A coupon or receipt.
    Coupon,
    /// The lower symbol of a Japanese book: the book's own number is in the upper one.
    SecondTier,
}

impl fmt::Display for Meaning {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Issue { reading, .. } => reading.fmt(f),
            Self::EitherIssue { iiicp, iiccp, .. } => write!(
                f,
                "{iiicp} (layout {}), or {iiccp} (layout {}): which one, the title's record will say",
                iiicp.layout, iiccp.layout
            ),
            Self::MonthOrNumber { value, .. } => {
                write!(f, "{value} is the cover's month or a running number: issue and year are on the cover")
            }
            Self::Title { .. } => f.write_str("names a title; the issue would be in the add-on"),
            Self::Book(Book { isbn, price: Some(price), .. }) => write!(f, "a book, ISBN {isbn}, price {price}"),
            Self::Book(Book { isbn, .. }) => write!(f, "a book, ISBN {isbn}"),
            Self::Serial(Serial { issn, variant, add_on: Some(add_on) }) => {
                write!(f, "a serial, ISSN {issn}, variant {variant}, add-on {add_on}")
            }
            Self::Serial(Serial { issn, variant, .. }) => write!(f, "a serial, ISSN {issn}, variant {variant}"),
            Self::Music { ismn } => write!(f, "printed music, ISMN {ismn}"),
            Self::InStore => f.write_str("a number for use inside one company: it says nothing outside it"),
            Self::Coupon => f.write_str("a coupon or receipt, no book"),
            Self::SecondTier => {
                f.write_str("the lower symbol of a Japanese book: take the upper one, it begins with 978")
            }
        }
    }
}

/// What `gtin` and `add_on` say; `layout` is the one that the title is known to keep.
#[must_use]
pub fn meaning(gtin: Gtin, add_on: Option<AddOn>, layout: Option<Layout>) -> Meaning {
    match prefix_kind(gtin) {
        PrefixKind::InStore => Meaning::InStore,
        PrefixKind::Coupon => Meaning::Coupon,
        PrefixKind::JapaneseSecondTier => Meaning::SecondTier,
        PrefixKind::Ismn => Meaning::Music { ismn: gtin },
        PrefixKind::Isbn => Meaning::Book(Book::new(gtin, add_on)),
        PrefixKind::Issn => match Serial::new(gtin, add_on) {
            Some(serial) => Meaning::Serial(serial),
            None => title(gtin, add_on, layout),
        },
        PrefixKind::Example | PrefixKind::General => title(gtin, add_on, layout),
    }
}

fn title(title: Gtin, add_on: Option<AddOn>, layout: Option<Layout>) -> Meaning {
    match (add_on, layout) {
        (None, _) => Meaning::Title { title },
        (Some(AddOn::Two([tens, ones])), _) => Meaning::MonthOrNumber { title, value: tens % 10 * 10 + ones % 10 },
        (Some(AddOn::Five(digits)), Some(layout)) => Meaning::Issue { title, reading: Reading::new(digits, layout) },
        (Some(AddOn::Five(digits)), None) => Meaning::EitherIssue {
            title,
            iiicp: Reading::new(digits, Layout::Iiicp),
            iiccp: Reading::new(digits, Layout::Iiccp),
        },
    }
}
