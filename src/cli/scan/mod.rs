mod keys;
mod purchase;
mod tell;

use std::ops::ControlFlow;
use std::path::PathBuf;
use std::sync::mpsc::{self, Receiver, RecvTimeoutError, SyncSender};
use std::time::Duration;

use clap::Args;
use jiff::Timestamp;

use super::day::{Day, day};
use super::failure::{Failure, Outcome, one_line};
use super::read::jobs;
use super::ui::Ui;
use super::{Exit, Global};
use crate::collection::{Discount, Money, Purchase};
use crate::desk::Preview;
use crate::source::camera::{self, CameraError, Choice, Driver, Timing, Watch, Webcams, best_formats};
use crate::source::handheld::{ADD_ON_WAIT, Handheld, HandheldError, Heard};
use crate::source::{Looked, Rate, pictures, replay};
use crate::store::Store;
use crate::workflow::{Live, Said};
use keys::{Key, Piece, Raw, Typed, Typing};
use tell::{Frames, Teller};

/// Takes books into the queue as they are held to a camera or shot with a handheld scanner
///
/// What each book is, is told at once: new, another copy, another cover, another printing. Each is safe on the disk when
/// it is told. Main codes whose add-on does not come wait for a person. A handheld scanner's lines come in on standard
/// input, beside the camera or alone: a code, or a code and its add-on one after the other.
///
/// Keys: u takes the last step back, d drops the last book, p pauses, n sets the next shop or price, q ends (so does
/// Ctrl-D). Where input is no terminal, a key is a line of its own.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward scan --preview --shop 'Corner Comics' --date today --less '10 %'\n  \
                        boxward scan --handheld")]
pub(super) struct Arguments {
    /// Takes only what a handheld scanner types, one code a line; with --camera or --replay, that too
    #[arg(long)]
    handheld: bool,
    /// Takes this camera, by its number or name [default: the first]
    #[arg(long, value_name = "N|NAME", conflicts_with = "replay")]
    camera: Option<Choice>,
    /// Lists the cameras that give pictures, and takes nothing
    #[arg(long, conflicts_with_all = ["handheld", "camera", "replay", "preview", "json"])]
    cameras: bool,
    /// Takes frames from picture files in this folder, as a camera would have sent them
    #[arg(long, value_name = "FOLDER")]
    replay: Option<PathBuf>,
    /// How many of these frames make a second
    #[arg(long, value_name = "N", default_value = "30", value_parser = rate, requires = "replay")]
    fps: Rate,
    /// Shows on a page of this machine what the camera sees; at this port, or a free one
    #[arg(long, value_name = "PORT", num_args = 0..=1, default_missing_value = "0", require_equals = true)]
    preview: Option<u16>,
    /// Where the books were bought
    #[arg(long)]
    shop: Option<String>,
    /// When they were bought, as 2026-03-04 or today
    #[arg(long, value_parser = day)]
    date: Option<Day>,
    /// The price on their covers, such as '3.99 USD', for books whose code says none
    #[arg(long, value_name = "MONEY")]
    cover_price: Option<Money>,
    /// What the shop takes off the cover price, such as '10 %'
    #[arg(long, value_name = "PERCENT")]
    less: Option<Discount>,
    /// One JSON object a line, one line a code
    #[arg(long)]
    json: bool,
}

fn rate(text: &str) -> Result<Rate, String> {
    text.parse().ok().and_then(Rate::new).ok_or_else(|| "frames a second are a number above 0, at most 1000".to_owned())
}

/// What comes in, from whichever thread.
enum Event {
    Typed(Timestamp, Piece),
    InputEnded(std::io::Result<()>),
    Camera(camera::Event),
    Looked(Box<Looked>),
    /// A file that is no frame: which, and why.
    BadFrame(String),
    FramesEnded,
}

/// So many events may wait. Frames wait among them, so it is few.
const WAITING: usize = 4;

/// Where codes come from.
#[derive(Debug, Clone, Copy)]
struct Sources {
    input: bool,
    /// While the session runs: whether it has not said yet what it is.
    camera: bool,
    replay: bool,
}

impl Sources {
    /// A camera and the input, unless something else is asked for.
    fn of(arguments: &Arguments) -> Self {
        let replay = arguments.replay.is_some();
        let camera = arguments.camera.is_some() || !(replay || arguments.handheld);
        Self { input: arguments.handheld || camera, camera, replay }
    }

    /// A camera alone ends nothing, and goes on for ever; but what it has to say first is waited for.
    fn go_on(self) -> bool {
        self.input || self.replay || self.camera
    }
}

struct Desk<'a> {
    store: Store,
    live: Live,
    scanner: Handheld,
    teller: Teller,
    paused: bool,
    typing: Typing,
    /// A person was asked for the next shop and price.
    asking: bool,
    /// Lines that are no code, and files that are no frame.
    wrong: usize,
    frames: Frames,
    /// Why the camera gives nothing, as long as it has not given anything.
    without_camera: Option<CameraError>,
    global: &'a Global,
}

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    if arguments.cameras {
        return list_cameras(ui);
    }
    let sources = Sources::of(arguments);
    if sources.camera && matches!(Webcams.list(), Err(CameraError::NotBuiltIn)) {
        return Err(CameraError::NotBuiltIn.into());
    }
    let files = match &arguments.replay {
        Some(path) if !path.exists() => {
            let failure = Failure::data(format!("{}: there is no such folder", path.display()));
            return Err(failure.hint("--replay takes a folder of pictures, the frames of a film"));
        }
        Some(folder) => pictures(std::slice::from_ref(folder)).into_iter().collect::<Result<Vec<_>, _>>()?,
        None => Vec::new(),
    };
    let purchase = Purchase {
        shop: arguments.shop.clone(),
        acquired: arguments.date.map(|day| day.date(global.now())),
        cover_price: arguments.cover_price,
        discount: arguments.less,
    };
    let store = global.store()?;
    let preview = arguments.preview.map(|port| preview(port, ui)).transpose()?;
    let mut desk = Desk {
        store,
        live: Live::new(purchase),
        scanner: Handheld::new(ADD_ON_WAIT),
        teller: Teller::new(arguments.json, preview, ui),
        paused: false,
        typing: Typing::default(),
        asking: false,
        wrong: 0,
        frames: Frames::default(),
        without_camera: None,
        global,
    };
    let (sender, events) = mpsc::sync_channel(WAITING);
    let raw = if sources.input { listen(sender.clone()) } else { None };
    if raw.is_some() {
        ui.note(keys::HELP);
    }
    let watch = sources.camera.then(|| {
        let choice = arguments.camera.clone().unwrap_or_default();
        watch_camera(choice, sender.clone())
    });
    if sources.replay {
        let (rate, start, sender) = (arguments.fps, global.now(), sender.clone());
        std::thread::spawn(move || send_frames(&files, rate, start, &sender));
    }
    drop(sender);
    desk.work(&events, sources, ui)?;
    drop((watch, raw));
    desk.finish(ui)
}

fn list_cameras(ui: &mut Ui) -> Outcome {
    for camera in Webcams.list()? {
        let best = best_formats(&camera).first().map_or_else(|| "no format of use".to_owned(), ToString::to_string);
        ui.line(format_args!("{}: {}, {best}", camera.number, camera.name))?;
    }
    Ok(Exit::Done)
}

fn preview(port: u16, ui: &mut Ui) -> Result<Preview, Failure> {
    let preview = Preview::start(port).map_err(|error| {
        let mut failure = Failure::new(Exit::Machine, &error).hint("leave the port out: --preview takes a free one");
        failure.messages.insert(0, format!("the preview can't be served at port {port}"));
        failure
    })?;
    ui.note(format_args!("preview: {}", preview.url()));
    Ok(preview)
}

/// A thread of its own reads the input, because a code is complete when its add-on has not come in time: no line says so.
fn listen(sender: SyncSender<Event>) -> Option<Raw> {
    let raw = Raw::new();
    std::thread::spawn(move || {
        let ended = keys::read(|piece| sender.send(Event::Typed(Timestamp::now(), piece)).is_ok());
        // If nobody listens, the session has ended.
        let _ = sender.send(Event::InputEnded(ended));
    });
    raw
}

fn watch_camera(choice: Choice, sender: SyncSender<Event>) -> Watch {
    camera::watch(Webcams, choice, Timing::default(), move |event| sender.send(Event::Camera(event)).is_ok())
}

fn send_frames(files: &[PathBuf], rate: Rate, start: Timestamp, sender: &SyncSender<Event>) {
    replay(files, rate, start, jobs(None), |looked| {
        let event = match looked {
            Ok(looked) => Event::Looked(Box::new(looked)),
            Err((path, error)) => Event::BadFrame(format!("{}: {}", path.display(), one_line(&error))),
        };
        if sender.send(event).is_ok() { ControlFlow::Continue(()) } else { ControlFlow::Break(()) }
    });
    let _ = sender.send(Event::FramesEnded);
}

impl Desk<'_> {
    /// Takes what comes until nothing more will.
    fn work(&mut self, events: &Receiver<Event>, mut open: Sources, ui: &mut Ui) -> Result<(), Failure> {
        while open.go_on() {
            let next = match self.scanner.due() {
                Some(due) => {
                    let wait = Duration::try_from(due.duration_since(Timestamp::now())).unwrap_or_default();
                    // A millisecond more, so that the time is over when the wait is.
                    events.recv_timeout(wait + Duration::from_millis(1))
                }
                None => events.recv().map_err(|_| RecvTimeoutError::Disconnected),
            };
            match next {
                Ok(Event::Typed(at, piece)) => {
                    let typed = self.typing.take(piece, self.asking);
                    if self.typed(at, typed, ui)?.is_break() {
                        return Ok(());
                    }
                }
                Ok(Event::InputEnded(ended)) => {
                    ended?;
                    open.input = false;
                }
                Ok(Event::Camera(event)) => {
                    open.camera = false;
                    self.camera(event, ui)?;
                }
                Ok(Event::Looked(looked)) => self.frame(*looked, ui)?,
                Ok(Event::BadFrame(what)) => self.refuse(&what, ui)?,
                Ok(Event::FramesEnded) => open.replay = false,
                Err(RecvTimeoutError::Timeout) => {
                    if let Some(heard) = self.scanner.tick(Timestamp::now()) {
                        self.heard(Ok(heard), ui)?;
                    }
                }
                Err(RecvTimeoutError::Disconnected) => return Ok(()),
            }
        }
        Ok(())
    }

    fn typed(&mut self, at: Timestamp, typed: Typed, ui: &mut Ui) -> Result<ControlFlow<()>, Failure> {
        match typed {
            Typed::Sofar(line) => self.teller.typing(&line),
            Typed::Key(key) => return self.key(key, ui),
            Typed::Line(line) if self.asking && !purchase::looks_like_code(&line) => {
                self.asking = false;
                self.teller.typing("");
                match purchase::changed(self.live.purchase(), &line) {
                    Ok(purchase) => {
                        self.teller.note(&format!("from now on: {}", purchase::in_words(&purchase)), ui);
                        self.live.set_purchase(purchase);
                    }
                    Err(why) => self.teller.complain(&why, ui),
                }
            }
            Typed::Line(line) => {
                self.teller.typing("");
                if !self.paused {
                    for heard in self.scanner.line(at, &line) {
                        self.heard(heard, ui)?;
                    }
                }
            }
        }
        Ok(ControlFlow::Continue(()))
    }

    fn key(&mut self, key: Key, ui: &mut Ui) -> Result<ControlFlow<()>, Failure> {
        // What a scanner has begun to send stands before the key.
        if let Some(heard) = self.scanner.finish() {
            self.heard(Ok(heard), ui)?;
        }
        match key {
            Key::Undo => {
                // Another command may have gone on with it: no reason to end the session.
                match self.live.undo_last(&self.store) {
                    Ok(step) => self.teller.taken_back(step, ui),
                    Err(error) => self.teller.complain(&one_line(&error), ui),
                }
            }
            Key::Drop => match self.live.drop_last(&self.store, self.global.now()) {
                Ok(step) => self.teller.dropped(step, ui),
                Err(error) => self.teller.complain(&one_line(&error), ui),
            },
            Key::Pause => {
                self.paused = !self.paused;
                if self.paused {
                    self.rest(ui)?;
                }
                self.teller.note(if self.paused { "paused: p goes on" } else { "going on" }, ui);
            }
            Key::Next => {
                self.asking = true;
                self.teller.note("the next shop, cover price and discount, such as: The Back Room, 3.99 USD, 10 %", ui);
            }
            Key::End => return Ok(ControlFlow::Break(())),
        }
        self.teller.count(self.live.totals());
        Ok(ControlFlow::Continue(()))
    }

    fn camera(&mut self, event: camera::Event, ui: &mut Ui) -> Result<(), Failure> {
        match event {
            camera::Event::Opened { name, format } => {
                self.teller.camera(&format!("{name}, {format}"), ui);
            }
            camera::Event::Looked { looked, behind_ms, passed_over, damaged } => {
                self.without_camera = None;
                self.frames.seen(behind_ms, passed_over, damaged);
                self.teller.camera_again();
                self.frame(looked, ui)?;
            }
            camera::Event::NoPicture { since, damaged } => {
                self.rest(ui)?;
                self.teller.no_picture(since, damaged, ui);
            }
            camera::Event::Lost(error) => {
                self.rest(ui)?;
                self.teller.camera_lost(&error, ui);
                if self.frames.is_empty() {
                    self.without_camera = Some(error);
                }
            }
        }
        Ok(())
    }

    fn frame(&mut self, looked: Looked, ui: &mut Ui) -> Result<(), Failure> {
        let Looked { at, luma, symbols, read_ms } = looked;
        self.frames.read(read_ms);
        self.teller.show(luma, symbols.iter().map(|symbol| symbol.corners).collect());
        if self.paused {
            return Ok(());
        }
        let said = self.live.frame(&self.store, at, symbols)?;
        self.tell(&said, ui)
    }

    fn heard(&mut self, heard: Result<Heard, HandheldError>, ui: &mut Ui) -> Result<(), Failure> {
        match heard {
            Ok(heard) => {
                let said = self.live.heard(&self.store, self.global.now(), &heard)?;
                self.tell(said.as_slice(), ui)
            }
            Err(error) => self.refuse(&one_line(&error), ui),
        }
    }

    /// No frame comes for now.
    fn rest(&mut self, ui: &mut Ui) -> Result<(), Failure> {
        let said = self.live.rest(&self.store, self.global.now())?;
        self.tell(&said, ui)
    }

    fn tell(&mut self, said: &[Said], ui: &mut Ui) -> Result<(), Failure> {
        if said.is_empty() {
            return Ok(());
        }
        self.teller.count(self.live.totals());
        said.iter().try_for_each(|said| self.teller.say(said, ui))
    }

    fn refuse(&mut self, why: &str, ui: &mut Ui) -> Result<(), Failure> {
        self.wrong += 1;
        self.teller.refuse(why, ui)
    }

    fn finish(mut self, ui: &mut Ui) -> Outcome {
        if let Some(heard) = self.scanner.finish() {
            self.heard(Ok(heard), ui)?;
        }
        self.rest(ui)?;
        let totals = self.live.totals();
        self.teller.summary(totals, self.wrong, &self.frames, ui)?;
        Ok(match (self.wrong, totals.new + totals.again.len()) {
            (_, 0) if self.without_camera.is_some() => Exit::Machine,
            (0, _) => Exit::Done,
            (_, 0) => Exit::Data,
            _ => Exit::Partly,
        })
    }
}
