//! Values that this program could have written: what can't be read back is not taken over.

use std::str::FromStr;

use jiff::Timestamp;
use jiff::civil::Date;
use rusqlite::types::Value;

use crate::code::{AddOn, Gtin};
use crate::collection::{CoverDate, Currency, Grade, IssueNumber, SizeClass, search_key};
use crate::filing::{Annuals, BoxKind, FilingRule, Item};
use crate::store::RunKind;

/// Whether a value makes sense in a column. Kinds, ranges and words that the schema itself holds are left to it.
pub(super) fn makes_sense(table: &str, column: &str, value: &Value) -> bool {
    match value {
        Value::Null | Value::Blob(_) => true,
        Value::Real(number) => number.is_finite(),
        Value::Integer(number) => number_makes_sense(table, column, *number),
        Value::Text(text) => text_makes_sense(table, column, text),
    }
}

fn number_makes_sense(table: &str, column: &str, number: i64) -> bool {
    match (table, column) {
        (_, "gtin") => Gtin::from_number(number.cast_unsigned()).is_ok(),
        ("copy_fact", "grade_tenths") => u8::try_from(number).is_ok_and(|tenths| Grade::new(tenths).is_some()),
        ("title", "start_year") => i16::try_from(number).is_ok(),
        // A number of a row.
        ("change", _) => true,
        _ if column.ends_with("_ms") => Timestamp::from_millisecond(number).is_ok(),
        _ if column.ends_with("minor") => true,
        _ => u32::try_from(number).is_ok(),
    }
}

fn text_makes_sense(table: &str, column: &str, text: &str) -> bool {
    match (table, column) {
        (_, "add_on") => is::<AddOn>(text),
        ("run", "kind") => is::<RunKind>(text),
        ("box", "kind") => is::<BoxKind>(text),
        ("item", "symbology") => matches!(text, "UPC-A" | "UPC-E" | "EAN-13" | "EAN-8"),
        ("item", "corners") => serde_json::from_str::<[[f32; 2]; 4]>(text).is_ok(),
        ("issue_fact", "cover_date") => is::<CoverDate>(text),
        ("title_fact" | "issue_fact" | "copy_bag", "size") => is::<SizeClass>(text),
        ("stock", "item") => is::<Item>(text),
        ("list_preset", "choices") => serde_json::from_str::<serde_json::Value>(text).is_ok(),
        (
            _,
            "acquired" | "read_on" | "left_on" | "since" | "returned" | "valued_on" | "due" | "first_due" | "on_sale"
            | "measured_on",
        ) => is::<Date>(text),
        _ if column == "currency" || column.ends_with("_currency") => is::<Currency>(text),
        _ => !text.contains('\0'),
    }
}

fn is<T: FromStr>(text: &str) -> bool {
    text.parse::<T>().is_ok()
}

/// Whether a row makes sense where one value says what another means.
pub(super) fn row_makes_sense(table: &str, value: impl Fn(&str) -> Option<Value>) -> bool {
    let text = |column| match value(column) {
        Some(Value::Text(text)) => text,
        _ => String::new(),
    };
    match table {
        "filing_setting" => match text("name").as_str() {
            "order" => is::<FilingRule>(&text("value")),
            "annuals" => is::<Annuals>(&text("value")),
            "new_box" => is::<BoxKind>(&text("value")),
            _ => is::<u32>(&text("value")),
        },
        "box" if text("purpose") == "size" => is::<SizeClass>(&text("purpose_name")),
        _ => true,
    }
}

/// The column that is made from another, and which: the name and the key that it is searched by.
pub(super) fn made_from(table: &str, column: &str) -> Option<&'static str> {
    match (table, column) {
        ("title" | "publisher", "search_key") => Some("name"),
        ("box", "search_key") => Some("label"),
        _ => None,
    }
}

/// A stand-in for what can't be lost without all that hangs on it: a person corrects it.
pub(super) fn stand_in(table: &str, column: &str, row: i64, value: impl Fn(&str) -> Option<Value>) -> Option<Value> {
    let text = |column| match value(column) {
        Some(Value::Text(text)) => Some(text),
        _ => None,
    };
    let found = match (table, column) {
        ("title" | "publisher", "name") => text("search_key").unwrap_or_else(|| format!("{table} {row}")),
        ("title" | "publisher", "search_key") => search_key(&text("name").unwrap_or_else(|| format!("{table} {row}"))),
        ("box", "label") => text("search_key").unwrap_or_else(|| format!("box {row}")),
        ("box", "search_key") => search_key(&text("label").unwrap_or_else(|| format!("box {row}"))),
        ("issue", "number") => match value("whole_number") {
            Some(Value::Integer(number)) => number.to_string(),
            _ => plain(&text("sort_key")?).map_or_else(|| text("sort_key"), |number| Some(number.to_string()))?,
        },
        ("issue", "whole_number") => return plain(&text("sort_key")?).map(|number| Value::Integer(number.into())),
        ("issue", "sort_key") => IssueNumber::new(&text("number")?).sort_key().to_owned(),
        _ => return None,
    };
    Some(Value::Text(found))
}

/// The plain number that a sort key was made of, if it was made of one.
fn plain(sort_key: &str) -> Option<u32> {
    let number = sort_key.parse().ok()?;
    (IssueNumber::new(&format!("{number}")).sort_key() == sort_key).then_some(number)
}
