//! What was done, newest first, and taking it back.

use std::sync::Arc;

use axum::Router;
use axum::routing::get;
use maud::{Markup, html};

use crate::desk::frame::Place;
use crate::desk::site::Site;
use crate::desk::trouble::Answer;
use crate::desk::view::View;
use crate::store::Run;
use crate::workflow;

/// So many runs are shown.
const RUNS: u32 = 100;

pub(super) fn routes() -> Router<Arc<Site>> {
    Router::new().route("/safety", get(show))
}

async fn show(view: View) -> Answer {
    let runs = view.ask(|store| workflow::runs(store, RUNS)).await?;
    let body = html! {
        ul {
            li { a href="/backups" { "Backups and export" } }
            li { a href="/settings" { "Filing, supplies and lists" } }
        }
        section { h2 { "What was done" } (history(&view, &runs)) }
    };
    view.page(Place::Safety, "Settings, backups and undo", body).await
}

fn history(view: &View, runs: &[Run]) -> Markup {
    html! {
        @if runs.is_empty() { p { "Nothing was written yet." } }
        @else {
            div.wide tabindex="0" role="region" aria-label="The latest runs" { table {
                caption { "The latest runs, newest first" }
                thead { tr { th.number scope="col" { "Run" } th scope="col" { "What" } th scope="col" { "Day and time" } th scope="col" { "" span.unseen { "Take back" } } } }
                tbody {
                    @for run in runs {
                        tr {
                            td.number { (run.id) }
                            td { (run.kind.word()) @if let Some(other) = run.undoes { " of run " (other) } }
                            td { time datetime=(run.started) { (view.time(run.started)) } }
                            td {
                                @if let Some(other) = run.undone_by { "undone by run " (other) }
                                @else { (view.undo_form(run.id)) }
                            }
                        }
                    }
                }
            } }
        }
    }
}
