//! What waits: listed, shown, completed, dropped.

use std::io::Write;
use std::path::{Path, PathBuf};

use jiff::Timestamp;

use super::WorkflowError;
use crate::code::{AddOnState, Certainty, Code, Gtin};
use crate::intake::{Item, ItemId, ItemState, RunId, state_of};
use crate::store::{QueueFilter, RunKind, Store, StoreError, private_file, private_folder};

/// What a person changes about an item; `None` leaves a field as it is.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct QueueChange {
    /// Its main code. What stood beside another main code is then unread, unless given too.
    pub gtin: Option<Gtin>,
    /// Its add-on, or that it has none.
    pub add_on: Option<AddOnState>,
    /// A note.
    pub note: Option<String>,
    /// The code (or that there was none) that the person had before them: nothing is changed if the item has another by
    /// now. `None` does not ask.
    pub seen: Option<Option<Code>>,
}

/// Items, oldest first.
///
/// # Errors
/// If the collection can't be read.
pub fn queue_list(store: &Store, filter: QueueFilter) -> Result<Vec<Item>, WorkflowError> {
    Ok(store.items(filter)?)
}

/// How many items wait: for nothing but their turn, and for a person.
///
/// # Errors
/// If the collection can't be read.
pub fn queue_count(store: &Store) -> Result<(u32, u32), WorkflowError> {
    Ok(store.open_count()?)
}

/// One item.
///
/// # Errors
/// If there is none of that number.
pub fn queue_show(store: &Store, item: ItemId) -> Result<Item, WorkflowError> {
    Ok(store.item(item)?)
}

/// Completes or corrects an item. A code given by a person is certain. Gives the item as it is now, and the run.
///
/// # Errors
/// If there is no such item, it is settled or changed meanwhile, or an add-on is given without a main code.
pub fn queue_set(
    store: &Store,
    item: ItemId,
    change: &QueueChange,
    now: Timestamp,
) -> Result<(Item, Option<RunId>), WorkflowError> {
    let mut run = None;
    let item = store.write(&mut run, RunKind::Queue, now, |writer| {
        let old = writer.item(item)?;
        if change.seen.is_some_and(|seen| seen != old.code) {
            return Err(WorkflowError::ChangedMeanwhile { item });
        }
        if change.gtin.is_some() || change.add_on.is_some() {
            let gtin = change.gtin.or(old.code.map(|c| c.gtin)).ok_or(WorkflowError::NoMainCode { item })?;
            let seen = old.code.filter(|code| code.gtin == gtin).map_or(AddOnState::Unread, |code| code.add_on);
            let code = Code { gtin, add_on: change.add_on.unwrap_or(seen) };
            writer.set_code(&old, code, Certainty::Sure, state_of(Some(code), Certainty::Sure))?;
        }
        if let Some(note) = &change.note {
            writer.set_note(item, note)?;
        }
        writer.item(item).map_err(WorkflowError::from)
    })?;
    Ok((item, run))
}

/// Drops items: all of them or, if one can't be, none.
///
/// # Errors
/// If one does not exist or is settled.
pub fn queue_drop(store: &Store, items: &[ItemId], now: Timestamp) -> Result<Option<RunId>, WorkflowError> {
    let mut run = None;
    store.write(&mut run, RunKind::Queue, now, |writer| {
        items.iter().try_for_each(|&item| writer.set_state(item, ItemState::Dropped)).map_err(WorkflowError::from)
    })?;
    Ok(run)
}

/// An item's crop as PNG; `None` if it has none.
///
/// # Errors
/// If there is no such item, or the collection can't be read.
pub fn queue_crop(store: &Store, item: ItemId) -> Result<Option<Vec<u8>>, WorkflowError> {
    store.read(|store| {
        store.item(item)?;
        Ok(store.crop(item)?)
    })
}

/// Writes an item's crop into `folder` and gives its file; `None` if it has no crop.
///
/// # Errors
/// If the collection can't be read or the file can't be written.
pub fn crop_to(store: &Store, folder: &Path, item: ItemId) -> Result<Option<PathBuf>, WorkflowError> {
    let Some(png) = store.crop(item).map_err(|error: StoreError| WorkflowError::from(error))? else { return Ok(None) };
    let path = folder.join(format!("item-{item}.png"));
    let written = private_folder(folder)
        .and_then(|()| private_file().create(true).truncate(true).open(&path))
        .and_then(|mut file| file.write_all(&png));
    written.map_err(|source| WorkflowError::Crop { path: path.clone(), source })?;
    Ok(Some(path))
}
