//! Which copy stands in which box, and what is still to be put in on the walk.

use std::collections::BTreeSet;
use std::sync::Arc;

use rusqlite::{OptionalExtension, params};

use super::titles::title_of;
use super::{Store, StoreError, Writer, rows};
use crate::collection::{CopyId, CoverDate, IssueNumber, SizeClass, Title, TitleId};
use crate::filing::{BoxId, Make, NamedCopy};

/// A copy that stands in a box or is to be filed, as rows have it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ShelfRow<'a> {
    /// The copy.
    pub copy: CopyId,
    /// Its title.
    pub title: TitleId,
    /// Its issue's sort key.
    pub issue_key: &'a str,
    /// The date on its issue's cover.
    pub cover_date: Option<CoverDate>,
    /// Its cover.
    pub cover: &'a str,
    /// Its printing.
    pub printing: u32,
    /// Whether it is still to be read.
    pub unread: bool,
    /// The box in which it stands.
    pub stands_in: Option<BoxId>,
    /// The box into which the walk puts it.
    pub goes_to: Option<BoxId>,
    /// Pages, size and year of its issue, where they are known of it or its title.
    pub make: Make,
}

/// Which copies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shelved {
    /// All that stand in a box, are on the walk or are to be filed: read ones and, if wanted, unread ones.
    All {
        /// Whether unread copies are to be filed too.
        unread: bool,
    },
    /// Those that stand in a box.
    In(BoxId),
}

const SHELF: &str = "SELECT copy.id, issue.title, issue.sort_key, printing.cover, printing.number, copy.reading, filed.box, \
    walk_step.box, title.start_year, f.cover_date, coalesce(f.pages, t.pages), \
    coalesce(f.size, t.size), b.id IS NOT NULL AND b.bag IS NULL, b.id IS NOT NULL AND b.board IS NULL \
    FROM held AS copy JOIN printing ON printing.id = copy.printing JOIN issue ON issue.id = printing.issue \
    JOIN title ON title.id = issue.title LEFT JOIN title_fact t ON t.id = title.id \
    LEFT JOIN issue_fact f ON f.id = issue.id LEFT JOIN copy_bag b ON b.id = copy.id \
    LEFT JOIN filed ON filed.id = copy.id LEFT JOIN walk_step ON walk_step.id = copy.id";

impl Store {
    /// Gives each of these copies to `each`, in no order.
    ///
    /// # Errors
    /// If the file fails.
    pub fn shelf_rows(&self, which: Shelved, mut each: impl FnMut(ShelfRow<'_>) + Send) -> Result<(), StoreError> {
        let shelf = match which {
            Shelved::All { unread } => return self.shelf_scan(unread, &mut each),
            Shelved::In(shelf) => shelf,
        };
        let mut statement = self.statement(&format!("{SHELF} WHERE filed.box = ?1"))?;
        let mut found = statement.query([shelf])?;
        while let Some(row) = found.next()? {
            let size: Option<SizeClass> = rows::optional_parsed(row, 11)?;
            let cover_date: Option<CoverDate> = rows::optional_parsed(row, 9)?;
            each(ShelfRow {
                copy: row.get(0)?,
                title: row.get(1)?,
                issue_key: row.get_ref(2)?.as_str().map_err(rusqlite::Error::from)?,
                cover: row.get_ref(3)?.as_str().map_err(rusqlite::Error::from)?,
                cover_date,
                printing: row.get(4)?,
                unread: row.get_ref(5)?.as_str().map_err(rusqlite::Error::from)? == "unread",
                stands_in: row.get(6)?,
                goes_to: row.get(7)?,
                make: Make {
                    pages: row.get(10)?,
                    year: cover_date.map(CoverDate::year).or(row.get(8)?),
                    size: size.unwrap_or(SizeClass::Current),
                    no_bag: row.get(12)?,
                    no_board: row.get(13)?,
                },
            });
        }
        Ok(())
    }

    /// A copy as a person names it.
    ///
    /// # Errors
    /// If there is none, or the file fails.
    pub fn named_copy(&self, copy: CopyId) -> Result<NamedCopy, StoreError> {
        let mut statement = self.statement(
            "SELECT title.id, publisher.name, title.name, title.volume, title.start_year, title.layout, \
             title.issue_base, issue.number, printing.cover, printing.number FROM copy \
             JOIN printing ON printing.id = copy.printing JOIN issue ON issue.id = printing.issue \
             JOIN title ON title.id = issue.title LEFT JOIN publisher ON publisher.id = title.publisher \
             WHERE copy.id = ?1",
        )?;
        let named = |row: &rusqlite::Row<'_>| {
            let title = Arc::new(title_of(row)?);
            Ok(NamedCopy { copy, title, issue: row.get(7)?, cover: row.get(8)?, printing: row.get(9)? })
        };
        statement.query_row([copy], named).optional()?.ok_or(StoreError::NoCopy(copy))
    }

    /// A copy's issue, cover and printing.
    ///
    /// # Errors
    /// If there is none, or the file fails.
    pub fn issue_of_copy(&self, copy: CopyId) -> Result<(String, String, u32), StoreError> {
        let mut statement = self.statement(
            "SELECT issue.number, printing.cover, printing.number FROM copy JOIN printing ON printing.id = copy.printing \
             JOIN issue ON issue.id = printing.issue WHERE copy.id = ?1",
        )?;
        let found = statement.query_row([copy], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)));
        found.optional()?.ok_or(StoreError::NoCopy(copy))
    }

    /// The box in which a copy stands, and the one into which the walk puts it.
    ///
    /// # Errors
    /// If the file fails.
    pub fn boxes_of_copy(&self, copy: CopyId) -> Result<(Option<BoxId>, Option<BoxId>), StoreError> {
        let mut statement =
            self.statement("SELECT (SELECT box FROM filed WHERE id = ?1), (SELECT box FROM walk_step WHERE id = ?1)")?;
        Ok(statement.query_row([copy], |row| Ok((row.get(0)?, row.get(1)?)))?)
    }

    /// The copies of an issue that are owned, and the box in which each stands.
    ///
    /// # Errors
    /// If the file fails.
    pub fn copies_of_issue(
        &self,
        title: TitleId,
        issue: &IssueNumber,
    ) -> Result<Vec<(CopyId, Option<BoxId>)>, StoreError> {
        let mut statement = self.statement(
            "SELECT copy.id, filed.box FROM issue JOIN printing ON printing.issue = issue.id \
             JOIN held AS copy ON copy.printing = printing.id LEFT JOIN filed ON filed.id = copy.id \
             WHERE issue.title = ?1 AND issue.sort_key = ?2 ORDER BY copy.id",
        )?;
        let found = statement.query_map(params![title, issue.sort_key()], |row| Ok((row.get(0)?, row.get(1)?)))?;
        Ok(found.collect::<Result<_, _>>()?)
    }

    /// Every title with its family.
    ///
    /// # Errors
    /// If the file fails.
    pub fn titles_with_families(&self) -> Result<Vec<(Title, Option<String>)>, StoreError> {
        let mut statement = self.statement(
            "SELECT title.id, publisher.name, title.name, title.volume, title.start_year, title.layout, \
             title.issue_base, title_fact.family FROM title LEFT JOIN publisher ON publisher.id = title.publisher \
             LEFT JOIN title_fact ON title_fact.id = title.id",
        )?;
        let found = statement.query_map([], |row| Ok((title_of(row)?, row.get(7)?)))?;
        Ok(found.collect::<Result<_, _>>()?)
    }

    /// How many copies are still to be put in on the walk.
    ///
    /// # Errors
    /// If the file fails.
    pub fn walk_length(&self) -> Result<u32, StoreError> {
        // CROSS JOIN: from the walk's few copies outwards, where SQLite would begin with all that are held.
        Ok(self
            .statement("SELECT count(*) FROM walk_step CROSS JOIN held ON held.id = walk_step.id")?
            .query_row([], rows::first)?)
    }

    /// How many copies are read and stand in no box yet.
    ///
    /// # Errors
    /// If the file fails.
    pub fn to_file_count(&self) -> Result<u32, StoreError> {
        // As `held` would say, but from an index alone: few copies leave.
        let mut statement = self.statement(
            "SELECT (SELECT count(*) FROM copy WHERE filing = 'unfiled' AND reading = 'read') \
             - (SELECT count(*) FROM departure CROSS JOIN copy ON copy.id = departure.id \
             WHERE copy.filing = 'unfiled' AND copy.reading = 'read')",
        )?;
        Ok(statement.query_row([], rows::first)?)
    }

    /// The boxes at which the walk puts something in or takes something out.
    ///
    /// # Errors
    /// If the file fails.
    pub fn boxes_of_walk(&self) -> Result<BTreeSet<BoxId>, StoreError> {
        // CROSS JOIN: from the walk's few copies to where they stand.
        let mut statement = self.statement(
            "SELECT box FROM walk_step UNION \
             SELECT filed.box FROM walk_step CROSS JOIN filed ON filed.id = walk_step.id",
        )?;
        Ok(statement.query_map([], rows::first)?.collect::<Result<_, _>>()?)
    }

    fn copies_of(&self, sql: &str, of: Option<BoxId>) -> Result<Vec<CopyId>, StoreError> {
        let mut statement = self.statement(sql)?;
        Ok(statement.query_map(params![of], rows::first)?.collect::<Result<_, _>>()?)
    }
}

impl Writer<'_> {
    /// Puts a copy on the walk.
    ///
    /// # Errors
    /// If the file fails.
    pub fn insert_step(&self, copy: CopyId, to: BoxId) -> Result<(), StoreError> {
        self.statement("INSERT INTO walk_step (id, box) VALUES (?1, ?2)")?.execute(params![copy, to])?;
        Ok(())
    }

    /// Forgets what is left of the walk.
    ///
    /// # Errors
    /// If the file fails.
    pub fn drop_walk(&self) -> Result<(), StoreError> {
        self.statement("DELETE FROM walk_step")?.execute([])?;
        self.drop_planned_boxes()
    }

    /// Books what the walk does at a box: what leaves it is in the hand, what goes in stands in it. Gives how many were
    /// taken out and put in.
    ///
    /// # Errors
    /// If the file fails.
    pub fn finish_box(&self, id: BoxId) -> Result<(u32, u32), StoreError> {
        let leaving = self.copies_of(
            "SELECT filed.id FROM filed JOIN walk_step ON walk_step.id = filed.id \
             WHERE filed.box = ?1 AND walk_step.box <> ?1 ORDER BY filed.id",
            Some(id),
        )?;
        for &copy in &leaving {
            self.statement("DELETE FROM filed WHERE id = ?1")?.execute([copy])?;
            self.statement("UPDATE copy SET filing = 'unfiled' WHERE id = ?1")?.execute([copy])?;
        }
        let coming = self.copies_of("SELECT walk_step.id FROM walk_step CROSS JOIN held ON held.id = walk_step.id WHERE walk_step.box = ?1 ORDER BY walk_step.id", Some(id))?;
        for &copy in &coming {
            self.statement("DELETE FROM walk_step WHERE id = ?1")?.execute([copy])?;
            self.file_copy(copy, id)?;
        }
        if !coming.is_empty() {
            self.box_is_here(id)?;
        }
        Ok((leaving.len() as u32, coming.len() as u32))
    }

    /// Records that a copy stands in a box.
    ///
    /// # Errors
    /// If the file fails.
    pub fn file_copy(&self, copy: CopyId, id: BoxId) -> Result<(), StoreError> {
        self.statement(
            "INSERT INTO filed (id, box) VALUES (?1, ?2) ON CONFLICT (id) DO UPDATE SET box = excluded.box",
        )?
        .execute(params![copy, id])?;
        self.statement("UPDATE copy SET filing = 'filed' WHERE id = ?1 AND filing <> 'filed'")?.execute([copy])?;
        Ok(())
    }
}
