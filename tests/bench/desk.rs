//! How long a search on the desk takes, in a collection of a million copies, while fifty people search and two send photos.
//!
//! Goal: 99 of 100 answers within 50 ms. 'As typed' sends a search with every key, five keys a second, as a page does; 'without
//! pause' sends the next one as soon as the answer is there, which no person does.
#![allow(clippy::print_stdout, reason = "a benchmark prints what it measured")]
#![allow(clippy::unwrap_used, reason = "a benchmark that can't go on has failed")]

#[expect(dead_code, reason = "other benches ask more of it")]
mod fill;

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use boxward::desk::{Clock, Desk};
use boxward::store::Store;
use jiff::tz::TimeZone;

const COPIES: u32 = 1_000_000;
const PEOPLE: usize = 50;
const SENDERS: usize = 2;
const LASTS: Duration = Duration::from_secs(20);
/// Between two keys of somebody who types fast.
const BETWEEN_KEYS: Duration = Duration::from_millis(200);

/// What people look for: words of titles, a title and its issue, a code.
const SEARCHES: [&str; 8] = [
    "night ferry",
    "garden of the copper",
    "thunder lights 104",
    "win",
    "0614141000418",
    "marble engine 17",
    "ferry velvet",
    "wandering street",
];

/// A browser of one person: one connection that stays open.
struct Person {
    stream: BufReader<TcpStream>,
    head: String,
}

impl Person {
    fn new(host: &str, cookie: &str) -> Self {
        let stream = TcpStream::connect(host).unwrap();
        stream.set_nodelay(true).unwrap();
        Self { stream: BufReader::new(stream), head: format!("Host: {host}\r\nCookie: {cookie}\r\n") }
    }

    /// Sends a request and reads its answer; gives the status and the body.
    fn ask(&mut self, line: &str, more: &str, body: &[u8]) -> (u16, Vec<u8>) {
        let head = format!("{line} HTTP/1.1\r\n{}{more}Content-Length: {}\r\n\r\n", self.head, body.len());
        let stream = self.stream.get_mut();
        stream.write_all(&[head.as_bytes(), body].concat()).unwrap();
        let (mut status, mut length) = (0, 0);
        loop {
            let mut line = String::new();
            self.stream.read_line(&mut line).unwrap();
            if let Some(rest) = line.strip_prefix("HTTP/1.1 ") {
                status = rest[..3].parse().unwrap();
            } else if let Some(value) = line.to_ascii_lowercase().strip_prefix("content-length: ") {
                length = value.trim().parse().unwrap();
            } else if line.trim().is_empty() {
                break;
            }
        }
        let mut answer = vec![0; length];
        self.stream.read_exact(&mut answer).unwrap();
        (status, answer)
    }
}

fn encoded(text: &str) -> String {
    form_urlencoded::byte_serialize(text.as_bytes()).collect()
}

fn enter(desk: &Desk) -> (String, String) {
    let link = desk.link();
    let (host, path) = link.strip_prefix("http://").unwrap().split_once('/').unwrap();
    let mut stream = TcpStream::connect(host).unwrap();
    write!(stream, "GET /{path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n").unwrap();
    let mut said = String::new();
    stream.read_to_string(&mut said).unwrap();
    let cookie = said.split_once("set-cookie: ").unwrap().1.split(';').next().unwrap();
    (host.to_owned(), cookie.to_owned())
}

/// The photos of the example stack; each sending is another photo to the queue, which knows photos by their bytes.
fn photos() -> Vec<Vec<u8>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/stack");
    let mut names: Vec<_> = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    names.retain(|name| name.extension().is_some_and(|end| end == "jpg"));
    names.sort();
    names.iter().map(|name| std::fs::read(name).unwrap()).collect()
}

fn send(host: &str, cookie: &str, sender: usize, ended: &AtomicBool) -> usize {
    let mut browser = Person::new(host, cookie);
    let (_, page) = browser.ask("GET /safety", "", b"");
    let page = String::from_utf8(page).unwrap();
    let check = page.split_once("name=\"boxward-check\" content=\"").unwrap().1.split('"').next().unwrap().to_owned();
    let head = format!("Origin: http://{host}\r\nContent-Type: multipart/form-data; boundary=edge\r\n");
    let mut sent = 0;
    for photo in photos().iter().cycle() {
        if ended.load(Ordering::Relaxed) {
            break;
        }
        let mut body = format!(
            "--edge\r\nContent-Disposition: form-data; name=\"photo\"; filename=\"{sender}-{sent}.jpg\"\r\n\
             Content-Type: image/jpeg\r\n\r\n"
        )
        .into_bytes();
        body.extend(photo);
        // Behind a JPEG's end marker nothing is read.
        body.extend(format!("{sender} {sent}").bytes());
        body.extend(b"\r\n--edge--\r\n");
        let (status, answer) = browser.ask(&format!("POST /intake/photos?check={check}"), &head, &body);
        assert!(status < 400, "{status}: {}", String::from_utf8_lossy(&answer));
        sent += 1;
    }
    sent
}

/// Searches until `ended`; gives how long each answer took, in ms.
fn search(host: &str, cookie: &str, person: usize, pause: Duration, ended: &AtomicBool) -> Vec<f64> {
    let mut browser = Person::new(host, cookie);
    let mut took = Vec::new();
    // Not all press their first key at once.
    thread::sleep(pause * person as u32 / PEOPLE as u32);
    for text in SEARCHES.iter().cycle().skip(person) {
        for (end, _) in text.char_indices().skip(1).chain([(text.len(), ' ')]) {
            if ended.load(Ordering::Relaxed) {
                return took;
            }
            let start = Instant::now();
            let (status, _) =
                browser.ask(&format!("GET /collection/found?q={}&quick=true", encoded(&text[..end])), "", b"");
            took.push(start.elapsed().as_secs_f64() * 1e3);
            assert_eq!(status, 200);
            thread::sleep(pause);
        }
    }
    took
}

fn measure(desk: &Desk, name: &str, pause: Duration, senders: usize) {
    let (host, cookie) = enter(desk);
    let (ended, sent) = (AtomicBool::new(false), AtomicUsize::new(0));
    let mut took: Vec<f64> = thread::scope(|scope| {
        for sender in 0..senders {
            let (host, cookie, ended, sent) = (&host, &cookie, &ended, &sent);
            scope.spawn(move || sent.fetch_add(send(host, cookie, sender, ended), Ordering::Relaxed));
        }
        let people: Vec<_> = (0..PEOPLE)
            .map(|person| {
                let (host, cookie, ended) = (&host, &cookie, &ended);
                scope.spawn(move || search(host, cookie, person, pause, ended))
            })
            .collect();
        thread::sleep(LASTS);
        ended.store(true, Ordering::Relaxed);
        people.into_iter().flat_map(|person| person.join().unwrap()).collect()
    });
    took.sort_by(f64::total_cmp);
    let of = |part: f64| took[((took.len() - 1) as f64 * part) as usize];
    println!(
        "{name}: {} searches, {} photos in {} s; ms: median {:.1}, 90 % {:.1}, 99 % {:.1}, worst {:.1}",
        took.len(),
        sent.load(Ordering::Relaxed),
        LASTS.as_secs(),
        of(0.5),
        of(0.9),
        of(0.99),
        of(1.0)
    );
}

fn main() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("collection.sqlite");
    fill::fill(&path, COPIES);
    let desk = Desk::open(Store::open(&path).unwrap(), 0, Clock::new(jiff::Timestamp::now, TimeZone::UTC)).unwrap();
    measure(&desk, "as typed, nobody sends", BETWEEN_KEYS, 0);
    measure(&desk, "as typed, two send photos", BETWEEN_KEYS, SENDERS);
    measure(&desk, "without pause, two send photos", Duration::ZERO, SENDERS);
}
