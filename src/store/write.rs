//! Writing: one transaction of one recorded run.

use std::ops::Deref;

use jiff::Timestamp;
use rusqlite::{Transaction, TransactionBehavior, params};

use super::{RunKind, Store, StoreError, rows};
use crate::intake::RunId;

/// The only way to write: everything done with it is in one transaction and recorded for undo.
#[derive(Debug)]
pub struct Writer<'a> {
    store: &'a Store,
    run: RunId,
}

impl Deref for Writer<'_> {
    type Target = Store;

    fn deref(&self) -> &Store {
        self.store
    }
}

impl Writer<'_> {
    /// The run that this belongs to.
    #[must_use]
    pub fn run(&self) -> RunId {
        self.run
    }
}

impl Store {
    /// Runs `work` in one transaction of `run`; a new run of `kind` is begun if `run` is `None`, and kept only if
    /// something was written. What failed leaves no trace.
    ///
    /// # Errors
    /// As `work`, or if the transaction fails.
    pub fn write<T, E: From<StoreError>>(
        &self,
        run: &mut Option<RunId>,
        kind: RunKind,
        now: Timestamp,
        work: impl FnOnce(&Writer<'_>) -> Result<T, E>,
    ) -> Result<T, E> {
        let transaction = self.begin()?;
        let id = match *run {
            Some(id) => self.resume(id, kind)?,
            None => self.insert_run(kind, now, None)?,
        };
        self.record(Some(id))?;
        let value = work(&Writer { store: self, run: id })?;
        self.record(None)?;
        if run.is_some() || self.has_changes(id)? {
            self.statement("UPDATE run SET finished_ms = ?2 WHERE id = ?1")?
                .execute(params![id, now.as_millisecond()])
                .map_err(StoreError::from)?;
            transaction.commit().map_err(StoreError::from)?;
            *run = Some(id);
        }
        Ok(value)
    }

    /// Runs `work` as [`Store::write`] would, and takes all of it back: nothing is kept, not even that it ran.
    ///
    /// # Errors
    /// As `work`, or if the transaction fails.
    pub fn rehearse<T, E: From<StoreError>>(
        &self,
        kind: RunKind,
        now: Timestamp,
        work: impl FnOnce(&Writer<'_>) -> Result<T, E>,
    ) -> Result<T, E> {
        let transaction = self.begin()?;
        let id = self.insert_run(kind, now, None)?;
        self.record(Some(id))?;
        let value = work(&Writer { store: self, run: id })?;
        transaction.rollback().map_err(StoreError::from)?;
        Ok(value)
    }

    /// Runs `work` on one unchanging view of the collection.
    ///
    /// # Errors
    /// As `work`, or if the transaction fails.
    pub fn read<T, E: From<StoreError>>(&self, work: impl FnOnce(&Self) -> Result<T, E>) -> Result<T, E> {
        let transaction =
            Transaction::new_unchecked(&self.connection, TransactionBehavior::Deferred).map_err(StoreError::from)?;
        let value = work(self)?;
        transaction.finish().map_err(StoreError::from)?;
        Ok(value)
    }

    pub(super) fn begin(&self) -> Result<Transaction<'_>, StoreError> {
        Ok(Transaction::new_unchecked(&self.connection, TransactionBehavior::Immediate)?)
    }

    pub(super) fn statement(&self, sql: &str) -> Result<rusqlite::CachedStatement<'_>, StoreError> {
        Ok(self.connection.prepare_cached(sql)?)
    }

    pub(super) fn insert_run(&self, kind: RunKind, now: Timestamp, undoes: Option<RunId>) -> Result<RunId, StoreError> {
        self.statement("INSERT INTO run (kind, started_ms, undoes) VALUES (?1, ?2, ?3)")?.execute(params![
            kind.word(),
            now.as_millisecond(),
            undoes
        ])?;
        Ok(RunId::new(self.connection.last_insert_rowid()))
    }

    fn resume(&self, id: RunId, kind: RunKind) -> Result<RunId, StoreError> {
        let run = self.run(id)?;
        if run.kind != kind {
            return Err(StoreError::OtherKind { run: id, kind: run.kind });
        }
        if run.undone_by.is_some() {
            return Err(StoreError::Interrupted(id));
        }
        Ok(id)
    }

    pub(super) fn has_changes(&self, run: RunId) -> Result<bool, StoreError> {
        Ok(self.statement("SELECT EXISTS (SELECT 1 FROM change WHERE run = ?1)")?.query_row([run], rows::first)?)
    }
}
