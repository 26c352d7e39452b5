//! What a page that is open is sent: word of each change, and pictures as it asks for them.

use std::time::Duration;

use axum::http::{StatusCode, header};
use axum::response::sse::{Event, KeepAlive, Sse};
use axum::response::{IntoResponse, Response};
use futures_util::stream;

use crate::desk::trouble::{Answer, Trouble};
use crate::desk::view::View;

/// So often a comment is sent while nothing happens: whoever has gone is noticed by it.
const KEEP_ALIVE: Duration = Duration::from_secs(15);

pub(super) async fn events(view: View) -> Answer {
    let Some(board) = view.shared().intake().board().filter(|board| !board.is_over()) else {
        // A browser that gets this asks no more (WHATWG, HTML, 'server-sent events').
        return Ok(StatusCode::NO_CONTENT.into_response());
    };
    let too_many = || Trouble::busy("too many pages listen already; close one of them");
    let listener = board.listen().ok_or_else(too_many)?;
    let events = stream::unfold(Some(listener), |listener| async {
        let mut listener = listener?;
        let glance = listener.next().await;
        let event = serde_json::to_string(&glance).map(|data| Event::default().data(data));
        Some((event, (!glance.over).then_some(listener)))
    });
    Ok(Sse::new(events).keep_alive(KeepAlive::new().interval(KEEP_ALIVE)).into_response())
}

pub(super) async fn frame(view: View) -> Answer {
    let nothing = || Trouble::nothing_there("there is no picture now");
    let board = view.shared().intake().board().ok_or_else(nothing)?;
    board.look();
    let jpeg = tokio::task::spawn_blocking(move || board.jpeg()).await.map_err(|error| Trouble::machine(&error))?;
    let answer: Response = ([(header::CONTENT_TYPE, "image/jpeg")], jpeg.ok_or_else(nothing)?).into_response();
    Ok(answer)
}
