//! What digits that a person typed mean, and what wrong ones were meant to be.

use super::have::by_code;
use super::{HaveAnswer, WorkflowError};
use crate::code::{AddOn, Correction, Gtin, corrections};
use crate::meaning::{Meaning, meaning};
use crate::store::Store;

/// What a code means, and whether it is owned.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Meant {
    /// What its digits say, under the layout of the title that it is known to stand for.
    pub meaning: Meaning,
    /// Whether it is owned; `None` without a collection.
    pub have: Option<HaveAnswer>,
}

/// What a code means.
///
/// # Errors
/// If the collection can't be read.
pub fn meant(store: Option<&Store>, gtin: Gtin, add_on: Option<AddOn>) -> Result<Meant, WorkflowError> {
    let query = add_on.map_or_else(|| gtin.to_string(), |add_on| format!("{gtin}+{add_on}"));
    let ask = |store: &Store| store.read(|store| by_code(store, &query, gtin, add_on));
    let have = store.map(ask).transpose()?;
    let layout = have.as_ref().and_then(|have| have.titles.iter().find_map(|known| known.title.layout));
    Ok(Meant { meaning: meaning(gtin, add_on, layout), have })
}

/// The codes that a wrong line was most likely meant to be, those that the collection knows first.
#[must_use]
pub fn proposals(store: Option<&Store>, typed: &str) -> Vec<Correction> {
    let known = |gtin| {
        store.is_some_and(|store| {
            let titles = store.titles_of_code(gtin).is_ok_and(|titles| !titles.is_empty());
            titles || store.book(gtin).is_ok_and(|book| book.is_some())
        })
    };
    corrections(typed, known)
}
