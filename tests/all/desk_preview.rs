//! The page of a session that is steered elsewhere: what it serves, to whom, and what it keeps.

use std::io::{BufRead, BufReader, Write};
use std::net::TcpStream;
use std::process::Stdio;
use std::sync::Arc;
use std::time::{Duration, Instant};

use boxward::collection::Purchase;
use boxward::desk::{Board, Desk};
use boxward::picture::{Limits, Luma, decode};
use boxward::workflow::{News, Tone};

use crate::cli_home::Home;
use crate::desk_support::{Opened, clock, say};

fn watched() -> (Opened, Arc<Board>, tempfile::TempDir) {
    let board = Arc::new(Board::new(Purchase { shop: Some("Corner <Comics>".to_owned()), ..Purchase::default() }));
    let shown = Arc::clone(&board);
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("collection.sqlite");
    (Opened::with(&file, |store| Desk::to_watch(store, 0, clock(), shown).unwrap()), board, folder)
}

#[test]
fn frame_outlines_and_books_are_shown() {
    let (desk, board, _folder) = watched();
    assert_eq!(desk.get("/intake/frame.jpg").status, 404);
    let outline = [[1.5, 2.0], [30.0, 2.0], [30.0, 20.0], [1.0, 20.0]];
    let frame = Luma::from_fn(64, 48, |x, _| if x < 32 { 20 } else { 220 });
    board.tell::<()>(News::Frame { luma: frame.clone(), outlines: vec![outline] }, "");
    for n in 1..=20 {
        board.tell::<()>(News::Refused(format!("book {n} <b>")), "12 new items");
    }
    let page = desk.page("/intake");
    for part in [
        "width=\"64\" height=\"48\"",
        "points=\"1.5,2.0 30.0,2.0 30.0,20.0 1.0,20.0\"",
        "12 new items",
        "book 20 &lt;b&gt;",
        "Corner &lt;Comics&gt;",
    ] {
        assert!(page.contains(part), "{part}: {page}");
    }
    // Only the last ones stay, the newest first.
    assert!(!page.contains("book 1 ") && page.find("book 20 ") < page.find("book 19 "));
    let said = desk.get("/intake/frame.jpg?n=1");
    assert_eq!((said.field("content-type"), said.field("cache-control")), (Some("image/jpeg"), Some("no-store")));
    let back = decode(&said.body, &Limits::default()).unwrap();
    assert!(back.pixels().iter().zip(frame.pixels()).all(|(a, b)| a.abs_diff(*b) < 12));
    // The session's end takes the picture away, and leaves what was told.
    board.end("the session has ended");
    assert_eq!((desk.get("/intake/frame.jpg").status, desk.get("/intake/events").status), (404, 204));
    let page = desk.page("/intake");
    assert!(page.contains("the session has ended") && page.contains("book 20 "), "{page}");
}

#[test]
fn it_can_be_looked_at_only() {
    let (desk, board, _folder) = watched();
    board.tell::<()>(News::Paused(false), "");
    let page = desk.page("/intake");
    assert!(!page.contains("<form") && !page.contains("/queue/"), "{page}");
    for path in ["/", "/safety", "/queue/1"] {
        assert_eq!(desk.get(path).status, 404, "{path}");
    }
    // There is no token for a form either, so the guard refuses what would be no page anyway.
    let origin = format!("Origin: http://{}\r\nContent-Type: application/x-www-form-urlencoded\r\n", desk.host);
    for path in ["/intake/undo", "/intake/begin", "/undo"] {
        assert_eq!(say(&desk.host, &desk.request("POST", path, &origin, "check=0&run=1")).status, 403, "{path}");
    }
}

#[test]
fn every_tone_has_its_tune() {
    let (desk, _board, _folder) = watched();
    let page = desk.page("/intake");
    let mark = page.split_once("src=\"").unwrap().1.split_once("desk.js").unwrap().0.to_owned();
    let script = desk.page(&format!("{mark}intake.js"));
    // Nothing is fetched from elsewhere.
    assert!(!script.replace("http://www.w3.org/2000/svg", "").contains("http"));
    for tone in [Tone::Good, Tone::Look, Tone::Failed] {
        let word = serde_json::to_value(tone).unwrap();
        assert!(script.contains(&format!("{}: [[", word.as_str().unwrap())), "{word}");
    }
}

#[test]
fn other_sites_pages_and_other_methods_are_refused() {
    let (desk, board, _folder) = watched();
    board.tell::<()>(News::Frame { luma: Luma::from_fn(8, 8, |_, _| 0), outlines: Vec::new() }, "");
    let host = &desk.host;
    for path in ["/intake", "/intake/frame.jpg", "/intake/events"] {
        let ask = |request: String| say(host, &request).status;
        let own = desk.request("GET", path, "", "");
        assert_eq!(ask(own.replace(&desk.cookie, "")), 403, "{path}");
        assert_eq!(ask(own.replace(&format!("Host: {host}"), "Host: rebound.example")), 421, "{path}");
        assert_eq!(ask(desk.request("GET", path, "Sec-Fetch-Site: cross-site\r\n", "")), 403, "{path}");
        assert_eq!(ask(desk.request("PUT", path, "", "")), 405, "{path}");
    }
}

#[test]
fn a_port_that_is_taken_is_an_error_and_one_visitor_who_is_silent_holds_up_nobody() {
    let (desk, board, _folder) = watched();
    let port = desk.host.split_once(':').unwrap().1.parse().unwrap();
    let error = Desk::to_watch(desk.store(), port, clock(), board).unwrap_err();
    assert!(error.to_string().contains(&port.to_string()));
    let _silent = TcpStream::connect(&desk.host).unwrap();
    assert_eq!(desk.get("/intake").status, 200);
}

#[test]
fn a_scan_shows_its_books_on_the_page_by_the_link_it_gives() {
    let home = Home::new();
    let mut command = home.command(env!("CARGO_BIN_EXE_boxward"));
    command.args(["scan", "--handheld", "--preview"]).stdin(Stdio::piped()).stdout(Stdio::null());
    let mut child = command.stderr(Stdio::piped()).spawn().unwrap();
    let mut notes = BufReader::new(child.stderr.take().unwrap()).lines();
    let link = notes.find_map(|line| line.unwrap().strip_prefix("preview: ").map(str::to_owned)).unwrap();
    let (host, path) = link.split(' ').next().unwrap().strip_prefix("http://").unwrap().split_once('/').unwrap();
    let get = |path: &str, cookie: &str| {
        let cookie = format!("Cookie: {cookie}\r\n");
        say(host, &format!("GET {path} HTTP/1.1\r\nHost: {host}\r\n{cookie}Connection: close\r\n\r\n"))
    };
    let entered = get(&format!("/{path}"), "");
    assert_eq!((entered.status, entered.field("location")), (303, Some("/intake")));
    let cookie = entered.field("set-cookie").unwrap().split(';').next().unwrap();
    let mut input = child.stdin.take().unwrap();
    input.write_all(b"614141000418 00411\n").unwrap();
    let begun = Instant::now();
    while !get("/intake", cookie).text().contains("614141000418 00411") {
        assert!(begun.elapsed() < Duration::from_secs(20), "{}", get("/intake", cookie).text());
        std::thread::sleep(Duration::from_millis(50));
    }
    drop(input);
    assert_eq!(child.wait().unwrap().code(), Some(0));
}
