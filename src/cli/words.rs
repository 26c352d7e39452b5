//! Codes in words and in JSON, the same from every command.

use serde::Serialize;

use super::failure::Failure;
use super::ui::{Tone, Ui};
use crate::code::{AddOn, AddOnState, Certainty, Code, Gtin, Symbology, Typed, parse_typed};
use crate::collection::Want;
use crate::intake::{Item, ItemState};
use crate::reader::Symbol;
use crate::source::Origin;
use crate::workflow::HaveAnswer;
use crate::workflow::words::{self, Piece};

pub(super) use crate::workflow::words::{count, departure_in_words, issue_in_words, named, printed, title_in_words};

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
    painted(&words::code_in_words(gtin, add_on, symbology), ui)
}

/// `item 21: UPC-A 614141001040 with add-on 01211, waiting (photo-01.jpg)`.
pub(super) fn item_in_words(item: &Item, ui: &Ui) -> String {
    let code = painted(&words::item_code_in_words(item), ui);
    let tone = if item.state == ItemState::Incomplete { Tone::Doubt } else { Tone::Good };
    let state = ui.paint(item.state.word(), tone);
    let again = match item.seen_again.len() {
        0 => String::new(),
        n => format!(", seen {n} more {}", if n == 1 { "time" } else { "times" }),
    };
    let origin = match &item.origin {
        Origin::Photo { path, .. } => path.file_name().unwrap_or_default().to_string_lossy().into_owned(),
        Origin::Device { name } => name.clone(),
        Origin::Typed => "typed".to_owned(),
    };
    format!("item {}: {code}, {state}{again} ({origin})", item.id)
}

/// A code as lists write it: the digits under the bars, and those beside them.
pub(super) fn known_code(code: Gtin, add_on: Option<AddOn>) -> String {
    let add_on = add_on.map(|add_on| format!(" {add_on}")).unwrap_or_default();
    format!("{}{add_on}", code.printed())
}

/// The answer to 'do I own this?', a line for each title and printing, and one for what waits.
pub(super) fn have_in_words(answer: &HaveAnswer, ui: &Ui) -> Vec<String> {
    words::have_in_words(answer).iter().map(|line| painted(line, ui)).collect()
}

/// `wanted, up to 5.00 USD: the one with the lighthouse`.
pub(super) fn want_in_words(want: &Want, ui: &Ui) -> String {
    painted(&words::want_in_words(want), ui)
}

/// A line as a terminal shows it.
fn painted(line: &[Piece], ui: &Ui) -> String {
    line.iter().map(|piece| piece.tone.map_or_else(|| piece.text.clone(), |tone| ui.paint(&piece.text, tone))).collect()
}

/// A main code as a person typed it, perhaps with its add-on.
pub(super) fn typed_code(text: &str) -> Result<(Gtin, Option<AddOn>), Failure> {
    match parse_typed(text) {
        Ok(Typed::Code { gtin, add_on, .. }) => Ok((gtin, add_on)),
        Ok(Typed::AddOn(_)) => Err(Failure::data(format!("{text} is an add-on alone"))),
        Err(error) => Err(Failure::data(format!("'{text}': {error}"))),
    }
}

/// An add-on as a person typed it, or `none`.
pub(super) fn typed_add_on(text: &str) -> Result<AddOnState, Failure> {
    if text.trim().eq_ignore_ascii_case("none") {
        return Ok(AddOnState::Absent);
    }
    text.trim().parse().map(AddOnState::Read).map_err(|error| Failure::data(format!("{error}; or none")))
}
