//! Opening and migrating a collection file.

use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use rusqlite::{Connection, ErrorCode, TransactionBehavior};

use super::private::private_file;
use super::{Store, StoreError, journal, rekey, rows};

/// How long a process waits for another's transaction. Far above the longest transaction (a resolve of a whole stack),
/// so that only a hung process is ever reported.
pub(super) const WAIT: Duration = Duration::from_secs(60);

/// Marks the file as ours ('bxwd'), so that no other program's database is ever migrated.
pub(super) const APPLICATION_ID: i64 = 0x6278_7764;

/// What makes a schema of the one before it.
enum Step {
    Sql(&'static str),
    /// Rows made anew by a rule that SQL can't follow.
    Rows(fn(&Connection) -> rusqlite::Result<()>),
}

/// Every schema ever released, oldest first; `user_version` counts those that a file has.
const SCHEMAS: [Step; 12] = [
    Step::Sql(include_str!("schema/0001.sql")),
    Step::Sql(include_str!("schema/0002.sql")),
    // Keys for ½, -1 and 1.5 that stand by value.
    Step::Rows(rekey::all),
    Step::Sql(include_str!("schema/0004.sql")),
    Step::Sql(include_str!("schema/0005.sql")),
    Step::Sql(include_str!("schema/0006.sql")),
    Step::Sql(include_str!("schema/0007.sql")),
    Step::Sql(include_str!("schema/0008.sql")),
    Step::Sql(include_str!("schema/0009.sql")),
    Step::Sql(include_str!("schema/0010.sql")),
    Step::Sql(include_str!("schema/0011.sql")),
    Step::Sql(include_str!("schema/0012.sql")),
];

impl Store {
    /// The newest schema.
    pub const SCHEMA: i64 = SCHEMAS.len() as i64;

    /// Opens the collection at `path`, created (readable for its owner only) if there is none, migrated if it is older.
    ///
    /// # Errors
    /// If the file can't be opened or created, is no collection, or is newer than this program.
    pub fn open(path: &Path) -> Result<Self, StoreError> {
        create(path).map_err(|source| StoreError::Open { path: path.to_owned(), source })?;
        let mut connection = Connection::open(path)?;
        connection.busy_timeout(WAIT)?;
        check(&connection, path)?;
        until_free(|| connection.execute_batch("PRAGMA journal_mode = WAL"))?;
        connection.execute_batch("PRAGMA synchronous = FULL; PRAGMA foreign_keys = ON; PRAGMA temp_store = MEMORY")?;
        migrate(&mut connection, path)?;
        journal::prepare(&connection)?;
        connection.set_prepared_statement_cache_capacity(128);
        Ok(Self { connection, path: path.to_owned() })
    }

    /// A further connection to the same file, for another thread.
    ///
    /// # Errors
    /// As [`Store::open`].
    pub fn again(&self) -> Result<Self, StoreError> {
        Self::open(&self.path)
    }

    /// The collection's file.
    #[must_use]
    pub fn path(&self) -> &PathBuf {
        &self.path
    }
}

fn create(path: &Path) -> std::io::Result<()> {
    match create_new(path) {
        Err(error) if error.kind() != ErrorKind::AlreadyExists => Err(error),
        _ => Ok(()),
    }
}

/// An empty file that is not there yet, readable for its owner only.
pub(super) fn create_new(path: &Path) -> std::io::Result<()> {
    private_file().create_new(true).open(path).map(drop)
}

/// Reads before anything is written: another program's file must stay as it is.
pub(super) fn check(connection: &Connection, path: &Path) -> Result<(), StoreError> {
    let not = |what| StoreError::NotACollection { path: path.to_owned(), what };
    let number = |sql: &str| match connection.query_row(sql, [], |row| row.get::<_, i64>(0)) {
        Err(error) if error.sqlite_error_code() == Some(ErrorCode::NotADatabase) => Err(not("no SQLite database")),
        other => other.map_err(StoreError::from),
    };
    let tables = number("SELECT count(*) FROM sqlite_schema")?;
    let application = number("PRAGMA application_id")?;
    let version = number("PRAGMA user_version")?;
    if application == APPLICATION_ID && version > Store::SCHEMA {
        return Err(StoreError::Newer { path: path.to_owned(), found: version, known: Store::SCHEMA });
    }
    if application != APPLICATION_ID && (tables, application, version) != (0, 0, 0) {
        return Err(not("another program's database"));
    }
    Ok(())
}

fn migrate(connection: &mut Connection, path: &Path) -> Result<(), StoreError> {
    let version = |c: &Connection| c.query_row("PRAGMA user_version", [], |row| row.get::<_, i64>(0));
    if version(connection)? == Store::SCHEMA {
        return Ok(());
    }
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Exclusive)?;
    // Another process may have migrated it, or a newer one overtaken us, while this one waited.
    check(&transaction, path)?;
    migrate_from(&transaction, version(&transaction)?, Store::SCHEMA).map_err(|error| match error {
        StoreError::Sqlite(error) => StoreError::Damaged(error.to_string()),
        error => error,
    })?;
    transaction.pragma_update(None, "application_id", APPLICATION_ID)?;
    transaction.pragma_update(None, "user_version", Store::SCHEMA)?;
    transaction.commit()?;
    Ok(())
}

/// Makes one schema of another.
pub(super) fn migrate_from(connection: &Connection, have: i64, want: i64) -> Result<(), StoreError> {
    let [have, want] = [have, want].map(|version| usize::try_from(version).unwrap_or(0));
    for step in SCHEMAS.iter().take(want).skip(have) {
        match step {
            Step::Sql(sql) => connection.execute_batch(sql)?,
            Step::Rows(remake) => remake(connection)?,
        }
    }
    Ok(())
}

/// Removes every table with what hangs on it, so that an older schema can be made.
pub(super) fn empty_of_tables(connection: &Connection) -> Result<(), StoreError> {
    let mut statement = connection.prepare(
        "SELECT type, name FROM sqlite_schema WHERE type IN ('trigger', 'view') UNION ALL \
         SELECT 'table', name FROM pragma_table_list WHERE schema = 'main' AND type IN ('table', 'virtual') \
         AND name NOT LIKE 'sqlite!_%' ESCAPE '!'",
    )?;
    let found = statement.query_map([], |row| Ok((row.get::<_, String>(0)?, row.get::<_, String>(1)?)))?;
    for (kind, name) in found.collect::<Result<Vec<_>, _>>()? {
        connection.execute_batch(&format!("DROP {kind} {}", rows::quoted(&name)))?;
    }
    Ok(())
}

/// SQLite does not wait by itself where waiting could be a deadlock, as on the switch to WAL by two processes at once.
fn until_free(mut step: impl FnMut() -> rusqlite::Result<()>) -> rusqlite::Result<()> {
    let begun = Instant::now();
    loop {
        match step() {
            Err(error) if error.sqlite_error_code() == Some(ErrorCode::DatabaseBusy) && begun.elapsed() < WAIT => {
                std::thread::sleep(Duration::from_millis(20));
            }
            other => return other,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tables_go_whatever_they_are_called() {
        let connection = Connection::open_in_memory().unwrap();
        for name in ["copy", "order", "two words", "a \"quoted\" one", "x; DROP TABLE copy; --"] {
            let name = rows::quoted(name);
            connection.execute_batch(&format!("CREATE TABLE {name} (id INTEGER PRIMARY KEY)")).unwrap();
        }
        empty_of_tables(&connection).unwrap();
        let left: i64 = connection.query_row("SELECT count(*) FROM sqlite_schema", [], rows::first).unwrap();
        assert_eq!(left, 0);
    }
}
