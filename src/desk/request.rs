//! As much of HTTP/1.1 (RFC 9112) as a page on one's own machine needs: one GET a connection.

use std::io::{self, Read, Write};

/// A head longer than this is refused: browsers' are far shorter.
const LONGEST_HEAD: usize = 16 << 10;

/// Why a request is not answered with a page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Refusal {
    /// No request.
    Bad,
    /// The name in its Host field is not this machine's own: another site's page asks in a browser's name.
    Foreign,
    /// Another method than GET.
    Method,
}

impl Refusal {
    pub(super) fn status(self) -> &'static str {
        match self {
            Self::Bad => "400 Bad Request",
            Self::Foreign => "403 Forbidden",
            Self::Method => "405 Method Not Allowed",
        }
    }
}

/// The path that a request for the server at `port` asks for, without its query.
pub(super) fn path(head: &str, port: u16) -> Result<&str, Refusal> {
    let mut lines = head.split("\r\n");
    let mut words = lines.next().unwrap_or_default().split(' ');
    let (Some(method), Some(target), Some(version), None) = (words.next(), words.next(), words.next(), words.next())
    else {
        return Err(Refusal::Bad);
    };
    if !version.starts_with("HTTP/1.") || !target.starts_with('/') {
        return Err(Refusal::Bad);
    }
    let mut hosts = lines.take_while(|line| !line.is_empty()).filter_map(|line| {
        let (name, value) = line.split_once(':')?;
        name.eq_ignore_ascii_case("host").then(|| value.trim())
    });
    let (Some(host), None) = (hosts.next(), hosts.next()) else { return Err(Refusal::Bad) };
    let own =
        ["127.0.0.1", "localhost", "[::1]"].iter().any(|name| host.eq_ignore_ascii_case(&format!("{name}:{port}")));
    if !own {
        return Err(Refusal::Foreign);
    }
    if method != "GET" {
        return Err(Refusal::Method);
    }
    Ok(target.split('?').next().unwrap_or_default())
}

/// A request's head, to its blank line.
pub(super) fn head(stream: &mut impl Read) -> io::Result<String> {
    let mut bytes = Vec::new();
    let mut part = [0; 1024];
    while !bytes.windows(4).any(|w| w == b"\r\n\r\n") {
        match stream.read(&mut part)? {
            0 => return Err(io::ErrorKind::UnexpectedEof.into()),
            _ if bytes.len() > LONGEST_HEAD => return Err(io::ErrorKind::InvalidData.into()),
            count => bytes.extend(&part[..count]),
        }
    }
    String::from_utf8(bytes).map_err(|_| io::ErrorKind::InvalidData.into())
}

/// Answers, and says that nothing more will come on this connection.
pub(super) fn answer(stream: &mut impl Write, status: &str, kind: &str, body: &[u8]) -> io::Result<()> {
    write!(
        stream,
        "HTTP/1.1 {status}\r\nContent-Type: {kind}\r\nContent-Length: {}\r\nConnection: close\r\n\
         Cache-Control: no-store\r\nX-Content-Type-Options: nosniff\r\nCross-Origin-Resource-Policy: same-origin\r\n\
         Content-Security-Policy: default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; \
         img-src 'self'; connect-src 'self'; frame-ancestors 'none'\r\n\r\n",
        body.len()
    )?;
    stream.write_all(body)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_this_machines_own_names_are_answered() {
        let ask = |line: &str, host: &str| {
            path(&format!("{line}\r\nAccept: */*\r\nhost: {host}\r\n\r\n"), 8123).map(str::to_owned)
        };
        assert_eq!(ask("GET /frame.jpg?n=3 HTTP/1.1", "127.0.0.1:8123").as_deref(), Ok("/frame.jpg"));
        assert_eq!(ask("GET / HTTP/1.1", "LocalHost:8123").as_deref(), Ok("/"));
        for host in ["evil.example:8123", "127.0.0.1", "127.0.0.1:80", "localhost.evil.example:8123", ""] {
            assert_eq!(ask("GET / HTTP/1.1", host), Err(Refusal::Foreign), "{host}");
        }
        assert_eq!(ask("POST / HTTP/1.1", "[::1]:8123"), Err(Refusal::Method));
        for line in ["GET /", "GET  / HTTP/1.1", "GET http://127.0.0.1:8123/ HTTP/1.1", "GET / HTTP/2", ""] {
            assert_eq!(ask(line, "127.0.0.1:8123"), Err(Refusal::Bad), "{line}");
        }
        assert_eq!(path("GET / HTTP/1.1\r\n\r\n", 1), Err(Refusal::Bad));
        assert_eq!(path("GET / HTTP/1.1\r\nHost: localhost:1\r\nHost: localhost:1\r\n\r\n", 1), Err(Refusal::Bad));
    }

    #[test]
    fn a_head_has_an_end_and_a_limit() {
        assert_eq!(head(&mut &b"GET / HTTP/1.1\r\n\r\nrest"[..]).unwrap(), "GET / HTTP/1.1\r\n\r\nrest");
        assert!(head(&mut &b"GET /"[..]).is_err());
        assert!(head(&mut std::io::repeat(b'x')).is_err());
    }
}
