//! What tables and indexes a schema has, and what may stand in their rows.

use std::collections::{BTreeMap, BTreeSet};

use rusqlite::Connection;
use rusqlite::types::Value;

use crate::store::{StoreError, rows};

/// A column.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Column {
    pub(super) name: String,
    kind: String,
    pub(super) not_null: bool,
    pub(super) has_default: bool,
}

/// A table whose rows are named by `id`; or one that a full-text index keeps for itself.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Table {
    pub(super) name: String,
    pub(super) columns: Vec<Column>,
    /// Whether it is a full-text index's own.
    pub(super) shadow: bool,
}

/// An index: its table, and its columns as far as they are columns of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Index {
    pub(super) name: String,
    pub(super) table: String,
    pub(super) columns: Vec<Option<String>>,
}

/// A schema.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) struct Layout {
    pub(super) tables: Vec<Table>,
    pub(super) indexes: Vec<Index>,
    /// Where the trees of tables and indexes begin in a file that was made with this schema.
    pub(super) roots: BTreeMap<String, u32>,
}

impl Layout {
    pub(super) fn of(connection: &Connection) -> Result<Self, StoreError> {
        let mut layout = Self::default();
        let mut statement = connection.prepare(
            "SELECT name, type = 'shadow' FROM pragma_table_list WHERE schema = 'main' AND type IN ('table', 'shadow') \
             AND wr = 0 AND name NOT LIKE 'sqlite!_%' ESCAPE '!' ORDER BY name",
        )?;
        let found = statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?;
        for (name, shadow) in found.collect::<Result<Vec<(String, bool)>, _>>()? {
            let mut statement = connection
                .prepare("SELECT name, type, \"notnull\", dflt_value FROM pragma_table_info(?1) ORDER BY cid")?;
            let columns = statement.query_map([&name], |row| {
                let has_default = row.get::<_, Option<String>>(3)?.is_some();
                Ok(Column { name: row.get(0)?, kind: row.get(1)?, not_null: row.get(2)?, has_default })
            })?;
            layout.tables.push(Table { name, columns: columns.collect::<Result<_, _>>()?, shadow });
        }
        let mut statement =
            connection.prepare("SELECT name, tbl_name FROM sqlite_schema WHERE type = 'index' ORDER BY name")?;
        let found = statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?;
        for (name, table) in found.collect::<Result<Vec<(String, String)>, _>>()? {
            let mut statement =
                connection.prepare("SELECT name FROM pragma_index_xinfo(?1) WHERE cid <> -1 ORDER BY seqno")?;
            let columns = statement.query_map([&name], rows::first)?.collect::<Result<_, _>>()?;
            layout.indexes.push(Index { name, table, columns });
        }
        let mut statement = connection.prepare("SELECT name, rootpage FROM sqlite_schema WHERE rootpage > 0")?;
        let found = statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?;
        layout.roots = found.collect::<Result<_, _>>()?;
        Ok(layout)
    }

    /// How well a file's names of tables and indexes go with this schema: more is better.
    pub(super) fn likeness(&self, names: &BTreeSet<String>) -> i64 {
        let known = |name: &&String| self.roots.contains_key(*name);
        let common = names.iter().filter(known).count() as i64;
        2 * common - names.len() as i64 - self.roots.len() as i64
    }
}

impl Column {
    /// Whether a value of this type may stand here; one that is no UTF-8 was a text.
    fn holds(&self, value: Option<&Value>) -> bool {
        match (self.kind.as_str(), value) {
            (_, Some(Value::Null)) => !self.not_null,
            ("INTEGER", Some(Value::Integer(_)))
            | ("TEXT", Some(Value::Text(_)) | None)
            | ("BLOB", Some(Value::Blob(_)))
            // SQLite keeps a whole number as one.
            | ("REAL", Some(Value::Real(_) | Value::Integer(_))) => true,
            _ => self.kind.is_empty() && value.is_some(),
        }
    }
}

impl Table {
    /// Whether this may be a row of it: the number of values, and what kind each is.
    pub(super) fn fits(&self, values: &[Option<Value>]) -> bool {
        let absent = self.columns.get(values.len()..);
        absent.is_some_and(|absent| absent.iter().all(|column| !column.not_null || column.has_default))
            && self.columns.iter().zip(values).enumerate().all(|(at, (column, value))| match at {
                // The key is the row's own number and not kept twice.
                0 => *value == Some(Value::Null),
                _ => column.holds(value.as_ref()),
            })
    }

    /// Whether a value's kind is its column's.
    pub(super) fn holds(&self, column: usize, value: Option<&Value>) -> bool {
        self.columns.get(column).is_some_and(|column| column.holds(value))
    }
}
