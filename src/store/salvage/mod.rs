//! What can be read of a damaged collection's file, saved into a new one.
//!
//! SQLite gives a row only if every page on the way to it is sound, and one damaged page near a tree's root hides all
//! rows below it; its own tool for that is no part of the library. So pages are read here as bytes, by the published format
//! (sqlite.org/fileformat2.html): leaves are found by their trees and, where those have holes, by what stands on them.
//! What is read is judged before it is kept: by the page adding up, by the schema's types and constraints, by what this
//! program can read back, by the indexes, which say some of it a second time. Nothing is guessed in silence: each row is
//! saved, or told as saved in part, in doubt, or lost.

mod layout;
mod node;
mod pages;
mod record;
mod save;
mod sense;
mod source;
mod walk;

use std::collections::{BTreeMap, BTreeSet};
use std::ops::RangeInclusive;
use std::path::Path;

use rusqlite::types::Value;
use rusqlite::{Connection, TransactionBehavior};

use self::layout::{Index, Layout, Table};
use self::pages::Pages;
use self::save::Saver;
use self::source::{Found, Roots, Source, in_order, roots};
use self::walk::ANY;
use super::open::{APPLICATION_ID, create_new, migrate_from};
use super::{Store, StoreError, rekey};

/// The table of the journal, which is of use only as a whole.
const JOURNAL: &str = "change";

/// Why a row was not saved.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Lost {
    /// Its bytes can't be read.
    Unreadable,
    /// A value without which it is nothing can't be read.
    Column(String),
    /// Its values contradict each other.
    Contradicts,
    /// Another row has what only one may have.
    Twice,
    /// It hangs on a row that is lost.
    Refers {
        /// The table of that row.
        to: String,
        /// Its number.
        row: i64,
    },
}

/// What became of a table's rows.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct TableSalvaged {
    /// How many rows are in the new file.
    pub saved: u64,
    /// Those of them of which something is missing: their columns.
    pub in_part: BTreeMap<i64, Vec<String>>,
    /// Those of them of which the file says two things: the column.
    pub in_doubt: BTreeMap<i64, String>,
    /// Rows that are known to be lost.
    pub lost: BTreeMap<i64, Lost>,
    /// Numbers between which further rows may have been, the first and the last; `None` where nothing bounds them.
    pub perhaps: Vec<(Option<i64>, Option<i64>)>,
}

/// What was saved of a damaged file.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Salvaged {
    /// Each table of the record by name.
    pub tables: BTreeMap<String, TableSalvaged>,
    /// Whether the journal of undo was saved: all of the record was, and all of the journal.
    pub journal: bool,
    /// Items whose copies are lost and that wait in the queue again.
    pub waiting_again: u64,
    /// Copies whose boxes are lost and that are to be filed again.
    pub to_file_again: u64,
    /// Rows on pages that may be several tables'.
    pub unplaced: u64,
}

impl TableSalvaged {
    /// Whether nothing is known to be amiss.
    #[must_use]
    pub fn whole(&self) -> bool {
        self.in_part.is_empty() && self.in_doubt.is_empty() && self.lost.is_empty() && self.perhaps.is_empty()
    }
}

impl Salvaged {
    /// Whether nothing of the record is known to be amiss.
    #[must_use]
    pub fn whole(&self) -> bool {
        self.unplaced == 0 && self.tables.values().all(TableSalvaged::whole)
    }
}

/// Brings the log of a file that was not closed (its `-wal`) into it, as SQLite would when it is opened. Gives whether that
/// was possible.
pub fn merge_log(path: &Path) -> bool {
    let merge = || -> Result<(), StoreError> {
        let connection = Connection::open(path)?;
        connection.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(()))?;
        // One file, with no other beside it.
        connection.query_row("PRAGMA journal_mode = DELETE", [], |_| Ok(()))?;
        Ok(())
    };
    merge().is_ok()
}

/// Saves what can be read of `from`, which is only read, into the new file `to`.
///
/// # Errors
/// If `from` is another program's or a newer one's or holds nothing of a collection, or `to` is there or can't be written.
pub fn salvage(from: &Path, to: &Path) -> Result<Salvaged, StoreError> {
    let pages = Pages::open(from).map_err(|source| StoreError::Open { path: from.to_owned(), source })?;
    let roots = roots(&pages);
    let version = version_of(&pages, &roots, from)?;
    create_new(to).map_err(|source| StoreError::Open { path: to.to_owned(), source })?;
    let mut connection = Connection::open(to)?;
    // References are settled when all rows are there.
    connection.execute_batch("PRAGMA synchronous = FULL; PRAGMA foreign_keys = OFF")?;
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    migrate_from(&transaction, 0, version)?;
    let layout = Layout::of(&transaction)?;
    let mut source = Source::new(&pages, &layout, &roots);
    let mut saver = Saver::new(&transaction, &layout);
    saver.told.unplaced = source.unplaced.iter().map(|(_, rows)| *rows as u64).sum();
    for (tree, table) in layout.tables.iter().enumerate().filter(|(_, table)| !table.shadow && table.name != JOURNAL) {
        save(&mut saver, &mut source, &layout, tree, table)?;
    }
    saver.settle_references()?;
    make_consistent(&transaction, &layout, &mut saver.told)?;
    if let Some(tree) = layout.tables.iter().position(|table| table.name == JOURNAL) {
        transaction.execute_batch("SAVEPOINT journal")?;
        save(&mut saver, &mut source, &layout, tree, &layout.tables[tree])?;
        let whole = saver.told.tables.remove(JOURNAL).is_none_or(|told| told.whole());
        if whole {
            doubt_what_adds_up(&transaction, &mut saver.told)?;
        }
        saver.told.journal = whole && saver.told.whole();
        if !saver.told.journal {
            transaction.execute_batch("ROLLBACK TO journal")?;
        }
        transaction.execute_batch("RELEASE journal")?;
    }
    let told = saver.told;
    if told.tables.values().all(|table| table.saved == 0) {
        return Err(StoreError::NotACollection { path: from.to_owned(), what: "nothing of one can be read in it" });
    }
    migrate_from(&transaction, version, Store::SCHEMA)?;
    rekey::all(&transaction)?;
    transaction.pragma_update(None, "application_id", APPLICATION_ID)?;
    transaction.pragma_update(None, "user_version", Store::SCHEMA)?;
    transaction.commit()?;
    Ok(told)
}

/// The schema that the file was written with.
fn version_of(pages: &Pages, roots: &Roots, path: &Path) -> Result<i64, StoreError> {
    let foreign = || StoreError::NotACollection { path: path.to_owned(), what: "another program's database" };
    let names: BTreeSet<String> = roots.known.keys().filter(|name| !name.starts_with("sqlite_")).cloned().collect();
    let connection = Connection::open_in_memory()?;
    let mut layouts = Vec::new();
    for version in 1..=Store::SCHEMA {
        migrate_from(&connection, version - 1, version)?;
        layouts.push((version, Layout::of(&connection)?));
    }
    let has_all = |layout: &Layout| names.iter().all(|name| layout.roots.contains_key(name));
    let header = pages.header;
    let ours = header.application == APPLICATION_ID;
    let newest = layouts.last().is_some_and(|(_, layout)| has_all(layout));
    if header.sound && ours && header.version > Store::SCHEMA && !(newest && roots.whole) {
        return Err(StoreError::Newer { path: path.to_owned(), found: header.version, known: Store::SCHEMA });
    }
    if header.sound && !ours {
        let common = |layout: &Layout| names.iter().filter(|name| layout.roots.contains_key(*name)).count();
        let most = layouts.iter().map(|(_, layout)| common(layout)).max().unwrap_or(0);
        if most * 2 <= names.len() {
            return Err(foreign());
        }
    }
    if let Some((version, _)) =
        layouts.iter().find(|(version, layout)| header.sound && ours && *version == header.version && has_all(layout))
    {
        return Ok(*version);
    }
    // The number is damaged: the names tell, the newest schema where several go with them as well.
    let likeness = |(version, layout): &&(i64, Layout)| {
        let like = if roots.whole { layout.likeness(&names) } else { i64::from(has_all(layout)) };
        (like, *version)
    };
    Ok(layouts.iter().max_by_key(likeness).map_or(Store::SCHEMA, |(version, _)| *version))
}

/// Saves a table: what its leaves hold, then what its indexes know.
fn save(
    saver: &mut Saver<'_>,
    source: &mut Source<'_>,
    layout: &Layout,
    tree: usize,
    table: &Table,
) -> Result<(), StoreError> {
    saver.of(&table.name);
    let mut out_of_place = Vec::new();
    for (page, within) in source.leaves(tree) {
        let rows = source.rows_of(page, Some(tree));
        let rising = rows.windows(2).all(|two| two[0].row < two[1].row);
        let (rows, others) = in_order(rows, &within);
        if !others.is_empty() {
            source.walked.hole(tree, within);
        }
        // A sound leaf says one thing, and what lies above it another: its turn comes when all others are there.
        if rising && source.is_whole(page) {
            out_of_place.extend(others);
        }
        for Found { row, values } in rows {
            match values {
                Some(values) if values.len() <= table.columns.len() => saver.put(table, row, &values)?,
                _ => saver.lost(&table.name, row, Lost::Unreadable),
            }
        }
    }
    put_out_of_place(saver, source, layout, table, out_of_place)?;
    let mut missing: BTreeMap<i64, BTreeMap<String, Value>> = BTreeMap::new();
    // A table that seems empty is not believed where an index knows of rows.
    let seems_empty = saver.of(&table.name).saved == 0;
    for (index_tree, index) in layout.indexes.iter().enumerate().filter(|(_, index)| index.table == table.name) {
        let holes = source.walked.holes.get(&tree).cloned().unwrap_or_default();
        source.entries(index_tree, &mut |values, row| {
            let Some(said) = said_by(index, values) else { return Ok(()) };
            if saver.is_there(&table.name, row)? {
                saver.compare(table, row, &said)?;
            } else if seems_empty
                || holes.iter().any(|hole| hole.contains(&row))
                || saver.of(&table.name).lost.contains_key(&row)
            {
                missing.entry(row).or_default().extend(said);
            }
            Ok(())
        })?;
    }
    if seems_empty && !missing.is_empty() {
        source.walked.hole(tree, ANY);
    }
    for (row, known) in missing {
        saver.of(&table.name).lost.remove(&row);
        saver.rebuild(table, row, &known)?;
    }
    let holes = merged(source.walked.holes.remove(&tree).unwrap_or_default());
    let mut perhaps = Vec::new();
    for hole in holes {
        let (first, last) = (*hole.start(), *hole.end());
        let bound = |number: i64, open: i64| (number != open).then_some(number);
        let told = saver.of(&table.name);
        let lost = told.lost.range(hole).count() as i64;
        if let Some(rows) = last.checked_sub(first) {
            let sql = format!("SELECT count(*) FROM {} WHERE id BETWEEN ?1 AND ?2", table.name);
            let saved: i64 = saver.count(&sql, first, last)?;
            if saved + lost > rows {
                continue;
            }
        }
        perhaps.push((bound(first, i64::MIN), bound(last, i64::MAX)));
    }
    saver.of(&table.name).perhaps = perhaps;
    Ok(())
}

/// Keeps rows that stand on sound leaves where their trees don't expect them: if no other row has their number, and an
/// index knows of it, where there is one.
fn put_out_of_place(
    saver: &mut Saver<'_>,
    source: &mut Source<'_>,
    layout: &Layout,
    table: &Table,
    rows: Vec<Found>,
) -> Result<(), StoreError> {
    if rows.is_empty() {
        return Ok(());
    }
    let mut indexed: Option<BTreeSet<i64>> = None;
    for (tree, _) in layout.indexes.iter().enumerate().filter(|(_, index)| index.table == table.name) {
        source.entries(tree, &mut |_, row| {
            indexed.get_or_insert_default().insert(row);
            Ok(())
        })?;
    }
    for Found { row, values } in rows {
        if saver.is_there(&table.name, row)? {
            continue;
        }
        let known = indexed.as_ref().is_none_or(|indexed| indexed.contains(&row));
        match values.filter(|values| known && values.len() <= table.columns.len()) {
            Some(values) => saver.put(table, row, &values)?,
            None => saver.lost(&table.name, row, Lost::Unreadable),
        }
        if saver.is_there(&table.name, row)? {
            saver.of(&table.name).in_doubt.insert(row, "id".to_owned());
        }
    }
    Ok(())
}

/// Ranges in their order, those that touch as one.
fn merged(mut ranges: Vec<RangeInclusive<i64>>) -> Vec<RangeInclusive<i64>> {
    ranges.sort_by_key(|range| *range.start());
    let mut merged: Vec<RangeInclusive<i64>> = Vec::new();
    for range in ranges {
        match merged.last_mut() {
            Some(last) if *range.start() <= last.end().saturating_add(1) => {
                *last = *last.start()..=*last.end().max(range.end());
            }
            _ => merged.push(range),
        }
    }
    merged
}

/// What an entry of an index says of its row.
fn said_by(index: &Index, values: &[Option<Value>]) -> Option<BTreeMap<String, Value>> {
    if values.len() != index.columns.len() {
        return None;
    }
    let said = index.columns.iter().zip(values).filter_map(|(name, value)| Some((name.clone()?, value.clone()?)));
    Some(said.collect())
}

/// Rows that the journal knows of are lost if they are not there, even if every page adds up: one page of another table in the
/// place of a table's only page does, empty or not, and a table without indexes has nothing else that would tell.
fn doubt_what_adds_up(connection: &Connection, told: &mut Salvaged) -> Result<(), StoreError> {
    for (name, table) in &mut told.tables {
        // The last that was done to each was not to take it away.
        let mut statement = connection.prepare(&format!(
            "SELECT row FROM change WHERE tbl = ?1 AND inverse NOT LIKE 'INSERT%' AND NOT EXISTS \
             (SELECT 1 FROM change AS later WHERE later.tbl = change.tbl AND later.row = change.row AND later.id > change.id) \
             AND NOT EXISTS (SELECT 1 FROM {name} WHERE {name}.id = change.row)"
        ))?;
        let mut rows = statement.query([name])?;
        while let Some(row) = rows.next()? {
            table.lost.entry(row.get(0)?).or_insert(Lost::Unreadable);
        }
    }
    Ok(())
}

/// What holds between the tables of a collection beyond the schema's own references.
fn make_consistent(connection: &Connection, layout: &Layout, told: &mut Salvaged) -> Result<(), StoreError> {
    let has = |name: &str| layout.tables.iter().any(|table| table.name == name);
    if has("reading") {
        connection.execute(
            "UPDATE copy SET reading = 'read' WHERE reading <> 'read' AND id IN (SELECT id FROM reading)",
            [],
        )?;
    }
    if has("filed") {
        connection
            .execute("UPDATE copy SET filing = 'filed' WHERE filing <> 'filed' AND id IN (SELECT id FROM filed)", [])?;
        told.to_file_again = connection.execute(
            "UPDATE copy SET filing = 'unfiled' WHERE filing = 'filed' AND id NOT IN (SELECT id FROM filed)",
            [],
        )? as u64;
    }
    let lost: Vec<i64> =
        told.tables.get("copy").map(|copies| copies.lost.keys().copied().collect()).unwrap_or_default();
    if !lost.is_empty() || told.tables.get("copy").is_some_and(|copies| !copies.perhaps.is_empty()) {
        told.waiting_again = connection.execute(
            "UPDATE item SET state = CASE WHEN gtin IS NOT NULL AND certainty = 'sure' THEN 'waiting' ELSE 'incomplete' END \
             WHERE state = 'accepted' AND id NOT IN (SELECT item FROM copy WHERE item IS NOT NULL)",
            [],
        )? as u64;
    }
    Ok(())
}
