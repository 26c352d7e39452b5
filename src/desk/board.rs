//! What can be seen of a session as it runs: the newest frame with the found symbols, the last books, and how it goes.
//! Whoever drives the session fills it; any number of pages look at it, each as often as it likes.

use std::collections::VecDeque;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use axum::body::Bytes;
use serde::Serialize;
use tokio::sync::{OwnedSemaphorePermit, Semaphore, watch};

use super::limits::{LISTENERS, NEWS_APART};
use crate::collection::Purchase;
use crate::picture::{Luma, to_jpeg};
use crate::workflow::{News, Outline, StageOutcome, Step, Told, Tone};

/// So many of the last things told stay to be read.
const LINES: usize = 12;
/// Good enough to aim by.
const QUALITY: u8 = 70;

/// A session's board.
#[derive(Debug)]
pub struct Board {
    inside: Mutex<Inside>,
    /// The newest frame as JPEG: which it is, and since when. Its lock is held while it is made, so that many who look
    /// make it once.
    jpeg: Mutex<Option<(u64, Instant, Bytes)>>,
    /// Counts changes.
    changes: watch::Sender<u64>,
    places: Arc<Semaphore>,
}

#[derive(Debug)]
struct Inside {
    frame: Option<Arc<Luma>>,
    frames: u64,
    outlines: Vec<Outline>,
    lines: VecDeque<(u64, Told)>,
    told: u64,
    /// Counts changes of all but the frame.
    words: u64,
    counted: String,
    camera: String,
    typed: String,
    trouble: Option<String>,
    paused: bool,
    purchase: Purchase,
    over: Option<String>,
    looked_at: Instant,
}

/// All that stands on a board but the picture.
#[derive(Debug, Clone)]
pub(super) struct Seen {
    /// Width and height of the frame in px, its number, and the symbols found in it.
    pub(super) frame: Option<([usize; 2], u64, Vec<Outline>)>,
    /// What was told, newest first.
    pub(super) lines: Vec<Told>,
    pub(super) counted: String,
    pub(super) camera: String,
    /// Why the camera gives nothing now.
    pub(super) trouble: Option<String>,
    /// The line that was typed last.
    pub(super) typed: String,
    pub(super) paused: bool,
    pub(super) purchase: Purchase,
    /// How the session ended, if it has.
    pub(super) over: Option<String>,
}

/// What a page is sent at a change; from the rest of it, it asks for what it needs.
#[derive(Debug, Serialize)]
pub(super) struct Glance {
    frame: u64,
    outlines: Vec<Outline>,
    /// Counts what was told.
    told: u64,
    /// The tone of the last that has one, and its number.
    tone: Option<(u64, Tone)>,
    /// Counts changes of all but the frame.
    words: u64,
    pub(super) over: bool,
}

impl Board {
    /// Of a session in which nothing was seen yet, for books bought like this.
    #[must_use]
    pub fn new(purchase: Purchase) -> Self {
        let inside = Inside {
            frame: None,
            frames: 0,
            outlines: Vec::new(),
            lines: VecDeque::new(),
            told: 0,
            words: 0,
            counted: String::new(),
            camera: String::new(),
            typed: String::new(),
            trouble: None,
            paused: false,
            purchase,
            over: None,
            looked_at: Instant::now(),
        };
        Self {
            inside: Mutex::new(inside),
            jpeg: Mutex::new(None),
            changes: watch::Sender::new(0),
            places: Arc::new(Semaphore::new(LISTENERS)),
        }
    }

    /// Puts news up; `counted`: how many books there are by now.
    pub fn tell<X>(&self, news: News<X>, counted: &str) {
        let told = news.told();
        self.change(|inside| {
            if counted != inside.counted {
                counted.clone_into(&mut inside.counted);
                inside.words += 1;
            }
            match news {
                News::Frame { luma, outlines } => inside.show(luma, outlines),
                News::Opened { .. } => {
                    (inside.camera, inside.trouble) = (told.as_ref().map(|t| t.text.clone()).unwrap_or_default(), None);
                }
                News::NoPicture { .. } | News::Lost(_) => inside.trouble = told.as_ref().map(|t| t.text.clone()),
                // There is no such item any more.
                News::TakenBack(Some(Step::Staged { outcome: StageOutcome::Staged(gone), .. })) => {
                    for (_, told) in &mut inside.lines {
                        told.waits = told.waits.filter(|item| *item != gone.item);
                    }
                }
                News::Paused(paused) => inside.paused = paused,
                News::Bought(purchase) => inside.purchase = purchase,
                _ => {}
            }
            if let Some(told) = told {
                inside.told += 1;
                inside.words += 1;
                inside.lines.push_front((inside.told, told));
                inside.lines.truncate(LINES);
            }
        });
    }

    /// Puts up the line that was typed last.
    pub(super) fn typed(&self, line: &str) {
        self.change(|inside| {
            line.trim().clone_into(&mut inside.typed);
            inside.words += 1;
        });
    }

    /// The session has ended: how. What was told stays, the picture does not.
    pub fn end(&self, how: &str) {
        self.change(|inside| {
            if inside.over.is_none() {
                (inside.over, inside.frame) = (Some(how.to_owned()), None);
                inside.words += 1;
            }
        });
        *lock(&self.jpeg) = None;
    }

    /// Whether the session has ended.
    pub(super) fn is_over(&self) -> bool {
        lock(&self.inside).over.is_some()
    }

    /// For how long nobody has looked.
    pub(super) fn alone(&self) -> Duration {
        if self.places.available_permits() < LISTENERS {
            return Duration::ZERO;
        }
        lock(&self.inside).looked_at.elapsed()
    }

    /// Somebody looks.
    pub(super) fn look(&self) {
        lock(&self.inside).looked_at = Instant::now();
    }

    /// What stands there now.
    pub(super) fn seen(&self) -> Seen {
        let inside = lock(&self.inside);
        Seen {
            frame: inside
                .frame
                .as_ref()
                .map(|frame| ([frame.width(), frame.height()], inside.frames, inside.outlines.clone())),
            lines: inside.lines.iter().map(|(_, told)| told.clone()).collect(),
            counted: inside.counted.clone(),
            camera: inside.camera.clone(),
            trouble: inside.trouble.clone(),
            typed: inside.typed.clone(),
            paused: inside.paused,
            purchase: inside.purchase.clone(),
            over: inside.over.clone(),
        }
    }

    /// The newest frame as JPEG, or one that was the newest just now. It is made only when somebody asks.
    pub(super) fn jpeg(&self) -> Option<Bytes> {
        let mut made = lock(&self.jpeg);
        let (frame, number) = {
            let inside = lock(&self.inside);
            (Arc::clone(inside.frame.as_ref()?), inside.frames)
        };
        if let Some((of, since, jpeg)) = &*made
            && (*of == number || since.elapsed() < NEWS_APART)
        {
            return Some(jpeg.clone());
        }
        let jpeg = Bytes::from(to_jpeg(&frame, QUALITY).ok()?);
        *made = Some((number, Instant::now(), jpeg.clone()));
        Some(jpeg)
    }

    /// Listens for changes; `None` if too many do.
    pub(super) fn listen(self: &Arc<Self>) -> Option<Listener> {
        let place = Arc::clone(&self.places).try_acquire_owned().ok()?;
        let mut changes = self.changes.subscribe();
        changes.mark_changed();
        Some(Listener { board: Arc::clone(self), changes, last: None, _place: place })
    }

    fn change(&self, change: impl FnOnce(&mut Inside)) {
        change(&mut lock(&self.inside));
        self.changes.send_modify(|number| *number += 1);
    }

    fn glance(&self) -> Glance {
        let inside = lock(&self.inside);
        Glance {
            frame: inside.frames,
            outlines: inside.outlines.clone(),
            told: inside.told,
            tone: inside.lines.iter().find_map(|(number, told)| Some((*number, told.tone?))),
            words: inside.words,
            over: inside.over.is_some(),
        }
    }
}

impl Inside {
    fn show(&mut self, luma: Luma, outlines: Vec<Outline>) {
        let size = |luma: &Luma| [luma.width(), luma.height()];
        // The page has no picture yet, or one of another size.
        let other = self.frame.as_deref().map(size) != Some(size(&luma));
        self.words += u64::from(other || self.trouble.take().is_some());
        self.frame = Some(Arc::new(luma));
        self.frames += 1;
        self.outlines = outlines;
    }
}

/// Who listens for changes. When it is dropped, its place is free.
#[derive(Debug)]
pub(super) struct Listener {
    board: Arc<Board>,
    changes: watch::Receiver<u64>,
    last: Option<tokio::time::Instant>,
    _place: OwnedSemaphorePermit,
}

impl Listener {
    /// Waits for the next change, and no less than [`NEWS_APART`] since the last one.
    pub(super) async fn next(&mut self) -> Glance {
        if let Some(last) = self.last {
            tokio::time::sleep_until(last + NEWS_APART).await;
        }
        // The board is held here, so its sender is there.
        let _ = self.changes.changed().await;
        self.last = Some(tokio::time::Instant::now());
        self.board.glance()
    }
}

impl Drop for Listener {
    fn drop(&mut self) {
        self.board.look();
    }
}

fn lock<T>(inside: &Mutex<T>) -> MutexGuard<'_, T> {
    inside.lock().unwrap_or_else(PoisonError::into_inner)
}
