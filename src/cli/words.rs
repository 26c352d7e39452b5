//! Codes in words and in JSON, the same from every command.

use serde::Serialize;

use super::ui::{Tone, Ui};
use crate::code::{AddOn, AddOnState, Certainty, Code, Gtin, Symbology};
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
}

/// Rounded to one digit behind the point, as JSON shows times and places.
pub(super) fn tenth(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}

pub(super) fn symbol_in_words(symbol: &ReadSymbol, ui: &Ui) -> String {
    let code = code_in_words(symbol.code, symbol.symbology, ui);
    match symbol.certainty {
        Certainty::Sure => code,
        Certainty::Confirm => format!("{code} ({})", ui.paint("to be confirmed", Tone::Doubt)),
    }
}

/// `UPC-A 614141000418 with add-on 00411`.
pub(super) fn code_in_words(code: Code, symbology: Symbology, ui: &Ui) -> String {
    let name = symbology_word(symbology);
    let digits = printed(code.gtin, symbology);
    let digits = ui.paint(&digits, Tone::Strong);
    match code.add_on {
        AddOnState::Read(add_on) => {
            let add_on = add_on.to_string();
            format!("{name} {digits} with add-on {}", ui.paint(&add_on, Tone::Strong))
        }
        AddOnState::Absent => format!("{name} {digits} without add-on"),
        AddOnState::Unread => format!("{name} {digits}, {}", ui.paint("add-on not read", Tone::Doubt)),
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
