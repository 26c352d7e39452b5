//! What waits: a sheet of its pictures, one item with its code, and taking it into the collection.

mod ask;
mod bought;
mod digits;
mod fields;
mod item;
mod sent;
mod settle;
mod sheet;
mod words;

use std::sync::Arc;

use axum::Router;
use axum::response::IntoResponse;
use axum::routing::{get, post};
use maud::{Markup, html};

use crate::desk::site::Site;
use crate::desk::trouble::Answer;

pub(super) fn routes() -> Router<Arc<Site>> {
    Router::new()
        .route("/queue", get(sheet::show))
        .route("/queue/drop", post(sheet::drop_ticked))
        .route("/queue/settle", get(settle::show).post(settle::take_in))
        .route("/queue/ask/{ask}/{item}", get(ask::show).post(ask::answer))
        .route("/queue/ask/{ask}/{item}/example", get(ask::example))
        .route("/queue/{item}", get(item::show).post(item::change))
        .route("/queue/{item}/check", get(item::check))
        .route("/queue/{item}/crop.png", get(item::crop))
}

/// Where each picture page, and taking in, is found from any page of the queue.
fn ways(hard: usize) -> Markup {
    html! {
        p.row {
            a href="/queue" data-key="q" { "All that waits" } span { kbd { "q" } }
            a href="/queue/settle" data-key="c" { "Take into the collection" } span { kbd { "c" } }
            @if hard > 0 { span { (hard) " to complete by their pictures" } }
        }
    }
}

/// A part of a page, for a script to put in.
fn part(markup: Markup) -> Answer {
    let kind = [(axum::http::header::CONTENT_TYPE, "text/html; charset=utf-8")];
    Ok((kind, markup.into_string()).into_response())
}
