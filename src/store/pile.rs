//! Unread copies, and when copies came and were read.

use jiff::civil::Date;
use jiff::tz::TimeZone;
use rusqlite::{OptionalExtension, Row, params};

use super::titles::title_of;
use super::{Store, StoreError, Writer, rows};
use crate::collection::{CopyId, IssueNumber, Money, TitleId, Unread};

const COPY: &str = "SELECT title.id, publisher.name, title.name, title.volume, title.start_year, title.layout, \
                    title.issue_base, copy.id, issue.number, printing.cover, printing.number, \
                    coalesce(copy.acquired, date(item.seen_at_ms / 1000, 'unixepoch')) FROM held AS copy \
                    JOIN printing ON printing.id = copy.printing JOIN issue ON issue.id = printing.issue \
                    JOIN title ON title.id = issue.title LEFT JOIN publisher ON publisher.id = title.publisher \
                    LEFT JOIN item ON item.id = copy.item";
const ORDER: &str = "ORDER BY title.search_key, title.start_year, title.id, issue.sort_key, printing.cover, \
                     printing.number, copy.id";

/// Which copies of a title.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct PartOfTitle {
    /// From this issue to that one; `None` for all.
    pub issues: Option<(IssueNumber, IssueNumber)>,
    /// Only this cover.
    pub cover: Option<String>,
    /// Only this printing.
    pub printing: Option<u32>,
}

fn unread_of(row: &Row<'_>) -> rusqlite::Result<Unread> {
    Ok(Unread {
        copy: row.get(7)?,
        title: title_of(row)?,
        issue: row.get(8)?,
        cover: row.get(9)?,
        printing: row.get(10)?,
        came: rows::optional_parsed(row, 11)?,
    })
}

impl Store {
    /// Unread copies in reading order: by title, then by issue, those that came first before others; `limit` of them behind
    /// the first `skip`.
    ///
    /// # Errors
    /// If the file fails.
    pub fn unread(&self, skip: u32, limit: u32) -> Result<Vec<Unread>, StoreError> {
        let mut statement =
            self.statement(&format!("{COPY} WHERE copy.reading = 'unread' {ORDER} LIMIT ?2 OFFSET ?1"))?;
        Ok(statement.query_map([skip, limit], unread_of)?.collect::<Result<_, _>>()?)
    }

    /// Unread copies of a title, in reading order.
    ///
    /// # Errors
    /// If the file fails.
    pub fn unread_of_title(&self, title: TitleId, filter: &PartOfTitle) -> Result<Vec<Unread>, StoreError> {
        let (from, to) = filter.issues.as_ref().map(|(from, to)| (from.sort_key(), to.sort_key())).unzip();
        let mut statement = self.statement(&format!(
            "{COPY} WHERE copy.reading = 'unread' AND title.id = ?1 AND (?2 IS NULL OR issue.sort_key >= ?2) \
             AND (?3 IS NULL OR issue.sort_key <= ?3) AND (?4 IS NULL OR printing.cover = ?4) \
             AND (?5 IS NULL OR printing.number = ?5) {ORDER}"
        ))?;
        let found = statement.query_map(params![title, from, to, filter.cover, filter.printing], unread_of)?;
        Ok(found.collect::<Result<_, _>>()?)
    }

    /// An unread copy.
    ///
    /// # Errors
    /// If there is no such copy, it is read already, or the file fails.
    pub fn unread_copy(&self, copy: CopyId) -> Result<Unread, StoreError> {
        let unread = self
            .statement(&format!("{COPY} WHERE copy.id = ?1 AND copy.reading = 'unread'"))?
            .query_row([copy], unread_of)
            .optional()?;
        let Some(unread) = unread else {
            let left = self.copy_record(copy)?.gone.is_some();
            return Err(if left { StoreError::LeftAlready(copy) } else { StoreError::ReadAlready(copy) });
        };
        Ok(unread)
    }

    /// How many copies are unread, and how many of them have no price.
    ///
    /// # Errors
    /// If the file fails.
    pub fn unread_count(&self) -> Result<(u32, u32), StoreError> {
        let mut statement =
            self.statement("SELECT count(*), count(*) - count(paid_minor) FROM held WHERE reading = 'unread'")?;
        Ok(statement.query_row([], |row| Ok((row.get(0)?, row.get(1)?)))?)
    }

    /// What the unread copies cost, one sum a currency.
    ///
    /// # Errors
    /// If the file fails.
    pub fn unread_paid(&self) -> Result<Vec<Money>, StoreError> {
        let mut statement = self.statement(
            "SELECT sum(paid_minor), currency FROM held WHERE reading = 'unread' AND currency IS NOT NULL \
             GROUP BY currency ORDER BY currency",
        )?;
        let found =
            statement.query_map([], |row| Ok(Money { minor_units: row.get(0)?, currency: rows::parsed(row, 1)? }))?;
        Ok(found.collect::<Result<_, _>>()?)
    }

    /// How many copies were read after one day, up to another.
    ///
    /// # Errors
    /// If the file fails.
    pub fn read_within(&self, after: Date, until: Date) -> Result<u32, StoreError> {
        let mut statement = self.statement("SELECT count(*) FROM reading WHERE read_on > ?1 AND read_on <= ?2")?;
        Ok(statement.query_row([after.to_string(), until.to_string()], rows::first)?)
    }

    /// How many copies came after one day, up to another: acquired or, if nobody said when, seen (by UTC's days). What left
    /// unread came for no pile.
    ///
    /// # Errors
    /// If the file fails.
    pub fn came_within(&self, after: Date, until: Date) -> Result<u32, StoreError> {
        // The first moment behind a day; behind the calendar's last, none.
        let end = |day: Date| {
            let next = day.tomorrow().and_then(|next| TimeZone::UTC.to_timestamp(next.at(0, 0, 0, 0)));
            next.map_or(i64::MAX, |next| next.as_millisecond())
        };
        let mut statement = self.statement(
            "SELECT (SELECT count(*) FROM copy WHERE acquired > ?1 AND acquired <= ?2) + \
             (SELECT count(*) FROM item JOIN copy ON copy.item = item.id WHERE copy.acquired IS NULL \
             AND item.seen_at_ms >= ?3 AND item.seen_at_ms < ?4) - \
             (SELECT count(*) FROM departure JOIN copy ON copy.id = departure.id LEFT JOIN item ON item.id = copy.item \
             WHERE copy.reading = 'unread' AND CASE WHEN copy.acquired IS NULL \
             THEN item.seen_at_ms >= ?3 AND item.seen_at_ms < ?4 \
             ELSE copy.acquired > ?1 AND copy.acquired <= ?2 END)",
        )?;
        let days = params![after.to_string(), until.to_string(), end(after), end(until)];
        Ok(statement.query_row(days, rows::first)?)
    }
}

impl Writer<'_> {
    /// Takes a copy off the pile.
    ///
    /// # Errors
    /// If there is no such copy, it is read already, or the file fails.
    pub fn set_read(&self, copy: CopyId, on: Date) -> Result<(), StoreError> {
        self.unread_copy(copy)?;
        self.statement("UPDATE copy SET reading = 'read' WHERE id = ?1")?.execute([copy])?;
        self.statement("INSERT INTO reading (id, read_on) VALUES (?1, ?2)")?.execute(params![copy, on.to_string()])?;
        Ok(())
    }
}
