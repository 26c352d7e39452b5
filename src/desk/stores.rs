//! Connections to the collection's file, lent to one step at a time.

use std::path::PathBuf;
use std::sync::{Mutex, PoisonError};

use crate::store::{Store, StoreError};

/// More than this many are closed when they come back: as many steps at once are rare.
const KEPT: usize = 8;

/// Connections that nobody uses just now.
#[derive(Debug)]
pub(super) struct Stores {
    path: PathBuf,
    free: Mutex<Vec<Store>>,
}

impl Stores {
    pub(super) fn new(first: Store) -> Self {
        Self { path: first.path().clone(), free: Mutex::new(vec![first]) }
    }

    /// A connection for long.
    pub(super) fn open(&self) -> Result<Store, StoreError> {
        Store::open(&self.path)
    }

    /// Does something with a connection of its own. One that was lent when the step panicked is not used again.
    pub(super) fn with<T, E: From<StoreError>>(&self, work: impl FnOnce(&Store) -> Result<T, E>) -> Result<T, E> {
        let free = self.free.lock().unwrap_or_else(PoisonError::into_inner).pop();
        let store = free.map_or_else(|| self.open(), Ok)?;
        let done = work(&store);
        let mut free = self.free.lock().unwrap_or_else(PoisonError::into_inner);
        if free.len() < KEPT {
            free.push(store);
        }
        done
    }
}
