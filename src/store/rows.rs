//! Plain types to and from the values of rows.

use std::fmt::{Display, Write};
use std::path::PathBuf;
use std::str::FromStr;

use jiff::Timestamp;
use rusqlite::Row;
use rusqlite::types::{FromSql, FromSqlResult, ToSql, ToSqlOutput, Type, ValueRef};

use crate::code::{AddOnState, Certainty, Code, Gtin, Symbology};
use crate::collection::{CopyId, IssueId, Money, PrintingId, PublisherId, TitleId};
use crate::filing::BoxId;
use crate::intake::{ItemId, RunId};

macro_rules! id_in_rows {
    ($($name:ident)*) => {$(
        impl ToSql for $name {
            fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
                Ok(self.number().into())
            }
        }

        impl FromSql for $name {
            fn column_result(value: ValueRef<'_>) -> FromSqlResult<Self> {
                i64::column_result(value).map(Self::new)
            }
        }
    )*};
}
id_in_rows!(ItemId RunId PublisherId TitleId IssueId PrintingId CopyId BoxId);

/// A value that this program never writes.
pub(super) fn damaged(column: usize, what: impl Display) -> rusqlite::Error {
    rusqlite::Error::FromSqlConversionFailure(column, Type::Text, what.to_string().into())
}

/// A table's name as it stands in SQL, whatever a file calls it.
pub(super) fn quoted(name: &str) -> String {
    format!("\"{}\"", name.replace('"', "\"\""))
}

pub(super) fn first<T: FromSql>(row: &Row<'_>) -> rusqlite::Result<T> {
    row.get(0)
}

pub(super) fn parsed<T: FromStr<Err: Display>>(row: &Row<'_>, column: usize) -> rusqlite::Result<T> {
    row.get_ref(column)?.as_str()?.parse().map_err(|error| damaged(column, error))
}

pub(super) fn optional_parsed<T: FromStr<Err: Display>>(row: &Row<'_>, column: usize) -> rusqlite::Result<Option<T>> {
    match row.get_ref(column)? {
        ValueRef::Null => Ok(None),
        _ => parsed(row, column).map(Some),
    }
}

/// A sum from two columns, minor units and currency.
pub(super) fn optional_money(row: &Row<'_>, column: usize) -> rusqlite::Result<Option<Money>> {
    match row.get(column)? {
        None => Ok(None),
        Some(minor_units) => Ok(Some(Money { minor_units, currency: parsed(row, column + 1)? })),
    }
}

pub(super) fn time(row: &Row<'_>, column: usize) -> rusqlite::Result<Timestamp> {
    Timestamp::from_millisecond(row.get(column)?).map_err(|error| damaged(column, error))
}

pub(super) fn optional_time(row: &Row<'_>, column: usize) -> rusqlite::Result<Option<Timestamp>> {
    match row.get_ref(column)? {
        ValueRef::Null => Ok(None),
        _ => time(row, column).map(Some),
    }
}

/// Numbers as a JSON array: `json_each` makes rows of it, so that one statement asks about many (sqlite.org/json1.html).
pub(super) fn array(numbers: impl IntoIterator<Item = i64>) -> String {
    let mut array = String::from("[");
    for (at, number) in numbers.into_iter().enumerate() {
        let _ = write!(array, "{}{number}", if at == 0 { "" } else { "," });
    }
    array.push(']');
    array
}

/// The 13 digits as SQLite's integer: they always fit.
pub(super) fn number(gtin: Gtin) -> i64 {
    gtin.number().cast_signed()
}

pub(super) fn gtin(row: &Row<'_>, column: usize) -> rusqlite::Result<Option<Gtin>> {
    let Some(number) = row.get::<_, Option<i64>>(column)? else { return Ok(None) };
    Gtin::from_number(number.cast_unsigned()).map(Some).map_err(|error| damaged(column, error))
}

/// A code from its three columns: number, add-on, the add-on's state.
pub(super) fn code(row: &Row<'_>, column: usize) -> rusqlite::Result<Option<Code>> {
    let Some(gtin) = gtin(row, column)? else { return Ok(None) };
    let add_on = match row.get_ref(column + 2)?.as_str()? {
        "read" => AddOnState::Read(parsed(row, column + 1)?),
        "absent" => AddOnState::Absent,
        _ => AddOnState::Unread,
    };
    Ok(Some(Code { gtin, add_on }))
}

pub(super) fn symbology(row: &Row<'_>, column: usize) -> rusqlite::Result<Option<Symbology>> {
    match row.get_ref(column)? {
        ValueRef::Null => Ok(None),
        value => match value.as_str()? {
            "UPC-A" => Ok(Some(Symbology::UpcA)),
            "UPC-E" => Ok(Some(Symbology::UpcE)),
            "EAN-13" => Ok(Some(Symbology::Ean13)),
            "EAN-8" => Ok(Some(Symbology::Ean8)),
            other => Err(damaged(column, format!("'{other}' is no symbology"))),
        },
    }
}

pub(super) fn certainty_word(certainty: Certainty) -> &'static str {
    match certainty {
        Certainty::Sure => "sure",
        Certainty::Confirm => "confirm",
    }
}

pub(super) fn certainty(row: &Row<'_>, column: usize) -> rusqlite::Result<Certainty> {
    match row.get_ref(column)?.as_str()? {
        "sure" => Ok(Certainty::Sure),
        _ => Ok(Certainty::Confirm),
    }
}

pub(super) fn corners(row: &Row<'_>, column: usize) -> rusqlite::Result<Option<[[f32; 2]; 4]>> {
    match row.get_ref(column)? {
        ValueRef::Null => Ok(None),
        value => serde_json::from_str(value.as_str()?).map(Some).map_err(|error| damaged(column, error)),
    }
}

pub(super) fn path(row: &Row<'_>, column: usize) -> rusqlite::Result<Option<PathBuf>> {
    Ok(row.get::<_, Option<String>>(column)?.map(PathBuf::from))
}
