//! All copies that a plan is about, read from indexes table by table: a join would look every row up by itself, which takes
//! several times as long where the wall is large.

use std::collections::HashMap;

use super::filed::ShelfRow;
use super::{Store, StoreError, rows};
use crate::collection::{CopyId, CoverDate, SizeClass, TitleId};
use crate::filing::{BoxId, Make};

/// What is known of an issue, by places in lists and texts.
#[derive(Clone, Copy, Default)]
struct Issue {
    title: i64,
    key: (u32, u32),
}

/// A printing's issue and number, and its cover by its place in the list of all.
#[derive(Clone, Copy, Default)]
struct Printing {
    issue: i64,
    number: u32,
    cover: u32,
}

/// What is known of titles and issues beyond their names.
#[derive(Clone, Copy, Default)]
struct Facts {
    cover_date: Option<CoverDate>,
    pages: Option<u32>,
    size: Option<SizeClass>,
}

/// Values by row number: numbers are given one after another, so few places stay empty.
struct ByRow<T>(Vec<Option<T>>);

impl<T: Copy> ByRow<T> {
    fn new() -> Self {
        Self(Vec::new())
    }

    fn set(&mut self, row: i64, value: T) {
        let Ok(row) = usize::try_from(row) else { return };
        if row >= self.0.len() {
            self.0.resize((row + 1).next_power_of_two(), None);
        }
        self.0[row] = Some(value);
    }

    fn get(&self, row: i64) -> Option<T> {
        usize::try_from(row).ok().and_then(|row| self.0.get(row)).copied().flatten()
    }
}

impl Store {
    /// Gives each copy that stands in a box, is on the walk or is to be filed to `each`; unread ones are to be filed only if
    /// that is wanted.
    ///
    /// # Errors
    /// If the file fails.
    pub(super) fn shelf_scan(&self, unread_too: bool, each: &mut dyn FnMut(ShelfRow<'_>)) -> Result<(), StoreError> {
        let (issues, keys) = self.issues_scan()?;
        let (printings, covers) = self.printings_scan()?;
        let issue_facts = self.facts_scan("SELECT id, pages, size, cover_date FROM issue_fact")?;
        let title_facts = self.facts_scan("SELECT id, pages, size, NULL FROM title_fact")?;
        let years = self.pairs("SELECT id, start_year FROM title WHERE start_year IS NOT NULL")?;
        let filed = self.pairs("SELECT id, box FROM filed")?;
        let steps = self.pairs("SELECT id, box FROM walk_step")?;
        let unread = self.marks("SELECT id FROM copy WHERE reading = 'unread'")?;
        let to_file = self.marks("SELECT id FROM copy WHERE filing = 'unfiled'")?;
        let lent = self.marks("SELECT copy FROM loan WHERE returned IS NULL")?;
        let gone = self.marks("SELECT id FROM departure")?;
        let without_bag = self.marks("SELECT id FROM copy_bag WHERE bag IS NULL")?;
        let without_board = self.marks("SELECT id FROM copy_bag WHERE board IS NULL")?;
        let mut copies = self.statement("SELECT printing, id FROM copy")?;
        let mut found = copies.query([])?;
        while let Some(row) = found.next()? {
            let (printing, copy): (i64, i64) = (row.get(0)?, row.get(1)?);
            let (stands_in, goes_to) = (filed.get(copy), steps.get(copy));
            let is_unread = unread.get(copy).is_some();
            let waits = to_file.get(copy).is_some() && (unread_too || !is_unread) && lent.get(copy).is_none();
            if !(stands_in.is_some() || goes_to.is_some() || waits) || gone.get(copy).is_some() {
                continue;
            }
            let Some(of) = printings.get(printing) else { continue };
            let Some(issue) = issues.get(of.issue) else { continue };
            let own = issue_facts.get(&of.issue).copied().unwrap_or_default();
            let titles = title_facts.get(&issue.title).copied().unwrap_or_default();
            let start_year = years.get(issue.title).and_then(|year| i16::try_from(year).ok());
            each(ShelfRow {
                copy: CopyId::new(copy),
                title: TitleId::new(issue.title),
                issue_key: &keys[issue.key.0 as usize..issue.key.1 as usize],
                cover_date: own.cover_date,
                cover: &covers[of.cover as usize],
                printing: of.number,
                unread: is_unread,
                stands_in: stands_in.map(BoxId::new),
                goes_to: goes_to.map(BoxId::new),
                make: Make {
                    pages: own.pages.or(titles.pages),
                    year: own.cover_date.map(CoverDate::year).or(start_year),
                    size: own.size.or(titles.size).unwrap_or(SizeClass::Current),
                    no_bag: without_bag.get(copy).is_some(),
                    no_board: without_board.get(copy).is_some(),
                },
            });
        }
        Ok(())
    }

    fn issues_scan(&self) -> Result<(ByRow<Issue>, String), StoreError> {
        let (mut issues, mut keys) = (ByRow::new(), String::new());
        let mut statement = self.statement("SELECT title, sort_key, id FROM issue")?;
        let mut found = statement.query([])?;
        while let Some(row) = found.next()? {
            let from = keys.len() as u32;
            keys.push_str(row.get_ref(1)?.as_str().map_err(rusqlite::Error::from)?);
            issues.set(row.get(2)?, Issue { title: row.get(0)?, key: (from, keys.len() as u32) });
        }
        Ok((issues, keys))
    }

    fn printings_scan(&self) -> Result<(ByRow<Printing>, Vec<String>), StoreError> {
        let mut printings = ByRow::new();
        let (mut covers, mut known): (Vec<String>, HashMap<String, u32>) = (Vec::new(), HashMap::new());
        let mut statement = self.statement("SELECT issue, cover, number, id FROM printing")?;
        let mut found = statement.query([])?;
        while let Some(row) = found.next()? {
            let cover = row.get_ref(1)?.as_str().map_err(rusqlite::Error::from)?;
            let cover = match known.get(cover) {
                Some(&at) => at,
                None => {
                    known.insert(cover.to_owned(), covers.len() as u32);
                    covers.push(cover.to_owned());
                    covers.len() as u32 - 1
                }
            };
            printings.set(row.get(3)?, Printing { issue: row.get(0)?, number: row.get(2)?, cover });
        }
        Ok((printings, covers))
    }

    fn facts_scan(&self, sql: &str) -> Result<HashMap<i64, Facts>, StoreError> {
        let mut statement = self.statement(sql)?;
        let facts = |row: &rusqlite::Row<'_>| {
            let size = rows::optional_parsed(row, 2)?;
            Ok((row.get(0)?, Facts { pages: row.get(1)?, size, cover_date: rows::optional_parsed(row, 3)? }))
        };
        Ok(statement.query_map([], facts)?.collect::<Result<_, _>>()?)
    }

    fn pairs(&self, sql: &str) -> Result<ByRow<i64>, StoreError> {
        let mut pairs = ByRow::new();
        let mut statement = self.statement(sql)?;
        let mut found = statement.query([])?;
        while let Some(row) = found.next()? {
            pairs.set(row.get(0)?, row.get(1)?);
        }
        Ok(pairs)
    }

    fn marks(&self, sql: &str) -> Result<ByRow<()>, StoreError> {
        let mut marks = ByRow::new();
        let mut statement = self.statement(sql)?;
        let mut found = statement.query([])?;
        while let Some(row) = found.next()? {
            marks.set(row.get(0)?, ());
        }
        Ok(marks)
    }
}
