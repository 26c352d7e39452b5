//! Rows into the new collection: as they are, in part, or not at all.

use std::collections::BTreeMap;

use rusqlite::types::Value;
use rusqlite::{Connection, OptionalExtension, params_from_iter};

use super::layout::{Layout, Table};
use super::sense::{made_from, makes_sense, row_makes_sense, stand_in};
use super::{Lost, Salvaged, TableSalvaged};
use crate::collection::search_key;
use crate::store::StoreError;

/// SQLite's extended code of a CHECK that fails (sqlite.org/rescode.html).
const CHECK_FAILED: i32 = 275;

/// What is known of a value.
#[derive(Debug, Clone, PartialEq)]
enum Given {
    Known(Value),
    /// The column is younger than the row.
    Usual,
    Unknown,
}

/// The new collection and what is told of it.
#[derive(Debug)]
pub(super) struct Saver<'a> {
    connection: &'a Connection,
    layout: &'a Layout,
    pub(super) told: Salvaged,
}

impl<'a> Saver<'a> {
    pub(super) fn new(connection: &'a Connection, layout: &'a Layout) -> Self {
        Self { connection, layout, told: Salvaged::default() }
    }

    pub(super) fn of(&mut self, table: &str) -> &mut TableSalvaged {
        self.told.tables.entry(table.to_owned()).or_default()
    }

    pub(super) fn lost(&mut self, table: &str, row: i64, why: Lost) {
        self.of(table).lost.entry(row).or_insert(why);
    }

    /// Keeps a row. A value that can't be is left out, where the schema allows it.
    pub(super) fn put(&mut self, table: &Table, row: i64, values: &[Option<Value>]) -> Result<(), StoreError> {
        let sensible = |at: usize, value: &Value| {
            table.holds(at, Some(value)) && makes_sense(&table.name, &table.columns[at].name, value)
        };
        let given = (0..table.columns.len()).map(|at| match values.get(at) {
            _ if at == 0 => Given::Known(Value::Integer(row)),
            None => Given::Usual,
            Some(Some(value)) if sensible(at, value) => Given::Known(value.clone()),
            Some(_) => Given::Unknown,
        });
        self.keep(table, row, given.collect())
    }

    /// Keeps a row of which only what indexes say is known.
    pub(super) fn rebuild(
        &mut self,
        table: &Table,
        row: i64,
        known: &BTreeMap<String, Value>,
    ) -> Result<(), StoreError> {
        let given = table.columns.iter().enumerate().map(|(at, column)| match known.get(&column.name) {
            _ if at == 0 => Given::Known(Value::Integer(row)),
            Some(value) if makes_sense(&table.name, &column.name, value) => Given::Known(value.clone()),
            _ => Given::Unknown,
        });
        self.keep(table, row, given.collect())
    }

    fn keep(&mut self, table: &Table, row: i64, mut given: Vec<Given>) -> Result<(), StoreError> {
        let mut in_part = Vec::new();
        let mut in_doubt = None;
        let place = |name: &str| table.columns.iter().position(|column| column.name == name);
        let known = |given: &[Given], name: &str| match place(name).map(|at| &given[at]) {
            Some(Given::Known(value)) => Some(value.clone()),
            _ => None,
        };
        for at in 1..given.len() {
            let column = &table.columns[at];
            if let Some(source) = made_from(&table.name, &column.name)
                && let (Given::Known(Value::Text(key)), Some(Value::Text(name))) = (&given[at], known(&given, source))
                && *key != search_key(&name)
            {
                in_doubt = Some(source.to_owned());
                given[at] = Given::Known(Value::Text(search_key(&name)));
            }
            if given[at] != Given::Unknown {
                continue;
            }
            given[at] = match stand_in(&table.name, &column.name, row, |name| known(&given, name)) {
                Some(value) => Given::Known(value),
                None if !column.not_null => Given::Known(Value::Null),
                None if column.has_default => Given::Usual,
                None => {
                    self.lost(&table.name, row, Lost::Column(column.name.clone()));
                    return Ok(());
                }
            };
            // A key that is made anew is as good as it was.
            if made_from(&table.name, &column.name).is_none() {
                in_part.push(column.name.clone());
            }
        }
        if !row_makes_sense(&table.name, |name| known(&given, name)) {
            self.lost(&table.name, row, Lost::Contradicts);
            return Ok(());
        }
        let why = match self.insert(table, &given)? {
            Ok(()) => None,
            // One value more may be wrong, though it looks right by itself.
            Err(CHECK_FAILED) => {
                let mut cleared = None;
                for at in (1..given.len()).filter(|&at| !table.columns[at].not_null) {
                    let was = std::mem::replace(&mut given[at], Given::Known(Value::Null));
                    if was != given[at] && self.insert(table, &given)?.is_ok() {
                        cleared = Some(table.columns[at].name.clone());
                        break;
                    }
                    given[at] = was;
                }
                match cleared {
                    Some(column) => {
                        in_part.push(column);
                        None
                    }
                    None => Some(Lost::Contradicts),
                }
            }
            Err(_) => Some(Lost::Twice),
        };
        if let Some(why) = why {
            // The row itself is there, once.
            if why != Lost::Twice || !self.is_there(&table.name, row)? {
                self.lost(&table.name, row, why);
            }
            return Ok(());
        }
        let told = self.of(&table.name);
        told.saved += 1;
        if !in_part.is_empty() {
            told.in_part.insert(row, in_part);
        }
        told.in_doubt.extend(in_doubt.map(|column| (row, column)));
        Ok(())
    }

    /// Inserts a row; the code of the constraint that it breaks if it can't be.
    fn insert(&self, table: &Table, given: &[Given]) -> Result<Result<(), i32>, StoreError> {
        let (mut names, mut values) = (Vec::new(), Vec::new());
        for (column, given) in table.columns.iter().zip(given) {
            if let Given::Known(value) = given {
                names.push(column.name.as_str());
                values.push(value);
            }
        }
        let places = vec!["?"; names.len()].join(", ");
        let sql = format!("INSERT INTO {} ({}) VALUES ({places})", table.name, names.join(", "));
        match self.connection.prepare_cached(&sql)?.execute(params_from_iter(values)) {
            Ok(_) => Ok(Ok(())),
            Err(rusqlite::Error::SqliteFailure(error, _)) if error.code == rusqlite::ErrorCode::ConstraintViolation => {
                Ok(Err(error.extended_code))
            }
            Err(error) => Err(error.into()),
        }
    }

    pub(super) fn count(&self, sql: &str, first: i64, last: i64) -> Result<i64, StoreError> {
        Ok(self.connection.prepare_cached(sql)?.query_row([first, last], |row| row.get(0))?)
    }

    pub(super) fn is_there(&self, table: &str, row: i64) -> Result<bool, StoreError> {
        let sql = format!("SELECT EXISTS (SELECT 1 FROM {table} WHERE id = ?1)");
        Ok(self.connection.prepare_cached(&sql)?.query_row([row], |row| row.get(0))?)
    }

    /// Holds what an index says of a row that was kept against the row: completes it, or puts it in doubt.
    pub(super) fn compare(
        &mut self,
        table: &Table,
        row: i64,
        known: &BTreeMap<String, Value>,
    ) -> Result<(), StoreError> {
        for (column, value) in known {
            let sql = format!("SELECT {column} FROM {} WHERE id = ?1", table.name);
            let here: Value = self.connection.prepare_cached(&sql)?.query_row([row], |row| row.get(0))?;
            if here == *value {
                continue;
            }
            let sensible = makes_sense(&table.name, column, value);
            let missing = self.of(&table.name).in_part.get(&row).is_some_and(|columns| columns.contains(column));
            if missing && sensible && self.set(&table.name, row, column, value)? {
                let told = self.of(&table.name);
                if let Some(columns) = told.in_part.get_mut(&row) {
                    columns.retain(|other| other != column);
                    if columns.is_empty() {
                        told.in_part.remove(&row);
                    }
                }
            } else if sensible && !missing && made_from(&table.name, column).is_none() {
                self.of(&table.name).in_doubt.insert(row, column.clone());
            }
        }
        Ok(())
    }

    /// Sets a value, if the schema allows it.
    fn set(&self, table: &str, row: i64, column: &str, value: &Value) -> Result<bool, StoreError> {
        let sql = format!("UPDATE {table} SET {column} = ?2 WHERE id = ?1");
        match self.connection.prepare_cached(&sql)?.execute(rusqlite::params![row, value]) {
            Ok(_) => Ok(true),
            Err(error) if error.sqlite_error_code() == Some(rusqlite::ErrorCode::ConstraintViolation) => Ok(false),
            Err(error) => Err(error.into()),
        }
    }

    /// Rows that refer to ones that are not there: gets stand-ins, forgets the reference, or loses the row, until none is
    /// left.
    pub(super) fn settle_references(&mut self) -> Result<(), StoreError> {
        loop {
            let mut statement = self.connection.prepare(
                "SELECT c.\"table\", c.rowid, c.parent, f.\"from\" FROM pragma_foreign_key_check c \
                 JOIN pragma_foreign_key_list(c.\"table\") f ON f.id = c.fkid",
            )?;
            let broken = statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?)))?;
            let broken: Vec<(String, i64, String, String)> = broken.collect::<Result<_, _>>()?;
            if broken.is_empty() {
                return Ok(());
            }
            for (table, row, parent, column) in broken {
                self.settle_reference(&table, row, &parent, &column)?;
            }
        }
    }

    fn settle_reference(&mut self, table: &str, row: i64, parent: &str, column: &str) -> Result<(), StoreError> {
        let sql = format!("SELECT {column} FROM {table} WHERE id = ?1");
        let Some(missing): Option<i64> = self.connection.query_row(&sql, [row], |row| row.get(0)).optional()? else {
            return Ok(());
        };
        if self.is_there(parent, missing)? {
            return Ok(());
        }
        let find = |name: &str| self.layout.tables.iter().find(|table| table.name == name);
        let nullable = column != "id"
            && find(table)
                .is_some_and(|table| table.columns.iter().any(|known| known.name == column && !known.not_null));
        if !nullable && self.stand_in(table, row, parent, missing)? {
            return Ok(());
        }
        if nullable && self.forget(table, row, column)? {
            return Ok(());
        }
        self.connection.execute(&format!("DELETE FROM {table} WHERE id = ?1"), [row])?;
        let told = self.of(table);
        told.saved -= 1;
        told.in_part.remove(&row);
        told.in_doubt.remove(&row);
        self.lost(table, row, Lost::Refers { to: parent.to_owned(), row: missing });
        Ok(())
    }

    /// A row in the place of one that is lost, where all that is needed of it is that it is there.
    fn stand_in(&mut self, table: &str, row: i64, parent: &str, missing: i64) -> Result<bool, StoreError> {
        match parent {
            "run" => {
                // What it was is told by what it staged.
                let sql = match table {
                    "item" => {
                        "SELECT CASE WHEN photo IS NULL THEN 'scan' ELSE 'import' END, seen_at_ms FROM item WHERE id = ?1"
                    }
                    _ => "SELECT 'import', 0 FROM (SELECT ?1)",
                };
                let (kind, started): (String, i64) =
                    self.connection.query_row(sql, [row], |row| Ok((row.get(0)?, row.get(1)?)))?;
                self.connection.execute(
                    "INSERT INTO run (id, kind, started_ms) VALUES (?1, ?2, ?3)",
                    rusqlite::params![missing, kind, started],
                )?;
            }
            "title" => {
                self.connection.execute(
                    "INSERT INTO title (id, name, search_key) VALUES (?1, 'title ' || ?1, 'title ' || ?1)",
                    [missing],
                )?;
            }
            _ => return Ok(false),
        }
        let told = self.of(parent);
        told.saved += 1;
        told.lost.remove(&missing);
        told.in_part.insert(missing, vec!["everything but its number".to_owned()]);
        Ok(true)
    }

    /// Forgets a reference, with one value that can't be without it if need be.
    fn forget(&mut self, table: &str, row: i64, column: &str) -> Result<bool, StoreError> {
        let null = Value::Null;
        let mut forgotten = None;
        if self.set(table, row, column, &null)? {
            forgotten = Some(vec![column.to_owned()]);
        } else {
            let others: Vec<String> = self
                .layout
                .tables
                .iter()
                .filter(|known| known.name == table)
                .flat_map(|known| &known.columns)
                .filter(|known| !known.not_null && known.name != "id" && known.name != column)
                .map(|known| known.name.clone())
                .collect();
            for other in others {
                let sql = format!("UPDATE {table} SET {column} = NULL, {other} = NULL WHERE id = ?1");
                match self.connection.execute(&sql, [row]) {
                    Ok(_) => {
                        forgotten = Some(vec![column.to_owned(), other]);
                        break;
                    }
                    Err(error) if error.sqlite_error_code() == Some(rusqlite::ErrorCode::ConstraintViolation) => {}
                    Err(error) => return Err(error.into()),
                }
            }
        }
        let Some(columns) = forgotten else { return Ok(false) };
        self.of(table).in_part.entry(row).or_default().extend(columns);
        Ok(true)
    }
}
