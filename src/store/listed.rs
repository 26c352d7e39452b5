//! What lists gave: printings known by their digits, and how lists are read.

use rusqlite::params;

use super::{Store, StoreError, Writer, rows};
use crate::code::{AddOn, Gtin};
use crate::collection::{IssueId, PrintingId, TitleId};
use crate::list::Choices;
use crate::resolve::Listed;

/// A printing of an issue, as it is told apart from others.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PrintingOf {
    /// Its number in the collection.
    pub id: PrintingId,
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
    /// An issue's printings, owned or not, in the order in which they became known.
    ///
    /// # Errors
    /// If the file fails.
    pub fn printings_of(&self, issue: IssueId) -> Result<Vec<PrintingOf>, StoreError> {
        let mut statement =
            self.statement("SELECT id, cover, number, gtin, add_on FROM printing WHERE issue = ?1 ORDER BY id")?;
        let found = statement.query_map([issue], |row| {
            Ok(PrintingOf {
                id: row.get(0)?,
                cover: row.get(1)?,
                printing: row.get(2)?,
                code: rows::gtin(row, 3)?,
                add_on: rows::optional_parsed(row, 4)?,
            })
        })?;
        Ok(found.collect::<Result<_, _>>()?)
    }

    /// The numbers of a title's issues that are known and not owned, in order.
    ///
    /// # Errors
    /// If the file fails.
    pub fn issues_not_owned(&self, title: TitleId) -> Result<Vec<String>, StoreError> {
        let mut statement = self.statement(
            "SELECT number FROM issue WHERE title = ?1 AND NOT EXISTS (SELECT 1 FROM printing \
             JOIN held ON held.printing = printing.id WHERE printing.issue = issue.id) ORDER BY sort_key",
        )?;
        Ok(statement.query_map([title], rows::first)?.collect::<Result<_, _>>()?)
    }

    /// The printings with these very digits, if a list gave any of them; none otherwise.
    ///
    /// # Errors
    /// If the file fails.
    pub fn listed(&self, gtin: Gtin, add_on: AddOn) -> Result<Vec<Listed>, StoreError> {
        let mut statement = self.statement(
            "SELECT issue.title, issue.number, printing.cover, printing.number, \
             EXISTS (SELECT 1 FROM listed WHERE listed.id = printing.id) FROM printing \
             JOIN issue ON issue.id = printing.issue WHERE printing.gtin = ?1 AND printing.add_on = ?2 \
             ORDER BY printing.id LIMIT 20",
        )?;
        let found = statement.query_map(params![rows::number(gtin), add_on.to_string()], |row| {
            Ok((row.get::<_, TitleId>(0)?, row.get(1)?, row.get(2)?, row.get(3)?, row.get::<_, bool>(4)?))
        })?;
        let found: Vec<_> = found.collect::<Result<_, _>>()?;
        if found.iter().all(|(.., listed)| !listed) {
            return Ok(Vec::new());
        }
        let of = |(title, issue, cover, printing, _)| -> Result<Listed, StoreError> {
            Ok(Listed { title: self.title(title)?, issue, cover, printing })
        };
        found.into_iter().map(of).collect()
    }

    /// How lists are read, by name.
    ///
    /// # Errors
    /// If the file fails.
    pub fn list_presets(&self) -> Result<Vec<(String, Choices)>, StoreError> {
        let mut statement = self.statement("SELECT name, choices FROM list_preset ORDER BY name")?;
        let found = statement.query_map([], |row| {
            let choices = serde_json::from_str(row.get_ref(1)?.as_str()?).map_err(|error| rows::damaged(1, error))?;
            Ok((row.get(0)?, choices))
        })?;
        Ok(found.collect::<Result<_, _>>()?)
    }

    /// How lists are read under this name.
    ///
    /// # Errors
    /// If nothing is kept under it, or the file fails.
    pub fn list_preset(&self, name: &str) -> Result<Choices, StoreError> {
        let found = self.list_presets()?.into_iter().find(|(known, _)| known == name);
        found.map(|(_, choices)| choices).ok_or_else(|| StoreError::NoPreset(name.to_owned()))
    }
}

impl Writer<'_> {
    /// Marks a printing as one whose digits a list gave.
    ///
    /// # Errors
    /// If the file fails.
    pub fn mark_listed(&self, printing: PrintingId) -> Result<(), StoreError> {
        self.statement("INSERT INTO listed (id) VALUES (?1) ON CONFLICT DO NOTHING")?.execute([printing])?;
        Ok(())
    }

    /// Gives a printing without a code its code.
    ///
    /// # Errors
    /// If the file fails.
    pub fn set_printing_code(&self, printing: PrintingId, gtin: Gtin, add_on: Option<AddOn>) -> Result<(), StoreError> {
        self.statement("UPDATE printing SET gtin = ?2, add_on = ?3 WHERE id = ?1")?.execute(params![
            printing,
            rows::number(gtin),
            add_on.map(|add_on| add_on.to_string())
        ])?;
        Ok(())
    }

    /// Renames a printing's cover.
    ///
    /// # Errors
    /// If the file fails.
    pub fn set_printing_cover(&self, printing: PrintingId, cover: &str) -> Result<(), StoreError> {
        self.statement("UPDATE printing SET cover = ?2 WHERE id = ?1")?.execute(params![printing, cover])?;
        Ok(())
    }

    /// Keeps how lists are read under a name, in the place of what was kept under it.
    ///
    /// # Errors
    /// If the file fails.
    pub fn set_list_preset(&self, name: &str, choices: &Choices) -> Result<(), StoreError> {
        let text = serde_json::to_string(choices).map_err(|error| StoreError::Damaged(error.to_string()))?;
        self.statement(
            "INSERT INTO list_preset (name, choices) VALUES (?1, ?2) \
             ON CONFLICT (name) DO UPDATE SET choices = excluded.choices WHERE choices <> excluded.choices",
        )?
        .execute([name, &text])?;
        Ok(())
    }

    /// Forgets how lists are read under a name.
    ///
    /// # Errors
    /// If nothing is kept under it, or the file fails.
    pub fn remove_list_preset(&self, name: &str) -> Result<(), StoreError> {
        match self.statement("DELETE FROM list_preset WHERE name = ?1")?.execute([name])? {
            0 => Err(StoreError::NoPreset(name.to_owned())),
            _ => Ok(()),
        }
    }
}
