//! A camera watched, with a driver that does everything wrong that real ones do.

use std::collections::VecDeque;
use std::sync::mpsc::{self, Receiver, RecvTimeoutError, Sender};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use boxward::picture::{Packing, to_jpeg};
use boxward::source::camera::{
    Camera, CameraError, Choice, Driver, Event, Format, Frame, Stream, Timing, Watch, watch,
};
use jiff::Timestamp;

use crate::simulated::{CLASSES, simulated};

const SIZE: [usize; 2] = [64, 48];
/// Where no picture is to come, quick, so that nobody waits, and still far above what a busy machine delays a thread by;
/// elsewhere longer than any test.
const QUICK: Duration = Duration::from_secs(1);
const PATIENT: Duration = Duration::from_secs(30);

/// What the driver does next.
#[derive(Debug, Clone)]
enum Act {
    Frame(Vec<u8>),
    Fail(CameraError),
    /// Sends nothing until it is told to.
    Freeze,
    Panic,
}

/// What an attempt to open gives: frames, or an error.
type Attempt = Result<Vec<Act>, CameraError>;

struct Fake {
    formats: Vec<Format>,
    attempts: Mutex<VecDeque<Attempt>>,
    opened: Arc<Mutex<Vec<Format>>>,
    ice: Ice,
}

struct Acts(VecDeque<Act>, Ice);

/// Where a frozen camera says so and waits.
#[derive(Clone)]
struct Ice {
    frozen: Sender<()>,
    thaw: Arc<Mutex<Receiver<()>>>,
}

impl Ice {
    /// Whether it goes on; not when the play is over.
    fn thaws(&self) -> bool {
        self.frozen.send(()).is_ok() && self.thaw.lock().unwrap().recv().is_ok()
    }
}

fn failed() -> CameraError {
    CameraError::Failed { name: "Fake".to_owned(), what: "odd".to_owned() }
}

fn busy() -> CameraError {
    CameraError::Busy { name: "Fake".to_owned() }
}

fn gone() -> CameraError {
    CameraError::Gone { name: "Fake".to_owned() }
}

impl Driver for Fake {
    fn list(&self) -> Result<Vec<Camera>, CameraError> {
        Ok(vec![Camera { number: 0, name: "Fake".to_owned(), formats: self.formats.clone() }])
    }

    fn open(&self, _: &Camera, format: Format) -> Result<Box<dyn Stream>, CameraError> {
        self.opened.lock().unwrap().push(format);
        // What is left when the play is over hangs.
        let acts = self.attempts.lock().unwrap().pop_front().unwrap_or(Ok(vec![Act::Freeze]))?;
        Ok(Box::new(Acts(acts.into(), self.ice.clone())))
    }
}

impl Stream for Acts {
    fn frame(&mut self) -> Result<Frame, CameraError> {
        loop {
            match self.0.pop_front() {
                Some(Act::Frame(bytes)) => return Ok(Frame { bytes, at: Timestamp::now() }),
                Some(Act::Fail(error)) => return Err(error),
                Some(Act::Panic) => panic!("the driver's own defect"),
                Some(Act::Freeze) | None if self.1.thaws() => {}
                Some(Act::Freeze) | None => return Err(gone()),
            }
        }
    }
}

fn format(width: usize, packing: Packing) -> Format {
    Format { size: [width, SIZE[1]], per_second: 30, packing }
}

fn whole() -> Act {
    Act::Frame(vec![128; SIZE[0] * SIZE[1] * 2])
}

/// A play before the camera, as one sees it who watches.
struct Play {
    watch: Watch,
    events: Receiver<Event>,
    opened: Arc<Mutex<Vec<Format>>>,
    frozen: Receiver<()>,
    thaw: Sender<()>,
}

/// Plays these attempts. What looks at frames goes on only when its event is taken, so that a test decides what waits
/// meanwhile. A frame that comes before a failure is never passed over: that word must be taken after it.
fn play(no_picture_after: Duration, formats: Vec<Format>, attempts: Vec<Attempt>) -> Play {
    let opened = Arc::default();
    let (freezes, frozen) = mpsc::channel();
    let (thaw, thaws) = mpsc::channel();
    let ice = Ice { frozen: freezes, thaw: Arc::new(Mutex::new(thaws)) };
    let fake = Fake { formats, attempts: Mutex::new(attempts.into()), opened: Arc::clone(&opened), ice };
    let (sender, events) = mpsc::sync_channel(0);
    let timing = Timing { no_picture_after, retry_after: Duration::from_millis(20) };
    let watch = watch(fake, Choice::Any, timing, move |event| sender.send(event).is_ok());
    Play { watch, events, opened, frozen, thaw }
}

/// Plays this once all of it is there to be looked at: what looks is kept meanwhile with the word that the camera is busy.
fn play_what_waits(no_picture_after: Duration, format: Format, acts: Vec<Act>) -> Play {
    let play = play(no_picture_after, vec![format], vec![Err(busy()), Ok(acts)]);
    play.until_frozen();
    assert_eq!(play.words(2), ["lost: Fake is in use", "opened 64"]);
    play
}

impl Play {
    fn next(&self) -> Event {
        self.events.recv_timeout(PATIENT).expect("an event in time")
    }

    fn words(&self, count: usize) -> Vec<String> {
        (0..count).map(|_| word(&self.next())).collect()
    }

    fn until_frozen(&self) {
        self.frozen.recv_timeout(PATIENT).expect("the camera freezes in time");
    }
}

/// In a word; frames by what came since the one before and was not looked at.
fn word(event: &Event) -> String {
    match event {
        Event::Opened { format, .. } => format!("opened {}", format.size[0]),
        Event::Looked { damaged: 0, passed_over: 0, .. } => "frame".to_owned(),
        Event::Looked { damaged, passed_over, .. } => {
            format!("frame after {damaged} damaged, {passed_over} passed over")
        }
        Event::NoPicture { damaged, .. } => format!("no picture, {damaged} damaged"),
        Event::Lost(error) => format!("lost: {}", error.to_string().split(';').next().unwrap()),
    }
}

#[test]
fn frames_are_read_as_they_come_and_the_watch_ends_when_it_is_dropped() {
    let class = CLASSES.into_iter().find(|class| class.name == "clean").unwrap();
    let picture = simulated(class, 1).picture();
    let bytes: Vec<u8> = picture.pixels.iter().flat_map(|&y| [y, 128]).collect();
    let size = [picture.width, picture.height];
    let yuyv = Format { size, per_second: 30, packing: Packing::Yuyv };
    let play = play(PATIENT, vec![yuyv], vec![Ok(vec![Act::Frame(bytes)])]);
    assert_eq!(word(&play.next()), format!("opened {}", size[0]));
    let Event::Looked { looked, behind_ms, .. } = play.next() else { panic!("a frame was expected") };
    assert_eq!(looked.luma.pixels(), picture.pixels);
    assert_eq!(looked.symbols.len(), 1);
    assert!(behind_ms >= looked.read_ms);
    drop(play.watch);
    assert_eq!(play.events.recv_timeout(PATIENT).map(|event| word(&event)), Err(RecvTimeoutError::Disconnected));
}

#[test]
fn a_frozen_camera_is_told_once_and_again_when_it_went_on_between() {
    let play = play_what_waits(QUICK, format(64, Packing::Yuyv), vec![whole(), Act::Freeze, whole()]);
    for _ in 0..2 {
        assert_eq!(play.words(2), ["frame", "no picture, 0 damaged"]);
        assert!(play.events.recv_timeout(QUICK * 2).is_err());
        play.thaw.send(()).unwrap();
    }
}

#[test]
fn an_unplugged_camera_is_opened_again() {
    let attempts = vec![Ok(vec![whole(), Act::Fail(gone())]), Err(gone()), Err(gone()), Err(busy()), Ok(vec![whole()])];
    let play = play(PATIENT, vec![format(64, Packing::Yuyv)], attempts);
    let told = ["opened 64", "frame", "lost: Fake is gone", "lost: Fake is in use", "opened 64", "frame"];
    assert_eq!(play.words(6), told);
}

#[test]
fn damaged_frames_are_passed_over_and_counted() {
    let jpeg = to_jpeg(&boxward::picture::Luma::from_fn(SIZE[0], SIZE[1], |x, y| (x + y) as u8), 80).unwrap();
    let damaged = [jpeg[..jpeg.len() / 2].to_vec(), jpeg[..20].to_vec(), vec![0; jpeg.len()], Vec::new()];
    // The camera is gone after each, so that none is passed over for a newer one.
    let one = |bytes: &[u8]| Ok(vec![Act::Frame(bytes.to_vec()), Act::Fail(gone())]);
    let mjpeg = format(64, Packing::Mjpeg);
    let attempts = damaged.iter().flat_map(|bytes| [one(bytes), one(&jpeg)]);
    let attempts = attempts.chain(damaged.iter().map(|bytes| one(bytes))).chain([one(&jpeg)]);
    let play = play(PATIENT, vec![mjpeg], attempts.collect());
    for _ in &damaged {
        assert_eq!(play.words(2), ["opened 64", "lost: Fake is gone"]);
        assert_eq!(play.words(3), ["opened 64", "frame after 1 damaged, 0 passed over", "lost: Fake is gone"]);
    }
    for _ in &damaged {
        assert_eq!(play.words(2), ["opened 64", "lost: Fake is gone"]);
    }
    assert_eq!(play.words(2), ["opened 64", "frame after 4 damaged, 0 passed over"]);
    // Nothing but damage is no picture.
    for bytes in damaged {
        let play = play_what_waits(QUICK, mjpeg, vec![Act::Frame(bytes)]);
        assert_eq!(play.words(1), ["no picture, 1 damaged"]);
    }
}

#[test]
fn frames_that_nobody_has_time_for_are_passed_over_for_the_newest() {
    let mut acts = vec![whole(), Act::Frame(Vec::new()), whole()];
    acts.extend([Act::Frame(vec![200; SIZE[0] * SIZE[1] * 2]), Act::Freeze, whole()]);
    let play = play_what_waits(PATIENT, format(64, Packing::Yuyv), acts);
    let Event::Looked { looked, damaged: 0, passed_over: 3, .. } = play.next() else { panic!("the fourth frame") };
    assert_eq!(looked.luma.pixels()[0], 200);
    play.thaw.send(()).unwrap();
    assert_eq!(play.words(1), ["frame"]);
}

#[test]
fn a_format_that_gives_no_frame_is_passed_over_for_the_next() {
    let formats = vec![format(64, Packing::Yuyv), format(80, Packing::Yuyv), format(72, Packing::Yuyv)];
    let attempts = vec![Err(failed()), Ok(vec![Act::Fail(failed())]), Ok(vec![whole()])];
    let play = play(PATIENT, formats, attempts);
    assert_eq!(play.words(4), ["lost: Fake failed", "opened 72", "opened 64", "frame"]);
    assert_eq!(play.opened.lock().unwrap().iter().map(|f| f.size[0]).collect::<Vec<_>>(), [80, 72, 64]);
}

#[test]
fn a_driver_that_panics_ends_nothing() {
    let attempts = vec![Ok(vec![whole(), Act::Panic]), Ok(vec![whole()])];
    let play = play(PATIENT, vec![format(64, Packing::Yuyv)], attempts);
    assert_eq!(play.words(5), ["opened 64", "frame", "lost: Fake failed", "opened 64", "frame"]);
}
