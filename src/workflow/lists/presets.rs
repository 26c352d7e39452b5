//! How lists of one kind are read, kept under a name.

use jiff::Timestamp;

use crate::intake::RunId;
use crate::list::Choices;
use crate::store::{RunKind, Store};
use crate::workflow::WorkflowError;

/// All that is kept, by name.
///
/// # Errors
/// If the collection can't be read.
pub fn list_presets(store: &Store) -> Result<Vec<(String, Choices)>, WorkflowError> {
    Ok(store.list_presets()?)
}

/// What is kept under a name.
///
/// # Errors
/// If nothing is, or the collection can't be read.
pub fn list_preset(store: &Store, name: &str) -> Result<Choices, WorkflowError> {
    Ok(store.list_preset(name.trim())?)
}

/// Forgets what is kept under a name.
///
/// # Errors
/// If nothing is, or the collection fails.
pub fn remove_list_preset(store: &Store, name: &str, now: Timestamp) -> Result<Option<RunId>, WorkflowError> {
    let mut run = None;
    store.write(&mut run, RunKind::Catalogue, now, |writer| writer.remove_list_preset(name.trim()))?;
    Ok(run)
}
