//! What one server holds, and how its handlers reach the collection.

use std::sync::{Arc, OnceLock, PoisonError, RwLock};

use jiff::Timestamp;
use jiff::civil::{Date, DateTime};
use tokio::sync::Semaphore;

use super::clock::Clock;
use super::guard::Guard;
use super::limits::STEPS;
use super::phone::Phones;
use super::running::Intake;
use super::stores::Stores;
use super::trouble::Trouble;
use super::upload::Uploads;
use crate::store::{Store, StoreError};

/// What all of the desk's servers share.
#[derive(Debug)]
pub(super) struct Shared {
    stores: Stores,
    steps: Semaphore,
    clock: Clock,
    pub(super) uploads: Uploads,
    intake: Intake,
}

impl Shared {
    pub(super) fn new(store: Store, clock: Clock, intake: Intake) -> Self {
        Self { stores: Stores::new(store), steps: Semaphore::new(STEPS), clock, uploads: Uploads::new(), intake }
    }

    /// The session that runs, or the last one.
    pub(super) fn intake(&self) -> &Intake {
        &self.intake
    }

    pub(super) fn clock(&self) -> Clock {
        self.clock.clone()
    }

    /// A connection to the collection for long. It waits.
    pub(super) fn open_store(&self) -> Result<Store, StoreError> {
        self.stores.open()
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
        E: Send + From<StoreError> + 'static,
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
    guard: RwLock<Arc<Guard>>,
    pub(super) shared: Arc<Shared>,
    /// On the desk's own: the server for phones, if there is one.
    pub(super) phones: OnceLock<Arc<Phones>>,
}

impl Site {
    pub(super) fn new(guard: Guard, shared: Arc<Shared>) -> Self {
        Self { guard: RwLock::new(Arc::new(guard)), shared, phones: OnceLock::new() }
    }

    /// Who is let in now.
    pub(super) fn guard(&self) -> Arc<Guard> {
        Arc::clone(&self.guard.read().unwrap_or_else(PoisonError::into_inner))
    }

    /// From now on nobody is known who was.
    pub(super) fn replace_guard(&self, guard: Guard) {
        *self.guard.write().unwrap_or_else(PoisonError::into_inner) = Arc::new(guard);
    }
}
