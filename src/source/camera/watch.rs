//! A camera watched: frames looked at as they come, the newest only, and word of everything that keeps them from coming.
//!
//! Two threads. One takes frames; it may hang in the driver for ever, and is then left alone. The other reads them and
//! notices when none come.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::thread;
use std::time::{Duration, Instant};

use jiff::Timestamp;

use super::choose::{Choice, best_formats, pick};
use super::{Camera, CameraError, Driver, Format, Frame};
use crate::picture::{Luma, luma_of_frame};
use crate::source::looked::Looked;
use crate::source::newest::{Newest, Waited};
use crate::source::photo::guarded;

/// So long no whole picture comes before a person is told: cameras take up to 2 s for their first.
pub const NO_PICTURE_AFTER: Duration = Duration::from_secs(3);

/// How long to wait before a camera is opened again: as long as a system takes to find a replugged one.
pub const RETRY_AFTER: Duration = Duration::from_secs(1);

/// How often to look whether anything has changed.
const TICK: Duration = Duration::from_millis(100);

/// How long to wait for what.
#[derive(Debug, Clone, Copy)]
pub struct Timing {
    /// See [`NO_PICTURE_AFTER`].
    pub no_picture_after: Duration,
    /// See [`RETRY_AFTER`].
    pub retry_after: Duration,
}

impl Default for Timing {
    fn default() -> Self {
        Self { no_picture_after: NO_PICTURE_AFTER, retry_after: RETRY_AFTER }
    }
}

/// What comes from a camera.
#[derive(Debug)]
pub enum Event {
    /// It takes pictures.
    Opened {
        /// Its name.
        name: String,
        /// The format chosen.
        format: Format,
    },
    /// A frame was looked at.
    Looked {
        /// The frame.
        looked: Looked,
        /// From the moment it was taken until it was read, in ms.
        behind_ms: f64,
        /// Frames since the one before that nobody had time for.
        passed_over: u64,
        /// Frames since the one before that were no whole pictures.
        damaged: u64,
    },
    /// No whole picture comes. Told once, until one does.
    NoPicture {
        /// For so long.
        since: Duration,
        /// So many damaged ones came in that time.
        damaged: u64,
    },
    /// It can't be used now; it is tried again. Told once for each reason.
    Lost(CameraError),
}

/// A camera that is watched until this is dropped.
#[derive(Debug)]
pub struct Watch(Arc<Newest<Message>>);

impl Drop for Watch {
    fn drop(&mut self) {
        self.0.close();
    }
}

/// Watches the camera of `choice`. `give` gets what comes, on a thread of its own; it ends the watch by giving false.
pub fn watch(
    driver: impl Driver,
    choice: Choice,
    timing: Timing,
    give: impl FnMut(Event) -> bool + Send + 'static,
) -> Watch {
    let messages = Arc::new(Newest::default());
    let told = Arc::clone(&messages);
    thread::spawn(move || Capture { driver, choice, retry_after: timing.retry_after, told }.run());
    let heard = Arc::clone(&messages);
    thread::spawn(move || {
        look(&heard, timing, give);
        heard.close();
    });
    Watch(messages)
}

/// What the thread that takes frames tells the one that reads them.
#[derive(Debug)]
enum Message {
    Opened { name: String, format: Format },
    Frame(Format, Frame),
    Lost(CameraError),
}

/// The thread that takes frames.
struct Capture<D> {
    driver: D,
    choice: Choice,
    retry_after: Duration,
    told: Arc<Newest<Message>>,
}

impl<D: Driver> Capture<D> {
    fn run(mut self) {
        let mut last: Option<CameraError> = None;
        // Formats that gave no frame at all are passed over.
        let mut skip = 0;
        while !self.told.is_closed() {
            let (got_frames, error) = self.take_frames(skip);
            if got_frames {
                (skip, last) = (0, None);
            } else if matches!(error, CameraError::Failed { .. }) {
                skip += 1;
            }
            if last.as_ref() != Some(&error) {
                self.told.put(Message::Lost(error.clone()));
                last = Some(error);
            }
            let again = Instant::now() + self.retry_after;
            while Instant::now() < again && !self.told.is_closed() {
                thread::sleep(TICK.min(self.retry_after));
            }
        }
    }

    /// Opens the camera and takes frames until it fails; whether it gave any, and why it failed.
    fn take_frames(&mut self, skip: usize) -> (bool, CameraError) {
        let mut got_frames = false;
        let mut name = "the camera".to_owned();
        // A driver may panic, above all when it closes a camera that is gone.
        let failed = catch_unwind(AssertUnwindSafe(|| self.frames_of_one(skip, &mut name, &mut got_frames)));
        let error = failed.unwrap_or_else(|_| CameraError::Failed { name, what: "its driver gave up".to_owned() });
        (got_frames, error)
    }

    fn frames_of_one(&mut self, skip: usize, name: &mut String, got_frames: &mut bool) -> CameraError {
        let opened = self.driver.list().and_then(|cameras| {
            let camera = pick(&cameras, &self.choice)?.clone();
            name.clone_from(&camera.name);
            let formats = best_formats(&camera);
            let format = *formats.get(skip % formats.len().max(1)).ok_or_else(|| no_format(&camera))?;
            let stream = self.driver.open(&camera, format)?;
            Ok((camera, format, stream))
        });
        let (camera, format, mut stream) = match opened {
            Ok(opened) => opened,
            Err(error) => return error,
        };
        // After it was unplugged, another camera is no replacement.
        self.choice = Choice::Name(camera.name.clone());
        self.told.put(Message::Opened { name: camera.name, format });
        loop {
            match stream.frame() {
                Ok(frame) => {
                    *got_frames = true;
                    let is_frame = |message: &Message| matches!(message, Message::Frame(..));
                    if !self.told.put_instead(Message::Frame(format, frame), is_frame) {
                        return CameraError::NoCamera;
                    }
                }
                Err(error) => return error,
            }
        }
    }
}

fn no_format(camera: &Camera) -> CameraError {
    CameraError::NoFormat { name: camera.name.clone() }
}

/// The thread that reads frames.
fn look(messages: &Newest<Message>, timing: Timing, mut give: impl FnMut(Event) -> bool) {
    // Since when a picture is due; none while the camera is closed.
    let mut due_since: Option<Instant> = None;
    let mut told = false;
    let (mut damaged, mut damaged_since) = (0, 0);
    let mut passed_over = 0;
    loop {
        let event = match messages.take(TICK) {
            Waited::Closed => return,
            Waited::Nothing => None,
            Waited::Value(Message::Opened { name, format }) => {
                (due_since, told, damaged_since) = (Some(Instant::now()), false, 0);
                Some(Event::Opened { name, format })
            }
            Waited::Value(Message::Lost(error)) => {
                due_since = None;
                Some(Event::Lost(error))
            }
            Waited::Value(Message::Frame(format, frame)) => match looked(format, &frame) {
                Some(looked) => {
                    let over = messages.passed_over();
                    (due_since, told, damaged_since) = (Some(Instant::now()), false, 0);
                    Some(Event::Looked {
                        looked,
                        behind_ms: Timestamp::now().duration_since(frame.at).as_secs_f64() * 1000.0,
                        passed_over: over - std::mem::replace(&mut passed_over, over),
                        damaged: std::mem::take(&mut damaged),
                    })
                }
                None => {
                    damaged += 1;
                    damaged_since += 1;
                    None
                }
            },
        };
        if event.is_some_and(|event| !give(event)) {
            return;
        }
        if let Some(since) = due_since.map(|at| at.elapsed())
            && since >= timing.no_picture_after
            && !told
        {
            told = true;
            if !give(Event::NoPicture { since, damaged: damaged_since }) {
                return;
            }
        }
    }
}

/// The frame looked at; `None` if it is no whole picture.
fn looked(format: Format, frame: &Frame) -> Option<Looked> {
    // Decoders panic on some damaged frames.
    let luma: Luma = guarded(|| luma_of_frame(&frame.bytes, format.packing, format.size)).ok()?.ok()?;
    Looked::at(frame.at, luma).ok()
}
