//! A camera watched, with a driver that does everything wrong that real ones do.

use std::collections::VecDeque;
use std::sync::mpsc::{self, Receiver};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use boxward::picture::{Packing, to_jpeg};
use boxward::source::camera::{
    Camera, CameraError, Choice, Driver, Event, Format, Frame, Stream, Timing, Watch, watch,
};
use jiff::Timestamp;

use crate::simulated::{CLASSES, simulated};

const SIZE: [usize; 2] = [64, 48];
/// Where no picture is to come, quick, so that nobody waits; elsewhere far above what a busy machine delays a thread by.
const QUICK: Duration = Duration::from_millis(400);
const PATIENT: Duration = Duration::from_secs(30);

/// What the driver does next.
#[derive(Debug, Clone)]
enum Act {
    Frame(Vec<u8>),
    Fail(CameraError),
    Freeze,
    Panic,
}

/// What an attempt to open gives: frames, or an error.
type Attempt = Result<Vec<Act>, CameraError>;

struct Fake {
    formats: Vec<Format>,
    attempts: Mutex<VecDeque<Attempt>>,
    opened: Arc<Mutex<Vec<Format>>>,
}

struct Acts(VecDeque<Act>);

fn failed() -> CameraError {
    CameraError::Failed { name: "Fake".to_owned(), what: "odd".to_owned() }
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
        Ok(Box::new(Acts(acts.into())))
    }
}

impl Stream for Acts {
    fn frame(&mut self) -> Result<Frame, CameraError> {
        std::thread::sleep(Duration::from_millis(5));
        match self.0.pop_front() {
            Some(Act::Frame(bytes)) => Ok(Frame { bytes, at: Timestamp::now() }),
            Some(Act::Fail(error)) => Err(error),
            Some(Act::Panic) => panic!("the driver's own defect"),
            Some(Act::Freeze) | None => loop {
                std::thread::park();
            },
        }
    }
}

fn format(width: usize, packing: Packing) -> Format {
    Format { size: [width, SIZE[1]], per_second: 30, packing }
}

fn whole() -> Act {
    Act::Frame(vec![128; SIZE[0] * SIZE[1] * 2])
}

/// Plays these attempts; gives the events, and the formats that were opened.
fn play(
    no_picture_after: Duration,
    formats: Vec<Format>,
    attempts: Vec<Attempt>,
) -> (Watch, Receiver<Event>, Arc<Mutex<Vec<Format>>>) {
    let opened = Arc::default();
    let fake = Fake { formats, attempts: Mutex::new(attempts.into()), opened: Arc::clone(&opened) };
    let (sender, events) = mpsc::channel();
    let timing = Timing { no_picture_after, retry_after: Duration::from_millis(20) };
    let watch = watch(fake, Choice::Any, timing, move |event| sender.send(event).is_ok());
    (watch, events, opened)
}

fn next(events: &Receiver<Event>) -> Event {
    events.recv_timeout(Duration::from_secs(20)).expect("an event in time")
}

/// In a word; frames are counted by their damaged ones.
fn word(event: &Event) -> String {
    match event {
        Event::Opened { format, .. } => format!("opened {}", format.size[0]),
        Event::Looked { damaged, .. } => format!("frame after {damaged} damaged"),
        Event::NoPicture { damaged, .. } => format!("no picture, {damaged} damaged"),
        Event::Lost(error) => format!("lost: {}", error.to_string().split(';').next().unwrap()),
    }
}

/// The first events in words; frames in a row are one.
fn words(events: &Receiver<Event>, count: usize) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    while found.len() < count {
        let event = word(&next(events));
        if found.last() != Some(&event) {
            found.push(event);
        }
    }
    found
}

#[test]
fn frames_are_read_as_they_come_and_the_watch_ends_when_it_is_dropped() {
    let class = CLASSES.into_iter().find(|class| class.name == "clean").unwrap();
    let picture = simulated(class, 1).picture();
    let bytes: Vec<u8> = picture.pixels.iter().flat_map(|&y| [y, 128]).collect();
    let size = [picture.width, picture.height];
    let yuyv = Format { size, per_second: 30, packing: Packing::Yuyv };
    let (watch, events, _) = play(PATIENT, vec![yuyv], vec![Ok(vec![Act::Frame(bytes), Act::Freeze])]);
    assert_eq!(word(&next(&events)), format!("opened {}", size[0]));
    let Event::Looked { looked, behind_ms, .. } = next(&events) else { panic!("a frame was expected") };
    assert_eq!(looked.luma.pixels(), picture.pixels);
    assert_eq!(looked.symbols.len(), 1);
    assert!(behind_ms >= looked.read_ms);
    drop(watch);
    while events.recv_timeout(Duration::from_secs(20)).is_ok() {}
}

#[test]
fn a_frozen_camera_is_told_once_and_again_when_it_went_on_between() {
    let (_watch, events, _) = play(QUICK, vec![format(64, Packing::Yuyv)], vec![Ok(vec![whole(), Act::Freeze])]);
    assert_eq!(words(&events, 3), ["opened 64", "frame after 0 damaged", "no picture, 0 damaged"]);
    assert!(events.recv_timeout(QUICK * 2).is_err());
}

#[test]
fn an_unplugged_camera_is_opened_again() {
    let attempts = vec![
        Ok(vec![whole(), Act::Fail(gone())]),
        Err(gone()),
        Err(gone()),
        Err(CameraError::Busy { name: "Fake".to_owned() }),
        Ok(vec![whole(), Act::Freeze]),
    ];
    let (_watch, events, _) = play(PATIENT, vec![format(64, Packing::Yuyv)], attempts);
    let told = [
        "opened 64",
        "frame after 0 damaged",
        "lost: Fake is gone",
        "lost: Fake is in use",
        "opened 64",
        "frame after 0 damaged",
    ];
    assert_eq!(words(&events, 6), told);
}

#[test]
fn damaged_frames_are_passed_over_and_counted() {
    let jpeg = to_jpeg(&boxward::picture::Luma::from_fn(SIZE[0], SIZE[1], |x, y| (x + y) as u8), 80).unwrap();
    let damaged = [jpeg[..jpeg.len() / 2].to_vec(), jpeg[..20].to_vec(), vec![0; jpeg.len()], Vec::new()];
    // Each is waited for, so that none is passed over for a newer one.
    let slowly = |bytes: Vec<u8>| [Act::Frame(bytes), Act::Frame(jpeg.clone())];
    let mut acts = vec![Act::Frame(jpeg.clone())];
    acts.extend(damaged.into_iter().flat_map(slowly));
    let (_watch, events, _) = play(QUICK, vec![format(64, Packing::Mjpeg)], vec![Ok(acts)]);
    let (mut frames, mut bad, mut over) = (0, 0, 0);
    assert_eq!(word(&next(&events)), "opened 64");
    while let Event::Looked { damaged, passed_over, .. } = next(&events) {
        (frames, bad, over) = (frames + 1, bad + damaged, over + passed_over);
    }
    assert!(frames > 1 && bad > 0, "{frames} frames, {bad} damaged");
    assert_eq!(frames + bad + over, 9);
    // Nothing but damage is no picture.
    let (_watch, events, _) = play(QUICK, vec![format(64, Packing::Mjpeg)], vec![Ok(vec![Act::Frame(vec![0; 9]); 5])]);
    assert_eq!(word(&next(&events)), "opened 64");
    assert!(matches!(next(&events), Event::NoPicture { damaged: 1.., .. }));
}

#[test]
fn a_format_that_gives_no_frame_is_passed_over_for_the_next() {
    let formats = vec![format(64, Packing::Yuyv), format(80, Packing::Yuyv), format(72, Packing::Yuyv)];
    let attempts = vec![Err(failed()), Ok(vec![Act::Fail(failed())]), Ok(vec![whole(), Act::Freeze])];
    let (_watch, events, opened) = play(PATIENT, formats, attempts);
    assert_eq!(words(&events, 4), ["lost: Fake failed", "opened 72", "opened 64", "frame after 0 damaged"]);
    assert_eq!(opened.lock().unwrap().iter().map(|f| f.size[0]).collect::<Vec<_>>(), [80, 72, 64]);
}

#[test]
fn a_driver_that_panics_ends_nothing() {
    let attempts = vec![Ok(vec![whole(), Act::Panic]), Ok(vec![whole(), Act::Freeze])];
    let (_watch, events, _) = play(PATIENT, vec![format(64, Packing::Yuyv)], attempts);
    let told = ["opened 64", "frame after 0 damaged", "lost: Fake failed", "opened 64", "frame after 0 damaged"];
    assert_eq!(words(&events, 5), told);
}
