//! All copies that a plan is about, read from indexes table by table: a join would look every row up by itself, which takes
//! several times as long where the wall is large and its copies came in no order. Of each row only what orders and sizes
//! copies is read; what they are called is asked for those that are named ([`Store::issue_of_copy`]).

use std::sync::mpsc;
use std::thread;

use super::by_row::ByRow;
use super::filed::ShelfRow;
use super::{Store, StoreError, rows};
use crate::collection::{CopyId, CoverDate, SizeClass, TitleId};
use crate::filing::{BoxId, Make};

/// Every copy with its issue, printing after printing. Both are walked along in the order of printings, where a lookup is a step
/// to the next row.
const COPIES: &str = "SELECT copy.printing, copy.id, printing.issue FROM copy INDEXED BY copy_printing \
    CROSS JOIN printing ON printing.id = copy.printing ORDER BY copy.printing";

/// The printings that are not the first of cover 1.
const OTHERS: &str = "SELECT id, cover, number FROM printing INDEXED BY printing_other \
    WHERE cover <> '1' OR number <> 1 ORDER BY id";

/// The issues whose sort key says more than their whole number.
const NAMED: &str = "SELECT id, title, sort_key FROM issue INDEXED BY issue_named \
    WHERE whole_number IS NULL OR sort_key <> printf('%08d', whole_number)";

/// An issue's title and sort key.
#[derive(Clone, Copy)]
struct Issue {
    title: i64,
    key: IssueKey,
}

#[derive(Clone, Copy)]
enum IssueKey {
    /// That of a whole number.
    Whole(i64),
    /// It stands at `from..to` of the texts.
    Text { from: u32, to: u32 },
}

/// How many copies go from one thread to the other at once: so many that handing over costs nothing.
const BATCH: usize = 4096;

/// Copies as they were read.
#[derive(Default)]
struct Batch {
    /// A copy, its issue and, if its printing is another than the first of cover 1, its place among `others`.
    copies: Vec<(i64, i64, Option<u32>)>,
    /// Where covers stand in `covers`, and printings.
    others: Vec<(usize, usize, u32)>,
    covers: String,
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
    pub(super) fn shelf_scan(
        &self,
        unread_too: bool,
        each: &mut (dyn FnMut(ShelfRow<'_>) + Send),
    ) -> Result<(), StoreError> {
        let (issues, texts) = self.issues_scan()?;
        let mut whole = String::new();
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
            "SELECT id, bag IS NULL, board IS NULL FROM copy_bag INDEXED BY copy_bag_without \
             WHERE bag IS NULL OR board IS NULL",
            |row| Ok((row.get(1)?, row.get(2)?)),
        )?;
        self.each_copy_with_issue(&mut |copy, of_issue, cover, printing| {
            let (stands_in, goes_to) = (filed.get(copy), steps.get(copy));
            let is_unread = unread.get(copy).is_some();
            let waits = to_file.get(copy).is_some() && (unread_too || !is_unread) && lent.get(copy).is_none();
            if !(stands_in.is_some() || goes_to.is_some() || waits) || gone.get(copy).is_some() {
                return;
            }
            let Some(issue) = issues.get(of_issue) else { return };
            let own = issue_facts.get(of_issue).unwrap_or_default();
            let titles = title_facts.get(issue.title).unwrap_or_default();
            let (no_bag, no_board) = without.get(copy).unwrap_or_default();
            each(ShelfRow {
                copy: CopyId::new(copy),
                title: TitleId::new(issue.title),
                issue_key: match issue.key {
                    IssueKey::Whole(number) => whole_key(&mut whole, number),
                    IssueKey::Text { from, to } => &texts[from as usize..to as usize],
                },
                cover_date: own.cover_date,
                cover,
                printing,
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
        })
    }

    /// Gives every copy's issue, cover and printing to `each`, as [`Store::issue_of_copy`] does for one.
    ///
    /// # Errors
    /// If the file fails.
    pub fn issues_of_copies(&self, mut each: impl FnMut(CopyId, &str, &str, u32) + Send) -> Result<(), StoreError> {
        let mut texts = String::new();
        let numbers = self.by_row("SELECT id, number FROM issue", |row| text_of(row, 1, &mut texts))?;
        self.each_copy_with_issue(&mut |copy, issue, cover, printing| {
            if let Some((from, to)) = numbers.get(issue) {
                each(CopyId::new(copy), &texts[from as usize..to as usize], cover, printing);
            }
        })
    }

    /// Gives each copy's number, that of its issue, its cover and its printing to `each`, which runs on a thread of its own: it
    /// has as much to do with a row as it takes to read the next.
    fn each_copy_with_issue(&self, each: &mut (dyn FnMut(i64, i64, &str, u32) + Send)) -> Result<(), StoreError> {
        let (mut copies, mut others) = (self.statement(COPIES)?, self.statement(OTHERS)?);
        let (mut copies, mut others) = (copies.query([])?, others.query([])?);
        thread::scope(|scope| {
            let mut other = others.next()?;
            let (filled, read) = mpsc::sync_channel::<Batch>(4);
            scope.spawn(move || read.into_iter().for_each(|batch| batch.give(each)));
            let mut batch = Batch::default();
            while let Some(row) = copies.next()? {
                let (printing, copy, issue): (i64, i64, i64) = (row.get(0)?, row.get(1)?, row.get(2)?);
                while let Some(of) = other
                    && of.get::<_, i64>(0)? < printing
                {
                    other = others.next()?;
                }
                let of = match other {
                    Some(of) if of.get::<_, i64>(0)? == printing => Some(batch.other(of)?),
                    _ => None,
                };
                batch.copies.push((copy, issue, of));
                // A reader that ended has panicked, and that goes on from here.
                if batch.copies.len() == BATCH && filled.send(std::mem::take(&mut batch)).is_err() {
                    break;
                }
            }
            let _ = filled.send(batch);
            Ok(())
        })
    }

    fn issues_scan(&self) -> Result<(ByRow<Issue>, String), StoreError> {
        // In the order of an index that holds all that is asked. What has no whole number gets its key below.
        let mut issues = self.by_row(
            "SELECT id, title, whole_number FROM issue INDEXED BY issue_whole_number ORDER BY title, whole_number",
            |row| {
                let number: Option<i64> = row.get(2)?;
                Ok(Issue { title: row.get(1)?, key: IssueKey::Whole(number.unwrap_or_default()) })
            },
        )?;
        let mut texts = String::new();
        let mut statement = self.statement(NAMED)?;
        let mut named = statement.query([])?;
        while let Some(row) = named.next()? {
            let (from, to) = text_of(row, 2, &mut texts)?;
            issues.set(row.get(0)?, Issue { title: row.get(1)?, key: IssueKey::Text { from, to } });
        }
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

impl Batch {
    /// Notes a cover and a printing from a row of [`OTHERS`].
    fn other(&mut self, row: &rusqlite::Row<'_>) -> rusqlite::Result<u32> {
        let from = self.covers.len();
        self.covers.push_str(row.get_ref(1)?.as_str()?);
        self.others.push((from, self.covers.len(), row.get(2)?));
        Ok(self.others.len() as u32 - 1)
    }

    fn give(&self, each: &mut (dyn FnMut(i64, i64, &str, u32) + Send)) {
        for &(copy, issue, other) in &self.copies {
            match other.map(|other| self.others[other as usize]) {
                None => each(copy, issue, "1", 1),
                Some((from, to, printing)) => each(copy, issue, &self.covers[from..to], printing),
            }
        }
    }
}

/// Puts a column's text behind the others; gives where it stands.
fn text_of(row: &rusqlite::Row<'_>, column: usize, texts: &mut String) -> rusqlite::Result<(u32, u32)> {
    let from = texts.len() as u32;
    texts.push_str(row.get_ref(column)?.as_str()?);
    Ok((from, texts.len() as u32))
}

/// The sort key of a whole number, as `issue_named` has it: eight digits at least.
fn whole_key(key: &mut String, number: i64) -> &str {
    key.clear();
    let mut place = 10_000_000;
    if (0..10 * place).contains(&number) {
        while place > 0 {
            key.push(char::from(b'0' + (number / place % 10) as u8));
            place /= 10;
        }
    } else {
        key.push_str(&format!("{number:08}"));
    }
    key
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::collection::IssueNumber;

    #[test]
    fn a_whole_numbers_key_is_the_one_that_issues_have() {
        for number in [0, 1, 9, 10, 77, 999, 12_345_678, 99_999_999, 100_000_000, i64::from(u32::MAX)] {
            assert_eq!(whole_key(&mut "left".to_owned(), number), IssueNumber::new(&number.to_string()).sort_key());
        }
    }
}
