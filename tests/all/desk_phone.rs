//! The server for phones: who is let in, and that nothing but photos and 'do I own this?' is behind it.

use std::io::Write;
use std::net::SocketAddr;
use std::process::{Command, Stdio};
use std::thread;

use boxward::desk::{blocks, own_addresses};
use boxward::store::QueueFilter;

use crate::cli_home::Home;
use crate::code_reference;
use crate::desk_photos::{Client, entered, form, photo};
use crate::desk_support::{Opened, Said, say, try_say};

const LOOPBACK: &str = "127.0.0.1:0";

/// A desk that serves phones, and the link for the first one.
fn opened() -> (Opened, String) {
    let desk = Opened::new();
    let link = desk.desk.serve_phones(LOOPBACK.parse::<SocketAddr>().unwrap()).unwrap();
    (desk, link)
}

/// Opens a link without a cookie.
fn open(link: &str) -> Said {
    let (host, path) = link.strip_prefix("http://").unwrap().split_once('/').unwrap();
    say(host, &format!("GET /{path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n"))
}

/// The link that the desk's page shows, if any.
fn shown(desk: &Opened) -> Option<String> {
    let page = desk.page("/phone");
    let link = page.split("<p class=\"link\"><code>").nth(1)?;
    Some(link.split('<').next().unwrap().to_owned())
}

#[test]
fn a_link_lets_in_one_phone_once() {
    let (desk, link) = opened();
    assert_eq!(shown(&desk).as_deref(), Some(link.as_str()));
    let phone = entered(&link);
    assert_eq!(phone.get("/").status, 200);
    // Spent: for another phone, and for the first one's history.
    let again = open(&link);
    assert_eq!((again.status, again.field("set-cookie")), (404, None));
    let (_, path) = link.split_once(&phone.host).unwrap();
    assert_eq!((phone.get(path).status, phone.get(path).field("location")), (303, Some("/")));
    assert_eq!(shown(&desk), None);
    assert!(desk.page("/phone").contains("1 phone let in"));
    // A cookie of the desk's is none of the phones', and the other way round.
    let stranger = Client { cookie: desk.cookie.clone(), ..phone.clone() };
    assert_eq!(stranger.get("/").status, 403);
    let intruder = Client { host: desk.host.clone(), cookie: phone.cookie.clone() };
    assert_eq!(intruder.get("/").status, 403);
    // Another phone takes another link; one before it that was not used is good for nothing then.
    assert_eq!(desk.post("/phone/let-in", &[("back", "/phone")]).status, 303);
    let unused = shown(&desk).unwrap();
    assert_eq!(desk.post("/phone/let-in", &[("back", "/phone")]).status, 303);
    assert_eq!(open(&unused).status, 404);
    let second = entered(&shown(&desk).unwrap());
    assert!(second.get("/").status == 200 && phone.get("/").status == 200);
    // All are sent away: pages, forms, and a link that was waiting.
    assert_eq!(desk.post("/phone/let-in", &[("back", "/phone")]).status, 303);
    let waiting = shown(&desk).unwrap();
    let target = phone.target("/");
    assert_eq!(desk.post("/phone/away", &[("back", "/phone")]).status, 303);
    assert_eq!((phone.get("/").status, second.get("/").status, open(&waiting).status), (403, 403, 404));
    let (kind, body) = form(&[photo(1)]);
    let sent = try_say(&phone.host, &phone.request(&target, kind, "", &body));
    assert!(sent.is_err() || sent.unwrap().status == 403);
    assert!(desk.store().items(QueueFilter::Open).unwrap().is_empty());
    assert!(desk.page("/phone").contains("All phones were sent away."));
}

#[test]
fn guessing_links_closes_the_door() {
    let (desk, link) = opened();
    let (base, _) = link.rsplit_once('/').unwrap();
    let guesses: Vec<_> = (0..20)
        .map(|guess| {
            let wrong = format!("{base}/{guess:064x}");
            thread::spawn(move || open(&wrong).status)
        })
        .collect();
    assert!(guesses.into_iter().all(|guess| guess.join().unwrap() == 404));
    assert_eq!(open(&link).status, 404, "the right one is of no use now");
    assert!(desk.page("/phone").contains("Too many wrong links were tried"));
    assert_eq!(desk.post("/phone/let-in", &[("back", "/phone")]).status, 303);
    assert_eq!(entered(&shown(&desk).unwrap()).get("/").status, 200);
}

#[test]
fn nothing_else_of_the_desk_is_behind_it() {
    let (desk, link) = opened();
    let phone = entered(&link);
    for path in [
        "/safety",
        "/intake",
        "/intake/photos",
        "/phone",
        "/queue",
        "/collection",
        "/pile",
        "/wall",
        "/money",
        "/undo",
        "/settings",
        "/static/",
        "/../safety",
        "/%2e%2e/safety",
        "/photos/../safety",
        "//safety",
    ] {
        let status = phone.get(path).status;
        assert!([403, 404, 405].contains(&status), "{path}: {status}");
    }
    // With the phone's own check token, too.
    let target = phone.target("/");
    let check = target.split("check=").nth(1).unwrap().split('&').next().unwrap();
    let kind = "application/x-www-form-urlencoded";
    for path in ["/undo", "/phone/let-in", "/phone/away", "/intake/photos", "/queue/drop"] {
        let body = format!("check={check}&run=1&back=/");
        let said = try_say(&phone.host, &phone.request(path, kind, "", body.as_bytes())).unwrap();
        assert_eq!(said.status, 404, "{path}");
    }
    // Two servers, two sets of secrets.
    assert_ne!(check, desk.check());
    let (kind, body) = form(&[photo(1)]);
    let foreign = phone.request(&target.replace(check, &desk.check()), kind, "", &body);
    assert!(try_say(&phone.host, &foreign).map_or(403, |said| said.status) == 403);
}

#[test]
fn other_names_and_other_sites_get_nothing() {
    let (_desk, link) = opened();
    let phone = entered(&link);
    let ask = |host: &str, more: &str| {
        let Client { host: to, cookie } = &phone;
        say(to, &format!("GET / HTTP/1.1\r\nHost: {host}\r\nCookie: {cookie}\r\n{more}Connection: close\r\n\r\n"))
            .status
    };
    let port = phone.host.split_once(':').unwrap().1;
    assert_eq!(ask(&phone.host, ""), 200);
    for host in [format!("evil.example:{port}"), format!("localhost:{port}"), "127.0.0.1".to_owned()] {
        assert_eq!(ask(&host, ""), 421, "{host}");
    }
    for more in ["Origin: http://evil.example\r\n", "Origin: null\r\n", "Sec-Fetch-Site: cross-site\r\n"] {
        assert_eq!(ask(&phone.host, more), 403, "{more}");
    }
    let (kind, body) = form(&[photo(1)]);
    let own = phone.request(&phone.target("/"), kind, "", &body);
    let text = format!("Origin: http://{}", phone.host);
    let at = own.windows(text.len()).position(|w| w == text.as_bytes()).unwrap();
    let forged = [&own[..at], b"Origin: http://evil.example", &own[at + text.len()..]].concat();
    assert!(try_say(&phone.host, &forged).map_or(403, |said| said.status) == 403);
    for policy in ["content-security-policy", "cross-origin-resource-policy", "x-content-type-options"] {
        assert!(phone.get("/").field(policy).is_some(), "{policy}");
    }
}

#[test]
fn a_phone_takes_photos_and_asks_what_is_owned() {
    let (desk, link) = opened();
    let phone = entered(&link);
    let start = phone.get("/");
    for part in ["capture=\"environment\"", "accept=\"image/*\"", "accept=\"image/jpeg,", "multiple", "not encrypted"] {
        assert!(start.text().contains(part), "{part}");
    }
    let target = phone.target("/");
    let said = phone.send(&format!("{target}&part=1"), &[photo(1)]);
    assert!(said.text().contains("item 1 is new in the queue"), "{}", said.text());
    // Without a script: a page with all of them, and the way to send more.
    let page = phone.send(&target, &[photo(2), photo(21)]);
    assert!(page.text().contains("shows again item 1") && page.text().contains("2 photos looked at"));
    assert!(!page.text().contains("/undo"));
    assert_eq!(desk.store().items(QueueFilter::Open).unwrap().len(), 2);
    let have = |question: &str| {
        let query = form_urlencoded::Serializer::new(String::new()).append_pair("q", question).finish();
        let said = phone.get(&format!("/have?{query}&part=1"));
        assert_eq!(said.status, 200, "{question}");
        said.text().to_owned()
    };
    // The words of the command line (README, 'the everyday walk').
    let waiting = have("614141001040 01211");
    assert!(waiting.contains("no title fits") && waiting.contains("waiting in the queue: item 1"), "{waiting}");
    let wrong = have("614141001041 01211");
    assert!(wrong.contains("the check digit of 614141001041 is 1, but 0 would fit"), "{wrong}");
    assert!(wrong.contains("href=\"/have?q=614141001040+01211\""), "{wrong}");
    let markup = have("<script>alert(1)</script>");
    assert!(markup.contains("&lt;script&gt;") && !markup.contains("<script"), "{markup}");
    assert!(have("#").contains("no title fits '#'"));
    assert!(have(&"x".repeat(201)).contains("at most 200 characters"));
    assert_eq!(have(" "), "");
    assert!(phone.get("/have?q=tide").text().contains("value=\"tide\""));
}

#[test]
fn the_qr_code_says_the_link_to_another_program() {
    // The reference is zbar. The code is drawn from the page's own picture, a module 4 px.
    let installed = Command::new("zbarimg").arg("--version").output().is_ok();
    if code_reference::missing("zbarimg", installed) {
        return;
    }
    let (desk, link) = opened();
    let page = desk.page("/phone");
    let svg = page.split("<svg class=\"qr\"").nth(1).unwrap();
    let side: usize = svg.split("viewBox=\"0 0 ").nth(1).unwrap().split(' ').next().unwrap().parse().unwrap();
    let path = svg.split("<path d=\"").nth(1).unwrap().split('"').next().unwrap();
    let mut dark = vec![vec![false; side]; side];
    for module in path.split('M').skip(1) {
        let (x, y) = module.strip_suffix("h1v1h-1z").unwrap().split_once(' ').unwrap();
        dark[y.parse::<usize>().unwrap()][x.parse::<usize>().unwrap()] = true;
    }
    assert_eq!(read_by_zbar(&dark), link);
    // The terminal's blocks: what is written is dark with colours.
    let text = blocks(&link, true).replace("\x1b[30;107m", "").replace("\x1b[0m", "");
    let mut dark = Vec::new();
    for line in text.lines() {
        dark.push(line.chars().map(|c| matches!(c, '█' | '▀')).collect::<Vec<_>>());
        dark.push(line.chars().map(|c| matches!(c, '█' | '▄')).collect::<Vec<_>>());
    }
    assert_eq!(read_by_zbar(&dark), link);
}

fn read_by_zbar(dark: &[Vec<bool>]) -> String {
    let (width, height) = (dark[0].len() * 4, dark.len() * 4);
    // PGM (Netpbm).
    let mut picture = format!("P5 {width} {height} 255\n").into_bytes();
    for row in dark {
        for _ in 0..4 {
            picture.extend(row.iter().flat_map(|dark| [if *dark { 0 } else { 255 }; 4]));
        }
    }
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("qr.pgm");
    std::fs::File::create(&file).unwrap().write_all(&picture).unwrap();
    let output = Command::new("zbarimg").args(["--quiet", "--raw"]).arg(&file).stderr(Stdio::null()).output().unwrap();
    String::from_utf8(output.stdout).unwrap().trim().to_owned()
}

#[test]
fn phones_are_served_only_when_asked_for_and_only_where() {
    let desk = Opened::new();
    let page = desk.page("/phone");
    assert!(page.contains("boxward desk --phone") && !page.contains("<svg"));
    assert_eq!(desk.post("/phone/let-in", &[]).status, 404);
    for nowhere in ["0.0.0.0:0", "[::]:0", "203.0.113.7:0"] {
        let refused = desk.desk.serve_phones(nowhere.parse().unwrap()).unwrap_err().to_string();
        // What could be named instead is said, where the machine has any.
        for own in own_addresses() {
            assert!(refused.contains(&own.to_string()), "{refused}");
        }
        assert!(refused.contains("name "), "{refused}");
    }
    let link = desk.desk.serve_phones(LOOPBACK.parse().unwrap()).unwrap();
    assert!(desk.desk.serve_phones(LOOPBACK.parse().unwrap()).is_err());
    // IPv6 has brackets in a link.
    let six = Opened::new();
    if let Ok(link) = six.desk.serve_phones("[::1]:0".parse().unwrap()) {
        assert!(link.starts_with("http://[::1]:"), "{link}");
        let (host, path) = link.strip_prefix("http://").unwrap().split_once('/').unwrap();
        let said = say(host, &format!("GET /{path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n"));
        assert_eq!(said.status, 303);
    }
    assert!(link.starts_with("http://127.0.0.1:"));
    let home = Home::new();
    for (arguments, code, said) in [
        (["--phone=0.0.0.0", "--no-browser"], 2, "names no single address"),
        (["--phone=203.0.113.7", "--no-browser"], 4, "name one of this machine's addresses"),
        (["--phone=home", "--no-browser"], 2, "invalid value 'home'"),
        (["--phone-port=8", "--no-browser"], 2, "--phone"),
    ] {
        let ran = home.run([&["desk", "--collection", "c.sqlite"][..], &arguments].concat());
        assert_eq!(ran.code, code, "{arguments:?}: {}", ran.err);
        assert!(ran.err.contains(said), "{arguments:?}: {}", ran.err);
    }
}
