//! A desk on a collection of its own, and a client that says exactly what a test wants said.

use std::io::{Read, Write};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::time::Duration;

use boxward::desk::{Clock, Desk};
use boxward::store::Store;
use jiff::Timestamp;
use jiff::tz::TimeZone;

/// Noon of this day.
pub const NOW: &str = "2026-03-04T12:00:00Z";

/// An open desk and a browser's cookie for it.
pub struct Opened {
    pub desk: Desk,
    file: PathBuf,
    /// The collection's folder, if it is the desk's alone.
    _folder: Option<tempfile::TempDir>,
    pub cookie: String,
    /// `127.0.0.1:PORT`.
    pub host: String,
}

/// A clock that stands.
pub fn clock() -> Clock {
    let now: Timestamp = NOW.parse().unwrap();
    Clock::new(move || now, TimeZone::UTC)
}

/// What a server said.
#[derive(Debug)]
pub struct Said {
    pub status: u16,
    /// Status line and fields as they came.
    pub head: String,
    pub body: Vec<u8>,
}

impl Said {
    pub fn text(&self) -> &str {
        std::str::from_utf8(&self.body).unwrap()
    }

    pub fn field(&self, name: &str) -> Option<&str> {
        self.head.lines().find_map(|line| {
            let (field, value) = line.split_once(": ")?;
            field.eq_ignore_ascii_case(name).then_some(value)
        })
    }
}

impl Opened {
    /// On an empty collection.
    pub fn new() -> Self {
        Self::on(tempfile::tempdir().unwrap())
    }

    /// On the collection in a folder, which is gone with the desk.
    pub fn on(folder: tempfile::TempDir) -> Self {
        let mut opened = Self::of(&folder.path().join("collection.sqlite"));
        opened._folder = Some(folder);
        opened
    }

    /// On this collection.
    pub fn of(file: &Path) -> Self {
        Self::with(file, |store| Desk::open(store, 0, clock()).unwrap())
    }

    /// As `open` opens it, on this collection.
    pub fn with(file: &Path, open: impl FnOnce(Store) -> Desk) -> Self {
        let desk = open(Store::open(file).unwrap());
        let link = desk.link();
        let (host, path) = link.strip_prefix("http://").unwrap().split_once('/').unwrap();
        let entered = say(host, &format!("GET /{path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n"));
        assert_eq!(entered.status, 303, "{entered:?}");
        let cookie = entered.field("set-cookie").unwrap().split(';').next().unwrap().to_owned();
        Self { host: host.to_owned(), desk, file: file.to_owned(), _folder: None, cookie }
    }

    /// The collection, beside the desk's own connections.
    pub fn store(&self) -> Store {
        Store::open(&self.file).unwrap()
    }

    pub fn file(&self) -> &Path {
        &self.file
    }

    /// A page, as the let-in browser gets it.
    pub fn get(&self, path: &str) -> Said {
        say(&self.host, &self.request("GET", path, "", ""))
    }

    /// A page that must be there, as text.
    pub fn page(&self, path: &str) -> String {
        let said = self.get(path);
        assert_eq!(said.status, 200, "{path}: {}\n{}", said.head, said.text());
        said.text().to_owned()
    }

    /// The check token that forms carry.
    pub fn check(&self) -> String {
        let page = self.page("/safety");
        let after = page.split_once("name=\"boxward-check\" content=\"").expect("the page has a check token").1;
        after.split('"').next().unwrap().to_owned()
    }

    /// A form as a page of the desk sends it.
    pub fn post(&self, path: &str, fields: &[(&str, &str)]) -> Said {
        let check = self.check();
        let mut form = form_urlencoded::Serializer::new(String::new());
        form.append_pair("check", &check);
        form.extend_pairs(fields);
        let origin = format!("Origin: http://{}\r\nContent-Type: application/x-www-form-urlencoded\r\n", self.host);
        say(&self.host, &self.request("POST", path, &origin, &form.finish()))
    }

    /// A request of the let-in browser with further lines in its head.
    pub fn request(&self, method: &str, path: &str, more: &str, body: &str) -> String {
        let (host, cookie, length) = (&self.host, &self.cookie, body.len());
        format!(
            "{method} {path} HTTP/1.1\r\nHost: {host}\r\nCookie: {cookie}\r\n{more}Content-Length: {length}\r\n\
             Connection: close\r\n\r\n{body}"
        )
    }
}

/// Sends these bytes and reads what comes until the server closes.
pub fn say(host: &str, request: &str) -> Said {
    try_say(host, request.as_bytes()).unwrap_or_else(|error| panic!("{request}: {error}"))
}

pub fn try_say(host: &str, request: &[u8]) -> std::io::Result<Said> {
    let mut stream = TcpStream::connect(host)?;
    stream.set_read_timeout(Some(Duration::from_secs(60)))?;
    stream.write_all(request)?;
    heard(&mut stream)
}

/// Reads an answer to the end of the connection.
pub fn heard(stream: &mut TcpStream) -> std::io::Result<Said> {
    let mut bytes = Vec::new();
    // A server that refuses before it has read everything resets the connection when it closes; what it said still came.
    if let Err(error) = stream.read_to_end(&mut bytes)
        && bytes.is_empty()
    {
        return Err(error);
    }
    let end = bytes.windows(4).position(|w| w == b"\r\n\r\n").ok_or(std::io::ErrorKind::UnexpectedEof)?;
    let head = String::from_utf8(bytes[..end].to_vec()).unwrap();
    let status = head.split(' ').nth(1).unwrap().parse().unwrap();
    let mut body = bytes.split_off(end + 4);
    if head.to_ascii_lowercase().contains("transfer-encoding: chunked") {
        body = unchunked(&body);
    }
    Ok(Said { status, head, body })
}

/// RFC 9112, 7.1.
fn unchunked(mut body: &[u8]) -> Vec<u8> {
    let mut whole = Vec::new();
    while let Some(end) = body.windows(2).position(|w| w == b"\r\n") {
        let size = usize::from_str_radix(std::str::from_utf8(&body[..end]).unwrap().trim(), 16).unwrap();
        let rest = &body[end + 2..];
        if size == 0 || rest.len() < size {
            break;
        }
        whole.extend(&rest[..size]);
        body = &rest[size + 2..];
    }
    whole
}
