//! Codes in words and in JSON, the same from every command.

use serde::Serialize;

use super::ui::{Tone, Ui};
use crate::code::{AddOn, AddOnState, Certainty, Code, Gtin, Symbology};
use crate::meaning::{Meaning, Reading};
use crate::reader::Symbol;

/// A symbol read from a picture, in JSON; the fields are documented in the README and must stay.
#[derive(Debug, Serialize)]
pub(super) struct ReadSymbol {
    gtin: Gtin,
    symbology: Symbology,
    add_on: Option<AddOn>,
    add_on_state: &'static str,
    corners: [[f64; 2]; 4],
    by: &'static str,
    module_px: f64,
    certainty: Certainty,
    #[serde(skip)]
    code: Code,
}

impl ReadSymbol {
    pub(super) fn new(symbol: &Symbol) -> Self {
        let Code { gtin, add_on } = symbol.code;
        Self {
            gtin,
            symbology: symbol.symbology,
            add_on: add_on.read(),
            add_on_state: add_on.word(),
            corners: symbol.corners.map(|corner| corner.map(|px| tenth(px.into()))),
            by: symbol.by,
            module_px: (f64::from(symbol.module_px) * 100.0).round() / 100.0,
            certainty: symbol.certainty,
            code: symbol.code,
        }
    }

    /// Nothing about it waits for a second photo or a person.
    pub(super) fn is_certain(&self) -> bool {
        self.certainty == Certainty::Sure && self.code.add_on != AddOnState::Unread
    }
}

/// Rounded to one digit behind the point, as JSON shows times and places.
pub(super) fn tenth(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}

pub(super) fn symbol_in_words(symbol: &ReadSymbol, ui: &Ui) -> String {
    let code = code_in_words(symbol.gtin, symbol.add_on, symbol.symbology, ui);
    let add_on = match symbol.code.add_on {
        AddOnState::Read(_) => String::new(),
        AddOnState::Absent => " without add-on".to_owned(),
        AddOnState::Unread => format!(", {}", ui.paint("add-on not read", Tone::Doubt)),
    };
    let doubt = match symbol.certainty {
        Certainty::Sure => String::new(),
        Certainty::Confirm => format!(", {}", ui.paint("to be confirmed", Tone::Doubt)),
    };
    code + &add_on + &doubt
}

/// `UPC-A 614141000418 with add-on 00411`.
pub(super) fn code_in_words(gtin: Gtin, add_on: Option<AddOn>, symbology: Symbology, ui: &Ui) -> String {
    let name = symbology_word(symbology);
    let digits = printed(gtin, symbology);
    let digits = ui.paint(&digits, Tone::Strong);
    match add_on.map(|a| a.to_string()) {
        Some(add_on) => format!("{name} {digits} with add-on {}", ui.paint(&add_on, Tone::Strong)),
        None => format!("{name} {digits}"),
    }
}

pub(super) fn symbology_word(symbology: Symbology) -> &'static str {
    match symbology {
        Symbology::UpcA => "UPC-A",
        Symbology::UpcE => "UPC-E",
        Symbology::Ean13 => "EAN-13",
        Symbology::Ean8 => "EAN-8",
    }
}

/// The digits as they stand under the bars; a UPC-E's expanded, as lists hold it.
pub(super) fn printed(gtin: Gtin, symbology: Symbology) -> String {
    let all = gtin.to_string();
    let leading_zeros = match symbology {
        Symbology::UpcA | Symbology::UpcE => 1,
        Symbology::Ean13 => 0,
        Symbology::Ean8 => 5,
    };
    all[leading_zeros..].to_owned()
}

pub(super) fn meaning_in_words(meaning: &Meaning) -> String {
    match meaning {
        Meaning::Issue { reading, .. } => reading_in_words(reading),
        Meaning::EitherIssue { iiicp, iiccp, .. } => format!(
            "{} (layout {}), or {} (layout {}): which one, the title's record will say",
            reading_in_words(iiicp),
            iiicp.layout,
            reading_in_words(iiccp),
            iiccp.layout
        ),
        Meaning::MonthOrNumber { value, .. } => {
            format!("{value} is the cover's month or a running number: issue and year are on the cover")
        }
        Meaning::Title { .. } => "names a title; the issue would be in the add-on".to_owned(),
        Meaning::Book(book) => match book.price {
            Some(price) => format!("a book, ISBN {}, price {price}", book.isbn),
            None => format!("a book, ISBN {}", book.isbn),
        },
        Meaning::Serial(serial) => match serial.add_on {
            Some(add_on) => format!("a serial, ISSN {}, variant {}, add-on {add_on}", serial.issn, serial.variant),
            None => format!("a serial, ISSN {}, variant {}", serial.issn, serial.variant),
        },
        Meaning::Music { ismn } => format!("printed music, ISMN {ismn}"),
        Meaning::InStore => "a number for use inside one company: it says nothing outside it".to_owned(),
        Meaning::Coupon => "a coupon or receipt, no book".to_owned(),
        Meaning::SecondTier => "the lower symbol of a Japanese book: take the upper one, it begins with 978".to_owned(),
    }
}

fn reading_in_words(reading: &Reading) -> String {
    format!("issue {}, cover {}, printing {}", reading.issue, reading.cover, reading.printing)
}
