//! Backups made, listed and checked; and the whole record handed out.

use std::io;
use std::num::NonZeroU32;
use std::path::{Path, PathBuf};
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};

use axum::Router;
use axum::body::{Body, Bytes};
use axum::extract::Query;
use axum::http::header;
use axum::response::IntoResponse;
use axum::routing::{get, post};
use hyper::body::Frame;
use maud::{Markup, html};
use serde::Deserialize;
use tokio::runtime::Handle;
use tokio::sync::mpsc::{Receiver, Sender, channel};
use tokio::time::timeout;

use crate::desk::frame::Place;
use crate::desk::limits::DOWNLOAD_PATIENCE;
use crate::desk::site::Site;
use crate::desk::trouble::{Answer, Trouble};
use crate::desk::view::{Fields, View, lead};
use crate::desk::words::{count, in_query, number};
use crate::store::{BackupSummary, Store, StoreError};
use crate::workflow::{self, BackupKept, WorkflowError};

/// How many backups stay, unless more or fewer are asked for.
const KEPT: NonZeroU32 = NonZeroU32::new(10).unwrap();

/// An export goes out in pieces of this size.
const PIECE: usize = 64 << 10;

pub(super) fn routes() -> Router<Arc<Site>> {
    Router::new()
        .route("/backups", get(show))
        .route("/backups/make", post(make))
        .route("/backups/check", get(check))
        .route("/export", get(export))
}

fn kept(store: &Store) -> Result<(PathBuf, Vec<BackupKept>), WorkflowError> {
    let path = store.path().clone();
    let found = workflow::backups(&path, &workflow::backup_folder(&path))?;
    Ok((path, found))
}

#[derive(Debug, Deserialize)]
struct Made {
    #[serde(default)]
    made: String,
}

async fn show(view: View, Query(asked): Query<Made>) -> Answer {
    let done = (!asked.made.is_empty()).then(|| html! { p { span.good { "Made" } ": " (asked.made) "." } });
    page(&view, done).await
}

/// The page, with what was just done.
async fn page(view: &View, done: Option<Markup>) -> Answer {
    let (path, backups) = view.ask(kept).await?;
    let folder = workflow::backup_folder(&path);
    let body = html! {
        @if let Some(done) = done { div.notice role="status" { (done) } }
        section {
            h2 { "Backups" }
            p { "They lie in " code { (folder.display()) } ". Keep one on another disk as well." }
            (list(view, &backups))
            (view.form("/backups/make", html! { div.row {
                label { "How many stay" input name="keep" inputmode="numeric" value=(KEPT); }
                button { "Make a backup now" }
            } p.dim { "It is compared with the collection before it counts; a large collection takes a while." } }))
        }
        @if let Some(latest) = backups.iter().find(|backup| backup.summary.is_ok()) {
            section {
                h2 { "Bringing one back" }
                p { "That replaces the collection, so it is done with the desk closed. End the desk, then type, with the backup's name:" }
                p { code { "boxward --collection " (quoted(&path)) " backup restore " (quoted(&latest.path)) } }
                p.dim { "What is there is backed up first." }
            }
        }
        section {
            h2 { "The whole record" }
            p { a.button.plain href="/export" download="boxward-collection.jsonl" { "Export it as lines of JSON" } }
            p.dim { "For other programs and other times; " code { "boxward import --collection-data" } " reads it back into an empty collection. The journal of undo stays behind." }
        }
    };
    view.page(Place::Safety, "Backups and export", body).await
}

fn list(view: &View, backups: &[BackupKept]) -> Markup {
    html! {
        @if backups.is_empty() { p { "There is none yet." } } @else {
            div.wide tabindex="0" role="region" aria-label="Backups" { table {
                caption { "Newest first" }
                thead { tr { th scope="col" { "Made" } th scope="col" { "File" } th scope="col" { "Holds" } th scope="col" { "" span.unseen { "Check" } } } }
                tbody { @for backup in backups {
                    @let name = file_name(&backup.path);
                    tr {
                        td { time datetime=(backup.made) { (view.time(backup.made)) } }
                        td { (name) }
                        td { @match &backup.summary { Ok(summary) => (holds(summary)), Err(error) => span.bad { (error) } } }
                        td { a.button.plain href=(format!("/backups/check?file={}", in_query(&name))) { "Check" span.unseen { " " (name) } } }
                    }
                } }
            } }
        }
    }
}

fn holds(summary: &BackupSummary) -> String {
    format!("{}, {}", count(summary.titles, "title"), count(summary.copies, "copy"))
}

fn file_name(path: &Path) -> String {
    path.file_name().unwrap_or_default().to_string_lossy().into_owned()
}

/// A path as a shell takes it.
fn quoted(path: &Path) -> String {
    let text = path.display().to_string();
    let plain = |c: char| c.is_ascii_alphanumeric() || "/._-:\\".contains(c);
    if text.chars().all(plain) { text } else { format!("'{}'", text.replace('\'', "'\\''")) }
}

#[derive(Debug, Deserialize)]
struct MakeAsked {
    keep: String,
}

async fn make(view: View, Fields(asked): Fields<MakeAsked>) -> Answer {
    let (now, keep) = (view.now(), number("how many stay", &asked.keep)?.unwrap_or(KEPT));
    let made =
        view.ask(move |store| workflow::backup(store, &workflow::backup_folder(store.path()), keep, now)).await?;
    lead(&format!("/backups?made={}", in_query(&file_name(&made.path))), None)
}

#[derive(Debug, Deserialize)]
struct CheckAsked {
    file: String,
}

async fn check(view: View, Query(asked): Query<CheckAsked>) -> Answer {
    let name = asked.file.clone();
    let checked = view
        .ask(move |store| {
            // A name is looked for among the backups, and never used as a path.
            let (_, backups) = kept(store)?;
            let known = backups.into_iter().find(|backup| file_name(&backup.path) == asked.file);
            let known = known.ok_or_else(|| Trouble::nothing_there(format!("there is no backup '{}'", asked.file)))?;
            Ok::<_, Trouble>(workflow::backup_check(&known.path))
        })
        .await?;
    let done = match checked {
        Ok(summary) => html! { p { span.good { "Whole" } ": " (name) ", " (holds(&summary)) "." } },
        Err(error) => html! { p { span.bad { "Not whole" } ": " (workflow::messages(&error).join(": ")) } },
    };
    page(&view, Some(done)).await
}

/// Streams what `boxward export` writes. A file that is cut short lacks its last line, and reading it back says so.
async fn export(view: View) -> Answer {
    let (pieces, body) = channel(2);
    let handle = Handle::current();
    tokio::spawn(async move {
        let done = view
            .ask(move |store| {
                let mut out = Pieces { pieces, handle, piece: Vec::with_capacity(PIECE) };
                if let Err(error) = store.export(&mut out) {
                    out.send(Err(io::Error::other(error)));
                }
                Ok::<_, StoreError>(())
            })
            .await;
        // Nobody is left to be told.
        drop(done);
    });
    let headers = [
        (header::CONTENT_TYPE, "application/jsonl; charset=utf-8"),
        (header::CONTENT_DISPOSITION, "attachment; filename=\"boxward-collection.jsonl\""),
    ];
    Ok((headers, Body::new(Download(body))).into_response())
}

/// Writes pieces to a browser, at its pace.
struct Pieces {
    pieces: Sender<io::Result<Bytes>>,
    handle: Handle,
    piece: Vec<u8>,
}

impl Pieces {
    /// Whether it was taken in time: whoever stops reading must not hold the collection's past for ever.
    fn send(&mut self, piece: io::Result<Bytes>) -> bool {
        let sent = self.handle.block_on(async { timeout(DOWNLOAD_PATIENCE, self.pieces.send(piece)).await });
        matches!(sent, Ok(Ok(())))
    }
}

impl io::Write for Pieces {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.piece.extend_from_slice(bytes);
        if self.piece.len() >= PIECE {
            self.flush()?;
        }
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        if self.piece.is_empty() {
            return Ok(());
        }
        let piece = std::mem::replace(&mut self.piece, Vec::with_capacity(PIECE));
        if self.send(Ok(piece.into())) { Ok(()) } else { Err(io::ErrorKind::BrokenPipe.into()) }
    }
}

/// The pieces as a body.
struct Download(Receiver<io::Result<Bytes>>);

impl hyper::body::Body for Download {
    type Data = Bytes;
    type Error = io::Error;

    fn poll_frame(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Bytes>, io::Error>>> {
        self.0.poll_recv(context).map(|piece| piece.map(|piece| piece.map(Frame::data)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_path_is_one_word_to_a_shell() {
        assert_eq!(quoted(Path::new("/a/b-1.sqlite")), "/a/b-1.sqlite");
        assert_eq!(quoted(Path::new("/my books/it's.sqlite")), "'/my books/it'\\''s.sqlite'");
    }
}
