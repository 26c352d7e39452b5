//! Publishers, titles and the codes that stand for them.

use rusqlite::{OptionalExtension, Row, params};

use super::search::MOST_TITLES;
use super::{Store, StoreError, Writer, rows};
use crate::code::Gtin;
use crate::collection::{NewTitle, PublisherId, Title, TitleChange, TitleId, search_key};

const TITLE: &str = "SELECT title.id, publisher.name, title.name, title.volume, title.start_year, title.layout, \
                     title.issue_base FROM title LEFT JOIN publisher ON publisher.id = title.publisher";

pub(super) fn title_of(row: &Row<'_>) -> rusqlite::Result<Title> {
    Ok(Title {
        id: row.get(0)?,
        publisher: row.get(1)?,
        name: row.get(2)?,
        volume: row.get(3)?,
        year: row.get(4)?,
        layout: rows::optional_parsed(row, 5)?,
        issue_base: row.get(6)?,
    })
}

impl Store {
    pub(super) fn titles_where(&self, rest: &str, values: impl rusqlite::Params) -> Result<Vec<Title>, StoreError> {
        let mut statement = self.statement(&format!("{TITLE} {rest}"))?;
        Ok(statement.query_map(values, title_of)?.collect::<Result<_, _>>()?)
    }

    /// One title.
    ///
    /// # Errors
    /// If there is none, or the file fails.
    pub fn title(&self, id: TitleId) -> Result<Title, StoreError> {
        self.titles_where("WHERE title.id = ?1", [id])?.pop().ok_or(StoreError::NoTitle(id))
    }

    /// All titles by name, from the one after `after` names in that order.
    ///
    /// # Errors
    /// If the file fails.
    pub fn titles(&self, skip: u32, limit: u32) -> Result<Vec<Title>, StoreError> {
        self.titles_where("ORDER BY title.search_key, title.start_year, title.id LIMIT ?2 OFFSET ?1", [skip, limit])
    }

    /// The titles that a code stands for, latest volume last, by the day since which it does or the year it began.
    ///
    /// # Errors
    /// If the file fails.
    pub fn titles_of_code(&self, gtin: Gtin) -> Result<Vec<Title>, StoreError> {
        self.titles_where(
            "JOIN title_code ON title_code.title = title.id LEFT JOIN code_since ON code_since.id = title_code.id \
             WHERE title_code.gtin = ?1 ORDER BY ifnull(CAST(substr(code_since.since, 1, 4) AS INTEGER), title.start_year), \
             code_since.since, title.id",
            [rows::number(gtin)],
        )
    }

    /// The codes that stand for a title.
    ///
    /// # Errors
    /// If the file fails.
    pub fn codes_of_title(&self, title: TitleId) -> Result<Vec<Gtin>, StoreError> {
        let mut statement = self.statement("SELECT gtin FROM title_code WHERE title = ?1 ORDER BY gtin")?;
        let found = statement.query_map([title], |row| rows::gtin(row, 0))?;
        Ok(found.filter_map(Result::transpose).collect::<Result<_, _>>()?)
    }

    /// Titles whose search key is `key`.
    ///
    /// # Errors
    /// If the file fails.
    pub fn titles_named(&self, key: &str) -> Result<Vec<Title>, StoreError> {
        self.titles_where(
            "WHERE title.search_key = ?1 ORDER BY title.start_year, title.id LIMIT ?2",
            params![key, MOST_TITLES],
        )
    }

    /// Titles of codes that share `gtin`'s company, as far as its first eight of twelve digits tell.
    ///
    /// # Errors
    /// If the file fails.
    pub fn neighbours(&self, gtin: Gtin) -> Result<Vec<Title>, StoreError> {
        let from = rows::number(gtin) / 100_000 * 100_000;
        self.titles_where(
            "JOIN title_code ON title_code.title = title.id WHERE title_code.gtin >= ?1 AND title_code.gtin < ?2 \
             ORDER BY title_code.gtin LIMIT 5",
            [from, from + 100_000],
        )
    }
}

impl Writer<'_> {
    fn publisher(&self, name: &str) -> Result<Option<PublisherId>, StoreError> {
        let key = search_key(name);
        if key.is_empty() {
            return Ok(None);
        }
        let known = self.statement("SELECT id FROM publisher WHERE search_key = ?1")?.query_row([&key], rows::first);
        if let Some(id) = known.optional()? {
            return Ok(Some(id));
        }
        self.statement("INSERT INTO publisher (name, search_key) VALUES (?1, ?2)")?.execute([name.trim(), &key])?;
        Ok(Some(PublisherId::new(self.connection.last_insert_rowid())))
    }

    /// Keeps a title.
    ///
    /// # Errors
    /// If the file fails.
    pub fn insert_title(&self, new: &NewTitle) -> Result<TitleId, StoreError> {
        let publisher = new.publisher.as_deref().map(|name| self.publisher(name)).transpose()?.flatten();
        let key = search_key(&new.name);
        self.statement(
            "INSERT INTO title (publisher, name, search_key, volume, start_year, layout, issue_base) \
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
        )?
        .execute(params![
            publisher,
            new.name.trim(),
            key,
            new.volume.trim(),
            new.year,
            new.layout.map(|l| l.to_string()),
            new.issue_base
        ])?;
        Ok(TitleId::new(self.connection.last_insert_rowid()))
    }

    /// Lets a code stand for a title; nothing happens if it does already.
    ///
    /// # Errors
    /// If the file fails.
    pub fn add_code(&self, gtin: Gtin, title: TitleId) -> Result<(), StoreError> {
        self.statement("INSERT INTO title_code (gtin, title) VALUES (?1, ?2) ON CONFLICT DO NOTHING")?
            .execute(params![rows::number(gtin), title])?;
        Ok(())
    }

    /// Changes a title.
    ///
    /// # Errors
    /// If there is none, or the file fails.
    pub fn update_title(&self, id: TitleId, change: &TitleChange) -> Result<(), StoreError> {
        let old = self.title(id)?;
        let name = change.name.as_deref().unwrap_or(&old.name).trim();
        let publisher = match change.publisher.as_deref().or(old.publisher.as_deref()) {
            Some(name) => self.publisher(name)?,
            None => None,
        };
        let key = search_key(name);
        let (mut year, mut layout) = (old.year, old.layout);
        change.year.apply(&mut year);
        change.layout.apply(&mut layout);
        self.statement(
            "UPDATE title SET publisher = ?2, name = ?3, search_key = ?4, volume = ?5, start_year = ?6, layout = ?7, \
             issue_base = ?8 WHERE id = ?1",
        )?
        .execute(params![
            id,
            publisher,
            name,
            key,
            change.volume.as_deref().unwrap_or(&old.volume).trim(),
            year,
            layout.map(|l| l.to_string()),
            change.issue_base.unwrap_or(old.issue_base)
        ])?;
        if let Some(code) = change.code {
            self.add_code(code, id)?;
            change.since.map_or(Ok(()), |since| self.set_code_since(code, id, since))?;
        }
        let mut facts = self.title_facts(id)?;
        change.family.clone().apply(&mut facts.family);
        change.size.apply(&mut facts.size);
        change.pages.apply(&mut facts.pages);
        self.set_title_facts(id, &facts)
    }
}
