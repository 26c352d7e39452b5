//! Photos sent to the open desk: what becomes of them, and what is refused.

use std::io::{BufRead, BufReader, Write};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::process::{Child, Stdio};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::{Duration, Instant};

use boxward::intake::{Item, ItemId, ItemState};
use boxward::source::Origin;
use boxward::store::{QueueFilter, Store};

use crate::cli_home::Home;
use crate::cli_import::sightings;
use crate::desk_support::{Opened, Said, heard, say, try_say};

/// A photo of the example stack.
pub fn photo(number: usize) -> (String, Vec<u8>) {
    let name = format!("photo-{number:02}.jpg");
    let bytes = std::fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/stack").join(&name)).unwrap();
    (name, bytes)
}

/// A form with these files, and its media type.
pub fn form(files: &[(String, Vec<u8>)]) -> (&'static str, Vec<u8>) {
    let mut body = Vec::new();
    for (name, bytes) in files {
        let head = format!("Content-Disposition: form-data; name=\"photo\"; filename=\"{name}\"\r\n");
        body.extend(format!("--ends-here\r\n{head}Content-Type: image/jpeg\r\n\r\n").into_bytes());
        body.extend(bytes);
        body.extend(b"\r\n");
    }
    body.extend(b"--ends-here--\r\n");
    ("multipart/form-data; boundary=ends-here", body)
}

/// A browser that was let in.
#[derive(Debug, Clone)]
pub struct Client {
    pub host: String,
    pub cookie: String,
}

impl Client {
    pub fn get(&self, path: &str) -> Said {
        let Self { host, cookie } = self;
        say(host, &format!("GET {path} HTTP/1.1\r\nHost: {host}\r\nCookie: {cookie}\r\nConnection: close\r\n\r\n"))
    }

    /// The address that a page's first form with files is sent to.
    pub fn target(&self, page: &str) -> String {
        let text = self.get(page).text().to_owned();
        let form = text.split("<form class=\"upload\"").nth(1).expect("the page has a form for photos");
        let action = form.split("action=\"").nth(1).unwrap().split('"').next().unwrap();
        action.replace("&amp;", "&")
    }

    /// The bytes of a form's request.
    pub fn request(&self, path: &str, kind: &str, more: &str, body: &[u8]) -> Vec<u8> {
        let Self { host, cookie } = self;
        let head = format!(
            "POST {path} HTTP/1.1\r\nHost: {host}\r\nCookie: {cookie}\r\nOrigin: http://{host}\r\nContent-Type: {kind}\r\n\
             {more}Content-Length: {}\r\nConnection: close\r\n\r\n",
            body.len()
        );
        [head.as_bytes(), body].concat()
    }

    pub fn send(&self, path: &str, files: &[(String, Vec<u8>)]) -> Said {
        let (kind, body) = form(files);
        try_say(&self.host, &self.request(path, kind, "", &body)).unwrap()
    }
}

fn client(desk: &Opened) -> Client {
    Client { host: desk.host.clone(), cookie: desk.cookie.clone() }
}

fn items(store: &Store) -> Vec<Item> {
    store.items(QueueFilter::Open).unwrap()
}

fn labels(store: &Store) -> Vec<String> {
    let label = |item: Item| match item.origin {
        Origin::Photo { path, .. } => path.to_str().unwrap().to_owned(),
        other => panic!("{other:?}"),
    };
    items(store).into_iter().map(label).collect()
}

#[test]
fn photos_of_a_form_are_in_the_queue_and_each_is_told() {
    let desk = Opened::new();
    let (client, store) = (client(&desk), desk.store());
    let target = client.target("/intake/photos");
    let said = client.send(&target, &[photo(1), photo(2), photo(21)]);
    assert_eq!(said.status, 200, "{}", said.text());
    let text = said.text();
    for told in [
        "3 photos looked at",
        "photo-01.jpg: item 1 is new in the queue",
        "UPC-A <strong>614141001040</strong> with add-on <strong>01211</strong>",
        "photo-02.jpg: shows again item 1",
        "photo-21.jpg: no code read, item 2 waits for a person",
        "data:image/png;base64,",
        "All of it is run 1.",
    ] {
        assert!(text.contains(told), "{told} is not in\n{text}");
    }
    assert_eq!(labels(&store), ["photo-01.jpg", "photo-21.jpg"]);
    assert_eq!(items(&store)[0].seen_again.len(), 1);
    // The same again, under another name: nothing is doubled.
    let again = client.send(&target, &[photo(1), ("other.jpg".to_owned(), photo(21).1)]);
    for told in ["photo-01.jpg: imported before", "other.jpg: imported before as photo-21.jpg"] {
        assert!(again.text().contains(told), "{}", again.text());
    }
    assert_eq!(items(&store).len(), 2);
    // All of it is one run, and is taken back as one.
    assert_eq!(desk.post("/undo", &[("run", "1")]).status, 303);
    assert!(items(&store).is_empty());
    // The page goes on: what was undone stays so, what comes is another run.
    let fresh = client.send(&target, &[photo(1)]);
    assert!(fresh.text().contains("All of it is run 3."), "{}", fresh.text());
    assert_eq!(labels(&store), ["photo-01.jpg"]);
}

#[test]
fn a_script_sends_one_after_another_and_gets_their_lines() {
    let desk = Opened::new();
    let client = client(&desk);
    let target = client.target("/intake/photos");
    let one = format!("{target}&part=1");
    let begun = Instant::now();
    for (number, told) in [(1, "item 1 is new in the queue"), (2, "shows again item 1")] {
        let said = client.send(&one, &[photo(number)]);
        assert_eq!(said.status, 200);
        assert!(said.text().starts_with("<li") && said.text().contains(told), "{}", said.text());
    }
    println!("two photos, one after another: {:?}", begun.elapsed());
    // Another page's photos are another run.
    let other = client.target("/intake/photos");
    assert_ne!(other, target);
    assert!(client.send(&format!("{other}&part=1"), &[photo(5)]).text().contains("is new"));
    let runs = desk.store().runs(10).unwrap();
    assert_eq!(runs.len(), 2);
}

#[test]
fn a_name_is_shown_as_text_and_never_used_as_a_path() {
    let desk = Opened::new();
    let (client, store) = (client(&desk), desk.store());
    let one = format!("{}&part=1", client.target("/intake/photos"));
    let names = ["../../evil-1", "C:\\\\evil-2.jpg", "/etc/evil-3", "<script>alert(4)</script>", "夜の船.jpg", ""];
    let long = "x".repeat(10_000);
    for (number, name) in (3..).zip(names.into_iter().chain([long.as_str()])) {
        let said = client.send(&one, &[(name.to_owned(), photo(number).1)]);
        assert_eq!(said.status, 200, "{name:.40}: {}", said.text());
        assert!(!said.text().contains("<script"), "{}", said.text());
    }
    let labels = labels(&store);
    for kept in ["evil-1", "evil-2.jpg", "evil-3", "script>", "夜の船.jpg", "photo"] {
        assert!(labels.iter().any(|label| label == kept), "{kept} is not in {labels:?}");
    }
    assert!(labels.iter().all(|label| label.len() <= 100 && !label.contains(['/', '\\'])), "{labels:?}");
    // A name that no head of a part can hold is no name.
    let before = labels.len();
    let said = client.send(&one, &[("a\0b.jpg".to_owned(), photo(20).1)]);
    assert!([200, 400].contains(&said.status));
    assert!(said.status == 200 || items(&store).len() == before);
    assert!(!self::labels(&store).iter().any(|label| label.chars().any(char::is_control)));
    let mut around: Vec<PathBuf> =
        std::fs::read_dir(store.path().parent().unwrap()).unwrap().map(|entry| entry.unwrap().path()).collect();
    around.retain(|path| !path.to_string_lossy().contains("collection.sqlite"));
    assert!(around.is_empty(), "a file was written: {around:?}");
}

/// CRC of PNG's chunks (W3C PNG specification, annex D).
fn crc32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0u32, |crc, &byte| {
        (0..8).fold(crc ^ u32::from(byte), |c, _| if c & 1 == 1 { 0xedb8_8320 ^ (c >> 1) } else { c >> 1 })
    })
}

#[test]
fn what_is_no_picture_is_told_and_the_others_are_taken() {
    let desk = Opened::new();
    let client = client(&desk);
    // A PNG that claims 60,000 × 60,000 px.
    let mut bomb = b"\x89PNG\r\n\x1a\n\0\0\0\x0dIHDR\0\0\xea\x60\0\0\xea\x60\x08\0\0\0\0".to_vec();
    bomb.extend(crc32(&bomb[12..]).to_be_bytes());
    bomb.extend(b"\0\0\0\0IDAT\x35\xaf\x06\x1e");
    let (_, whole) = photo(1);
    let files = [
        ("words.jpg", b"just words".to_vec()),
        ("bomb.png", bomb),
        ("empty.jpg", Vec::new()),
        ("half.jpg", whole[..whole.len() / 2].to_vec()),
        ("iphone.heic", b"\0\0\0\x18ftypheic\0\0\0\0mif1heic".to_vec()),
        ("huge.jpg", vec![0; (128 << 20) + 1]),
        ("good.jpg", whole),
    ];
    let said = client.send(&client.target("/intake/photos"), &files.map(|(name, bytes)| (name.to_owned(), bytes)));
    let text = said.text();
    let heic =
        if cfg!(feature = "heic") { "failed: the HEIC picture is damaged" } else { "save JPEG ('most compatible')" };
    for (name, why) in [
        ("words.jpg", "failed: this is no JPEG"),
        ("bomb.png", "failed: the picture has 60000 × 60000 px, more than the"),
        ("empty.jpg", "failed: the file is empty"),
        ("half.jpg", "failed: the"),
        ("iphone.heic", heic),
        ("huge.jpg", "failed: the file has more than the 134217728 bytes allowed"),
        ("good.jpg", "item 1 is new in the queue"),
    ] {
        let line = text.split("data-said=\"").find(|line| line.starts_with(name)).unwrap_or_else(|| panic!("{text}"));
        assert!(line.contains(why), "{name}: {line:.300}");
    }
    assert_eq!(labels(&desk.store()), ["good.jpg"]);
}

#[test]
fn photos_beyond_a_forms_limit_are_counted_and_left_out() {
    let desk = Opened::new();
    let client = client(&desk);
    let mut files: Vec<_> = (0..62).map(|number| (format!("{number}.jpg"), vec![b'x'; 10])).collect();
    files[61] = photo(1);
    let said = client.send(&client.target("/intake/photos"), &files);
    assert!(said.text().contains("2 photos more than 60 came and were left out"), "{}", said.text());
    assert!(said.text().contains("60 photos looked at") && !said.text().contains("61.jpg"));
    let endless: Vec<_> = (0..501).map(|number| (format!("{number}.jpg"), vec![b'x'; 10])).collect();
    assert_eq!(client.send(&client.target("/intake/photos"), &endless).status, 413);
    assert!(items(&desk.store()).is_empty());
}

#[test]
fn only_the_desks_own_pages_send_photos() {
    let desk = Opened::new();
    let client = client(&desk);
    let target = client.target("/intake/photos");
    let (kind, body) = form(&[photo(1)]);
    let status = |request: Vec<u8>| try_say(&client.host, &request).map_or(0, |said| said.status);
    let own = client.request(&target, kind, "", &body);
    let replaced = |from: &str, to: &str| {
        let at = own.windows(from.len()).position(|w| w == from.as_bytes()).unwrap();
        [&own[..at], to.as_bytes(), &own[at + from.len()..]].concat()
    };
    let origin = format!("Origin: http://{}", client.host);
    let check = desk.check();
    for forged in [
        replaced(&format!("check={check}"), "check="),
        replaced(&format!("check={check}&"), ""),
        replaced(&check, &"0".repeat(64)),
        replaced(&origin, "Origin: http://evil.example"),
        replaced(&origin, "Origin: null"),
        replaced(&format!("{origin}\r\n"), ""),
        replaced(&desk.cookie, "x=y"),
    ] {
        // What is refused may not be read to its end.
        assert!([0, 403].contains(&status(forged)));
    }
    // A check token in the form itself is not looked for, and other kinds of content are no forms with files.
    assert_eq!(status(client.request("/intake/photos?batch=1", kind, "", &body)), 403);
    let header = format!("X-Boxward-Check: {check}\r\n");
    assert_eq!(status(client.request("/intake/photos", "image/jpeg", &header, &body)), 400);
    assert_eq!(status(client.request("/intake/photos", "multipart/form-data", &header, &body)), 400);
    assert!(items(&desk.store()).is_empty());
    assert_eq!(status(own), 200);
    assert_eq!(items(&desk.store()).len(), 1);
}

#[test]
fn an_upload_that_stops_records_nothing_and_is_cut_off() {
    let desk = Opened::new();
    let client = client(&desk);
    let one = format!("{}&part=1", client.target("/intake/photos"));
    let (kind, body) = form(&[photo(1)]);
    let request = client.request(&one, kind, "", &body);
    let begun = Instant::now();
    let mut stalled = TcpStream::connect(&client.host).unwrap();
    stalled.set_read_timeout(Some(Duration::from_secs(40))).unwrap();
    stalled.write_all(&request[..request.len() - 500]).unwrap();
    // Another goes away.
    let mut gone = TcpStream::connect(&client.host).unwrap();
    gone.write_all(&request[..request.len() / 2]).unwrap();
    drop(gone);
    // A form that says it is complete while its last photo is not.
    let (_, short) = form(&[photo(3)]);
    let said = try_say(&client.host, &client.request(&one, kind, "", &short[..short.len() - 20])).unwrap();
    assert_eq!(said.status, 400, "{}", said.text());
    assert!(said.text().contains("send it again"), "{}", said.text());
    // Others are served meanwhile.
    assert_eq!(client.send(&one, &[photo(5)]).status, 200);
    assert!(begun.elapsed() < Duration::from_secs(9));
    let cut = heard(&mut stalled).unwrap();
    assert_eq!(cut.status, 408, "{}", cut.text());
    assert!(begun.elapsed() < Duration::from_secs(30));
    assert_eq!(labels(&desk.store()), ["photo-05.jpg"]);
}

/// The built program with its desk open.
struct Program {
    child: Child,
    client: Client,
}

impl Program {
    fn start(home: &Home) -> Self {
        let mut command = home.command(env!("CARGO_BIN_EXE_boxward"));
        command.args(["desk", "--no-browser", "--json", "--collection", "c.sqlite"]);
        let mut child = command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::null()).spawn().unwrap();
        let mut line = String::new();
        BufReader::new(child.stdout.take().unwrap()).read_line(&mut line).unwrap();
        let line: serde_json::Value = serde_json::from_str(&line).unwrap();
        let client = entered(line["link"].as_str().unwrap());
        Self { child, client }
    }
}

/// A browser that opens the link.
pub fn entered(link: &str) -> Client {
    let (host, path) = link.strip_prefix("http://").unwrap().split_once('/').unwrap();
    let said = say(host, &format!("GET /{path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n"));
    assert_eq!(said.status, 303, "{said:?}");
    let cookie = said.field("set-cookie").unwrap().split(';').next().unwrap().to_owned();
    Client { host: host.to_owned(), cookie }
}

/// The items that a photo's line promises.
fn promised(line: &str) -> Vec<i64> {
    let said = line.split("data-said=\"").nth(1).unwrap().split('"').next().unwrap();
    let numbers = said.split("item ").skip(1);
    numbers.map(|rest| rest.split([' ', ',']).next().unwrap().parse().unwrap()).collect()
}

#[test]
fn killed_in_the_middle_of_uploads_it_loses_and_doubles_nothing() {
    let home = Home::new();
    let mut all: Vec<i64> = Vec::new();
    let (mut killed_early, mut last) = (0, 0);
    for round in 0..8_u64 {
        let mut program = Program::start(&home);
        let one = format!("{}&part=1", program.client.target("/intake/photos"));
        let (next, told) = (Arc::new(AtomicUsize::new(1)), Arc::new(Mutex::new(Vec::new())));
        let senders: Vec<_> = (0..2)
            .map(|_| {
                let (client, one) = (program.client.clone(), one.clone());
                let (next, told) = (Arc::clone(&next), Arc::clone(&told));
                thread::spawn(move || {
                    loop {
                        let number = next.fetch_add(1, Ordering::SeqCst);
                        if number > 24 {
                            return;
                        }
                        let (kind, body) = form(&[photo(number)]);
                        let Ok(said) = try_say(&client.host, &client.request(&one, kind, "", &body)) else { return };
                        // An answer that broke off promises nothing.
                        if said.status == 200 && said.text().ends_with("</li>") {
                            told.lock().unwrap().extend(promised(said.text()));
                        }
                    }
                })
            })
            .collect();
        if round < 7 {
            thread::sleep(Duration::from_micros(150_000 + round * 137_919 % 700_000));
            program.child.kill().unwrap();
        } else {
            senders.into_iter().for_each(|sender| sender.join().unwrap());
            program.child.kill().unwrap();
        }
        program.child.wait().unwrap();
        thread::sleep(Duration::from_millis(50));
        all.extend(told.lock().unwrap().iter());
        let store = Store::open(&home.path().join("c.sqlite")).unwrap();
        let found = sightings(&store);
        assert!(found.values().all(|&times| times == 1), "{found:#?}");
        for item in &all {
            store.item(ItemId::new(*item)).unwrap_or_else(|e| panic!("item {item} was reported and is lost: {e}"));
        }
        assert!(found.len() >= last, "something is gone");
        last = found.len();
        killed_early += usize::from(round < 7 && last < 26);
    }
    // Codes and empty photos of the example stack, each once.
    assert_eq!(last, 26);
    assert!(killed_early > 0, "all was over before it was killed: nothing was tried");
    let store = Store::open(&home.path().join("c.sqlite")).unwrap();
    assert!(items(&store).iter().any(|item| item.state == ItemState::Incomplete));
}
