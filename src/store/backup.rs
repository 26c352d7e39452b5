//! A collection copied whole, either way, by SQLite's backup interface (sqlite.org/backup.html), and compared with what
//! it was copied from.
//!
//! Where copies lie, how they are named and how many stay is left to [`crate::workflow`].

use std::collections::BTreeMap;
use std::ffi::c_int;
use std::path::{Path, PathBuf};

use jiff::Timestamp;
use rusqlite::backup::{Backup, StepResult};
use rusqlite::types::ValueRef;
use rusqlite::{Connection, OpenFlags};
use sha2::{Digest, Sha256};

use super::open::{WAIT, check, create_new};
use super::{Store, StoreError, rows};

/// Pages copied at once: 4 MiB of SQLite's usual pages, so that a copy that is interrupted ends soon.
const PAGES: c_int = 1024;

/// All that a collection holds, as sums: two files with the same sums hold the same.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Contents {
    schema: i64,
    definitions: [u8; 32],
    tables: BTreeMap<String, (u64, [u8; 32])>,
}

/// The moment of a collection that was copied.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Moment {
    contents: Contents,
    version: i64,
}

/// A collection's file that is only read.
#[derive(Debug)]
pub struct BackupFile {
    connection: Connection,
    path: PathBuf,
}

/// What a backup is about, in numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BackupSummary {
    /// Titles in it.
    pub titles: u32,
    /// Copies in it.
    pub copies: u32,
    /// When its collection's first run began: the same for all backups of one collection. `None` if nothing was ever
    /// written to it.
    pub began: Option<Timestamp>,
}

impl Contents {
    fn of(connection: &Connection) -> Result<Self, StoreError> {
        let mut definitions = Sha256::new();
        let mut tables = BTreeMap::new();
        add_rows(
            connection,
            "SELECT type, name, tbl_name, sql FROM sqlite_schema ORDER BY type, name",
            &mut definitions,
        )?;
        let mut statement = connection.prepare(
            "SELECT name FROM pragma_table_list WHERE schema = 'main' AND type IN ('table', 'shadow') \
             AND name <> 'sqlite_schema'",
        )?;
        for name in statement.query_map([], rows::first::<String>)? {
            let name = name?;
            let mut sum = Sha256::new();
            let rows = add_rows(connection, &format!("SELECT * FROM {}", rows::quoted(&name)), &mut sum)?;
            tables.insert(name, (rows, sum.finalize().into()));
        }
        let schema = connection.query_row("PRAGMA user_version", [], rows::first)?;
        Ok(Self { schema, definitions: definitions.finalize().into(), tables })
    }
}

/// Adds every value with its type and length, so that no two different tables have the same sum.
fn add_rows(connection: &Connection, sql: &str, sum: &mut Sha256) -> Result<u64, StoreError> {
    let mut statement = connection.prepare(sql)?;
    let columns = statement.column_count();
    let mut found = statement.query([])?;
    let mut number = 0;
    while let Some(row) = found.next()? {
        number += 1;
        for column in 0..columns {
            let mut add = |kind: u8, bytes: &[u8]| {
                sum.update([kind]);
                sum.update((bytes.len() as u64).to_le_bytes());
                sum.update(bytes);
            };
            match row.get_ref(column)? {
                ValueRef::Null => add(0, &[]),
                ValueRef::Integer(value) => add(1, &value.to_le_bytes()),
                ValueRef::Real(value) => add(2, &value.to_bits().to_le_bytes()),
                ValueRef::Text(value) => add(3, value),
                ValueRef::Blob(value) => add(4, value),
            }
        }
    }
    Ok(number)
}

/// Copies until nothing is left; `begun` is called when the copy holds both files.
fn copy(
    from: &Connection,
    to: &mut Connection,
    begun: impl FnOnce() -> Result<(), StoreError>,
) -> Result<(), StoreError> {
    let backup = Backup::new(from, to)?;
    let step = |pages| match backup.step(pages)? {
        StepResult::Done => Ok(true),
        StepResult::More => Ok(false),
        _ => Err(StoreError::Busy { seconds: WAIT.as_secs() }),
    };
    let mut done = step(1)?;
    begun()?;
    while !done {
        done = step(PAGES)?;
    }
    Ok(())
}

impl Store {
    /// Copies the collection as it is at this moment into the new file `path`, while others read and write it, and
    /// reads the copy back.
    ///
    /// # Errors
    /// If the file is there already or can't be written, or the copy is not what the collection was.
    pub fn copy_to(&self, path: &Path) -> Result<Moment, StoreError> {
        create_new(path).map_err(|source| StoreError::Open { path: path.to_owned(), source })?;
        let mut to = Connection::open(path)?;
        // One transaction for the copy and for the sums: what others write meanwhile is in neither.
        let moment = self.read(|store| {
            let contents = Contents::of(&store.connection)?;
            copy(&store.connection, &mut to, || Ok(()))?;
            Ok::<_, StoreError>(Moment { contents, version: store.data_version()? })
        })?;
        // A single file, readable where nothing can be written beside it.
        let mode: String = to.query_row("PRAGMA journal_mode = DELETE", [], rows::first)?;
        drop(to);
        let whole = BackupFile::open(path)?.verify()? == moment.contents && mode == "delete";
        if whole { Ok(moment) } else { Err(not_whole(path, "it differs from the collection")) }
    }

    /// Replaces all that the collection holds by what is in `from`, in one transaction; a file of an older schema is
    /// migrated when it is opened again, which this one must be.
    ///
    /// # Errors
    /// If somebody has written to the collection since `before`, or either file fails; then nothing was replaced.
    pub fn replace_by(&self, from: &BackupFile, before: Option<&Moment>) -> Result<(), StoreError> {
        let contents = from.verify()?;
        let mut to = Connection::open(&self.path)?;
        to.busy_timeout(WAIT)?;
        to.execute_batch("PRAGMA synchronous = FULL")?;
        // From the first page on nobody else can write: what is compared then, stays.
        copy(&from.connection, &mut to, || match before {
            Some(moment) if moment.version != self.data_version()? => Err(StoreError::WrittenMeanwhile),
            _ => Ok(()),
        })?;
        if Contents::of(&to)? == contents { Ok(()) } else { Err(not_whole(&self.path, "it differs from the backup")) }
    }

    /// A number that changes when another connection commits (sqlite.org/pragma.html, 'data_version').
    fn data_version(&self) -> Result<i64, StoreError> {
        Ok(self.connection.query_row("PRAGMA data_version", [], rows::first)?)
    }
}

impl BackupFile {
    /// Opens a collection's file to read it.
    ///
    /// # Errors
    /// If it can't be opened, is no collection, or is newer than this program.
    pub fn open(path: &Path) -> Result<Self, StoreError> {
        std::fs::File::open(path).map_err(|source| StoreError::Open { path: path.to_owned(), source })?;
        let connection = Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_ONLY)?;
        let looked = check(&connection, path)
            .and_then(|()| Ok(connection.query_row("PRAGMA user_version", [], rows::first::<i64>)?));
        let schema = looked.map_err(|error| named(path, error))?;
        if schema == 0 {
            return Err(StoreError::NotACollection { path: path.to_owned(), what: "an empty file" });
        }
        Ok(Self { connection, path: path.to_owned() })
    }

    /// Reads all of it: its pages, its references, its rows.
    ///
    /// # Errors
    /// If it is damaged.
    pub fn verify(&self) -> Result<Contents, StoreError> {
        let looked = || -> Result<_, StoreError> {
            let verdict: String = self.connection.query_row("PRAGMA integrity_check(1)", [], rows::first)?;
            let broken: i64 =
                self.connection.query_row("SELECT count(*) FROM pragma_foreign_key_check", [], rows::first)?;
            if verdict != "ok" {
                return Err(StoreError::Damaged(verdict));
            }
            if broken > 0 {
                return Err(StoreError::Damaged(format!("{broken} of its records refer to none")));
            }
            Contents::of(&self.connection)
        };
        looked().map_err(|error| named(&self.path, error))
    }

    /// What it is about.
    ///
    /// # Errors
    /// If it is damaged.
    pub fn summary(&self) -> Result<BackupSummary, StoreError> {
        let sql = "SELECT (SELECT count(*) FROM title), (SELECT count(*) FROM copy), \
                   (SELECT started_ms FROM run ORDER BY id LIMIT 1)";
        let found = self.connection.query_row(sql, [], |row| {
            Ok(BackupSummary { titles: row.get(0)?, copies: row.get(1)?, began: rows::optional_time(row, 2)? })
        });
        found.map_err(|error| named(&self.path, error.into()))
    }
}

/// A damaged file is named: it is another than the collection.
fn named(path: &Path, error: StoreError) -> StoreError {
    match error {
        StoreError::Damaged(what) => not_whole(path, &what),
        error => error,
    }
}

fn not_whole(path: &Path, what: &str) -> StoreError {
    StoreError::NotWhole { path: path.to_owned(), what: what.to_owned() }
}
