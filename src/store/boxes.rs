//! The boxes of the wall.

use rusqlite::{OptionalExtension, Row, params};

use super::{Store, StoreError, Writer, rows};
use crate::collection::search_key;
use crate::filing::{BoxId, Place, Purpose, ShelfBox};

const BOX: &str = "SELECT id, label, kind, inner_mm, magazines, purpose, purpose_title, purpose_name, row, col, turn, note, \
                   state FROM box";

fn box_of(row: &Row<'_>) -> rusqlite::Result<ShelfBox> {
    let name = |column| row.get::<_, String>(column);
    let purpose = match row.get_ref(5)?.as_str()? {
        "unread" => Purpose::Unread,
        "title" => Purpose::Title(row.get(6)?),
        "family" => Purpose::Family(name(7)?),
        "publisher" => Purpose::Publisher(name(7)?),
        "size" => Purpose::Size(rows::parsed(row, 7)?),
        "rest" => Purpose::Rest,
        _ => Purpose::Spare,
    };
    Ok(ShelfBox {
        id: row.get(0)?,
        label: row.get(1)?,
        kind: rows::parsed(row, 2)?,
        inner_mm: row.get(3)?,
        magazines: row.get(4)?,
        purpose,
        place: Place { row: row.get(8)?, column: row.get(9)?, turn: row.get(10)? },
        note: row.get(11)?,
        planned: row.get_ref(12)?.as_str()? == "planned",
    })
}

/// A purpose as it stands in its columns: its word, a title, a name.
fn columns(purpose: &Purpose) -> (&'static str, Option<i64>, Option<String>) {
    match purpose {
        Purpose::Title(title) => ("title", Some(title.number()), None),
        Purpose::Family(name) => ("family", None, Some(name.clone())),
        Purpose::Publisher(name) => ("publisher", None, Some(name.clone())),
        Purpose::Size(size) => ("size", None, Some(size.word().to_owned())),
        Purpose::Unread => ("unread", None, None),
        Purpose::Rest => ("rest", None, None),
        Purpose::Spare => ("spare", None, None),
    }
}

impl Store {
    /// The boxes in use in walking order, planned ones too.
    ///
    /// # Errors
    /// If the file fails.
    pub fn boxes(&self) -> Result<Vec<ShelfBox>, StoreError> {
        let mut statement = self.statement(&format!("{BOX} WHERE state <> 'retired' ORDER BY row, col, turn, id"))?;
        Ok(statement.query_map([], box_of)?.collect::<Result<_, _>>()?)
    }

    /// A box in use, by its label however it is typed.
    ///
    /// # Errors
    /// If there is none, or the file fails.
    pub fn box_labelled(&self, label: &str) -> Result<ShelfBox, StoreError> {
        let mut statement = self.statement(&format!("{BOX} WHERE state <> 'retired' AND search_key = ?1"))?;
        let found = statement.query_row([search_key(label)], box_of).optional()?;
        found.ok_or_else(|| StoreError::NoBox(label.trim().to_owned()))
    }

    /// A box by its number, in use or not.
    ///
    /// # Errors
    /// If there is none, or the file fails.
    pub fn box_of_number(&self, id: BoxId) -> Result<ShelfBox, StoreError> {
        let found = self.statement(&format!("{BOX} WHERE id = ?1"))?.query_row([id], box_of).optional()?;
        found.ok_or_else(|| StoreError::NoBox(id.to_string()))
    }

    /// How many copies stand in a box.
    ///
    /// # Errors
    /// If the file fails.
    pub fn copies_in_box(&self, id: BoxId) -> Result<u32, StoreError> {
        Ok(self
            .statement("SELECT count(*) FROM filed JOIN held ON held.id = filed.id WHERE filed.box = ?1")?
            .query_row([id], rows::first)?)
    }
}

impl Writer<'_> {
    /// Adds a box; its number is given.
    ///
    /// # Errors
    /// If another box in use has its label, or the file fails.
    pub fn insert_box(&self, new: &ShelfBox) -> Result<BoxId, StoreError> {
        self.label_is_free(&new.label, None)?;
        let (purpose, title, name) = columns(&new.purpose);
        self.statement(
            "INSERT INTO box (label, search_key, kind, inner_mm, magazines, purpose, purpose_title, purpose_name, row, \
             col, turn, note, state) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13)",
        )?
        .execute(params![
            new.label.trim(),
            search_key(&new.label),
            new.kind.word(),
            new.inner_mm,
            new.magazines,
            purpose,
            title,
            name,
            new.place.row,
            new.place.column,
            new.place.turn,
            new.note.trim(),
            if new.planned { "planned" } else { "here" }
        ])?;
        Ok(BoxId::new(self.connection.last_insert_rowid()))
    }

    /// Changes a box.
    ///
    /// # Errors
    /// If another box in use has its label, or the file fails.
    pub fn update_box(&self, changed: &ShelfBox) -> Result<(), StoreError> {
        self.label_is_free(&changed.label, Some(changed.id))?;
        let (purpose, title, name) = columns(&changed.purpose);
        self.statement(
            "UPDATE box SET label = ?2, search_key = ?3, kind = ?4, inner_mm = ?5, magazines = ?6, purpose = ?7, \
             purpose_title = ?8, purpose_name = ?9, row = ?10, col = ?11, turn = ?12, note = ?13 WHERE id = ?1",
        )?
        .execute(params![
            changed.id,
            changed.label.trim(),
            search_key(&changed.label),
            changed.kind.word(),
            changed.inner_mm,
            changed.magazines,
            purpose,
            title,
            name,
            changed.place.row,
            changed.place.column,
            changed.place.turn,
            changed.note.trim()
        ])?;
        Ok(())
    }

    fn label_is_free(&self, label: &str, own: Option<BoxId>) -> Result<(), StoreError> {
        match self.box_labelled(label) {
            Ok(other) if Some(other.id) != own => Err(StoreError::LabelTaken(other.label)),
            Ok(_) | Err(StoreError::NoBox(_)) => Ok(()),
            Err(error) => Err(error),
        }
    }

    /// Makes room for a box at a place: those there, and behind it in the same row and column, take one turn more.
    ///
    /// # Errors
    /// If the file fails.
    pub fn make_room(&self, place: Place) -> Result<(), StoreError> {
        self.statement("UPDATE box SET turn = turn + 1 WHERE row = ?1 AND col = ?2 AND turn >= ?3")?.execute([
            place.row,
            place.column,
            place.turn,
        ])?;
        Ok(())
    }

    /// Takes a box out of use.
    ///
    /// # Errors
    /// If copies stand in it or are to be put in, or the file fails.
    pub fn retire_box(&self, own: &ShelfBox) -> Result<(), StoreError> {
        let waiting: u32 = self
            .statement("SELECT count(*) FROM walk_step JOIN held ON held.id = walk_step.id WHERE walk_step.box = ?1")?
            .query_row([own.id], rows::first)?;
        let copies = self.copies_in_box(own.id)? + waiting;
        if copies > 0 {
            return Err(StoreError::BoxInUse { label: own.label.clone(), copies });
        }
        self.statement("UPDATE box SET state = 'retired' WHERE id = ?1")?.execute([own.id])?;
        Ok(())
    }

    /// Marks a spare box as one that the plan takes: it is spare again if the plan is dropped.
    ///
    /// # Errors
    /// If the file fails.
    pub fn plan_spare(&self, id: BoxId) -> Result<(), StoreError> {
        self.statement("UPDATE box SET state = 'planned', was_spare = 1 WHERE id = ?1")?.execute([id])?;
        Ok(())
    }

    /// A planned box is there from now on.
    ///
    /// # Errors
    /// If the file fails.
    pub fn box_is_here(&self, id: BoxId) -> Result<(), StoreError> {
        self.statement("UPDATE box SET state = 'here', was_spare = 0 WHERE id = ?1 AND state = 'planned'")?
            .execute([id])?;
        Ok(())
    }

    /// Forgets planned boxes: spare ones are spare again, others never were there.
    ///
    /// # Errors
    /// If the file fails.
    pub fn drop_planned_boxes(&self) -> Result<(), StoreError> {
        self.statement(
            "UPDATE box SET state = 'here', was_spare = 0, purpose = 'spare', purpose_title = NULL, purpose_name = NULL \
             WHERE state = 'planned' AND was_spare = 1",
        )?
        .execute([])?;
        self.statement("DELETE FROM box WHERE state = 'planned'")?.execute([])?;
        Ok(())
    }
}
