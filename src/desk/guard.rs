//! Who is answered: the person at this machine, in a browser that was opened with the desk's link, and no other site's
//! page in that browser's name.
//!
//! Four things are asked of every request: its Host names this server (else another name was bound to this address: DNS
//! rebinding), it does not come from another site (Fetch Metadata, Origin), it carries the session's cookie, and, if it
//! changes anything, the session's check token as well.

use axum::body::{Body, Bytes, to_bytes};
use axum::extract::Request;
use axum::http::header::{self, HeaderMap, HeaderName, HeaderValue};
use axum::http::{Method, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use tokio::time::timeout;

use super::limits::{FORM_BYTES, PATIENCE};
use super::secrets::Secret;
use super::trouble::plain;

/// Carries the check token where a script sends a form. A page of another site can't set it without being asked first.
pub(super) const CHECK_HEADER: &str = "x-boxward-check";

/// The field that carries the check token in a form; in a form with files, the query's.
pub(super) const CHECK_FIELD: &str = "check";

/// Nothing but what this server sends is loaded, nothing is written into a page that runs, no other page frames it.
/// Source: W3C, Content Security Policy Level 3.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; \
                      connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// Headers of every answer. Referrer-Policy is not `no-referrer`, which would make a form's Origin `null` (WHATWG,
/// Fetch, 'append a request Origin header').
const HEADERS: [(HeaderName, &str); 7] = [
    (header::CONTENT_SECURITY_POLICY, POLICY),
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (header::REFERRER_POLICY, "same-origin"),
    (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
    (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
    (HeaderName::from_static("permissions-policy"), "camera=(), microphone=(), geolocation=()"),
    (header::CACHE_CONTROL, "no-store"),
];

/// Why a request is not answered with what it asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub(super) enum Refusal {
    #[error("the request names no host, or several")]
    Host,
    #[error("this server has another name; open the link that the program shows")]
    ForeignHost,
    #[error("another site's page asked for this")]
    ForeignSite,
    #[error("this browser has not been let in; open the link that the program shows")]
    NoSession,
    #[error("the form is not this session's; go back, load the page again and send it once more")]
    NoCheck,
    #[error("only pages are asked for here, and forms sent")]
    Method,
    #[error("the form is too long")]
    TooLong,
    #[error("the form came too slowly")]
    TooSlow,
}

impl Refusal {
    fn status(self) -> StatusCode {
        match self {
            Self::Host => StatusCode::BAD_REQUEST,
            Self::ForeignHost => StatusCode::MISDIRECTED_REQUEST,
            Self::ForeignSite | Self::NoSession | Self::NoCheck => StatusCode::FORBIDDEN,
            Self::Method => StatusCode::METHOD_NOT_ALLOWED,
            Self::TooLong => StatusCode::PAYLOAD_TOO_LARGE,
            Self::TooSlow => StatusCode::REQUEST_TIMEOUT,
        }
    }
}

/// What one server knows its people by.
#[derive(Debug)]
pub(super) struct Guard {
    /// Host and port by which it may be asked for, in lower case.
    hosts: Vec<String>,
    /// The cookie's name. Ports share cookies, so each server has its own name.
    cookie: String,
    session: Secret,
    check: Secret,
}

impl Guard {
    /// For a server that these hosts stand for at `port`.
    pub(super) fn new(hosts: &[&str], port: u16) -> Result<Self, getrandom::Error> {
        let hosts = hosts.iter().map(|host| format!("{host}:{port}").to_ascii_lowercase()).collect();
        Ok(Self { hosts, cookie: format!("boxward-{port}"), session: Secret::draw()?, check: Secret::draw()? })
    }

    /// What a form of this session carries.
    pub(super) fn check(&self) -> &str {
        self.check.text()
    }

    /// What lets a browser in. Strict: no other site's link or form carries it.
    pub(super) fn set_cookie(&self) -> String {
        format!("{}={}; Path=/; HttpOnly; SameSite=Strict", self.cookie, self.session.text())
    }

    /// Whether the request is for this server, from no other site.
    pub(super) fn addressed(&self, method: &Method, headers: &HeaderMap) -> Result<(), Refusal> {
        let mut hosts = headers.get_all(header::HOST).iter();
        let (Some(host), None) = (hosts.next(), hosts.next()) else { return Err(Refusal::Host) };
        let host = host.to_str().map_err(|_| Refusal::Host)?.to_ascii_lowercase();
        if !self.hosts.contains(&host) {
            return Err(Refusal::ForeignHost);
        }
        if ![Method::GET, Method::HEAD, Method::POST].contains(method) {
            return Err(Refusal::Method);
        }
        // Browsers say so themselves (W3C, Fetch Metadata): 'none' is a person's own doing.
        let site = headers.get("sec-fetch-site").map(HeaderValue::as_bytes);
        if site.is_some_and(|site| site != b"same-origin" && site != b"none") {
            return Err(Refusal::ForeignSite);
        }
        match headers.get(header::ORIGIN) {
            Some(origin) if origin.as_bytes() != format!("http://{host}").as_bytes() => Err(Refusal::ForeignSite),
            None if method == Method::POST => Err(Refusal::ForeignSite),
            _ => Ok(()),
        }
    }

    /// Whether the browser was let in.
    pub(super) fn known(&self, headers: &HeaderMap) -> Result<(), Refusal> {
        let mut given = headers.get_all(header::COOKIE).iter().filter_map(|value| value.to_str().ok());
        let own = given.any(|line| {
            let pairs = line.split(';').filter_map(|pair| pair.trim().split_once('='));
            pairs.filter(|(name, _)| *name == self.cookie).any(|(_, value)| self.session.is(value))
        });
        if own { Ok(()) } else { Err(Refusal::NoSession) }
    }

    /// Reads a form whole and looks for the check token; a form with files carries it in its query, and is read later.
    async fn checked(&self, request: Request) -> Result<Request, Refusal> {
        let is = |given: Option<&str>| given.is_some_and(|given| self.check.is(given));
        let header = request.headers().get(CHECK_HEADER).and_then(|value| value.to_str().ok());
        if header.is_some() || is_multipart(request.headers()) {
            let query = field(request.uri().query().unwrap_or_default().as_bytes());
            return if is(header) || is(query.as_deref()) { Ok(request) } else { Err(Refusal::NoCheck) };
        }
        let (head, body) = request.into_parts();
        let body = whole(body).await?;
        if is(field(&body).as_deref()) {
            Ok(Request::from_parts(head, Body::from(body)))
        } else {
            Err(Refusal::NoCheck)
        }
    }

    /// Lets the request through, or says why not.
    pub(super) async fn admit(&self, request: Request, next: Next) -> Response {
        let mut response = match self.judged(request).await {
            Ok(request) => next.run(request).await,
            Err(refusal) => {
                let mut response = plain(refusal.status(), &refusal.to_string());
                // What was not read of the request must not be taken for the next one.
                response.headers_mut().insert(header::CONNECTION, HeaderValue::from_static("close"));
                response
            }
        };
        for (name, value) in HEADERS {
            response.headers_mut().entry(name).or_insert(HeaderValue::from_static(value));
        }
        response
    }

    async fn judged(&self, request: Request) -> Result<Request, Refusal> {
        self.addressed(request.method(), request.headers())?;
        if request.method() == Method::GET && is_entry(request.uri().path()) {
            return Ok(request);
        }
        self.known(request.headers())?;
        if request.method() == Method::POST { self.checked(request).await } else { Ok(request) }
    }
}

/// The one path that is asked for before the session: it carries a secret of its own.
pub(super) const ENTRY: &str = "/enter/";

fn is_entry(path: &str) -> bool {
    path.starts_with(ENTRY)
}

fn is_multipart(headers: &HeaderMap) -> bool {
    let kind = headers.get(header::CONTENT_TYPE).and_then(|value| value.to_str().ok()).unwrap_or_default();
    kind.to_ascii_lowercase().starts_with("multipart/form-data")
}

/// The check token of a form or query.
fn field(form: &[u8]) -> Option<String> {
    let mut pairs = form_urlencoded::parse(form);
    pairs.find(|(name, _)| name == CHECK_FIELD).map(|(_, value)| value.into_owned())
}

/// A body that is no upload, in bounded time and room.
async fn whole(body: Body) -> Result<Bytes, Refusal> {
    match timeout(PATIENCE, to_bytes(body, FORM_BYTES)).await {
        Err(_) => Err(Refusal::TooSlow),
        Ok(Err(_)) => Err(Refusal::TooLong),
        Ok(Ok(body)) => Ok(body),
    }
}

impl IntoResponse for Refusal {
    fn into_response(self) -> Response {
        plain(self.status(), &self.to_string())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn guard() -> Guard {
        Guard::new(&["127.0.0.1", "localhost"], 8123).unwrap()
    }

    fn headers(pairs: &[(&'static str, &str)]) -> HeaderMap {
        pairs.iter().map(|(name, value)| (HeaderName::from_static(name), value.parse().unwrap())).collect()
    }

    #[test]
    fn only_this_servers_own_names_are_answered() {
        let guard = guard();
        let ask = |host: &str| guard.addressed(&Method::GET, &headers(&[("host", host)]));
        assert_eq!(ask("127.0.0.1:8123"), Ok(()));
        assert_eq!(ask("LocalHost:8123"), Ok(()));
        for host in ["evil.example:8123", "127.0.0.1", "127.0.0.1:80", "localhost.evil.example:8123", "", "[::1]:8123"]
        {
            assert_eq!(ask(host), Err(Refusal::ForeignHost), "{host}");
        }
        assert_eq!(guard.addressed(&Method::GET, &HeaderMap::new()), Err(Refusal::Host));
        let mut two = headers(&[("host", "localhost:8123")]);
        two.append("host", HeaderValue::from_static("localhost:8123"));
        assert_eq!(guard.addressed(&Method::GET, &two), Err(Refusal::Host));
    }

    #[test]
    fn another_sites_page_gets_nothing() {
        let guard = guard();
        let ask = |method: Method, more: &[(&'static str, &str)]| {
            let all: Vec<_> = [("host", "localhost:8123")].into_iter().chain(more.iter().copied()).collect();
            guard.addressed(&method, &headers(&all))
        };
        for site in ["cross-site", "same-site", "SAME-ORIGIN", ""] {
            assert_eq!(ask(Method::GET, &[("sec-fetch-site", site)]), Err(Refusal::ForeignSite), "{site}");
        }
        for origin in ["null", "http://evil.example", "http://127.0.0.1:8123", "https://localhost:8123", ""] {
            for method in [Method::GET, Method::POST] {
                assert_eq!(ask(method, &[("origin", origin)]), Err(Refusal::ForeignSite), "{origin}");
            }
        }
        assert_eq!(ask(Method::POST, &[]), Err(Refusal::ForeignSite));
        assert_eq!(ask(Method::POST, &[("origin", "http://localhost:8123")]), Ok(()));
        assert_eq!(ask(Method::GET, &[("sec-fetch-site", "none")]), Ok(()));
        for method in [Method::PUT, Method::DELETE, Method::OPTIONS, Method::TRACE, Method::CONNECT] {
            assert_eq!(ask(method, &[("origin", "http://localhost:8123")]), Err(Refusal::Method));
        }
    }

    #[test]
    fn the_sessions_cookie_lets_in_and_no_other() {
        let guard = guard();
        let cookie = guard.set_cookie();
        let own = cookie.split(';').next().unwrap();
        let with = |line: &str| guard.known(&headers(&[("cookie", line)]));
        assert_eq!(with(own), Ok(()));
        assert_eq!(with(&format!("boxward-80=x; other=1; {own}")), Ok(()));
        assert_eq!(with(&own[..own.len() - 1]), Err(Refusal::NoSession));
        assert_eq!(with(&own.replace("8123", "8124")), Err(Refusal::NoSession));
        assert_eq!(guard.known(&HeaderMap::new()), Err(Refusal::NoSession));
    }
}
