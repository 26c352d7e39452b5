//! Standing titles, expected issues, wants; and what came when.

use jiff::civil::Date;
use jiff::tz::TimeZone;
use rusqlite::{OptionalExtension, Row, params};

use super::titles::title_of;
use super::{Store, StoreError, Writer, rows};
use crate::collection::{Due, IssueId, Money, Standing, Title, TitleId, Want, Week};

const TITLE: &str = "title.id, publisher.name, title.name, title.volume, title.start_year, title.layout, \
                     title.issue_base";
const OF_ISSUE: &str = "JOIN title ON title.id = issue.title LEFT JOIN publisher ON publisher.id = title.publisher";
const ORDER: &str = "title.search_key, title.start_year, title.id";
const OWNED: &str = "EXISTS (SELECT 1 FROM printing JOIN held ON held.printing = printing.id \
                     WHERE printing.issue = issue.id)";

fn week(row: &Row<'_>, column: usize) -> rusqlite::Result<Option<Week>> {
    Ok(rows::optional_parsed(row, column)?.map(Week::of))
}

fn want_of(row: &Row<'_>, column: usize) -> rusqlite::Result<Want> {
    let minor_units: Option<i64> = row.get(column)?;
    let currency = rows::optional_parsed(row, column + 1)?;
    let up_to = minor_units.zip(currency).map(|(minor_units, currency)| Money { minor_units, currency });
    Ok(Want { up_to, note: row.get(column + 2)? })
}

impl Store {
    /// The standing titles, by name.
    ///
    /// # Errors
    /// If the file fails.
    pub fn standing(&self) -> Result<Vec<Standing>, StoreError> {
        let mut statement = self.statement(&format!(
            "SELECT {TITLE}, standing.weeks, standing.first_number, standing.first_due FROM standing \
             JOIN title ON title.id = standing.id LEFT JOIN publisher ON publisher.id = title.publisher ORDER BY {ORDER}"
        ))?;
        let found = statement.query_map([], |row| {
            Ok(Standing {
                title: title_of(row)?,
                weeks: row.get(7)?,
                first_number: row.get(8)?,
                first_due: Week::of(rows::parsed(row, 9)?),
            })
        })?;
        Ok(found.collect::<Result<_, _>>()?)
    }

    /// The single issues that are expected, by title and number, each with whether it is owned.
    ///
    /// # Errors
    /// If the file fails.
    pub fn expected(&self) -> Result<Vec<(Due, bool)>, StoreError> {
        let mut statement = self.statement(&format!(
            "SELECT {TITLE}, issue.number, expected.due, {OWNED} FROM expected JOIN issue ON issue.id = expected.id \
             {OF_ISSUE} ORDER BY {ORDER}, issue.sort_key"
        ))?;
        let found = statement.query_map([], |row| {
            let due = Due { title: title_of(row)?, issue: row.get(7)?, due: week(row, 8)?, every: None };
            Ok((due, row.get(9)?))
        })?;
        Ok(found.collect::<Result<_, _>>()?)
    }

    /// The issues that are wanted, by title and number, each with whether it is owned.
    ///
    /// # Errors
    /// If the file fails.
    pub fn wants(&self) -> Result<Vec<(Title, String, Want, bool)>, StoreError> {
        let mut statement = self.statement(&format!(
            "SELECT {TITLE}, issue.number, want.limit_minor, want.currency, want.note, {OWNED} FROM want \
             JOIN issue ON issue.id = want.id {OF_ISSUE} ORDER BY {ORDER}, issue.sort_key"
        ))?;
        let found = statement.query_map([], |row| Ok((title_of(row)?, row.get(7)?, want_of(row, 8)?, row.get(11)?)))?;
        Ok(found.collect::<Result<_, _>>()?)
    }

    /// What may be paid for an issue, if it is wanted.
    ///
    /// # Errors
    /// If the file fails.
    pub fn want(&self, issue: IssueId) -> Result<Option<Want>, StoreError> {
        let mut statement = self.statement("SELECT limit_minor, currency, note FROM want WHERE id = ?1")?;
        Ok(statement.query_row([issue], |row| want_of(row, 0)).optional()?)
    }

    /// The highest plain number of a title that came before a day (or at all), whether or not it is owned still, and when:
    /// acquired or, if nobody said, seen.
    ///
    /// # Errors
    /// If the file fails.
    pub fn newest(&self, title: TitleId, before: Option<Date>) -> Result<Option<(u32, Option<Week>)>, StoreError> {
        let mut statement = self.statement(
            "SELECT number, min(came) FROM (SELECT issue.whole_number AS number, \
             coalesce(copy.acquired, date(item.seen_at_ms / 1000, 'unixepoch')) AS came FROM issue \
             JOIN printing ON printing.issue = issue.id JOIN copy ON copy.printing = printing.id \
             LEFT JOIN item ON item.id = copy.item WHERE issue.title = ?1 AND issue.whole_number IS NOT NULL) \
             WHERE ?2 IS NULL OR came IS NULL OR came < ?2 GROUP BY number ORDER BY number DESC LIMIT 1",
        )?;
        let day = before.map(|day| day.to_string());
        Ok(statement.query_row(params![title, day], |row| Ok((row.get(0)?, week(row, 1)?))).optional()?)
    }

    /// The title and issue of every copy that came in a week, by title and number.
    ///
    /// # Errors
    /// If the file fails.
    pub fn came_in(&self, week: Week) -> Result<Vec<(Title, String)>, StoreError> {
        let (from, to) = milliseconds(week);
        let mut statement = self.statement(&format!(
            "SELECT {TITLE}, issue.number FROM copy JOIN printing ON printing.id = copy.printing \
             JOIN issue ON issue.id = printing.issue {OF_ISSUE} WHERE copy.id IN \
             (SELECT id FROM copy WHERE acquired BETWEEN ?1 AND ?2 UNION ALL \
             SELECT copy.id FROM item JOIN copy ON copy.item = item.id WHERE copy.acquired IS NULL \
             AND item.seen_at_ms >= ?3 AND item.seen_at_ms < ?4) ORDER BY {ORDER}, issue.sort_key"
        ))?;
        let days = params![week.monday().to_string(), week.sunday().to_string(), from, to];
        Ok(statement.query_map(days, |row| Ok((title_of(row)?, row.get(7)?)))?.collect::<Result<_, _>>()?)
    }
}

/// The first moment of a week, and the first behind it (UTC).
fn milliseconds(week: Week) -> (i64, i64) {
    let moment = |week: Week| TimeZone::UTC.to_timestamp(week.monday().at(0, 0, 0, 0)).map(|t| t.as_millisecond());
    (moment(week).unwrap_or(i64::MIN), moment(week.after(1)).unwrap_or(i64::MAX))
}

impl Writer<'_> {
    /// Lets every further issue of a title be expected.
    ///
    /// # Errors
    /// If the file fails.
    pub fn set_standing(&self, title: TitleId, weeks: u32, first_number: u32, first: Week) -> Result<(), StoreError> {
        self.statement(
            "INSERT INTO standing (id, weeks, first_number, first_due) VALUES (?1, ?2, ?3, ?4) ON CONFLICT (id) \
             DO UPDATE SET weeks = excluded.weeks, first_number = excluded.first_number, first_due = excluded.first_due",
        )?
        .execute(params![title, weeks, first_number, first.monday().to_string()])?;
        Ok(())
    }

    /// Lets further issues of a title no longer be expected; whether they were.
    ///
    /// # Errors
    /// If the file fails.
    pub fn remove_standing(&self, title: TitleId) -> Result<bool, StoreError> {
        Ok(self.statement("DELETE FROM standing WHERE id = ?1")?.execute([title])? > 0)
    }

    /// Lets a single issue be expected, in a week if one is known.
    ///
    /// # Errors
    /// If the file fails.
    pub fn set_expected(&self, issue: IssueId, due: Option<Week>) -> Result<(), StoreError> {
        self.statement(
            "INSERT INTO expected (id, due) VALUES (?1, ?2) ON CONFLICT (id) DO UPDATE SET due = excluded.due",
        )?
        .execute(params![issue, due.map(|due| due.monday().to_string())])?;
        Ok(())
    }

    /// Lets a single issue no longer be expected; whether it was.
    ///
    /// # Errors
    /// If the file fails.
    pub fn remove_expected(&self, issue: IssueId) -> Result<bool, StoreError> {
        Ok(self.statement("DELETE FROM expected WHERE id = ?1")?.execute([issue])? > 0)
    }

    /// Lets an issue be wanted.
    ///
    /// # Errors
    /// If the file fails.
    pub fn set_want(&self, issue: IssueId, want: &Want) -> Result<(), StoreError> {
        self.statement(
            "INSERT INTO want (id, limit_minor, currency, note) VALUES (?1, ?2, ?3, ?4) ON CONFLICT (id) \
             DO UPDATE SET limit_minor = excluded.limit_minor, currency = excluded.currency, note = excluded.note",
        )?
        .execute(params![
            issue,
            want.up_to.map(|money| money.minor_units),
            want.up_to.map(|money| money.currency.to_string()),
            want.note
        ])?;
        Ok(())
    }

    /// Lets an issue no longer be wanted; whether it was.
    ///
    /// # Errors
    /// If the file fails.
    pub fn remove_want(&self, issue: IssueId) -> Result<bool, StoreError> {
        Ok(self.statement("DELETE FROM want WHERE id = ?1")?.execute([issue])? > 0)
    }
}
