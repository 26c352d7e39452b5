//! Issues, printings and copies.

use rusqlite::{OptionalExtension, params};

use super::{Store, StoreError, Writer, rows};
use crate::code::{AddOn, Gtin};
use crate::collection::{Copy, CopyId, IssueId, IssueNumber, Owned, PrintingId, Title, TitleId};

/// A printing to find or keep.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewPrinting {
    /// Its title.
    pub title: TitleId,
    /// Its issue's number; empty for a whole book.
    pub issue: String,
    /// Its cover.
    pub cover: String,
    /// Its printing, from 1.
    pub printing: u32,
    /// Its main code, if known.
    pub code: Option<Gtin>,
    /// Its add-on, if it has one.
    pub add_on: Option<AddOn>,
}

impl Store {
    /// The highest plain number among a title's issues that are or were owned.
    ///
    /// # Errors
    /// If the file fails.
    pub fn highest_number(&self, title: TitleId) -> Result<Option<u32>, StoreError> {
        let mut statement = self.statement(
            "SELECT whole_number FROM issue WHERE title = ?1 AND whole_number IS NOT NULL AND EXISTS \
             (SELECT 1 FROM printing JOIN copy ON copy.printing = printing.id WHERE printing.issue = issue.id) \
             ORDER BY whole_number DESC LIMIT 1",
        )?;
        Ok(statement.query_row([title], rows::first).optional()?)
    }

    /// What is owned of an issue: its printings with at least one copy.
    ///
    /// # Errors
    /// If the file fails.
    pub fn owned(&self, title: TitleId, issue: &str) -> Result<Vec<Owned>, StoreError> {
        let mut statement = self.statement(
            "SELECT printing.cover, printing.number, printing.gtin, printing.add_on, count(copy.id) FROM issue \
             JOIN printing ON printing.issue = issue.id JOIN held AS copy ON copy.printing = printing.id \
             WHERE issue.title = ?1 AND issue.sort_key = ?2 GROUP BY printing.id \
             ORDER BY printing.cover, printing.number, printing.id",
        )?;
        let found = statement.query_map(params![title, IssueNumber::new(issue).sort_key()], |row| {
            Ok(Owned {
                cover: row.get(0)?,
                printing: row.get(1)?,
                code: rows::gtin(row, 2)?,
                add_on: rows::optional_parsed(row, 3)?,
                copies: row.get(4)?,
            })
        })?;
        Ok(found.collect::<Result<_, _>>()?)
    }

    /// What is owned of issues: their printings with at least one copy, in order, each with its issue.
    ///
    /// # Errors
    /// If the file fails.
    pub fn owned_of_issues(&self, issues: &[IssueId]) -> Result<Vec<(IssueId, Owned)>, StoreError> {
        let mut statement = self.statement(
            "SELECT asked.value, printing.cover, printing.number, printing.gtin, printing.add_on, count(copy.id) \
             FROM json_each(?1) AS asked CROSS JOIN printing ON printing.issue = asked.value \
             JOIN held AS copy ON copy.printing = printing.id GROUP BY printing.id \
             ORDER BY printing.cover, printing.number, printing.id",
        )?;
        let found = statement.query_map([rows::array(issues.iter().map(|issue| issue.number()))], |row| {
            let owned = Owned {
                cover: row.get(1)?,
                printing: row.get(2)?,
                code: rows::gtin(row, 3)?,
                add_on: rows::optional_parsed(row, 4)?,
                copies: row.get(5)?,
            };
            Ok((row.get(0)?, owned))
        })?;
        Ok(found.collect::<Result<_, _>>()?)
    }

    /// The issues of this number that are known of these titles.
    ///
    /// # Errors
    /// If the file fails.
    pub fn issues_numbered(
        &self,
        titles: &[TitleId],
        number: &IssueNumber,
    ) -> Result<Vec<(TitleId, IssueId)>, StoreError> {
        let mut statement = self.statement(
            "SELECT issue.title, issue.id FROM json_each(?1) AS asked \
             CROSS JOIN issue ON issue.title = asked.value AND issue.sort_key = ?2",
        )?;
        let titles = rows::array(titles.iter().map(|title| title.number()));
        let found = statement.query_map(params![titles, number.sort_key()], |row| Ok((row.get(0)?, row.get(1)?)))?;
        Ok(found.collect::<Result<_, _>>()?)
    }

    /// Those of these titles of which anything is owned.
    ///
    /// # Errors
    /// If the file fails.
    pub fn titles_owned(&self, titles: &[TitleId]) -> Result<Vec<TitleId>, StoreError> {
        let mut statement = self.statement(
            "SELECT asked.value FROM json_each(?1) AS asked WHERE EXISTS (SELECT 1 FROM issue \
             JOIN printing ON printing.issue = issue.id JOIN held AS copy ON copy.printing = printing.id \
             WHERE issue.title = asked.value)",
        )?;
        let found = statement.query_map([rows::array(titles.iter().map(|title| title.number()))], rows::first)?;
        Ok(found.collect::<Result<_, _>>()?)
    }

    /// How many issues and copies of a title are owned.
    ///
    /// # Errors
    /// If the file fails.
    pub fn owned_of_title(&self, title: TitleId) -> Result<(u32, u32), StoreError> {
        let mut statement = self.statement(
            "SELECT ifnull(sum(copies > 0), 0), ifnull(sum(copies), 0) FROM (SELECT (SELECT count(*) FROM printing \
             JOIN held AS copy ON copy.printing = printing.id WHERE printing.issue = issue.id) AS copies \
             FROM issue WHERE issue.title = ?1)",
        )?;
        Ok(statement.query_row([title], |row| Ok((row.get(0)?, row.get(1)?)))?)
    }

    /// The plain numbers of a title's issues that are owned, lowest first.
    ///
    /// # Errors
    /// If the file fails.
    pub fn owned_numbers(&self, title: TitleId) -> Result<Vec<u32>, StoreError> {
        let mut statement = self.statement(
            "SELECT whole_number FROM issue WHERE title = ?1 AND whole_number IS NOT NULL AND EXISTS \
             (SELECT 1 FROM printing JOIN held AS copy ON copy.printing = printing.id WHERE printing.issue = issue.id) \
             ORDER BY whole_number",
        )?;
        Ok(statement.query_map([title], rows::first)?.collect::<Result<_, _>>()?)
    }

    /// A title's issues that are owned, in order: each with its number, its plain number if it has one, and its copies.
    ///
    /// # Errors
    /// If the file fails.
    pub fn owned_issues(&self, title: TitleId) -> Result<Vec<(String, Option<u32>, u32)>, StoreError> {
        let mut statement = self.statement(
            "SELECT issue.number, issue.whole_number, count(*) FROM issue JOIN printing ON printing.issue = issue.id \
             JOIN held AS copy ON copy.printing = printing.id WHERE issue.title = ?1 GROUP BY issue.id ORDER BY issue.sort_key",
        )?;
        let found = statement.query_map([title], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))?;
        Ok(found.collect::<Result<_, _>>()?)
    }

    /// The title and issue that a code by itself stands for, as an ISBN does.
    ///
    /// # Errors
    /// If the file fails.
    pub fn book(&self, gtin: Gtin) -> Result<Option<(Title, String)>, StoreError> {
        let found: Option<(TitleId, String)> = self
            .statement(
                "SELECT issue.title, issue.number FROM printing JOIN issue ON issue.id = printing.issue \
                 WHERE printing.gtin = ?1 ORDER BY printing.id LIMIT 1",
            )?
            .query_row([rows::number(gtin)], |row| Ok((row.get(0)?, row.get(1)?)))
            .optional()?;
        found.map(|(title, issue)| Ok((self.title(title)?, issue))).transpose()
    }

    /// The issues that printings with this very code and add-on belong to.
    ///
    /// # Errors
    /// If the file fails.
    pub fn issues_of_code(&self, gtin: Gtin, add_on: AddOn) -> Result<Vec<(TitleId, String, String, u32)>, StoreError> {
        let mut statement = self.statement(
            "SELECT issue.title, issue.number, printing.cover, printing.number FROM printing \
             JOIN issue ON issue.id = printing.issue \
             WHERE printing.gtin = ?1 AND printing.add_on = ?2 ORDER BY printing.id LIMIT 20",
        )?;
        let found = statement.query_map(params![rows::number(gtin), add_on.to_string()], |row| {
            Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?))
        })?;
        Ok(found.collect::<Result<_, _>>()?)
    }
}

impl Writer<'_> {
    /// Finds a printing, or keeps it and its issue.
    ///
    /// # Errors
    /// If the file fails.
    pub fn printing(&self, new: &NewPrinting) -> Result<PrintingId, StoreError> {
        let issue = self.issue(new.title, &new.issue)?;
        let gtin = new.code.map(rows::number);
        let add_on = new.add_on.map(|a| a.to_string());
        let known = self
            .statement(
                "SELECT id FROM printing WHERE issue = ?1 AND cover = ?2 AND number = ?3 \
                 AND ifnull(gtin, 0) = ifnull(?4, 0) AND ifnull(add_on, '') = ifnull(?5, '')",
            )?
            .query_row(params![issue, new.cover, new.printing, gtin, add_on], rows::first)
            .optional()?;
        if let Some(id) = known {
            return Ok(id);
        }
        self.statement("INSERT INTO printing (issue, cover, number, gtin, add_on) VALUES (?1, ?2, ?3, ?4, ?5)")?
            .execute(params![issue, new.cover, new.printing, gtin, add_on])?;
        Ok(PrintingId::new(self.connection.last_insert_rowid()))
    }

    /// Finds a printing whatever its code, unless both codes are known and differ; or keeps it and its issue.
    ///
    /// # Errors
    /// If the file fails.
    pub fn printing_like(&self, new: &NewPrinting) -> Result<PrintingId, StoreError> {
        let issue = self.issue(new.title, &new.issue)?;
        let add_on = new.add_on.map(|a| a.to_string());
        let known = self
            .statement(
                "SELECT id FROM printing WHERE issue = ?1 AND cover = ?2 AND number = ?3 \
                 AND (?4 IS NULL OR (gtin = ?4 AND add_on IS ?5)) ORDER BY id LIMIT 1",
            )?
            .query_row(params![issue, new.cover, new.printing, new.code.map(rows::number), add_on], rows::first)
            .optional()?;
        known.map_or_else(|| self.printing(new), Ok)
    }

    /// Finds an issue, or keeps it.
    ///
    /// # Errors
    /// If the file fails.
    pub fn issue(&self, title: TitleId, number: &str) -> Result<IssueId, StoreError> {
        let number = IssueNumber::new(number);
        if let Some(id) = self.issue_id(title, &number)? {
            return Ok(id);
        }
        self.statement("INSERT INTO issue (title, number, sort_key, whole_number) VALUES (?1, ?2, ?3, ?4)")?
            .execute(params![title, number.as_str(), number.sort_key(), number.whole()])?;
        Ok(IssueId::new(self.connection.last_insert_rowid()))
    }

    /// Keeps a copy, unread and unfiled.
    ///
    /// # Errors
    /// If the file fails.
    pub fn insert_copy(&self, copy: &Copy) -> Result<CopyId, StoreError> {
        self.statement(
            "INSERT INTO copy (printing, acquired, shop, paid_minor, currency, item) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
        )?
        .execute(params![
            copy.printing,
            copy.acquired.map(|date| date.to_string()),
            copy.shop,
            copy.paid.map(|paid| paid.minor_units),
            copy.paid.map(|paid| paid.currency.to_string()),
            copy.item
        ])?;
        Ok(CopyId::new(self.connection.last_insert_rowid()))
    }
}
