//! What the catalogue knows of titles, issues and printings, owned or not.

use jiff::civil::Date;
use rusqlite::{OptionalExtension, Row, params};

use super::{Store, StoreError, Writer, rows};
use crate::code::Gtin;
use crate::collection::{
    IssueFacts, IssueId, IssueNumber, KnownIssue, KnownPrinting, PrintingFacts, PrintingId, Title, TitleFacts, TitleId,
};

fn title_facts_of(row: &Row<'_>) -> rusqlite::Result<TitleFacts> {
    Ok(TitleFacts { family: row.get(0)?, size: rows::optional_parsed(row, 1)?, pages: row.get(2)? })
}

/// From five columns, the first at `column`.
fn issue_facts_of(row: &Row<'_>, column: usize) -> rusqlite::Result<IssueFacts> {
    Ok(IssueFacts {
        cover_date: rows::optional_parsed(row, column)?,
        pages: row.get(column + 1)?,
        size: rows::optional_parsed(row, column + 2)?,
        family: row.get(column + 3)?,
        key: row.get(column + 4)?,
    })
}

/// From three columns, the first at `column`.
fn printing_facts_of(row: &Row<'_>, column: usize) -> rusqlite::Result<PrintingFacts> {
    Ok(PrintingFacts {
        on_sale: rows::optional_parsed(row, column)?,
        cover_price: rows::optional_money(row, column + 1)?,
    })
}

impl Store {
    /// What is known of a title.
    ///
    /// # Errors
    /// If the file fails.
    pub fn title_facts(&self, title: TitleId) -> Result<TitleFacts, StoreError> {
        let mut statement = self.statement("SELECT family, size, pages FROM title_fact WHERE id = ?1")?;
        Ok(statement.query_row([title], title_facts_of).optional()?.unwrap_or_default())
    }

    /// An issue's number in the collection, if it is known, owned or not.
    ///
    /// # Errors
    /// If the file fails.
    pub fn issue_id(&self, title: TitleId, number: &IssueNumber) -> Result<Option<IssueId>, StoreError> {
        let mut statement = self.statement("SELECT id FROM issue WHERE title = ?1 AND sort_key = ?2")?;
        Ok(statement.query_row(params![title, number.sort_key()], rows::first).optional()?)
    }

    /// What is known of an issue itself.
    ///
    /// # Errors
    /// If the file fails.
    pub fn issue_facts(&self, issue: IssueId) -> Result<IssueFacts, StoreError> {
        let mut statement =
            self.statement("SELECT cover_date, pages, size, family, key_note FROM issue_fact WHERE id = ?1")?;
        Ok(statement.query_row([issue], |row| issue_facts_of(row, 0)).optional()?.unwrap_or_default())
    }

    /// What is known of a printing.
    ///
    /// # Errors
    /// If the file fails.
    pub fn printing_facts(&self, printing: PrintingId) -> Result<PrintingFacts, StoreError> {
        let mut statement = self.statement("SELECT on_sale, cover_minor, currency FROM printing_fact WHERE id = ?1")?;
        Ok(statement.query_row([printing], |row| printing_facts_of(row, 0)).optional()?.unwrap_or_default())
    }

    /// The issues of a title that are known, in order; one of them alone if a number is given.
    ///
    /// # Errors
    /// If the file fails.
    pub fn known_issues(&self, title: &Title, number: Option<&IssueNumber>) -> Result<Vec<KnownIssue>, StoreError> {
        let of_title = self.title_facts(title.id)?;
        let key = number.map(IssueNumber::sort_key);
        let mut issues = self.statement(
            "SELECT issue.id, issue.number, f.cover_date, f.pages, f.size, f.family, f.key_note FROM issue \
             LEFT JOIN issue_fact f ON f.id = issue.id \
             WHERE issue.title = ?1 AND (?2 IS NULL OR issue.sort_key = ?2) ORDER BY issue.sort_key",
        )?;
        let mut printings = self.statement(
            "SELECT printing.cover, printing.number, printing.gtin, printing.add_on, f.on_sale, f.cover_minor, \
             f.currency, (SELECT count(*) FROM held WHERE held.printing = printing.id) FROM printing \
             LEFT JOIN printing_fact f ON f.id = printing.id WHERE printing.issue = ?1 \
             ORDER BY printing.cover, printing.number, printing.id",
        )?;
        let mut rows = issues.query(params![title.id, key])?;
        let mut known = Vec::new();
        while let Some(row) = rows.next()? {
            let printings = printings.query_map([row.get::<_, IssueId>(0)?], known_printing)?;
            known.push(KnownIssue {
                title: title.clone(),
                issue: row.get(1)?,
                facts: issue_facts_of(row, 2)?.or_of_title(&of_title),
                printings: printings.collect::<Result<_, _>>()?,
            });
        }
        Ok(known)
    }

    /// Since when codes stand for a title, where that is known.
    ///
    /// # Errors
    /// If the file fails.
    pub fn code_dates(&self, title: TitleId) -> Result<Vec<(Gtin, Date)>, StoreError> {
        let mut statement = self.statement(
            "SELECT title_code.gtin, code_since.since FROM title_code JOIN code_since ON code_since.id = title_code.id \
             WHERE title_code.title = ?1 ORDER BY code_since.since, title_code.gtin",
        )?;
        let found = statement.query_map([title], |row| Ok((rows::gtin(row, 0)?, rows::parsed(row, 1)?)))?;
        let found: Vec<(Option<Gtin>, Date)> = found.collect::<Result<_, _>>()?;
        Ok(found.into_iter().filter_map(|(code, since)| Some((code?, since))).collect())
    }
}

fn known_printing(row: &Row<'_>) -> rusqlite::Result<KnownPrinting> {
    Ok(KnownPrinting {
        cover: row.get(0)?,
        printing: row.get(1)?,
        code: rows::gtin(row, 2)?,
        add_on: rows::optional_parsed(row, 3)?,
        facts: printing_facts_of(row, 4)?,
        copies: row.get(7)?,
    })
}

impl Writer<'_> {
    /// Keeps what is known of a title.
    ///
    /// # Errors
    /// If the file fails.
    pub fn set_title_facts(&self, title: TitleId, facts: &TitleFacts) -> Result<(), StoreError> {
        if self.title_facts(title)? == *facts {
            return Ok(());
        }
        self.statement(
            "INSERT INTO title_fact (id, family, size, pages) VALUES (?1, ?2, ?3, ?4) ON CONFLICT (id) DO UPDATE SET \
             family = excluded.family, size = excluded.size, pages = excluded.pages",
        )?
        .execute(params![title, facts.family, facts.size.map(|size| size.word()), facts.pages])?;
        Ok(())
    }

    /// Keeps what is known of an issue.
    ///
    /// # Errors
    /// If the file fails.
    pub fn set_issue_facts(&self, issue: IssueId, facts: &IssueFacts) -> Result<(), StoreError> {
        if self.issue_facts(issue)? == *facts {
            return Ok(());
        }
        self.statement(
            "INSERT INTO issue_fact (id, cover_date, pages, size, family, key_note) VALUES (?1, ?2, ?3, ?4, ?5, ?6) \
             ON CONFLICT (id) DO UPDATE SET cover_date = excluded.cover_date, pages = excluded.pages, \
             size = excluded.size, family = excluded.family, key_note = excluded.key_note",
        )?
        .execute(params![
            issue,
            facts.cover_date.map(|date| date.to_string()),
            facts.pages,
            facts.size.map(|size| size.word()),
            facts.family,
            facts.key
        ])?;
        Ok(())
    }

    /// Keeps what is known of a printing.
    ///
    /// # Errors
    /// If the file fails.
    pub fn set_printing_facts(&self, printing: PrintingId, facts: &PrintingFacts) -> Result<(), StoreError> {
        if self.printing_facts(printing)? == *facts {
            return Ok(());
        }
        self.statement(
            "INSERT INTO printing_fact (id, on_sale, cover_minor, currency) VALUES (?1, ?2, ?3, ?4) \
             ON CONFLICT (id) DO UPDATE SET on_sale = excluded.on_sale, cover_minor = excluded.cover_minor, \
             currency = excluded.currency",
        )?
        .execute(params![
            printing,
            facts.on_sale.map(|date| date.to_string()),
            facts.cover_price.map(|price| price.minor_units),
            facts.cover_price.map(|price| price.currency.to_string())
        ])?;
        Ok(())
    }

    /// Keeps since when a code stands for a title.
    ///
    /// # Errors
    /// If the file fails.
    pub fn set_code_since(&self, gtin: Gtin, title: TitleId, since: Date) -> Result<(), StoreError> {
        self.statement(
            "INSERT INTO code_since (id, since) SELECT id, ?3 FROM title_code WHERE gtin = ?1 AND title = ?2 \
             ON CONFLICT (id) DO UPDATE SET since = excluded.since WHERE since <> excluded.since",
        )?
        .execute(params![rows::number(gtin), title, since.to_string()])?;
        Ok(())
    }
}
