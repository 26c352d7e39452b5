//! The whole record as lines of JSON, and back.
//!
//! Both are made from the schema's own list of tables: a record is a row, named after its table, its fields after the
//! columns, so a new table is exported without a line of code. What may be read is any version up to this program's: the
//! rows go into the schema of their time, which is then migrated. The journal of `undo` is no part of it, because it is no
//! record but the way back to one. Names and meanings of records are documented in DEVELOPERS.md.

use std::collections::BTreeMap;
use std::io::{self, BufRead, Read as _, Write};
use std::path::PathBuf;

use base64::Engine;
use base64::engine::general_purpose::STANDARD as BASE64;
use rusqlite::types::{Value, ValueRef};
use rusqlite::{Connection, TransactionBehavior, params_from_iter};
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value as Json};

use super::open::{WAIT, empty_of_tables, migrate_from};
use super::{Store, StoreError, journal, rekey, rows};
use crate::code::Gtin;

/// What the first line says the file is.
const FORMAT: &str = "boxward collection";

/// The tables of which nothing is exported.
const JOURNAL: &str = "change";

/// The longest line that is read back. The largest record is a copy's photo, less than 2 MiB in base64.
const MOST_LINE_BYTES: u64 = 16 << 20;

/// Why a record was not exported or not read back.
#[derive(Debug, thiserror::Error)]
pub enum DataError {
    /// The file is something else.
    #[error("this is no export of a collection: its first line says otherwise")]
    NoExport,
    /// A newer boxward wrote it.
    #[error("this export has version {found}, this boxward knows {known}; use a newer boxward")]
    Newer {
        /// Its version.
        found: i64,
        /// The newest version that this program knows.
        known: i64,
    },
    /// A line can't be used.
    #[error("line {line}: {what}")]
    Line {
        /// Its number, from 1.
        line: usize,
        /// What is wrong with it.
        what: String,
    },
    /// The last line is missing.
    #[error("the file is cut short: its last line does not count its records; export it again")]
    CutShort,
    /// There is something in the collection already.
    #[error("{} is not empty; name a new file with --collection", .0.display())]
    NotEmpty(PathBuf),
    /// The file can't be read or written.
    #[error("the export can't be read or written")]
    File(#[from] io::Error),
    /// The collection failed.
    #[error(transparent)]
    Store(#[from] StoreError),
}

impl From<rusqlite::Error> for DataError {
    fn from(error: rusqlite::Error) -> Self {
        StoreError::from(error).into()
    }
}

#[derive(Debug, Serialize, Deserialize)]
struct Header {
    format: String,
    version: i64,
}

#[derive(Debug, Serialize, Deserialize)]
struct End {
    end: Count,
}

#[derive(Debug, Serialize, Deserialize)]
struct Count {
    records: u64,
}

/// A table's columns, each with its type.
type Columns = BTreeMap<String, String>;

impl Store {
    /// Writes every record as a line, as it is at this moment; gives how many.
    ///
    /// # Errors
    /// If the collection can't be read, or `out` not written to.
    pub fn export(&self, out: &mut dyn Write) -> Result<u64, DataError> {
        self.read(|store| {
            let header = Header { format: FORMAT.to_owned(), version: Self::SCHEMA };
            line(out, &header)?;
            let mut records = 0;
            for table in tables(&store.connection)? {
                let names = journal::columns(&store.connection, &table)?;
                let mut statement =
                    store.connection.prepare(&format!("SELECT {} FROM {table} ORDER BY id", names.join(", ")))?;
                let mut found = statement.query([])?;
                while let Some(row) = found.next()? {
                    let mut fields = Vec::with_capacity(names.len());
                    for (column, name) in names.iter().enumerate() {
                        fields.push(format!("\"{name}\":{}", json(&table, row.get_ref(column)?)?));
                    }
                    writeln!(out, "{{\"{table}\":{{{}}}}}", fields.join(","))?;
                    records += 1;
                }
            }
            line(out, &End { end: Count { records } })?;
            out.flush()?;
            Ok(records)
        })
    }

    /// Reads an export into this collection, which must be empty, in one transaction; gives how many records there were.
    /// The store must be opened again afterwards.
    ///
    /// # Errors
    /// If the collection is not empty, or anything in the file can't be used; then nothing of it was.
    pub fn import_data(self, input: &mut dyn BufRead) -> Result<u64, DataError> {
        let mut connection = Connection::open(&self.path)?;
        connection.busy_timeout(WAIT)?;
        // References are checked at the end: a record may stand before the one that it refers to.
        connection.execute_batch("PRAGMA synchronous = FULL; PRAGMA foreign_keys = OFF")?;
        let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
        if !is_empty(&transaction)? {
            return Err(DataError::NotEmpty(self.path));
        }
        let mut lines = Lines { input, text: String::new(), number: 0 };
        let header: Header =
            lines.next()?.and_then(|text| serde_json::from_str(text).ok()).ok_or(DataError::NoExport)?;
        if header.format != FORMAT || header.version < 1 {
            return Err(DataError::NoExport);
        }
        if header.version > Self::SCHEMA {
            return Err(DataError::Newer { found: header.version, known: Self::SCHEMA });
        }
        empty_of_tables(&transaction)?;
        migrate_from(&transaction, 0, header.version)?;
        let read = read(&transaction, &mut lines)?;
        check_references(&transaction, &read)?;
        migrate_from(&transaction, header.version, Self::SCHEMA)?;
        rekey::all(&transaction)?;
        transaction.commit()?;
        Ok(read.records)
    }
}

fn line(out: &mut dyn Write, value: &impl Serialize) -> Result<(), DataError> {
    Ok(writeln!(out, "{}", serde_json::to_string(value).map_err(io::Error::from)?)?)
}

/// The tables whose rows are records, by name.
fn tables(connection: &Connection) -> Result<Vec<String>, StoreError> {
    let mut all = journal::plain_tables(connection)?;
    all.retain(|table| table != JOURNAL);
    Ok(all)
}

fn is_empty(connection: &Connection) -> Result<bool, StoreError> {
    for table in journal::plain_tables(connection)? {
        let sql = format!("SELECT EXISTS (SELECT 1 FROM {})", rows::quoted(&table));
        if connection.query_row(&sql, [], rows::first)? {
            return Ok(false);
        }
    }
    Ok(true)
}

fn json(table: &str, value: ValueRef<'_>) -> Result<String, DataError> {
    let damaged = || StoreError::Damaged(format!("a value of {table} is no text and no number"));
    Ok(match value {
        ValueRef::Null => "null".to_owned(),
        ValueRef::Integer(value) => value.to_string(),
        ValueRef::Real(value) if value.is_finite() => Json::from(value).to_string(),
        ValueRef::Real(_) => return Err(damaged().into()),
        ValueRef::Text(value) => Json::from(std::str::from_utf8(value).map_err(|_| damaged())?).to_string(),
        ValueRef::Blob(value) => Json::from(BASE64.encode(value)).to_string(),
    })
}

/// Lines with their numbers.
struct Lines<'a> {
    input: &'a mut dyn BufRead,
    text: String,
    number: usize,
}

impl Lines<'_> {
    fn next(&mut self) -> Result<Option<&str>, DataError> {
        self.text.clear();
        self.number += 1;
        let error = match (&mut *self.input).take(MOST_LINE_BYTES + 1).read_line(&mut self.text) {
            Ok(0) => return Ok(None),
            Ok(read) if read as u64 > MOST_LINE_BYTES => {
                let what = format!("the line has more than {} MiB, which no record has", MOST_LINE_BYTES >> 20);
                return Err(DataError::Line { line: self.number, what });
            }
            Ok(_) => return Ok(Some(self.text.trim_end_matches(['\r', '\n']))),
            Err(error) => error,
        };
        if error.kind() == io::ErrorKind::InvalidData {
            return Err(DataError::Line { line: self.number, what: "this is no text in UTF-8".to_owned() });
        }
        Err(error.into())
    }
}

/// What was read: the table and the number of each record, the first one standing in line 2.
struct Read {
    tables: Vec<String>,
    rows: Vec<(usize, i64)>,
    records: u64,
}

fn read(connection: &Connection, lines: &mut Lines<'_>) -> Result<Read, DataError> {
    let mut known: BTreeMap<String, (usize, Columns)> = BTreeMap::new();
    let mut read = Read { tables: tables(connection)?, rows: Vec::new(), records: 0 };
    for (index, table) in read.tables.iter().enumerate() {
        let mut statement = connection.prepare("SELECT name, type FROM pragma_table_info(?1)")?;
        let columns = statement.query_map([table], |row| Ok((row.get(0)?, row.get(1)?)))?;
        known.insert(table.clone(), (index, columns.collect::<Result<_, _>>()?));
    }
    loop {
        let number = lines.number + 1;
        let Some(text) = lines.next()? else { return Err(DataError::CutShort) };
        let wrong = |what: String| DataError::Line { line: number, what };
        if let Ok(End { end }) = serde_json::from_str(text) {
            if end.records != read.records {
                return Err(wrong(format!("there are {} records, not {}", read.records, end.records)));
            }
            break;
        }
        let record: BTreeMap<String, Map<String, Json>> =
            serde_json::from_str(text).map_err(|error| wrong(format!("this is no record: {error}")))?;
        let mut named = record.into_iter();
        let (Some((table, fields)), None) = (named.next(), named.next()) else {
            return Err(wrong("a line is one record".to_owned()));
        };
        let (index, columns) = known.get(&table).ok_or_else(|| wrong(format!("there is no record named '{table}'")))?;
        let mut values = Vec::with_capacity(fields.len());
        for (name, value) in &fields {
            let kind = columns.get(name).ok_or_else(|| wrong(format!("{table} has no field '{name}'")))?;
            values.push(value_of(name, kind, value).map_err(|what| wrong(format!("{table}.{name}: {what}")))?);
        }
        let Some(id) = fields.get("id").and_then(Json::as_i64) else {
            return Err(wrong(format!("the id of {table} is missing, a whole number")));
        };
        let names = fields.keys().map(String::as_str).collect::<Vec<_>>().join(", ");
        let places = vec!["?"; values.len()].join(", ");
        let sql = format!("INSERT INTO {table} ({names}) VALUES ({places})");
        connection.prepare_cached(&sql)?.execute(params_from_iter(values)).map_err(|error| {
            match error.sqlite_error_code() {
                Some(rusqlite::ErrorCode::ConstraintViolation) => wrong(error.to_string()),
                _ => error.into(),
            }
        })?;
        read.rows.push((*index, id));
        read.records += 1;
    }
    match lines.next()? {
        None => Ok(read),
        Some(_) => {
            Err(DataError::Line { line: lines.number, what: "the line before says that it is the last".to_owned() })
        }
    }
}

fn value_of(name: &str, kind: &str, value: &Json) -> Result<Value, String> {
    Ok(match (kind, value) {
        (_, Json::Null) => Value::Null,
        ("INTEGER", Json::Number(number)) => {
            let number = number.as_i64().ok_or("a whole number is expected")?;
            if name == "gtin" {
                Gtin::from_number(number.cast_unsigned()).map_err(|error| error.to_string())?;
            }
            Value::Integer(number)
        }
        ("REAL", Json::Number(number)) => Value::Real(number.as_f64().ok_or("a number is expected")?),
        ("TEXT", Json::String(text)) => Value::Text(text.clone()),
        ("BLOB", Json::String(text)) => {
            Value::Blob(BASE64.decode(text).map_err(|_| "bytes in base64 (RFC 4648) are expected")?)
        }
        ("INTEGER", _) => return Err("a whole number is expected".to_owned()),
        ("REAL", _) => return Err("a number is expected".to_owned()),
        ("BLOB", _) => return Err("bytes in base64 (RFC 4648) are expected".to_owned()),
        _ => return Err("a text is expected".to_owned()),
    })
}

fn check_references(connection: &Connection, read: &Read) -> Result<(), DataError> {
    let mut statement = connection.prepare("SELECT \"table\", rowid, parent FROM pragma_foreign_key_check LIMIT 1")?;
    let mut broken = statement.query([])?;
    let Some(row) = broken.next()? else { return Ok(()) };
    let (table, id, parent): (String, i64, String) = (row.get(0)?, row.get(1)?, row.get(2)?);
    let place = read.rows.iter().position(|(index, row)| read.tables[*index] == table && *row == id);
    let what = format!("{table} {id} refers to a {parent} that is not there");
    Err(DataError::Line { line: place.map_or(0, |place| place + 2), what })
}
