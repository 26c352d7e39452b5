//! Photos into the queue: where a browser without scripts sends them, and what became of them.

use std::sync::Arc;

use axum::Router;
use axum::extract::{Query, Request};
use axum::routing::get;
use maud::html;

use crate::desk::frame::Place;
use crate::desk::site::Site;
use crate::desk::trouble::Answer;
use crate::desk::upload::{self, Asked, Sender, answered};
use crate::desk::view::View;

const TITLE: &str = "Photos into the queue";

pub(super) fn routes() -> Router<Arc<Site>> {
    Router::new().route(PATH, get(show).post(take))
}

/// Where the panel sends photos, and where it stands on a page of its own.
const PATH: &str = "/intake/photos";

/// The panel, for any page of the desk.
pub(in crate::desk) fn panel(view: &View) -> maud::Markup {
    upload::panel(Sender::Desk, PATH, view.check(), view.shared().uploads.draw(), None)
}

async fn show(view: View) -> Answer {
    let body = html! {
        (panel(&view))
        p { a href="/phone" { "Take photos with a phone" } }
    };
    view.page(Place::Intake, TITLE, body).await
}

async fn take(view: View, Query(asked): Query<Asked>, request: Request) -> Answer {
    answered(&view, &asked, request, |view, batch, taken| async move {
        let body = html! {
            (upload::panel(Sender::Desk, PATH, view.check(), batch, Some(&taken)))
            @if let Some(run) = taken.run {
                div.notice { p { "All of it is run " (run) "." } (view.undo_form(run)) }
            }
        };
        view.page(Place::Intake, TITLE, body).await
    })
    .await
}
