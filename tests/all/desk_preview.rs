//! The preview's page: what it serves, to whom, and what it keeps.

use std::io::{Read, Write};
use std::net::TcpStream;

use boxward::desk::{Line, Preview};
use boxward::picture::{Limits, Luma, decode};
use boxward::workflow::Tone;
use serde_json::Value;

fn port(preview: &Preview) -> String {
    preview.url().trim_start_matches("http://127.0.0.1:").trim_end_matches('/').to_owned()
}

/// Asks with this Host field; the head and the body of the answer.
fn ask(preview: &Preview, line: &str, host: &str) -> (String, Vec<u8>) {
    let mut stream = TcpStream::connect(format!("127.0.0.1:{}", port(preview))).unwrap();
    write!(stream, "{line} HTTP/1.1\r\nHost: {host}\r\n\r\n").unwrap();
    let mut all = Vec::new();
    stream.read_to_end(&mut all).unwrap();
    let end = all.windows(4).position(|w| w == b"\r\n\r\n").unwrap() + 4;
    (String::from_utf8(all[..end].to_vec()).unwrap(), all[end..].to_vec())
}

fn get(preview: &Preview, path: &str) -> (String, Vec<u8>) {
    ask(preview, &format!("GET {path}"), &format!("localhost:{}", port(preview)))
}

fn state(preview: &Preview) -> Value {
    serde_json::from_slice(&get(preview, "/state").1).unwrap()
}

#[test]
fn frame_outlines_and_books_are_shown() {
    let preview = Preview::start(0).unwrap();
    assert!(get(&preview, "/frame.jpg").0.starts_with("HTTP/1.1 404"));
    let outline = [[1.5, 2.0], [30.0, 2.0], [30.0, 20.0], [1.0, 20.0]];
    let frame = Luma::from_fn(64, 48, |x, _| if x < 32 { 20 } else { 220 });
    preview.show(frame.clone(), vec![outline]);
    for n in 1..=12 {
        preview.say(Line { word: "new", tone: Tone::Good, text: format!("book {n} <b>") });
    }
    preview.status("12 new items", "Fake, 64 × 48");
    let state = state(&preview);
    assert_eq!(
        (&state["frame"], &state["size"][0], &state["outlines"][0][2][1]),
        (&1.into(), &64.into(), &20.0.into())
    );
    assert_eq!((&state["counted"], &state["camera"]), (&"12 new items".into(), &"Fake, 64 × 48".into()));
    let lines = state["lines"].as_array().unwrap();
    assert_eq!(lines.len(), 10);
    assert_eq!(
        (&lines[9][0], &lines[9][1]["text"], &lines[9][1]["tone"]),
        (&12.into(), &"book 12 <b>".into(), &"good".into())
    );
    let (head, jpeg) = get(&preview, "/frame.jpg?n=1");
    assert!(head.contains("Content-Type: image/jpeg") && head.contains("Cache-Control: no-store"), "{head}");
    let back = decode(&jpeg, &Limits::default()).unwrap();
    assert!(back.pixels().iter().zip(frame.pixels()).all(|(a, b)| a.abs_diff(*b) < 12));
}

#[test]
fn the_page_is_whole_in_itself() {
    let preview = Preview::start(0).unwrap();
    let (head, page) = get(&preview, "/");
    let page = String::from_utf8(page).unwrap();
    assert!(head.starts_with("HTTP/1.1 200") && head.contains("default-src 'none'"), "{head}");
    // Nothing is fetched from elsewhere, nothing said about a book is taken for markup, and every tone has its tune.
    assert!(!page.contains("http") && !page.contains("innerHTML"));
    for tone in [Tone::Good, Tone::Look, Tone::Failed] {
        let word = serde_json::to_value(tone).unwrap();
        let word = word.as_str().unwrap();
        assert!(page.contains(&format!(".{word} {{")) && page.contains(&format!("{word}: [[")), "{word}");
    }
}

#[test]
fn other_sites_pages_and_other_methods_are_refused() {
    let preview = Preview::start(0).unwrap();
    let own = format!("127.0.0.1:{}", port(&preview));
    assert!(ask(&preview, "GET /state", &own).0.starts_with("HTTP/1.1 200"));
    assert!(ask(&preview, "GET /state", "rebound.example").0.starts_with("HTTP/1.1 403"));
    assert!(ask(&preview, "POST /state", &own).0.starts_with("HTTP/1.1 405"));
    assert!(ask(&preview, "GET /../etc", &own).0.starts_with("HTTP/1.1 404"));
}

#[test]
fn a_port_that_is_taken_is_an_error_and_one_visitor_who_is_silent_holds_up_nobody() {
    let preview = Preview::start(0).unwrap();
    assert!(Preview::start(port(&preview).parse().unwrap()).is_err());
    let _silent = TcpStream::connect(format!("127.0.0.1:{}", port(&preview))).unwrap();
    assert!(get(&preview, "/").0.starts_with("HTTP/1.1 200"));
}
