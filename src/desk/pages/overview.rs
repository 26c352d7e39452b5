//! Where the books are now: a line for each station of their way.

use std::sync::Arc;

use axum::Router;
use axum::routing::get;
use maud::{Markup, html};

use crate::desk::frame::Place;
use crate::desk::site::Site;
use crate::desk::trouble::Answer;
use crate::desk::view::View;
use crate::intake::ItemState;
use crate::store::{QueueFilter, Store};
use crate::workflow::{self, WorkflowError};

pub(super) fn routes() -> Router<Arc<Site>> {
    Router::new().route("/", get(show))
}

/// How many books are at each station.
struct Stations {
    waiting: usize,
    for_a_person: usize,
    unread: u32,
    grows: bool,
}

async fn show(view: View) -> Answer {
    let today = view.today();
    let stations = view.ask(move |store| stations(store, today)).await?;
    view.page(Place::Desk, "Where the books are", body(&stations)).await
}

fn stations(store: &Store, today: jiff::civil::Date) -> Result<Stations, WorkflowError> {
    let queue = workflow::queue_list(store, QueueFilter::Open)?;
    let pile = workflow::pile(store, today)?;
    Ok(Stations {
        waiting: queue.len(),
        for_a_person: queue.iter().filter(|item| item.state == ItemState::Incomplete).count(),
        unread: pile.copies,
        grows: pile.grows(),
    })
}

fn body(stations: &Stations) -> Markup {
    html! {
        dl.stations {
            dt { "In the queue" }
            dd { (stations.waiting) @if stations.for_a_person > 0 { ", " (stations.for_a_person) " of them for a person" } }
            dt { "On the reading pile" }
            dd { (stations.unread) @if stations.grows { ", and growing faster than it is read" } }
        }
    }
}
