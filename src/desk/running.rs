//! The desk's session: one at a time, on a thread of its own, steered by whoever has the page open.

use std::sync::{Arc, Mutex, PoisonError, Weak};
use std::time::Duration;

use tokio::sync::oneshot;

use super::board::Board;
use super::clock::Clock;
use crate::collection::Purchase;
use crate::intake::RunId;
use crate::store::Store;
use crate::workflow::{Film, Hand, News, Pictures, Sitting, WorkflowError, messages, totals_in_words};

/// What a person does on the page.
#[derive(Debug)]
pub(super) enum Act {
    Line(String),
    Undo,
    Drop,
    Pause,
    Buy(Purchase),
    /// Ends it; this is how.
    End(String),
}

/// An act, and who waits until it is done; it is answered with the session's run.
#[derive(Debug)]
struct Asked {
    act: Act,
    done: oneshot::Sender<Option<RunId>>,
}

/// A session, from its begin to the end of its page.
#[derive(Debug)]
pub(super) struct Running {
    board: Arc<Board>,
    hand: Hand<Asked>,
}

impl Running {
    pub(super) fn board(&self) -> &Arc<Board> {
        &self.board
    }

    /// Does it, waits until it is done, and gives the session's run; `None` if there is none, or the session is over.
    pub(super) async fn act(self: &Arc<Self>, act: Act) -> Option<RunId> {
        let (done, answer) = oneshot::channel();
        let running = Arc::clone(self);
        let given = tokio::task::spawn_blocking(move || running.hand.give(Asked { act, done })).await;
        if matches!(given, Ok(true)) { answer.await.ok().flatten() } else { None }
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        // The desk is closed; nobody waits.
        self.hand.give(Asked { act: Act::End("the desk was closed".to_owned()), done: oneshot::channel().0 });
    }
}

/// What a server shows of sessions.
#[derive(Debug)]
pub(super) enum Intake {
    /// Its own, one at a time.
    Own(Own),
    /// One that is driven elsewhere.
    Watched(Arc<Board>),
}

/// The place of the desk's own session.
#[derive(Debug)]
pub(super) struct Own {
    /// Frames to take as if a camera sent them.
    pub(super) film: Option<Film>,
    /// A session that nobody looks at for so long ends.
    pub(super) patience: Duration,
    running: Mutex<Option<Arc<Running>>>,
}

impl Own {
    pub(super) fn new(film: Option<Film>, patience: Duration) -> Self {
        Self { film, patience, running: Mutex::new(None) }
    }

    /// The session that runs, or the last one.
    pub(super) fn running(&self) -> Option<Arc<Running>> {
        self.running.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// Begins a session, with a connection of its own. False if one runs. Within the desk's runtime.
    pub(super) fn begin(&self, store: Store, purchase: Purchase, pictures: Option<Pictures>, clock: Clock) -> bool {
        let mut place = self.running.lock().unwrap_or_else(PoisonError::into_inner);
        if place.as_ref().is_some_and(|running| !running.board.is_over()) {
            return false;
        }
        let board = Arc::new(Board::new(purchase.clone()));
        let mut sitting = Sitting::new(purchase, move || clock.now());
        let Some(hand) = sitting.hand() else { return false };
        if let Some(pictures) = pictures {
            sitting.look(pictures);
        }
        let shown = Arc::clone(&board);
        std::thread::spawn(move || {
            let end = End(&shown);
            let ended = work(&store, &mut sitting, &shown);
            let broken = |error: &WorkflowError| format!("broken off: {}", messages(error).join(": "));
            end.0.end(&ended.as_ref().map_or_else(broken, |(how, _)| how.clone()));
            if let Ok((_, Some(done))) = ended {
                // Whoever ended it may have gone.
                let _ = done.send(sitting.run());
            }
        });
        let running = Arc::new(Running { board, hand });
        tokio::spawn(wait_for_nobody(Arc::downgrade(&running), self.patience));
        *place = Some(running);
        true
    }
}

impl Intake {
    /// The board of the session that runs, or of the last one.
    pub(super) fn board(&self) -> Option<Arc<Board>> {
        match self {
            Self::Own(own) => own.running().map(|running| Arc::clone(running.board())),
            Self::Watched(board) => Some(Arc::clone(board)),
        }
    }
}

/// Whatever happens on the thread, the board says that the session is over.
struct End<'a>(&'a Board);

impl Drop for End<'_> {
    fn drop(&mut self) {
        self.0.end("broken off; what was told is on the disk");
    }
}

type Ended = (String, Option<oneshot::Sender<Option<RunId>>>);

/// Takes what comes until the session is over; how it ended, and who waits for that.
fn work(store: &Store, sitting: &mut Sitting<Asked>, board: &Board) -> Result<Ended, WorkflowError> {
    let mut ended = ("nothing more will come".to_owned(), None);
    while let Some(news) = sitting.next(store)? {
        let News::Given { at, what: Asked { act, done } } = news else {
            put_up(board, sitting, news);
            continue;
        };
        match act {
            Act::Line(line) => {
                board.typed(&line);
                sitting.line(store, at, &line)?;
            }
            Act::Undo => sitting.undo_last(store)?,
            Act::Drop => sitting.drop_last(store)?,
            Act::Pause => sitting.pause(store)?,
            Act::Buy(purchase) => sitting.set_purchase(store, purchase)?,
            Act::End(how) => {
                sitting.end();
                ended = (how, Some(done));
                continue;
            }
        }
        // Whoever waits sees what came of it.
        while let Some(news) = sitting.ready() {
            put_up(board, sitting, news);
        }
        let _ = done.send(sitting.run());
    }
    Ok(ended)
}

fn put_up(board: &Board, sitting: &Sitting<Asked>, news: News<Asked>) {
    board.tell(news, &totals_in_words(sitting.totals(), sitting.wrong()));
}

/// Ends a session that nobody looks at.
async fn wait_for_nobody(running: Weak<Running>, patience: Duration) {
    loop {
        let Some(session) = running.upgrade().filter(|running| !running.board.is_over()) else { return };
        let alone = session.board.alone();
        if alone >= patience {
            let minutes = patience.as_secs() / 60;
            session.act(Act::End(format!("ended by itself, because nobody looked for {minutes} minutes"))).await;
            return;
        }
        drop(session);
        tokio::time::sleep(patience.saturating_sub(alone)).await;
    }
}

#[cfg(test)]
mod tests {
    use jiff::tz::TimeZone;

    use super::*;

    fn begun(own: &Own, folder: &std::path::Path) -> Arc<Running> {
        let store = Store::open(&folder.join("collection.sqlite")).unwrap();
        let clock = Clock::new(jiff::Timestamp::now, TimeZone::UTC);
        assert!(own.begin(store, Purchase::default(), None, clock));
        own.running().unwrap()
    }

    async fn over(running: &Running) -> Option<String> {
        let second = Duration::from_secs(1);
        let mut waited = tokio::time::interval(second / 50);
        for _ in 0..150 {
            waited.tick().await;
            if let Some(how) = running.board.seen().over {
                return Some(how);
            }
        }
        None
    }

    #[tokio::test]
    async fn a_session_that_nobody_looks_at_ends_and_says_so() {
        let folder = tempfile::tempdir().unwrap();
        let own = Own::new(None, Duration::from_millis(300));
        let running = begun(&own, folder.path());
        // While somebody listens it goes on.
        let listener = running.board.listen().unwrap();
        tokio::time::sleep(Duration::from_millis(900)).await;
        assert!(!running.board.is_over());
        running.act(Act::Line("614141000418 00411".to_owned())).await;
        drop(listener);
        let how = over(&running).await.unwrap();
        assert!(how.contains("nobody looked"), "{how}");
        // What was taken is on the disk, and the next session may begin.
        let store = Store::open(&folder.path().join("collection.sqlite")).unwrap();
        assert_eq!(crate::workflow::queue_list(&store, crate::store::QueueFilter::Open).unwrap().len(), 1);
        begun(&own, folder.path());
    }

    #[tokio::test]
    async fn only_so_many_listen_and_who_goes_makes_room() {
        let board = Arc::new(Board::new(Purchase::default()));
        let mut all: Vec<_> = std::iter::from_fn(|| board.listen()).take(100).collect();
        assert_eq!(all.len(), super::super::limits::LISTENERS);
        all.pop();
        assert!(board.listen().is_some());
    }

    #[tokio::test]
    async fn a_session_ends_with_its_desk() {
        let folder = tempfile::tempdir().unwrap();
        let own = Own::new(None, Duration::from_secs(600));
        let board = Arc::clone(begun(&own, folder.path()).board());
        tokio::task::spawn_blocking(move || drop(own)).await.unwrap();
        for _ in 0..150 {
            if board.is_over() {
                return;
            }
            tokio::time::sleep(Duration::from_millis(20)).await;
        }
        panic!("the session goes on without its desk");
    }
}
