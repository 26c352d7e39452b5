//! Broken and changed requests, by seed: the desk answers or closes, goes on, and nothing is changed by what carries no check
//! token.

use std::io::Write;
use std::net::{Shutdown, TcpStream};
use std::time::Duration;

use boxward::workflow;

use crate::desk_support::{NOW, Opened, heard};
use crate::fuzz::{Target, changed};
use crate::render::random::Random;

/// What addresses, heads and forms are made of, and what does harm elsewhere.
const WORDS: &[&str] = &[
    "\r\n",
    "\r\n\r\n",
    "\0",
    "%00",
    "%2e%2e%2f",
    "../",
    "//",
    "\\",
    "?",
    "&",
    "=",
    "#",
    "+",
    "%",
    "ä",
    "\u{202e}",
    "<script>",
    "'",
    "\"",
    "; DROP TABLE copy; --",
    "Host: evil.example\r\n",
    "Origin: null\r\n",
    "Transfer-Encoding: chunked\r\n",
    "Content-Length: 0\r\n",
    "Content-Length: 99999999999\r\n",
    "Cookie: boxward-1=x\r\n",
    "HTTP/1.0",
    "HTTP/9.9",
    "POST ",
    "GET ",
    "TRACE ",
    "run=1",
    "back=//x",
    "skip=18446744073709551615",
    "q=",
    "--edge",
    "--edge--",
    "filename=\"../../x\"",
    "filename*=UTF-8''%2e%2e",
    "name=\"photo\"",
];

/// So many, in `cargo test`.
const ROUNDS: u64 = 4000;

#[test]
fn changed_requests_are_answered_or_closed_and_change_nothing() {
    let desk = Opened::new();
    let store = desk.store();
    workflow::set_month_limit(&store, "50.00 USD".parse().unwrap(), NOW.parse().unwrap()).unwrap();
    let form = format!("Origin: http://{}\r\nContent-Type: application/x-www-form-urlencoded\r\n", desk.host);
    let photo = format!("Origin: http://{}\r\nContent-Type: multipart/form-data; boundary=edge\r\n", desk.host);
    let part = "--edge\r\nContent-Disposition: form-data; name=\"photo\"; filename=\"a.jpg\"\r\n\r\nno picture\r\n--edge--\r\n";
    let wrong = "0".repeat(64);
    let gets = [
        "/",
        "/collection/found?q=tide+12",
        "/queue?skip=0",
        "/copy/1",
        "/title/1",
        "/wall/box?label=A",
        "/static/0/desk.css",
    ];
    let mut seeds: Vec<Vec<u8>> = gets.map(|path| desk.request("GET", path, "", "").into_bytes()).to_vec();
    seeds.push(desk.request("POST", "/undo", &form, &format!("check={wrong}&run=1")).into_bytes());
    seeds.push(desk.request("POST", "/money/limit/remove", &form, &format!("check={wrong}&currency=USD")).into_bytes());
    seeds.push(desk.request("POST", &format!("/intake/photos?check={wrong}"), &photo, part).into_bytes());
    let target = Target { name: "requests", words: WORDS, seeds: Vec::new, check: |_| () };
    for seed in 0..ROUNDS {
        let request = changed(&target, &seeds, &mut Random::new(seed));
        let mut stream = TcpStream::connect(&desk.host).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(60))).unwrap();
        // A server that has refused may close before it has read everything.
        let _ = stream.write_all(&request);
        let _ = stream.shutdown(Shutdown::Write);
        if let Ok(said) = heard(&mut stream) {
            assert_ne!(said.status, 500, "seed {seed}: {}\n{}", String::from_utf8_lossy(&request), said.head);
        }
    }
    assert_eq!(desk.get("/").status, 200);
    assert_eq!(store.runs(9).unwrap().len(), 1, "a request without a check token changed something");
}
