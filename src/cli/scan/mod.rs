mod keys;
mod purchase;
mod tell;

use std::io;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Instant;

use clap::Args;

use super::day::{Day, day};
use super::desk::port;
use super::failure::{Failure, Outcome};
use super::ui::Ui;
use super::{Exit, Global};
use crate::collection::{Discount, Money, Purchase};
use crate::desk::{Board, Desk};
use crate::source::camera::{CameraError, Choice, Driver, Webcams, best_formats};
use crate::source::handheld::is_packet;
use crate::source::{Rate, pictures};
use crate::store::Store;
use crate::workflow::{Film, Hand, News, Pictures, Sitting, totals_in_words};
use keys::{Key, Piece, Raw, Typed, Typing};
use tell::{Preview, Teller};

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
    /// Shows what the camera sees on a page of this machine, by the link shown; at this port, or a free one
    #[arg(long, value_name = "PORT", num_args = 0..=1, default_missing_value = "0", require_equals = true, value_parser = port)]
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

pub(super) fn rate(text: &str) -> Result<Rate, String> {
    text.parse().ok().and_then(Rate::new).ok_or_else(|| "frames a second are a number above 0, at most 1000".to_owned())
}

/// What comes in on standard input.
enum Input {
    Piece(Piece),
    Ended(io::Result<()>),
}

/// Where codes come from.
#[derive(Debug, Clone, Copy)]
struct Sources {
    input: bool,
    camera: bool,
}

impl Sources {
    /// A camera and the input, unless something else is asked for.
    fn of(arguments: &Arguments) -> Self {
        let replay = arguments.replay.is_some();
        let camera = arguments.camera.is_some() || !(replay || arguments.handheld);
        Self { input: arguments.handheld || camera, camera }
    }
}

struct Session<'a> {
    store: Store,
    sitting: Sitting<Input>,
    teller: Teller,
    typing: Typing,
    /// A person was asked for the next shop and price.
    asking: bool,
    ui: &'a mut Ui,
}

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    if arguments.cameras {
        return list_cameras(ui);
    }
    let sources = Sources::of(arguments);
    if sources.camera && matches!(Webcams.list(), Err(CameraError::NotBuiltIn)) {
        return Err(CameraError::NotBuiltIn.into());
    }
    let pictures = match &arguments.replay {
        Some(folder) => Some(Pictures::Film(film(folder, arguments.fps)?)),
        None => sources.camera.then(|| Pictures::Camera(arguments.camera.clone().unwrap_or_default())),
    };
    let purchase = Purchase {
        shop: arguments.shop.clone(),
        acquired: arguments.date.map(|day| day.date(global.now())),
        cover_price: arguments.cover_price,
        discount: arguments.less,
    };
    let store = global.store()?;
    let preview = arguments.preview.map(|port| preview(port, &purchase, global, ui)).transpose()?;
    let clock = global.clock();
    let mut sitting = Sitting::new(purchase, move || clock.now());
    let raw = if sources.input { sitting.hand().and_then(listen) } else { None };
    if raw.is_some() {
        ui.note(keys::HELP);
    }
    if let Some(pictures) = pictures {
        sitting.look(pictures);
    }
    let teller = Teller::new(arguments.json, preview, ui);
    let mut session = Session { store, sitting, teller, typing: Typing::default(), asking: false, ui };
    session.work()?;
    drop(raw);
    session.finish()
}

/// The frames in a folder.
pub(super) fn film(folder: &PathBuf, rate: Rate) -> Result<Film, Failure> {
    if !folder.exists() {
        let failure = Failure::data(format!("{}: there is no such folder", folder.display()));
        return Err(failure.hint("--replay takes a folder of pictures, the frames of a film"));
    }
    let files = pictures(std::slice::from_ref(folder)).into_iter().collect::<Result<Vec<_>, _>>()?;
    Ok(Film { files, rate })
}

fn list_cameras(ui: &mut Ui) -> Outcome {
    for camera in Webcams.list()? {
        let best = best_formats(&camera).first().map_or_else(|| "no format of use".to_owned(), ToString::to_string);
        ui.line(format_args!("{}: {}, {best}", camera.number, camera.name))?;
    }
    Ok(Exit::Done)
}

/// Serves the page on which the session can be seen.
fn preview(port: u16, purchase: &Purchase, global: &Global, ui: &mut Ui) -> Result<Preview, Failure> {
    let board = Arc::new(Board::new(purchase.clone()));
    let desk = Desk::to_watch(global.store()?, port, global.clock(), Arc::clone(&board))?;
    ui.note(format_args!("preview: {} (the link is for you alone)", desk.link()));
    Ok(Preview { board, _desk: desk })
}

/// A thread of its own reads the input, because a code is complete when its add-on has not come in time: no line says so.
fn listen(hand: Hand<Input>) -> Option<Raw> {
    let raw = Raw::new();
    std::thread::spawn(move || {
        let ended = keys::read(|piece| hand.give(Input::Piece(piece)));
        hand.give(Input::Ended(ended));
    });
    raw
}

impl Session<'_> {
    /// Takes what comes until nothing more will.
    fn work(&mut self) -> Result<(), Failure> {
        while let Some(news) = self.sitting.next(&self.store)? {
            match news {
                News::Given { at, what: Input::Piece(piece) } => {
                    let typed = self.typing.take(piece, self.asking);
                    self.typed(at, typed)?;
                }
                News::Given { what: Input::Ended(ended), .. } => ended?,
                news => {
                    let counted = totals_in_words(self.sitting.totals(), self.sitting.wrong());
                    self.teller.tell(news, counted, self.ui)?;
                }
            }
        }
        Ok(())
    }

    fn typed(&mut self, at: Instant, typed: Typed) -> Result<(), Failure> {
        match typed {
            Typed::Sofar(line) => self.teller.typing(&line),
            Typed::Key(key) => self.key(key)?,
            Typed::Line(line) if self.asking && !is_packet(&line) => {
                self.asking = false;
                self.teller.typing("");
                match purchase::changed(self.sitting.purchase(), &line) {
                    Ok(purchase) => self.sitting.set_purchase(&self.store, purchase)?,
                    Err(why) => self.teller.complain(&why, self.ui),
                }
            }
            Typed::Line(line) => {
                self.teller.typing("");
                self.sitting.line(&self.store, at, &line)?;
            }
        }
        Ok(())
    }

    fn key(&mut self, key: Key) -> Result<(), Failure> {
        match key {
            Key::Undo => self.sitting.undo_last(&self.store)?,
            Key::Drop => self.sitting.drop_last(&self.store)?,
            Key::Pause => self.sitting.pause(&self.store)?,
            Key::Next => {
                self.asking = true;
                let example = "the next shop, cover price and discount, such as: The Back Room, 3.99 USD, 10 %";
                self.teller.note(example, self.ui);
            }
            Key::End => self.sitting.end(),
        }
        Ok(())
    }

    fn finish(self) -> Outcome {
        let (sitting, totals) = (&self.sitting, self.sitting.totals());
        self.teller.summary(totals, sitting.wrong(), sitting.frames(), self.ui)?;
        Ok(match (sitting.wrong(), totals.new + totals.again.len()) {
            (_, 0) if sitting.without_camera().is_some() => Exit::Machine,
            (0, _) => Exit::Done,
            (_, 0) => Exit::Data,
            _ => Exit::Partly,
        })
    }
}
