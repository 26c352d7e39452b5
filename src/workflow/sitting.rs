//! A session as it runs: frames and lines come in from threads of their own and are taken one after another, until nothing
//! more will come or somebody ends it.
//!
//! The terminal and the page drive it alike: [`Sitting::next`] gives what is to be told, a [`Hand`] brings in what a
//! person does, of whatever type that is. What is told was on the disk before.

use std::collections::VecDeque;
use std::fmt;
use std::num::NonZeroUsize;
use std::ops::ControlFlow;
use std::path::PathBuf;
use std::sync::mpsc::{self, Receiver, RecvTimeoutError, SyncSender};
use std::thread;
use std::time::{Duration, Instant};

use jiff::Timestamp;

use super::{Live, Said, Step, Totals, WorkflowError, messages};
use crate::collection::Purchase;
use crate::intake::RunId;
use crate::picture::Luma;
use crate::source::camera::{self, CameraError, Choice, Format, Timing, Watch, Webcams};
use crate::source::handheld::{ADD_ON_WAIT, Handheld, HandheldError, Heard};
use crate::source::{Looked, Rate, replay};
use crate::store::Store;

/// So many events may wait. Frames wait among them, so it is few.
const WAITING: usize = 4;

/// A symbol's corners in frame px.
pub type Outline = [[f32; 2]; 4];

/// Frames in files, as if a camera had sent them.
#[derive(Debug, Clone)]
pub struct Film {
    /// The frames, in order.
    pub files: Vec<PathBuf>,
    /// How many of them make a second.
    pub rate: Rate,
}

/// Where a session's pictures come from.
#[derive(Debug, Clone)]
pub enum Pictures {
    /// A camera. Alone it ends no session, and goes on for ever.
    Camera(Choice),
    /// A film. When it has ended, no further picture comes.
    Film(Film),
}

/// What is to be told. `X`: what a person does.
#[derive(Debug)]
pub enum News<X> {
    /// What a book is.
    Said(Said),
    /// A line that is no code, or a file that is no frame: why.
    Refused(String),
    /// What a frame shows.
    Frame {
        /// It.
        luma: Luma,
        /// The symbols found in it.
        outlines: Vec<Outline>,
    },
    /// A camera takes pictures.
    Opened {
        /// Its name.
        name: String,
        /// The format chosen.
        format: Format,
    },
    /// It sends nothing, or nothing whole. Told once, until a frame comes.
    NoPicture {
        /// For so long.
        since: Duration,
        /// So many damaged ones came in that time.
        damaged: u64,
    },
    /// It can't be used now, and is tried again.
    Lost(CameraError),
    /// The last step was taken back; `None` if there is none.
    TakenBack(Option<Step>),
    /// The last book was dropped; `None` if there is none.
    Dropped(Option<Step>),
    /// A step was not done: why. The session goes on.
    NotDone(String),
    /// Whether books are passed over now.
    Paused(bool),
    /// What books are bought for from now on.
    Bought(Purchase),
    /// A person did something.
    Given {
        /// When.
        at: Instant,
        /// What.
        what: X,
    },
}

/// What comes in, from whichever thread.
enum Event<X> {
    Given(Instant, X),
    HandGone,
    Camera(camera::Event),
    Looked(Box<Looked>),
    BadFrame(String),
    FilmEnded,
}

/// Brings in what a person does, from any thread. As long as there is one, the session goes on.
#[derive(Debug)]
pub struct Hand<X>(SyncSender<Event<X>>);

impl<X> Hand<X> {
    /// Waits until it is taken, or all but. False if the session has ended.
    pub fn give(&self, what: X) -> bool {
        self.0.send(Event::Given(Instant::now(), what)).is_ok()
    }
}

impl<X> Drop for Hand<X> {
    fn drop(&mut self) {
        // If nobody listens, the session has ended.
        let _ = self.0.send(Event::HandGone);
    }
}

/// How frames went.
#[derive(Debug, Default)]
pub struct Frames {
    read_ms: Vec<f64>,
    /// From the moment a camera took a frame until it was read, in ms, at worst; none without a camera.
    pub most_behind_ms: Option<f64>,
    /// Frames of a camera that nobody had time for.
    pub passed_over: u64,
    /// Frames of a camera that were no whole pictures.
    pub damaged: u64,
}

impl Frames {
    /// So many were read.
    #[must_use]
    pub fn len(&self) -> usize {
        self.read_ms.len()
    }

    /// Whether none was read.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.read_ms.is_empty()
    }

    /// How long reading one took, in ms: in the median, and at worst.
    #[must_use]
    pub fn median_and_worst_ms(&self) -> Option<(f64, f64)> {
        let mut read_ms = self.read_ms.clone();
        read_ms.sort_by(f64::total_cmp);
        Some((*read_ms.get(read_ms.len() / 2)?, *read_ms.last()?))
    }
}

/// What may still come in.
#[derive(Debug, Default)]
struct Open {
    hands: usize,
    /// Whether the camera has not said yet what it is.
    camera: bool,
    film: bool,
}

impl Open {
    /// A camera alone ends nothing, and goes on for ever; but what it has to say first is waited for.
    fn go_on(&self) -> bool {
        self.hands > 0 || self.film || self.camera
    }
}

/// A session that runs.
pub struct Sitting<X> {
    live: Live,
    scanner: Handheld,
    now: Box<dyn Fn() -> Timestamp + Send>,
    /// The same moment on both clocks: between lines of a scanner only the second one counts, which nobody sets back.
    begun: (Timestamp, Instant),
    /// Until the first news is asked for; then only who brings something in has one.
    sender: Option<SyncSender<Event<X>>>,
    events: Receiver<Event<X>>,
    watch: Option<Watch>,
    open: Open,
    news: VecDeque<News<X>>,
    paused: bool,
    ended: bool,
    finished: bool,
    wrong: usize,
    frames: Frames,
    without_camera: Option<CameraError>,
}

impl<X> fmt::Debug for Sitting<X> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Sitting").field("live", &self.live).field("open", &self.open).finish_non_exhaustive()
    }
}

impl<X: Send + 'static> Sitting<X> {
    /// For books bought like this. `now` tells the time.
    pub fn new(purchase: Purchase, now: impl Fn() -> Timestamp + Send + 'static) -> Self {
        let (sender, events) = mpsc::sync_channel(WAITING);
        Self {
            live: Live::new(purchase),
            scanner: Handheld::new(ADD_ON_WAIT),
            begun: (now(), Instant::now()),
            now: Box::new(now),
            sender: Some(sender),
            events,
            watch: None,
            open: Open::default(),
            news: VecDeque::new(),
            paused: false,
            ended: false,
            finished: false,
            wrong: 0,
            frames: Frames::default(),
            without_camera: None,
        }
    }

    /// A hand for a person; `None` once the session runs.
    pub fn hand(&mut self) -> Option<Hand<X>> {
        let sender = self.sender.clone()?;
        self.open.hands += 1;
        Some(Hand(sender))
    }

    /// Takes pictures as well; nothing happens once the session runs.
    pub fn look(&mut self, pictures: Pictures) {
        let Some(sender) = self.sender.clone() else { return };
        match pictures {
            Pictures::Camera(choice) => {
                self.open.camera = true;
                let give = move |event| sender.send(Event::Camera(event)).is_ok();
                self.watch = Some(camera::watch(Webcams, choice, Timing::default(), give));
            }
            Pictures::Film(film) => {
                self.open.film = true;
                let start = (self.now)();
                thread::spawn(move || show(&film, start, &sender));
            }
        }
    }

    /// Waits for the next news; `None` when the session is over, and everything seen is taken.
    ///
    /// # Errors
    /// If the collection fails.
    pub fn next(&mut self, store: &Store) -> Result<Option<News<X>>, WorkflowError> {
        self.sender = None;
        loop {
            if let Some(news) = self.ready() {
                return Ok(Some(news));
            }
            if self.finished {
                return Ok(None);
            }
            if self.ended || !self.open.go_on() {
                (self.finished, self.watch) = (true, None);
                self.complete(store)?;
                self.rest(store)?;
            } else {
                self.take(store)?;
            }
        }
    }

    /// News that need not be waited for: what the last step came to.
    pub fn ready(&mut self) -> Option<News<X>> {
        self.news.pop_front()
    }

    /// Takes a line that a scanner sent, or a person typed, at that moment.
    ///
    /// # Errors
    /// If the collection fails.
    pub fn line(&mut self, store: &Store, at: Instant, line: &str) -> Result<(), WorkflowError> {
        if self.paused {
            self.news.push_back(News::Paused(true));
            return Ok(());
        }
        let at = self.moment(at);
        self.scanner.line(at, line).into_iter().try_for_each(|heard| self.heard(store, heard))
    }

    /// Takes the last step back, as if it had never been.
    ///
    /// # Errors
    /// If the collection fails.
    pub fn undo_last(&mut self, store: &Store) -> Result<(), WorkflowError> {
        self.complete(store)?;
        // Another command may have gone on with it: no reason to end the session.
        let done = self.live.undo_last(store).map_or_else(|error| not_done(&error), News::TakenBack);
        self.news.push_back(done);
        Ok(())
    }

    /// Drops the last book taken: it is no book of the collection's.
    ///
    /// # Errors
    /// If the collection fails.
    pub fn drop_last(&mut self, store: &Store) -> Result<(), WorkflowError> {
        self.complete(store)?;
        let now = (self.now)();
        let done = self.live.drop_last(store, now).map_or_else(|error| not_done(&error), News::Dropped);
        self.news.push_back(done);
        Ok(())
    }

    /// Passes over what comes from now on, or goes on.
    ///
    /// # Errors
    /// If the collection fails.
    pub fn pause(&mut self, store: &Store) -> Result<(), WorkflowError> {
        self.complete(store)?;
        self.paused = !self.paused;
        if self.paused {
            self.rest(store)?;
        }
        self.news.push_back(News::Paused(self.paused));
        Ok(())
    }

    /// Sets what books are bought for from now on.
    ///
    /// # Errors
    /// If the collection fails.
    pub fn set_purchase(&mut self, store: &Store, purchase: Purchase) -> Result<(), WorkflowError> {
        self.complete(store)?;
        self.live.set_purchase(purchase.clone());
        self.news.push_back(News::Bought(purchase));
        Ok(())
    }

    /// Ends the session: nothing more is taken but what has been seen.
    pub fn end(&mut self) {
        self.ended = true;
    }

    /// What books are bought for.
    pub fn purchase(&self) -> &Purchase {
        self.live.purchase()
    }

    /// The run that the session is recorded as, once something is staged.
    pub fn run(&self) -> Option<RunId> {
        self.live.run()
    }

    /// What it has come to so far.
    pub fn totals(&self) -> &Totals {
        self.live.totals()
    }

    /// Lines that were no code, and files that were no frame.
    pub fn wrong(&self) -> usize {
        self.wrong
    }

    /// How frames went.
    pub fn frames(&self) -> &Frames {
        &self.frames
    }

    /// Why the camera gives nothing, if it has not given anything yet.
    pub fn without_camera(&self) -> Option<&CameraError> {
        self.without_camera.as_ref()
    }

    /// Takes the next event, or the code whose add-on has not come in time.
    fn take(&mut self, store: &Store) -> Result<(), WorkflowError> {
        let event = match self.scanner.due() {
            Some(due) => {
                let wait = Duration::try_from(due.duration_since(self.moment(Instant::now()))).unwrap_or_default();
                // A millisecond more, so that the time is over when the wait is.
                self.events.recv_timeout(wait + Duration::from_millis(1))
            }
            None => self.events.recv().map_err(|_| RecvTimeoutError::Disconnected),
        };
        match event {
            Ok(Event::Given(at, what)) => self.news.push_back(News::Given { at, what }),
            Ok(Event::HandGone) => self.open.hands -= 1,
            Ok(Event::Camera(event)) => {
                self.open.camera = false;
                self.camera(store, event)?;
            }
            Ok(Event::Looked(looked)) => self.frame(store, *looked)?,
            Ok(Event::BadFrame(why)) => self.refuse(why),
            Ok(Event::FilmEnded) => self.open.film = false,
            Err(RecvTimeoutError::Timeout) => {
                if let Some(heard) = self.scanner.tick(self.moment(Instant::now())) {
                    self.heard(store, Ok(heard))?;
                }
            }
            Err(RecvTimeoutError::Disconnected) => self.ended = true,
        }
        Ok(())
    }

    fn camera(&mut self, store: &Store, event: camera::Event) -> Result<(), WorkflowError> {
        match event {
            camera::Event::Opened { name, format } => self.news.push_back(News::Opened { name, format }),
            camera::Event::Looked { looked, behind_ms, passed_over, damaged } => {
                self.without_camera = None;
                let frames = &mut self.frames;
                frames.most_behind_ms = Some(frames.most_behind_ms.unwrap_or_default().max(behind_ms));
                frames.passed_over += passed_over;
                frames.damaged += damaged;
                self.frame(store, looked)?;
            }
            camera::Event::NoPicture { since, damaged } => {
                self.rest(store)?;
                self.news.push_back(News::NoPicture { since, damaged });
            }
            camera::Event::Lost(error) => {
                self.rest(store)?;
                if self.frames.is_empty() {
                    self.without_camera = Some(error.clone());
                }
                self.news.push_back(News::Lost(error));
            }
        }
        Ok(())
    }

    fn frame(&mut self, store: &Store, looked: Looked) -> Result<(), WorkflowError> {
        let Looked { at, luma, symbols, read_ms } = looked;
        self.frames.read_ms.push(read_ms);
        let outlines = symbols.iter().map(|symbol| symbol.corners).collect();
        self.news.push_back(News::Frame { luma, outlines });
        if !self.paused {
            let said = self.live.frame(store, at, symbols)?;
            self.news.extend(said.into_iter().map(News::Said));
        }
        Ok(())
    }

    fn heard(&mut self, store: &Store, heard: Result<Heard, HandheldError>) -> Result<(), WorkflowError> {
        match heard {
            Ok(heard) => {
                let said = self.live.heard(store, (self.now)(), &heard)?;
                self.news.extend(said.map(News::Said));
            }
            Err(error) => self.refuse(messages(&error).join(": ")),
        }
        Ok(())
    }

    /// What a scanner has begun to send stands before what comes next.
    fn complete(&mut self, store: &Store) -> Result<(), WorkflowError> {
        self.scanner.finish().map_or(Ok(()), |heard| self.heard(store, Ok(heard)))
    }

    /// No frame comes for now.
    fn rest(&mut self, store: &Store) -> Result<(), WorkflowError> {
        let said = self.live.rest(store, (self.now)())?;
        self.news.extend(said.into_iter().map(News::Said));
        Ok(())
    }

    fn refuse(&mut self, why: String) {
        self.wrong += 1;
        self.news.push_back(News::Refused(why));
    }

    fn moment(&self, at: Instant) -> Timestamp {
        let (time, instant) = self.begun;
        time.saturating_add(at.saturating_duration_since(instant)).unwrap_or(Timestamp::MAX)
    }
}

fn not_done<X>(error: &WorkflowError) -> News<X> {
    News::NotDone(messages(error).join(": "))
}

fn show<X>(film: &Film, start: Timestamp, sender: &SyncSender<Event<X>>) {
    let jobs = thread::available_parallelism().unwrap_or(NonZeroUsize::MIN);
    replay(&film.files, film.rate, start, jobs, |looked| {
        let event = match looked {
            Ok(looked) => Event::Looked(Box::new(looked)),
            Err((path, error)) => Event::BadFrame(format!("{}: {}", path.display(), messages(&error).join(": "))),
        };
        if sender.send(event).is_ok() { ControlFlow::Continue(()) } else { ControlFlow::Break(()) }
    });
    // If nobody listens, the session has ended.
    let _ = sender.send(Event::FilmEnded);
}
