//! Style, scripts and pictures of the pages: all inside the program, each under an address that changes with its content.

use std::fmt::Write;
use std::sync::LazyLock;

use axum::extract::Path;
use axum::http::header;
use axum::response::{IntoResponse, Response};
use sha2::{Digest, Sha256};

use super::trouble::{Answer, Trouble};
use crate::report::PLOT_STYLE;

/// A file, under its name, with its media type.
const FILES: [(&str, &str, &str); 11] = [
    ("ask.js", "text/javascript; charset=utf-8", include_str!("assets/ask.js")),
    ("desk.css", "text/css; charset=utf-8", include_str!("assets/desk.css")),
    ("desk.js", "text/javascript; charset=utf-8", include_str!("assets/desk.js")),
    ("follow.js", "text/javascript; charset=utf-8", include_str!("assets/follow.js")),
    ("found.js", "text/javascript; charset=utf-8", include_str!("assets/found.js")),
    ("intake.js", "text/javascript; charset=utf-8", include_str!("assets/intake.js")),
    ("icon.svg", "image/svg+xml", include_str!("assets/icon.svg")),
    ("photos.css", "text/css; charset=utf-8", include_str!("assets/photos.css")),
    ("queue.js", "text/javascript; charset=utf-8", include_str!("assets/queue.js")),
    ("upload.js", "text/javascript; charset=utf-8", include_str!("assets/upload.js")),
    // The printed pages' own, so that a plot looks alike.
    ("plot.css", "text/css; charset=utf-8", PLOT_STYLE),
];

/// What the files hold, in a word: a browser keeps none of an older program's.
static MARK: LazyLock<String> = LazyLock::new(|| {
    let mut hash = Sha256::new();
    FILES.iter().for_each(|(_, _, content)| hash.update(content));
    hash.finalize().iter().take(6).fold(String::new(), |mut mark, byte| {
        let _ = write!(mark, "{byte:02x}");
        mark
    })
});

/// Where a file is found. Scripts name each other without their folder, so all share one mark.
pub(super) fn address(name: &str) -> String {
    debug_assert!(FILES.iter().any(|(known, ..)| *known == name), "there is no file {name}");
    format!("/static/{}/{name}", *MARK)
}

/// Serves a file. Only names of the table are answered: nothing is ever looked up on the disk.
pub(super) async fn file(Path((_, name)): Path<(String, String)>) -> Answer {
    let found = FILES.iter().find(|(known, ..)| *known == name);
    let (_, kind, content) = found.ok_or_else(|| Trouble::nothing_there("there is no such file"))?;
    let headers = [(header::CONTENT_TYPE, *kind), (header::CACHE_CONTROL, "private, max-age=31536000, immutable")];
    let answer: Response = (headers, *content).into_response();
    Ok(answer)
}
