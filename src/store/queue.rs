//! Photos, staged items, crops and repeats.

use std::path::{Path, PathBuf};

use jiff::Timestamp;
use rusqlite::{OptionalExtension, Row, params};

use super::{Store, StoreError, Writer, rows};
use crate::code::{AddOnState, Certainty, Code, Gtin, Symbology};
use crate::collection::TitleId;
use crate::intake::{Item, ItemId, ItemState, Repeat, RunId};
use crate::source::{Origin, Sighting};

/// A sighting about to be staged.
#[derive(Debug)]
pub struct NewItem<'a> {
    /// What was seen.
    pub sighting: &'a Sighting,
    /// The state that it begins in.
    pub state: ItemState,
    /// What the run notes about it.
    pub note: &'a str,
}

/// Which items to list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum QueueFilter {
    /// Those that wait for anything.
    Open,
    /// Those in one state.
    State(ItemState),
    /// Those that one run staged.
    Run(RunId),
    /// Open ones with this code.
    Code(Gtin),
}

const ITEM: &str = "SELECT item.id, item.run, photo.path, photo.sha256, item.position, item.device, item.seen_at_ms, \
                    item.gtin, item.add_on, item.add_on_state, item.symbology, item.certainty, item.read_by, \
                    item.module_px, item.corners, item.state, item.note, \
                    EXISTS (SELECT 1 FROM crop WHERE crop.id = item.id) \
                    FROM item LEFT JOIN photo ON photo.id = item.photo";

/// The device name under which typed codes are kept.
const TYPED: &str = "typed";

fn item_of(row: &Row<'_>) -> rusqlite::Result<Item> {
    let origin = match (rows::path(row, 2)?, row.get::<_, Option<String>>(5)?) {
        (Some(path), _) => Origin::Photo { path, sha256: row.get(3)?, position: row.get(4)? },
        (None, Some(name)) if name != TYPED => Origin::Device { name },
        (None, _) => Origin::Typed,
    };
    Ok(Item {
        id: row.get(0)?,
        run: row.get(1)?,
        origin,
        seen_at: rows::time(row, 6)?,
        code: rows::code(row, 7)?,
        symbology: rows::symbology(row, 10)?,
        certainty: rows::certainty(row, 11)?,
        by: row.get(12)?,
        module_px: row.get(13)?,
        corners: rows::corners(row, 14)?,
        state: rows::parsed(row, 15)?,
        note: row.get(16)?,
        has_crop: row.get(17)?,
        seen_again: Vec::new(),
    })
}

impl Store {
    /// Items, oldest first, each with its repeats.
    ///
    /// # Errors
    /// If the file fails.
    pub fn items(&self, filter: QueueFilter) -> Result<Vec<Item>, StoreError> {
        let open = "item.state IN ('waiting', 'incomplete')";
        let (condition, value): (String, Option<rusqlite::types::Value>) = match filter {
            QueueFilter::Open => (open.to_owned(), None),
            QueueFilter::State(state) => ("item.state = ?1".to_owned(), Some(state.word().to_owned().into())),
            QueueFilter::Run(run) => ("item.run = ?1".to_owned(), Some(run.number().into())),
            QueueFilter::Code(gtin) => (format!("{open} AND item.gtin = ?1"), Some(rows::number(gtin).into())),
        };
        let mut statement = self.statement(&format!("{ITEM} WHERE {condition} ORDER BY item.id"))?;
        let found = statement.query_map(rusqlite::params_from_iter(value), item_of)?;
        let mut items = found.collect::<Result<Vec<_>, _>>()?;
        for item in &mut items {
            item.seen_again = self.repeats(item.id)?;
        }
        Ok(items)
    }

    /// Open items with a code that stands for one of these titles, each with the title.
    ///
    /// # Errors
    /// If the file fails.
    pub fn open_of_titles(&self, titles: &[TitleId]) -> Result<Vec<(TitleId, ItemId)>, StoreError> {
        let mut statement = self.statement(
            "SELECT title_code.title, item.id FROM json_each(?1) AS asked \
             CROSS JOIN title_code ON title_code.title = asked.value \
             CROSS JOIN item ON item.gtin = title_code.gtin AND item.state IN ('waiting', 'incomplete')",
        )?;
        let titles = rows::array(titles.iter().map(|title| title.number()));
        let found = statement.query_map([titles], |row| Ok((row.get(0)?, row.get(1)?)))?;
        Ok(found.collect::<Result<_, _>>()?)
    }

    /// How many items wait: for nothing but their turn, and for a person.
    ///
    /// # Errors
    /// If the file fails.
    pub fn open_count(&self) -> Result<(u32, u32), StoreError> {
        let mut statement = self.statement(
            "SELECT (SELECT count(*) FROM item WHERE state = 'waiting'), \
             (SELECT count(*) FROM item WHERE state = 'incomplete')",
        )?;
        Ok(statement.query_row([], |row| Ok((row.get(0)?, row.get(1)?)))?)
    }

    /// One item.
    ///
    /// # Errors
    /// If there is none, or the file fails.
    pub fn item(&self, id: ItemId) -> Result<Item, StoreError> {
        let found = self.statement(&format!("{ITEM} WHERE item.id = ?1"))?.query_row([id], item_of).optional()?;
        let mut item = found.ok_or(StoreError::NoItem(id))?;
        item.seen_again = self.repeats(id)?;
        Ok(item)
    }

    fn repeats(&self, item: ItemId) -> Result<Vec<Repeat>, StoreError> {
        let mut statement = self.statement(
            "SELECT photo.path, repeat.position, repeat.seen_at_ms FROM repeat \
             LEFT JOIN photo ON photo.id = repeat.photo WHERE repeat.item = ?1 ORDER BY repeat.id",
        )?;
        let found = statement.query_map([item], |row| {
            Ok(Repeat { path: rows::path(row, 0)?, position: row.get(1)?, seen_at: rows::time(row, 2)? })
        })?;
        Ok(found.collect::<Result<_, _>>()?)
    }

    /// An item's crop as PNG.
    ///
    /// # Errors
    /// If the file fails.
    pub fn crop(&self, item: ItemId) -> Result<Option<Vec<u8>>, StoreError> {
        Ok(self.statement("SELECT png FROM crop WHERE id = ?1")?.query_row([item], rows::first).optional()?)
    }

    /// The path under which a photo of this content was imported, and the run that did, if one did.
    ///
    /// # Errors
    /// If the file fails.
    pub fn photo(&self, sha256: &[u8; 32]) -> Result<Option<(PathBuf, RunId)>, StoreError> {
        let found: Option<(String, RunId)> = self
            .statement("SELECT path, run FROM photo WHERE sha256 = ?1")?
            .query_row([sha256], |row| Ok((row.get(0)?, row.get(1)?)))
            .optional()?;
        Ok(found.map(|(path, run)| (PathBuf::from(path), run)))
    }

    /// The items of `run` with this code that still wait.
    ///
    /// # Errors
    /// If the file fails.
    pub fn open_in_run(&self, run: RunId, gtin: Gtin) -> Result<Vec<Item>, StoreError> {
        let sql = format!(
            "{ITEM} WHERE item.run = ?1 AND item.gtin = ?2 AND item.state IN ('waiting', 'incomplete') ORDER BY item.id"
        );
        let mut statement = self.statement(&sql)?;
        Ok(statement.query_map(params![run, rows::number(gtin)], item_of)?.collect::<Result<_, _>>()?)
    }

    fn photo_id(&self, origin: &Origin) -> Result<Option<i64>, StoreError> {
        let Origin::Photo { sha256, .. } = origin else { return Ok(None) };
        Ok(Some(self.statement("SELECT id FROM photo WHERE sha256 = ?1")?.query_row([sha256], rows::first)?))
    }
}

fn position(origin: &Origin) -> Option<u32> {
    match origin {
        Origin::Photo { position, .. } => Some(*position),
        Origin::Device { .. } | Origin::Typed => None,
    }
}

impl Writer<'_> {
    /// Records that a photo was imported, before anything of it is staged. A path that is no Unicode is kept with
    /// replacement characters: the content, not the path, is the photo's identity.
    ///
    /// # Errors
    /// If the file fails.
    pub fn insert_photo(&self, path: &Path, sha256: &[u8; 32], symbols: usize) -> Result<(), StoreError> {
        self.statement("INSERT INTO photo (sha256, path, run, symbols) VALUES (?1, ?2, ?3, ?4)")?.execute(params![
            sha256,
            path.to_string_lossy(),
            self.run(),
            i64::try_from(symbols).unwrap_or(i64::MAX)
        ])?;
        Ok(())
    }

    /// Stages a sighting. Its photo must have been recorded.
    ///
    /// # Errors
    /// If the file fails.
    pub fn insert_item(&self, new: &NewItem<'_>) -> Result<ItemId, StoreError> {
        let sighting = new.sighting;
        let device = match &sighting.origin {
            Origin::Photo { .. } => None,
            Origin::Device { name } => Some(name.as_str()),
            Origin::Typed => Some(TYPED),
        };
        let (gtin, add_on, add_on_state) = code_values(sighting.code);
        let evidence = sighting.evidence.as_ref();
        let corners = evidence.and_then(|e| e.corners).and_then(|c| serde_json::to_string(&c).ok());
        self.statement(
            "INSERT INTO item (run, photo, position, device, seen_at_ms, gtin, add_on, add_on_state, symbology, \
             certainty, read_by, module_px, corners, state, note) \
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15)",
        )?
        .execute(params![
            self.run(),
            self.photo_id(&sighting.origin)?,
            position(&sighting.origin),
            device,
            sighting.seen_at.as_millisecond(),
            gtin,
            add_on,
            add_on_state,
            sighting.symbology.map(Symbology::word),
            rows::certainty_word(sighting.certainty),
            evidence.and_then(|e| e.by.as_deref()),
            evidence.and_then(|e| e.module_px),
            corners,
            new.state.word(),
            new.note,
        ])?;
        let id = ItemId::new(self.connection.last_insert_rowid());
        if let Some(evidence) = evidence.filter(|e| !e.crop_png.is_empty()) {
            self.statement("INSERT INTO crop (id, png) VALUES (?1, ?2)")?.execute(params![id, evidence.crop_png])?;
        }
        Ok(id)
    }

    /// Records a further sighting of `item`.
    ///
    /// # Errors
    /// If the file fails.
    pub fn insert_repeat(&self, item: ItemId, origin: &Origin, seen_at: Timestamp) -> Result<(), StoreError> {
        self.statement("INSERT INTO repeat (item, photo, position, seen_at_ms) VALUES (?1, ?2, ?3, ?4)")?
            .execute(params![item, self.photo_id(origin)?, position(origin), seen_at.as_millisecond()])?;
        Ok(())
    }

    /// Gives `item` a code and the state that goes with it.
    ///
    /// # Errors
    /// If the step is not legal, or the file fails.
    pub fn set_code(&self, item: &Item, code: Code, certainty: Certainty, to: ItemState) -> Result<(), StoreError> {
        let state = step(item.id, item.state, to)?;
        let (gtin, add_on, add_on_state) = code_values(Some(code));
        self.statement(
            "UPDATE item SET gtin = ?2, add_on = ?3, add_on_state = ?4, certainty = ?5, state = ?6 WHERE id = ?1",
        )?
        .execute(params![
            item.id,
            gtin,
            add_on,
            add_on_state,
            rows::certainty_word(certainty),
            state.word()
        ])?;
        Ok(())
    }

    /// Settles an item, or moves it on.
    ///
    /// # Errors
    /// If the step is not legal, or the file fails.
    pub fn set_state(&self, item: ItemId, to: ItemState) -> Result<(), StoreError> {
        let from = self.item(item)?.state;
        let state = step(item, from, to)?;
        self.statement("UPDATE item SET state = ?2 WHERE id = ?1")?.execute(params![item, state.word()])?;
        Ok(())
    }

    /// Replaces an item's note.
    ///
    /// # Errors
    /// If the file fails.
    pub fn set_note(&self, item: ItemId, note: &str) -> Result<(), StoreError> {
        self.statement("UPDATE item SET note = ?2 WHERE id = ?1")?.execute(params![item, note])?;
        Ok(())
    }
}

fn step(item: ItemId, from: ItemState, to: ItemState) -> Result<ItemState, StoreError> {
    from.step(to).map_err(|source| StoreError::Step { item, source })
}

type CodeValues = (Option<i64>, Option<String>, Option<&'static str>);

fn code_values(code: Option<Code>) -> CodeValues {
    match code {
        None => (None, None, None),
        Some(Code { gtin, add_on }) => {
            let digits = match add_on {
                AddOnState::Read(add_on) => Some(add_on.to_string()),
                AddOnState::Absent | AddOnState::Unread => None,
            };
            (Some(rows::number(gtin)), digits, Some(add_on.word()))
        }
    }
}
