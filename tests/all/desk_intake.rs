//! The running intake: a session that is begun, steered and ended on the desk's page.

use std::io::{Read, Write};
use std::net::TcpStream;
use std::time::{Duration, Instant};

use boxward::desk::Desk;
use boxward::intake::ItemId;
use boxward::picture::{Limits, decode};
use boxward::source::{Rate, pictures};
use boxward::store::{QueueFilter, Store};
use boxward::workflow::{self, Film};
use serde_json::Value;

use crate::browser::{Browser, missing};
use crate::desk_browser::judge;
use crate::desk_support::{Opened, clock, heard};
use crate::scan_replay::take;
use crate::simulated::{FILM_FPS, film};

/// Begins a session without pictures.
fn begin(desk: &Opened, more: &[(&str, &str)]) {
    let fields: Vec<_> = [("pictures", "none")].into_iter().chain(more.iter().copied()).collect();
    let said = desk.post("/intake/begin", &fields);
    assert_eq!((said.status, said.field("location")), (303, Some("/intake")), "{}", said.text());
}

/// Does something in the session, and gives the page that it leads to.
fn act(desk: &Opened, act: &str, fields: &[(&str, &str)]) -> String {
    let said = desk.post(&format!("/intake/{act}"), fields);
    assert_eq!(said.status, 303, "{}", said.text());
    desk.page(said.field("location").unwrap())
}

fn refused(desk: &Opened, act: &str, fields: &[(&str, &str)], part: &str) {
    let said = desk.post(&format!("/intake/{act}"), fields);
    assert_eq!(said.status, 422, "{act}: {}", said.text());
    assert!(said.text().contains(part), "{part}: {}", said.text());
}

fn open_items(store: &Store) -> usize {
    workflow::queue_list(store, QueueFilter::Open).unwrap().len()
}

#[test]
fn a_session_is_begun_steered_and_ended() {
    let desk = Opened::new();
    let store = desk.store();
    assert!(desk.page("/intake").contains("value=\"2026-03-04\""), "today is proposed");
    let bought = [("shop", "Corner <Comics>"), ("day", "2026-03-04"), ("cover_price", "3.99 USD"), ("less", "10 %")];
    begin(&desk, &bought);
    let page = desk.page("/intake");
    let words = "Bought: Corner &lt;Comics&gt;, 2026-03-04, cover price 3.99 USD, less 10 %.";
    assert!(page.contains(words) && page.contains("/intake/events"), "{page}");

    let page = act(&desk, "line", &[("line", "614141000418 00411")]);
    assert!(page.contains("waits for its title") && page.contains("href=\"/queue/1\""), "{page}");
    assert!(page.contains("1 new item in the queue"), "{page}");
    let item = workflow::queue_show(&store, ItemId::new(1)).unwrap();
    assert_eq!(item.code.unwrap().gtin.to_string(), "0614141000418");

    let page = act(&desk, "undo", &[]);
    assert!(page.contains("taken back") && page.contains("0 new items"), "{page}");
    assert!(!page.contains("/queue/1"), "there is no such item any more");
    assert_eq!(open_items(&store), 0);
    assert!(act(&desk, "undo", &[]).contains("nothing is left to take back"));

    act(&desk, "line", &[("line", "614141000418 00411")]);
    assert!(act(&desk, "drop", &[]).contains("1 dropped"));
    assert_eq!(open_items(&store), 0);

    // What comes in a pause is told, not taken.
    assert!(act(&desk, "pause", &[]).contains("Go on"));
    act(&desk, "line", &[("line", "614141023660 10411")]);
    assert_eq!(open_items(&store), 0);
    assert!(act(&desk, "pause", &[]).contains("going on"));

    let page = act(&desk, "next", &[("shop", "The Back Room")]);
    assert!(page.contains("Bought: The Back Room."), "{page}");
    // A scanner that types into the wrong field is understood.
    let page = act(&desk, "next", &[("shop", "61414102366010411")]);
    assert!(page.contains("Bought: The Back Room.") && page.contains("614141023660 10411"), "{page}");
    assert_eq!(open_items(&store), 1);

    let page = act(&desk, "line", &[("line", "no code")]);
    assert!(page.contains("not understood") && page.contains("1 not understood"), "{page}");

    let page = act(&desk, "end", &[]);
    assert!(page.contains("ended on this page") && page.contains("Run 1 (scan)"), "{page}");
    assert!(page.contains("Begin a session"), "{page}");
    // The whole session is taken back as a scan is.
    assert_eq!(desk.post("/undo", &[("run", "1")]).status, 303);
    assert_eq!(open_items(&store), 0);
}

#[test]
fn main_code_and_add_on_may_come_one_after_the_other() {
    let desk = Opened::new();
    begin(&desk, &[]);
    act(&desk, "line", &[("line", "614141000418")]);
    assert!(act(&desk, "line", &[("line", "00411")]).contains("614141000418 00411"));
    // Without the add-on it waits for a person, once the time for it is over; the clock of the records stands.
    act(&desk, "line", &[("line", "614141023660")]);
    let begun = Instant::now();
    while !desk.page("/intake").contains("waits for a person") {
        assert!(begun.elapsed() < Duration::from_secs(20), "the code without an add-on never came");
        std::thread::sleep(Duration::from_millis(50));
    }
    assert!(desk.page("/intake").contains("href=\"/queue/2\""));
}

#[test]
fn wrong_input_is_named_and_changes_nothing() {
    let desk = Opened::new();
    for act in ["undo", "drop", "pause", "end"] {
        refused(&desk, act, &[], "no session runs");
    }
    refused(&desk, "line", &[("line", "614141000418 00411")], "no session runs");
    refused(&desk, "begin", &[("pictures", "none"), ("cover_price", "much")], "cover price: ");
    refused(&desk, "begin", &[("pictures", "none"), ("day", "yesterday")], "day: ");
    refused(&desk, "begin", &[("pictures", "none"), ("less", "200 %")], "discount: ");
    refused(&desk, "begin", &[("pictures", "none"), ("shop", "61414100041800411")], "shop: ");
    refused(&desk, "begin", &[("pictures", "film")], "pictures: ");
    refused(&desk, "begin", &[("pictures", "/etc/passwd")], "pictures: ");
    refused(&desk, "begin", &[], "pictures");
    assert!(!desk.page("/intake").contains("data-events"), "no session was begun");
    begin(&desk, &[]);
    // Another tab joins the session, and begins no other.
    refused(&desk, "begin", &[("pictures", "none")], "a session runs already");
    refused(&desk, "line", &[("line", &"1".repeat(300))], "digits: ");
    refused(&desk, "next", &[("less", "much")], "discount: ");
    assert_eq!(open_items(&desk.store()), 0);
    assert_eq!(desk.get("/intake/frame.jpg").status, 404);
}

/// An open stream of events.
struct Events(TcpStream, String);

impl Events {
    fn of(desk: &Opened) -> Self {
        let mut stream = TcpStream::connect(&desk.host).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(60))).unwrap();
        stream.write_all(desk.request("GET", "/intake/events", "", "").as_bytes()).unwrap();
        Self(stream, String::new())
    }

    /// The next event; `None` at the end.
    fn next(&mut self) -> Option<Value> {
        let mut part = [0; 4096];
        loop {
            if let Some((before, after)) = self.1.split_once("\n\n") {
                let data = before.split_once("\ndata: ").map(|(_, data)| serde_json::from_str(data).unwrap());
                self.1 = after.to_owned();
                if data.is_some() {
                    return data;
                }
            }
            match self.0.read(&mut part).unwrap() {
                0 => return None,
                n => self.1.push_str(&String::from_utf8_lossy(&part[..n])),
            }
        }
    }
}

#[test]
fn changes_are_told_to_all_who_listen_and_their_number_is_bounded() {
    let desk = Opened::new();
    assert_eq!(desk.get("/intake/events").status, 204, "no session, nothing to listen to");
    begin(&desk, &[]);
    let mut first = Events::of(&desk);
    let before = first.next().unwrap();
    assert_eq!((&before["told"], &before["over"]), (&0.into(), &false.into()));
    let mut others: Vec<_> = (1..16).map(|_| Events::of(&desk)).collect();
    others.iter_mut().for_each(|other| drop(other.next().unwrap()));
    assert_eq!(desk.get("/intake/events").status, 503);
    others.clear();
    act(&desk, "line", &[("line", "614141000418 00411")]);
    let mut told = Value::Null;
    while told["tone"] != serde_json::json!([1, "good"]) {
        told = first.next().expect("the book is told");
    }
    assert!(told["words"].as_u64() > before["words"].as_u64());
    act(&desk, "end", &[]);
    let mut last = told;
    while let Some(next) = first.next() {
        last = next;
    }
    assert_eq!(last["over"], true, "the stream ends with the session");
}

#[test]
fn a_session_is_steered_in_a_browser_by_keys_and_scanner() {
    if missing() {
        return;
    }
    let desk = Opened::new();
    let browser = Browser::at(&desk.desk.link(), 1200, 900);
    browser.press("nav a[href='/intake']");
    browser.press("form[action='/intake/begin'] button");
    // The field has the focus, and keeps it; the page is not left.
    browser.element("#line");
    browser.run("window.stayed = true");
    browser.keys("61414100041800411\u{e007}");
    browser.wait_for_text("#word", "waits for its title");
    assert_eq!(browser.text("#books a"), "item 1");
    assert_eq!(browser.run("return document.getElementById('line').value"), "");
    browser.keys("u");
    browser.wait_for_text("#word", "taken back");
    browser.keys("p");
    browser.wait_for_text("#pausing", "Go on");
    browser.keys("p");
    browser.wait_for_text("#pausing", "Pause");
    browser.keys("n");
    assert_eq!(browser.run("return document.activeElement.name"), "shop");
    // A scanner shoots while the shop is asked for: no shop of that name is made of it.
    browser.keys("61414102366010411\u{e007}");
    browser.wait_for_text("#word", "614141023660 10411");
    let begun = Instant::now();
    while browser.run("return document.activeElement.id + document.querySelector('[name=shop]').value") != "line" {
        assert!(begun.elapsed() < Duration::from_secs(20), "the code stays in the shop's field");
        std::thread::sleep(Duration::from_millis(50));
    }
    browser.type_into("input[name=less]", "200 %");
    browser.keys("\u{e007}");
    browser.wait_for_text("#trouble", "discount: ");
    browser.type_into("input[name=less]", "12.5 %");
    browser.keys("\u{e007}");
    browser.wait_for_text("#counts", "less 12.5 %");
    assert_eq!(browser.run("return window.stayed"), true);
    // What a scanner types goes into the field, wherever the focus is; and nothing that was not taken is lost.
    browser.run("document.getElementById('sound').focus()");
    browser.keys("6");
    assert_eq!(browser.run("return document.activeElement.id + document.activeElement.value"), "line6");
    // Another tab joins the session.
    judge(&desk, &["/intake"]);
    // With something in the field, letters are no keys; once it is empty they are.
    browser.press("#line");
    browser.keys("\u{e003}q");
    browser.wait_for_text("[role=status]", "Run 1 (scan) is done.");
    assert_eq!(open_items(&desk.store()), 1);
}

/// A desk whose sessions take a drawn film of so many books.
fn on_film(books: usize) -> (Opened, tempfile::TempDir, Vec<String>) {
    let folder = tempfile::tempdir().unwrap();
    let drawn = film(4, 8);
    let frames = folder.path().join("frames");
    take(&drawn, &frames);
    let per_book = drawn.len() / drawn.truth.len();
    let files = pictures(&[frames]).into_iter().collect::<Result<Vec<_>, _>>().unwrap();
    let rate = Rate::new(FILM_FPS as f64).unwrap();
    let film = Film { files: files[..books * per_book].to_vec(), rate };
    let opened = Opened::with(&folder.path().join("collection.sqlite"), |store| {
        Desk::open_on(store, 0, clock(), Some(film)).unwrap()
    });
    (opened, folder, drawn.truth[..books].iter().map(|truth| truth.gtin.clone()).collect())
}

#[test]
fn a_film_is_seen_with_its_outlines_and_its_books_are_taken() {
    let (desk, _folder, truth) = on_film(3);
    assert!(desk.page("/intake").contains("value=\"film\""));
    assert_eq!(desk.post("/intake/begin", &[("pictures", "film")]).status, 303);
    let mut events = Events::of(&desk);
    let (mut outlined, mut frames) = (false, 0);
    let store = desk.store();
    let begun = Instant::now();
    while open_items(&store) < truth.len() {
        assert!(begun.elapsed() < Duration::from_secs(120), "{}", desk.page("/intake"));
        let seen = events.next().unwrap();
        frames = seen["frame"].as_u64().unwrap();
        outlined |= seen["outlines"].as_array().is_some_and(|outlines| !outlines.is_empty());
    }
    assert!(outlined && frames > 0);
    let jpeg = desk.get("/intake/frame.jpg?n=1");
    let picture = decode(&jpeg.body, &Limits::default()).unwrap();
    assert_eq!([picture.width(), picture.height()], [640, 480]);
    let mut taken: Vec<_> = workflow::queue_list(&store, QueueFilter::Open)
        .unwrap()
        .iter()
        .map(|item| item.code.unwrap().gtin.to_string())
        .collect();
    let mut truth = truth;
    taken.sort();
    truth.sort();
    assert_eq!(taken, truth);
    // The film has ended, the session has not: a scanner may go on.
    let page = act(&desk, "line", &[("line", "614141000418 00411")]);
    assert!(page.contains("614141000418"), "{page}");
}

#[test]
fn what_was_told_is_on_the_disk_when_the_desk_is_gone() {
    let desk = Opened::new();
    begin(&desk, &[]);
    act(&desk, "line", &[("line", "614141000418 00411")]);
    let store = desk.store();
    drop(desk);
    assert_eq!(open_items(&store), 1);
}

#[test]
fn only_the_desks_own_page_steers_it() {
    let desk = Opened::new();
    begin(&desk, &[]);
    let form = "Content-Type: application/x-www-form-urlencoded\r\n";
    let own = format!("Origin: http://{}\r\n{form}", desk.host);
    for (head, body) in [
        (own.clone(), "line=61414100041800411".to_owned()),
        (format!("Origin: http://evil.example\r\n{form}"), format!("line=61414100041800411&check={}", desk.check())),
    ] {
        let mut stream = TcpStream::connect(&desk.host).unwrap();
        stream.write_all(desk.request("POST", "/intake/line", &head, &body).as_bytes()).unwrap();
        assert_eq!(heard(&mut stream).unwrap().status, 403);
    }
    assert_eq!(open_items(&desk.store()), 0);
}
