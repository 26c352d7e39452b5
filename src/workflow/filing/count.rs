//! How much is to be filed.

use crate::store::Store;
use crate::workflow::WorkflowError;

/// How many copies are read and stand in no box yet, and how many are still to be put in on the walk.
///
/// # Errors
/// If the collection can't be read.
pub fn filing_count(store: &Store) -> Result<(u32, u32), WorkflowError> {
    Ok(store.read(|store| Ok::<_, crate::store::StoreError>((store.to_file_count()?, store.walk_length()?)))?)
}
