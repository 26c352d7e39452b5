//! Photos that came are read on few threads of their own, and those of one page are one run.

use std::collections::VecDeque;
use std::num::NonZeroUsize;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread;

use serde::Deserialize;
use tokio::sync::{Semaphore, SemaphorePermit, oneshot};

use super::receive::Content;
use crate::desk::limits::{BATCHES, UPLOADS};
use crate::desk::trouble::Trouble;
use crate::picture::Limits;
use crate::workflow::{LookedPhoto, PhotoSession, read_for_queue};

/// The photos of one page.
pub(super) type Session = Arc<Mutex<PhotoSession>>;

/// Which page photos come from: what one page sends, one after another, is one run.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(transparent)]
pub(in crate::desk) struct Batch(u64);

impl std::fmt::Display for Batch {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.0.fmt(f)
    }
}

/// Uploads of all of the desk's servers.
#[derive(Debug)]
pub(in crate::desk) struct Uploads {
    receiving: Semaphore,
    reading: Arc<Semaphore>,
    drawn: AtomicU64,
    sessions: Mutex<VecDeque<(Batch, Session)>>,
}

impl Uploads {
    pub(in crate::desk) fn new() -> Self {
        let cores = thread::available_parallelism().map_or(1, NonZeroUsize::get);
        Self {
            receiving: Semaphore::new(UPLOADS),
            // One core is left for whoever searches meanwhile.
            reading: Arc::new(Semaphore::new(cores.saturating_sub(1).max(1))),
            drawn: AtomicU64::new(0),
            sessions: Mutex::default(),
        }
    }

    /// A number for a page that photos may be sent from.
    pub(in crate::desk) fn draw(&self) -> Batch {
        Batch(self.drawn.fetch_add(1, Ordering::Relaxed) + 1)
    }

    /// Waits for room to receive another form.
    pub(super) async fn received(&self) -> Result<SemaphorePermit<'_>, Trouble> {
        self.receiving.acquire().await.map_err(|error| Trouble::machine(&error))
    }

    /// The session of a page; a new one if it is not known (any more).
    pub(super) fn session(&self, batch: Batch) -> Session {
        let mut sessions = self.sessions.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((_, session)) = sessions.iter().find(|(known, _)| *known == batch) {
            return Arc::clone(session);
        }
        let session = Session::default();
        sessions.push_back((batch, Arc::clone(&session)));
        if sessions.len() > BATCHES {
            sessions.pop_front();
        }
        session
    }

    /// Reads a photo on a thread of its own, when there is one.
    pub(super) async fn read(&self, content: Content) -> Result<LookedPhoto, Trouble> {
        let turn = Arc::clone(&self.reading).acquire_owned().await.map_err(|error| Trouble::machine(&error))?;
        let (tell, told) = oneshot::channel();
        let begun = thread::Builder::new().name("photo".to_owned()).spawn(move || {
            give_way();
            let looked = look(content);
            drop(turn);
            // Whoever asked may have gone away.
            let _ = tell.send(looked);
        });
        begun.map_err(|error| Trouble::machine(&error))?;
        told.await.map_err(|error| Trouble::machine(&error))
    }
}

fn look(content: Content) -> LookedPhoto {
    let sha256 = content.sha256;
    match content.whole() {
        Ok(bytes) => LookedPhoto::read(sha256, || read_for_queue(&bytes, &Limits::default())),
        Err(error) => LookedPhoto::Failed { error: format!("the photo can't be read back here: {error}") },
    }
}

/// Lets whoever searches go first. On Linux a thread has a priority of its own; elsewhere it would be the program's.
fn give_way() {
    #[cfg(target_os = "linux")]
    {
        // A system that does not allow it reads as fast as ever.
        let _ = rustix::process::setpriority_process(None, 10);
    }
}

pub(super) fn locked(session: &Mutex<PhotoSession>) -> MutexGuard<'_, PhotoSession> {
    session.lock().unwrap_or_else(PoisonError::into_inner)
}
