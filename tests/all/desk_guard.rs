//! Who is answered, and who is not: each attack is tried on the open desk.

use std::io::Write;
use std::net::TcpStream;
use std::time::{Duration, Instant};

use boxward::workflow;

use crate::desk_support::{Opened, heard, say, try_say};

fn status(desk: &Opened, request: &str) -> u16 {
    say(&desk.host, request).status
}

#[test]
fn only_a_browser_with_the_link_is_let_in() {
    let desk = Opened::new();
    assert_eq!(desk.get("/").status, 200);
    let host = &desk.host;
    for path in ["/", "/safety", "/static/0/desk.css", "/nowhere", "/enter", "/../etc/passwd"] {
        assert_eq!(
            status(&desk, &format!("GET {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n")),
            403,
            "{path}"
        );
    }
    let wrong = format!("/enter/{}", "0".repeat(64));
    let said = say(host, &format!("GET {wrong} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n"));
    assert_eq!((said.status, said.field("set-cookie")), (404, None));
    // Another desk's cookie, on another port of the same machine, lets nobody in here.
    let other = Opened::new();
    let foreign = desk.request("GET", "/", "", "").replace(&desk.cookie, &other.cookie);
    assert_eq!(status(&desk, &foreign), 403);
    let renamed = other.cookie.replace(&other.host[10..], &desk.host[10..]);
    assert_eq!(status(&desk, &desk.request("GET", "/", "", "").replace(&desk.cookie, &renamed)), 403);
}

#[test]
fn the_cookie_is_out_of_reach_of_scripts_and_other_sites() {
    let desk = Opened::new();
    let path = desk.desk.link().split_once(&desk.host).unwrap().1.to_owned();
    let entered = desk.get(&path);
    let cookie = entered.field("set-cookie").unwrap();
    for attribute in ["HttpOnly", "SameSite=Strict", "Path=/"] {
        assert!(cookie.contains(attribute), "{cookie}");
    }
}

#[test]
fn another_name_for_this_address_is_refused() {
    // DNS rebinding: a page of evil.example makes its own name lead to 127.0.0.1.
    let desk = Opened::new();
    let port = desk.host.split_once(':').unwrap().1;
    for host in [format!("evil.example:{port}"), "127.0.0.1".to_owned(), format!("127.0.0.1.nip.example:{port}")] {
        let request =
            desk.request("GET", "/", "", "").replace(&format!("Host: {}", desk.host), &format!("Host: {host}"));
        assert_eq!(status(&desk, &request), 421, "{host}");
    }
    let own =
        desk.request("GET", "/", "", "").replace(&format!("Host: {}", desk.host), &format!("Host: localhost:{port}"));
    assert_eq!(status(&desk, &own), 200);
}

#[test]
fn another_sites_forms_and_scripts_change_nothing() {
    let desk = Opened::new();
    let (store, now) = (desk.store(), crate::desk_support::NOW.parse().unwrap());
    let limit = "50.00 USD".parse().unwrap();
    workflow::set_month_limit(&store, limit, now).unwrap().unwrap();
    let check = desk.check();
    let form = "Content-Type: application/x-www-form-urlencoded\r\n";
    let own = format!("Origin: http://{}\r\n{form}", desk.host);
    let body = format!("check={check}&run=1");
    let forged = [
        // No check token, a wrong one, one in the wrong place.
        (own.clone(), "run=1".to_owned()),
        (own.clone(), format!("run=1&check={}", "0".repeat(64))),
        (own.clone(), format!("run=1&x-check={check}")),
        // Another origin, or none: form posts of other sites carry theirs, sandboxed frames `null`.
        (format!("Origin: http://evil.example\r\n{form}"), body.clone()),
        (format!("Origin: null\r\n{form}"), body.clone()),
        (form.to_owned(), body.clone()),
        (format!("{own}Sec-Fetch-Site: cross-site\r\n"), body.clone()),
        (format!("{own}Sec-Fetch-Site: same-site\r\n"), body.clone()),
        // Kinds of content that other sites may send unasked.
        (format!("Origin: http://{}\r\nContent-Type: text/plain\r\n", desk.host), "run=1".to_owned()),
        (format!("Origin: http://{}\r\nContent-Type: multipart/form-data; boundary=x\r\n", desk.host), body.clone()),
    ];
    for (head, body) in forged {
        assert_eq!(status(&desk, &desk.request("POST", "/undo", &head, &body)), 403, "{head}{body}");
    }
    assert_eq!(store.runs(10).unwrap().len(), 1, "a forged form was carried out");
    // The same form from the desk's own page is.
    assert_eq!(status(&desk, &desk.request("POST", "/undo", &own, &body)), 303);
    assert_eq!(store.runs(10).unwrap().len(), 2);
}

#[test]
fn no_other_methods_are_known() {
    let desk = Opened::new();
    let origin = format!("Origin: http://{}\r\n", desk.host);
    for method in ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "BREW"] {
        let said = say(&desk.host, &desk.request(method, "/", &origin, ""));
        assert_eq!(said.status, 405, "{method}");
        assert_eq!(said.field("access-control-allow-origin"), None, "no cross-origin sharing");
    }
    assert_eq!(desk.post("/", &[]).status, 405);
    assert_eq!(desk.post("/safety", &[]).status, 405);
    assert_eq!(desk.get("/undo").status, 405);
}

#[test]
fn every_answer_forbids_what_is_not_needed() {
    let desk = Opened::new();
    let css = desk.page("/");
    let css =
        css.split("href=\"").find_map(|part| part.split('"').next().filter(|href| href.ends_with(".css"))).unwrap();
    for path in ["/", "/safety", "/nowhere", css] {
        let said = desk.get(path);
        let policy = said.field("content-security-policy").unwrap();
        assert!(policy.starts_with("default-src 'none'") && !policy.contains("unsafe"), "{policy}");
        assert_eq!(said.field("x-content-type-options"), Some("nosniff"), "{path}");
        assert_eq!(said.field("access-control-allow-origin"), None, "{path}");
        assert!(said.field("referrer-policy").is_some() && said.field("cross-origin-resource-policy").is_some());
    }
    // Nothing in a page would need more than the policy allows.
    for path in ["/", "/safety"] {
        let page = desk.page(path);
        for inline in ["<style", "style=\"", "onclick", "onload", "javascript:", "<script>"] {
            assert!(!page.contains(inline), "{path} holds {inline}");
        }
    }
}

#[test]
fn names_are_never_looked_up_as_files() {
    let desk = Opened::new();
    for path in [
        "/static/0/../../Cargo.toml",
        "/static/0/..%2f..%2fCargo.toml",
        "/static/0/%2fetc%2fpasswd",
        "/static/0/",
        "/static/",
        "/static/0/desk.css%00",
        "/%2e%2e/%2e%2e/etc/passwd",
    ] {
        assert_eq!(desk.get(path).status, 404, "{path}");
    }
}

#[test]
fn a_form_leads_to_no_other_server() {
    let desk = Opened::new();
    let (store, now) = (desk.store(), crate::desk_support::NOW.parse().unwrap());
    workflow::set_month_limit(&store, "50.00 USD".parse().unwrap(), now).unwrap();
    for (run, back) in ["https://evil.example/", "//evil.example", "/\\evil.example", "/x\r\nX: y"].iter().enumerate() {
        let said = desk.post("/undo", &[("run", &(run + 1).to_string()), ("back", back)]);
        assert_eq!(said.status, 303);
        assert!(said.field("location").unwrap().starts_with("/?run="), "{back}: {}", said.head);
    }
}

#[test]
fn broken_requests_are_refused_and_the_desk_goes_on() {
    let desk = Opened::new();
    let long = format!("GET /{} HTTP/1.1\r\nHost: {}\r\n\r\n", "x".repeat(100_000), desk.host);
    let many = format!("GET / HTTP/1.1\r\n{}\r\n", "X-Field: value\r\n".repeat(500));
    let two = format!("GET / HTTP/1.1\r\nHost: {0}\r\nHost: {0}\r\nConnection: close\r\n\r\n", desk.host);
    let none = "GET / HTTP/1.1\r\nConnection: close\r\n\r\n".to_owned();
    for request in [long, many, two, none, "GET\r\n\r\n".to_owned(), "\u{0}\u{1}\u{2}\r\n\r\n".to_owned()] {
        // Some are only worth a closed connection.
        if let Ok(said) = try_say(&desk.host, request.as_bytes()) {
            assert!((400..500).contains(&said.status), "{}: {request:.40}", said.status);
        }
    }
    let form = "x".repeat(2 << 20);
    let head = format!("Origin: http://{}\r\nContent-Type: application/x-www-form-urlencoded\r\n", desk.host);
    assert_eq!(status(&desk, &desk.request("POST", "/undo", &head, &form)), 413);
    assert_eq!(desk.get("/").status, 200);
}

#[test]
fn whoever_stops_in_the_middle_is_cut_off() {
    let desk = Opened::new();
    let start = Instant::now();
    let head = format!("Origin: http://{}\r\nContent-Type: application/x-www-form-urlencoded\r\n", desk.host);
    let form = desk.request("POST", "/undo", &head, "").replace("Content-Length: 0", "Content-Length: 100");
    let halves = [format!("GET / HTTP/1.1\r\nHost: {}\r\nX-", desk.host), form, String::new()];
    let mut streams = halves.map(|half| {
        let mut stream = TcpStream::connect(&desk.host).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(40))).unwrap();
        stream.write_all(half.as_bytes()).unwrap();
        stream
    });
    // Others are answered meanwhile.
    assert_eq!(desk.get("/").status, 200);
    assert!(start.elapsed() < Duration::from_secs(8));
    for stream in &mut streams {
        if let Ok(said) = heard(stream) {
            assert_eq!(said.status, 408);
        }
    }
    assert!(start.elapsed() < Duration::from_secs(35), "cut off after {:?}", start.elapsed());
}

#[test]
fn whoever_does_not_read_is_cut_off() {
    let desk = Opened::new();
    let page = desk.page("/");
    let css =
        page.split("href=\"").find_map(|part| part.split('"').next().filter(|href| href.ends_with(".css"))).unwrap();
    let size = desk.get(css).body.len();
    // So many answers on one connection that no buffer holds them.
    let requests = 64_000_000 / size;
    let one = format!("GET {css} HTTP/1.1\r\nHost: {}\r\nCookie: {}\r\n\r\n", desk.host, desk.cookie);
    let stream = TcpStream::connect(&desk.host).unwrap();
    stream.set_write_timeout(Some(Duration::from_secs(40))).unwrap();
    let mut writer = &stream;
    let start = Instant::now();
    // The server stops taking requests when its answers are not read, and ends the connection after its patience.
    let mut sent = 0;
    let ended = loop {
        if let Err(error) = writer.write_all(one.as_bytes()) {
            break error;
        }
        sent += 1;
        if sent > requests {
            std::thread::sleep(Duration::from_millis(100));
        }
        assert!(start.elapsed() < Duration::from_secs(35), "not cut off");
    };
    assert_ne!(ended.kind(), std::io::ErrorKind::WouldBlock, "not cut off");
    assert!(start.elapsed() < Duration::from_secs(35), "cut off after {:?}", start.elapsed());
    assert_eq!(desk.get("/").status, 200);
}
