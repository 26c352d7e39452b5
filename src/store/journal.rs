//! The journal of runs, and taking a run back.
//!
//! The technique is SQLite's own ('Automatic Undo/Redo Using SQLite', sqlite.org/undoredo.html): temporary triggers
//! write, for each changed row, the statement that restores it. They are made from the schema's own list of tables, so
//! a new table is undone without a line of code. Rows are named by their `id`.

use std::collections::BTreeMap;
use std::str::FromStr;

use jiff::Timestamp;
use rusqlite::{Connection, OptionalExtension, Row, params};
use serde::Serialize;

use super::{Store, StoreError, rekey, rows};
use crate::collection::CopyId;
use crate::intake::RunId;

/// Tables that record runs and are no part of what a run changes.
const UNRECORDED: [&str; 2] = ["run", "change"];

/// What a run was.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum RunKind {
    /// Photos into the queue.
    Import,
    /// Codes from a device into the queue.
    Scan,
    /// Queue to collection.
    Resolve,
    /// Items of the queue completed or dropped by a person.
    Queue,
    /// A title changed by a person.
    Title,
    /// What is known of issues, set by a person or taken from a list.
    Catalogue,
    /// Copies taken off the reading pile.
    Pile,
    /// What is known of copies changed by a person; copies lent or taken back, or that left.
    Copy,
    /// What may be spent in a month, set by a person.
    Limit,
    /// A box added, changed or retired.
    Box,
    /// A walk along the boxes planned, or what was put away on it.
    File,
    /// How copies are filed, set or measured by a person.
    Filing,
    /// Supplies counted by a person.
    Supplies,
    /// What is expected.
    Pull,
    /// What is wanted.
    Want,
    /// A run taken back.
    Undo,
}

impl RunKind {
    const ALL: [Self; 16] = [
        Self::Import,
        Self::Scan,
        Self::Resolve,
        Self::Queue,
        Self::Title,
        Self::Catalogue,
        Self::Pile,
        Self::Copy,
        Self::Limit,
        Self::Box,
        Self::File,
        Self::Filing,
        Self::Supplies,
        Self::Pull,
        Self::Want,
        Self::Undo,
    ];

    /// The word of the store and of JSON.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Import => "import",
            Self::Scan => "scan",
            Self::Resolve => "resolve",
            Self::Queue => "queue",
            Self::Title => "title",
            Self::Catalogue => "catalogue",
            Self::Pile => "pile",
            Self::Copy => "copy",
            Self::Limit => "limit",
            Self::Box => "box",
            Self::File => "file",
            Self::Filing => "filing",
            Self::Supplies => "supplies",
            Self::Pull => "pull",
            Self::Want => "want",
            Self::Undo => "undo",
        }
    }
}

impl FromStr for RunKind {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        Self::ALL.into_iter().find(|kind| kind.word() == text).ok_or_else(|| format!("'{text}' is no kind of run"))
    }
}

/// A recorded run.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Run {
    /// Its number.
    pub id: RunId,
    /// What it was.
    pub kind: RunKind,
    /// When it began.
    pub started: Timestamp,
    /// When it last wrote.
    pub finished: Option<Timestamp>,
    /// The run that it took back, if it is an undo.
    pub undoes: Option<RunId>,
    /// The undo that took it back.
    pub undone_by: Option<RunId>,
}

/// A run that made or changed a copy.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CopyEvent {
    /// It.
    pub run: Run,
    /// The kinds of records that it touched, as an export names them.
    pub touched: Vec<String>,
}

/// A moment within a run, to go back to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Mark(i64);

/// Makes the triggers of this connection. They write nothing while `recording` is empty.
pub(super) fn prepare(connection: &Connection) -> Result<(), StoreError> {
    let mut sql = String::from("CREATE TEMP TABLE recording (run INTEGER NOT NULL);");
    for table in recorded(connection)? {
        let columns = columns(connection, &table)?;
        let list = columns.join(",");
        let old = |c: &String| format!("quote(OLD.{c})");
        let values = columns.iter().map(old).collect::<Vec<_>>().join("||','||");
        let sets = columns.iter().map(|c| format!("'{c}='||{}", old(c))).collect::<Vec<_>>().join("||','||");
        for (event, id, inverse) in [
            ("INSERT", "NEW.id", format!("'DELETE FROM {table} WHERE id='||NEW.id")),
            ("UPDATE", "OLD.id", format!("'UPDATE {table} SET '||{sets}||' WHERE id='||NEW.id")),
            ("DELETE", "OLD.id", format!("'INSERT INTO {table} ({list}) VALUES ('||{values}||')'")),
        ] {
            sql.push_str(&format!(
                "CREATE TEMP TRIGGER journal_{table}_{event} AFTER {event} ON main.{table} BEGIN \
                 INSERT INTO change (run, tbl, row, inverse) SELECT run, '{table}', {id}, {inverse} FROM recording; END;"
            ));
        }
    }
    connection.execute_batch(&sql)?;
    Ok(())
}

fn recorded(connection: &Connection) -> Result<Vec<String>, StoreError> {
    let mut names = plain_tables(connection)?;
    names.retain(|name| !UNRECORDED.contains(&name.as_str()));
    Ok(names)
}

/// Every table of the file that is one and no index, by name.
pub(super) fn plain_tables(connection: &Connection) -> Result<Vec<String>, StoreError> {
    // Plain tables only: an index that is a table to SQL follows them by triggers of its own.
    let mut statement = connection.prepare(
        "SELECT name FROM pragma_table_list WHERE schema = 'main' AND type = 'table' AND name NOT LIKE 'sqlite!_%' \
         ESCAPE '!' ORDER BY name",
    )?;
    Ok(statement.query_map([], rows::first)?.collect::<Result<_, _>>()?)
}

pub(super) fn columns(connection: &Connection, table: &str) -> Result<Vec<String>, StoreError> {
    let mut statement = connection.prepare("SELECT name FROM pragma_table_info(?1) ORDER BY cid")?;
    Ok(statement.query_map([table], |row| row.get(0))?.collect::<Result<Vec<_>, _>>()?)
}

const RUN: &str = "SELECT id, kind, started_ms, finished_ms, undoes, undone_by FROM run";

fn run_of(row: &Row<'_>) -> rusqlite::Result<Run> {
    Ok(Run {
        id: row.get(0)?,
        kind: rows::parsed(row, 1)?,
        started: rows::time(row, 2)?,
        finished: rows::optional_time(row, 3)?,
        undoes: row.get(4)?,
        undone_by: row.get(5)?,
    })
}

impl Store {
    /// The latest runs, newest first.
    ///
    /// # Errors
    /// If the file fails.
    pub fn runs(&self, limit: u32) -> Result<Vec<Run>, StoreError> {
        let mut statement = self.statement(&format!("{RUN} ORDER BY id DESC LIMIT ?1"))?;
        Ok(statement.query_map([limit], run_of)?.collect::<Result<_, _>>()?)
    }

    /// One run.
    ///
    /// # Errors
    /// If there is none of that number, or the file fails.
    pub fn run(&self, run: RunId) -> Result<Run, StoreError> {
        let found = self.statement(&format!("{RUN} WHERE id = ?1"))?.query_row([run], run_of).optional()?;
        found.ok_or(StoreError::NoRun(run))
    }

    /// The runs that touched a copy, the item that it came in by, or what is recorded of it, latest first.
    ///
    /// # Errors
    /// If the file fails.
    pub fn copy_history(&self, copy: CopyId) -> Result<Vec<CopyEvent>, StoreError> {
        let mut places = vec![("copy".to_owned(), "SELECT ?1".to_owned())];
        places.push(("item".to_owned(), "SELECT item FROM copy WHERE id = ?1".to_owned()));
        for (child, column, parent) in self.references()? {
            if parent == "copy" {
                let rows = format!("SELECT id FROM {child} WHERE {column} = ?1");
                // What shares the copy's number is known by it even when it is no more.
                places.push((child, if column == "id" { "SELECT ?1".to_owned() } else { rows }));
            }
        }
        let mut touched: BTreeMap<RunId, Vec<String>> = BTreeMap::new();
        for (table, rows) in places {
            let mut statement =
                self.statement(&format!("SELECT DISTINCT run FROM change WHERE tbl = '{table}' AND row IN ({rows})"))?;
            for run in statement.query_map([copy], rows::first)? {
                touched.entry(run?).or_default().push(table.clone());
            }
        }
        let events = touched.into_iter().rev();
        events.map(|(run, touched)| Ok(CopyEvent { run: self.run(run)?, touched })).collect()
    }

    pub(super) fn record(&self, run: Option<RunId>) -> Result<(), StoreError> {
        self.statement("DELETE FROM temp.recording")?.execute([])?;
        if let Some(run) = run {
            self.statement("INSERT INTO temp.recording (run) VALUES (?1)")?.execute([run])?;
        }
        Ok(())
    }

    /// Takes `run` back, or the latest run that is neither an undo nor undone. Gives the undo and the run it undid.
    ///
    /// # Errors
    /// If there is nothing to undo, the run is undone already, or a later run has built on it.
    pub fn undo(&self, run: Option<RunId>, now: Timestamp) -> Result<(Run, Run), StoreError> {
        let transaction = self.begin()?;
        let run = match run {
            Some(run) => self.run(run)?,
            None => self.latest()?,
        };
        if let Some(by) = run.undone_by {
            return Err(StoreError::AlreadyUndone { run: run.id, by });
        }
        if !self.has_changes(run.id)? {
            return Err(StoreError::NothingKept(run.id));
        }
        if let Some((later, kind)) = self.built_on(run.id)? {
            return Err(StoreError::BuiltOn { run: run.id, later, kind });
        }
        let undo = self.insert_run(RunKind::Undo, now, Some(run.id))?;
        self.record(Some(undo))?;
        self.apply_inverses(run.id, Mark(0))?;
        rekey::of_run(&self.connection, undo)?;
        self.record(None)?;
        self.mark_undone(&run, undo)?;
        self.statement("UPDATE run SET finished_ms = ?2 WHERE id = ?1")?
            .execute(params![undo, now.as_millisecond()])?;
        let result = (self.run(undo)?, self.run(run.id)?);
        transaction.commit()?;
        Ok(result)
    }

    /// The present moment of `run`.
    ///
    /// # Errors
    /// If the file fails.
    pub fn mark(&self, run: RunId) -> Result<Mark, StoreError> {
        let mut statement = self.statement("SELECT ifnull(max(id), 0) FROM change WHERE run = ?1")?;
        Ok(Mark(statement.query_row([run], rows::first)?))
    }

    /// Takes back what `run` wrote since `mark`, as if it had never been written.
    ///
    /// # Errors
    /// If the run is undone, a later run has built on it, or the file fails.
    pub fn back_to(&self, run: RunId, mark: Mark) -> Result<(), StoreError> {
        let transaction = self.begin()?;
        if let Some(by) = self.run(run)?.undone_by {
            return Err(StoreError::AlreadyUndone { run, by });
        }
        if let Some((later, kind)) = self.built_on(run)? {
            return Err(StoreError::BuiltOn { run, later, kind });
        }
        self.record(None)?;
        self.apply_inverses(run, mark)?;
        self.statement("DELETE FROM change WHERE run = ?1 AND id > ?2")?.execute(params![run, mark.0])?;
        transaction.commit()?;
        Ok(())
    }

    /// Marks `run` as undone by `undo`, and what that brings back into effect, and out of it, down the chain of undos.
    fn mark_undone(&self, run: &Run, undo: RunId) -> Result<(), StoreError> {
        let mut by = Some(undo);
        let mut next = Some(run.clone());
        while let Some(run) = next {
            self.statement("UPDATE run SET undone_by = ?2 WHERE id = ?1")?.execute(params![run.id, by])?;
            by = if by.is_none() { Some(run.id) } else { None };
            next = run.undoes.map(|undone| self.run(undone)).transpose()?;
        }
        Ok(())
    }

    fn latest(&self) -> Result<Run, StoreError> {
        let sql = format!(
            "{RUN} WHERE undone_by IS NULL AND kind <> 'undo' \
             AND EXISTS (SELECT 1 FROM change WHERE change.run = run.id) ORDER BY id DESC LIMIT 1"
        );
        self.statement(&sql)?.query_row([], run_of).optional()?.ok_or(StoreError::NothingToUndo)
    }

    /// The first later run, still in effect, that changed a row of `run` or hangs a row on one that `run` made.
    ///
    /// A later run is out of effect if it is undone; and an undo is, if what it took back came after `run` as well:
    /// then both cancel out.
    fn built_on(&self, run: RunId) -> Result<Option<(RunId, String)>, StoreError> {
        // CROSS JOIN fixes the order (sqlite.org/optoverview.html, 'manual control of query plans'): from this run's few
        // rows outwards, where SQLite would begin with all that was ever written to a table.
        let in_effect = "r.id > ?1 AND r.undone_by IS NULL AND (r.undoes IS NULL OR r.undoes <= ?1)";
        let mut found: Vec<(RunId, String)> = Vec::new();
        let mut look = |sql: &str| -> Result<(), StoreError> {
            let first = self.statement(sql)?.query_row([run], |row| Ok((row.get(0)?, row.get(1)?))).optional()?;
            found.extend(first);
            Ok(())
        };
        look(&format!(
            "SELECT r.id, r.kind FROM change mine \
             CROSS JOIN change other ON other.tbl = mine.tbl AND other.row = mine.row AND other.run > ?1 \
             CROSS JOIN run r ON r.id = other.run WHERE mine.run = ?1 AND {in_effect} ORDER BY r.id LIMIT 1"
        ))?;
        for (child, column, parent) in self.references()? {
            look(&format!(
                "SELECT r.id, r.kind FROM change mine CROSS JOIN {child} c ON c.{column} = mine.row \
                 CROSS JOIN change other ON other.tbl = '{child}' AND other.row = c.id AND other.run > ?1 \
                 CROSS JOIN run r ON r.id = other.run \
                 WHERE mine.run = ?1 AND mine.tbl = '{parent}' AND mine.inverse LIKE 'DELETE%' AND {in_effect} \
                 ORDER BY r.id LIMIT 1"
            ))?;
        }
        Ok(found.into_iter().min_by_key(|(id, _)| *id))
    }

    fn references(&self) -> Result<Vec<(String, String, String)>, StoreError> {
        let mut all = Vec::new();
        for child in recorded(&self.connection)? {
            let mut statement = self.statement("SELECT \"from\", \"table\" FROM pragma_foreign_key_list(?1)")?;
            let found = statement.query_map([&child], |row| Ok((child.clone(), row.get(0)?, row.get(1)?)))?;
            all.extend(found.collect::<Result<Vec<(String, String, String)>, _>>()?);
        }
        all.retain(|(_, _, parent)| !UNRECORDED.contains(&parent.as_str()));
        Ok(all)
    }

    /// Restores what `run` changed since `mark`, the latest change first.
    fn apply_inverses(&self, run: RunId, mark: Mark) -> Result<(), StoreError> {
        let tables = recorded(&self.connection)?;
        // One at a time: the statements write to the table that this one reads.
        let mut next = self.statement(
            "SELECT id, tbl, inverse FROM change WHERE run = ?1 AND id < ?2 AND id > ?3 ORDER BY id DESC LIMIT 1",
        )?;
        let mut before = i64::MAX;
        while let Some((id, table, inverse)) = next
            .query_row(params![run, before, mark.0], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))
            .optional()?
        {
            let (table, inverse): (String, String) = (table, inverse);
            let ours = ["DELETE FROM", "UPDATE", "INSERT INTO"]
                .iter()
                .any(|verb| inverse.strip_prefix(&format!("{verb} {table} ")).is_some());
            if !ours || !tables.contains(&table) {
                return Err(StoreError::Damaged(format!(
                    "change {id} of the journal restores no row of the collection"
                )));
            }
            self.connection.execute(&inverse, []).map_err(|error| match error.sqlite_error_code() {
                Some(rusqlite::ErrorCode::ConstraintViolation) => StoreError::InUse { run },
                _ => error.into(),
            })?;
            before = id;
        }
        Ok(())
    }
}
