//! What one server holds, and how its handlers reach the collection.

use std::sync::Arc;

use jiff::Timestamp;
use jiff::civil::{Date, DateTime};
use tokio::sync::Semaphore;

use super::clock::Clock;
use super::guard::Guard;
use super::limits::STEPS;
use super::stores::Stores;
use super::trouble::Trouble;
use crate::store::Store;

/// What all of the desk's servers share.
#[derive(Debug)]
pub(super) struct Shared {
    stores: Stores,
    steps: Semaphore,
    clock: Clock,
}

impl Shared {
    pub(super) fn new(store: Store, clock: Clock) -> Self {
        Self { stores: Stores::new(store), steps: Semaphore::new(STEPS), clock }
    }

    pub(super) fn now(&self) -> Timestamp {
        self.clock.now()
    }

    pub(super) fn today(&self) -> Date {
        self.clock.today()
    }

    pub(super) fn local(&self, moment: Timestamp) -> DateTime {
        self.clock.local(moment)
    }

    /// Does something with the collection, on a thread where it may wait. What was begun is done, even if the browser
    /// has gone away.
    pub(super) async fn step<T, E>(
        self: &Arc<Self>,
        work: impl FnOnce(&Store) -> Result<T, E> + Send + 'static,
    ) -> Result<T, Trouble>
    where
        T: Send + 'static,
        E: Send + From<crate::store::StoreError> + 'static,
        Trouble: From<E>,
    {
        let permit = self.steps.acquire().await.map_err(|error| Trouble::machine(&error))?;
        let shared = Arc::clone(self);
        let done = tokio::task::spawn_blocking(move || shared.stores.with(work)).await;
        drop(permit);
        Ok(done.map_err(|error| Trouble::machine(&error))??)
    }
}

/// One server: the desk's own, or the one for phones.
#[derive(Debug)]
pub(super) struct Site {
    pub(super) guard: Guard,
    pub(super) shared: Arc<Shared>,
}
