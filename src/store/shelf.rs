//! All copies that a plan is about, read from indexes table by table: a join would look every row up by itself, which takes
//! several times as long where the wall is large.

use super::by_row::ByRow;
use super::filed::ShelfRow;
use super::{Store, StoreError, rows};
use crate::collection::{CopyId, CoverDate, SizeClass, TitleId};
use crate::filing::{BoxId, Make};

/// An issue's title, its number at `from..key` of the texts and its sort key at `key..to`.
#[derive(Clone, Copy)]
struct Issue {
    title: i64,
    from: u32,
    key: u32,
    to: u32,
}

/// What is known of titles and issues beyond their names.
#[derive(Clone, Copy, Default)]
struct Facts {
    cover_date: Option<CoverDate>,
    pages: Option<u32>,
    size: Option<SizeClass>,
}

impl Store {
    /// Gives each copy that stands in a box, is on the walk or is to be filed to `each`; unread ones are to be filed only if
    /// that is wanted.
    ///
    /// # Errors
    /// If the file fails.
    pub(super) fn shelf_scan(&self, unread_too: bool, each: &mut dyn FnMut(ShelfRow<'_>)) -> Result<(), StoreError> {
        let (issues, texts) = self.issues_scan()?;
        let issue_facts = self.facts_scan("SELECT id, pages, size, cover_date FROM issue_fact")?;
        let title_facts = self.facts_scan("SELECT id, pages, size, NULL FROM title_fact")?;
        let years = self.by_row("SELECT id, start_year FROM title WHERE start_year IS NOT NULL", |row| row.get(1))?;
        let filed = self.by_row("SELECT id, box FROM filed", |row| row.get::<_, BoxId>(1))?;
        let steps = self.by_row("SELECT id, box FROM walk_step", |row| row.get::<_, BoxId>(1))?;
        let unread = self.marks("SELECT id FROM copy WHERE reading = 'unread'")?;
        let to_file = self.marks("SELECT id FROM copy WHERE filing = 'unfiled'")?;
        let lent = self.marks("SELECT copy FROM loan WHERE returned IS NULL")?;
        let gone = self.marks("SELECT id FROM departure")?;
        let without = self.by_row(
            "SELECT id, bag IS NULL, board IS NULL FROM copy_bag WHERE bag IS NULL OR board IS NULL",
            |row| Ok((row.get(1)?, row.get(2)?)),
        )?;
        // Both in the order of printings, which are walked along once.
        let mut copies = self.statement("SELECT printing, id FROM copy ORDER BY printing")?;
        let mut printings = self.statement("SELECT id, issue, cover, number FROM printing ORDER BY id")?;
        let (mut copies, mut printings) = (copies.query([])?, printings.query([])?);
        let mut of = printings.next()?;
        while let Some(row) = copies.next()? {
            let (printing, copy): (i64, i64) = (row.get(0)?, row.get(1)?);
            while let Some(before) = of
                && before.get::<_, i64>(0)? < printing
            {
                of = printings.next()?;
            }
            let Some(of) = of else { break };
            if of.get::<_, i64>(0)? != printing {
                continue;
            }
            let (stands_in, goes_to) = (filed.get(copy), steps.get(copy));
            let is_unread = unread.get(copy).is_some();
            let waits = to_file.get(copy).is_some() && (unread_too || !is_unread) && lent.get(copy).is_none();
            if !(stands_in.is_some() || goes_to.is_some() || waits) || gone.get(copy).is_some() {
                continue;
            }
            let of_issue = of.get(1)?;
            let Some(issue) = issues.get(of_issue) else { continue };
            let own = issue_facts.get(of_issue).unwrap_or_default();
            let titles = title_facts.get(issue.title).unwrap_or_default();
            let (no_bag, no_board) = without.get(copy).unwrap_or_default();
            each(ShelfRow {
                copy: CopyId::new(copy),
                title: TitleId::new(issue.title),
                issue: &texts[issue.from as usize..issue.key as usize],
                issue_key: &texts[issue.key as usize..issue.to as usize],
                cover_date: own.cover_date,
                cover: of.get_ref(2)?.as_str().map_err(rusqlite::Error::from)?,
                printing: of.get(3)?,
                unread: is_unread,
                stands_in,
                goes_to,
                make: Make {
                    pages: own.pages.or(titles.pages),
                    year: own.cover_date.map(CoverDate::year).or(years.get(issue.title)),
                    size: own.size.or(titles.size).unwrap_or(SizeClass::Current),
                    no_bag,
                    no_board,
                },
            });
        }
        Ok(())
    }

    fn issues_scan(&self) -> Result<(ByRow<Issue>, String), StoreError> {
        let mut texts = String::new();
        let issues = self.by_row("SELECT id, title, number, sort_key FROM issue", |row| {
            let from = texts.len() as u32;
            texts.push_str(row.get_ref(2)?.as_str()?);
            let key = texts.len() as u32;
            texts.push_str(row.get_ref(3)?.as_str()?);
            Ok(Issue { title: row.get(1)?, from, key, to: texts.len() as u32 })
        })?;
        Ok((issues, texts))
    }

    fn facts_scan(&self, sql: &str) -> Result<ByRow<Facts>, StoreError> {
        self.by_row(sql, |row| {
            let size = rows::optional_parsed(row, 2)?;
            Ok(Facts { pages: row.get(1)?, size, cover_date: rows::optional_parsed(row, 3)? })
        })
    }

    /// What a statement gives, by the row numbers in its first column.
    fn by_row<T: Copy>(
        &self,
        sql: &str,
        mut value: impl FnMut(&rusqlite::Row<'_>) -> rusqlite::Result<T>,
    ) -> Result<ByRow<T>, StoreError> {
        let mut by_row = ByRow::new();
        let mut statement = self.statement(sql)?;
        let mut found = statement.query([])?;
        while let Some(row) = found.next()? {
            by_row.set(row.get(0)?, value(row)?);
        }
        Ok(by_row)
    }

    fn marks(&self, sql: &str) -> Result<ByRow<()>, StoreError> {
        self.by_row(sql, |_| Ok(()))
    }
}
