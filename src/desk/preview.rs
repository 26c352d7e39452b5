//! The page to aim by: the newest frame with the found symbols outlined, and the last books.

use std::collections::VecDeque;
use std::io;
use std::net::{Ipv4Addr, TcpListener, TcpStream};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread;
use std::time::Duration;

use serde::Serialize;

use super::request::{answer, head, path};
use crate::picture::{Luma, to_jpeg};
use crate::workflow::Tone;

const PAGE: &str = include_str!("preview.html");
/// So many books stay on the page.
const BOOKS: usize = 10;
/// Good enough to aim by.
const QUALITY: u8 = 70;
/// Whoever connects and says nothing is not waited for.
const PATIENCE: Duration = Duration::from_secs(5);

/// A symbol's corners in frame px.
pub type Outline = [[f32; 2]; 4];

/// What is said about a book.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Line {
    /// In a word.
    pub word: &'static str,
    /// As a tone.
    pub tone: Tone,
    /// The rest.
    pub text: String,
}

/// The page's server. It ends with the program.
#[derive(Debug)]
pub struct Preview {
    port: u16,
    shown: Arc<Mutex<Shown>>,
}

#[derive(Debug, Default)]
struct Shown {
    frame: Option<Arc<Luma>>,
    frames: u64,
    outlines: Vec<Outline>,
    lines: VecDeque<(u64, Line)>,
    said: u64,
    counted: String,
    camera: String,
}

/// What the page asks for again and again.
#[derive(Debug, Serialize)]
struct State<'a> {
    frame: u64,
    size: [usize; 2],
    outlines: &'a [Outline],
    /// The newest last, each with its number.
    lines: Vec<(u64, &'a Line)>,
    counted: &'a str,
    camera: &'a str,
}

impl Preview {
    /// Serves the page on `port` of this machine; 0 takes a free one.
    ///
    /// # Errors
    /// If the port is taken.
    pub fn start(port: u16) -> io::Result<Self> {
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, port))?;
        let port = listener.local_addr()?.port();
        let shown = Arc::new(Mutex::new(Shown::default()));
        let served = Arc::clone(&shown);
        thread::spawn(move || {
            for stream in listener.incoming().flatten() {
                let shown = Arc::clone(&served);
                // A browser that went away is no matter.
                thread::spawn(move || drop(serve(stream, port, &shown)));
            }
        });
        Ok(Self { port, shown })
    }

    /// Where the page is.
    #[must_use]
    pub fn url(&self) -> String {
        format!("http://127.0.0.1:{}/", self.port)
    }

    /// Shows a frame.
    pub fn show(&self, frame: Luma, outlines: Vec<Outline>) {
        let mut shown = lock(&self.shown);
        shown.frame = Some(Arc::new(frame));
        shown.frames += 1;
        shown.outlines = outlines;
    }

    /// Says what a book is.
    pub fn say(&self, line: Line) {
        let mut shown = lock(&self.shown);
        shown.said += 1;
        let number = shown.said;
        shown.lines.push_back((number, line));
        if shown.lines.len() > BOOKS {
            shown.lines.pop_front();
        }
    }

    /// Shows the running count and the camera's state.
    pub fn status(&self, counted: &str, camera: &str) {
        let mut shown = lock(&self.shown);
        counted.clone_into(&mut shown.counted);
        camera.clone_into(&mut shown.camera);
    }
}

fn lock(shown: &Mutex<Shown>) -> MutexGuard<'_, Shown> {
    shown.lock().unwrap_or_else(PoisonError::into_inner)
}

fn serve(mut stream: TcpStream, port: u16, shown: &Mutex<Shown>) -> io::Result<()> {
    stream.set_read_timeout(Some(PATIENCE))?;
    stream.set_write_timeout(Some(PATIENCE))?;
    let head = head(&mut stream)?;
    match path(&head, port) {
        Ok("/") => answer(&mut stream, "200 OK", "text/html; charset=utf-8", PAGE.as_bytes()),
        Ok("/state") => {
            let state = state(&lock(shown))?;
            answer(&mut stream, "200 OK", "application/json", &state)
        }
        Ok("/frame.jpg") => {
            let frame = lock(shown).frame.clone();
            match frame.and_then(|frame| to_jpeg(&frame, QUALITY).ok()) {
                Some(jpeg) => answer(&mut stream, "200 OK", "image/jpeg", &jpeg),
                None => answer(&mut stream, "404 Not Found", "text/plain", b"no frame yet"),
            }
        }
        Ok(_) => answer(&mut stream, "404 Not Found", "text/plain", b"there is no such page"),
        Err(refusal) => answer(&mut stream, refusal.status(), "text/plain", b"refused"),
    }
}

fn state(shown: &Shown) -> io::Result<Vec<u8>> {
    let size = shown.frame.as_ref().map_or([0, 0], |frame| [frame.width(), frame.height()]);
    let state = State {
        frame: shown.frames,
        size,
        outlines: &shown.outlines,
        lines: shown.lines.iter().map(|(number, line)| (*number, line)).collect(),
        counted: &shown.counted,
        camera: &shown.camera,
    };
    Ok(serde_json::to_vec(&state)?)
}
