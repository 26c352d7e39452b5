//! Where the books are now: a line for each station of their way.

use std::sync::Arc;

use axum::Router;
use axum::routing::get;
use jiff::civil::Date;
use maud::{Markup, html};

use crate::collection::Pile;
use crate::desk::frame::Place;
use crate::desk::site::Site;
use crate::desk::trouble::Answer;
use crate::desk::view::View;
use crate::desk::words::count;
use crate::store::Store;
use crate::workflow::{self, MonthLimit, WorkflowError};

pub(super) fn routes() -> Router<Arc<Site>> {
    Router::new().route("/", get(show))
}

/// What is at each station.
struct Stations {
    waiting: u32,
    for_a_person: u32,
    pile: Pile,
    to_file: u32,
    on_walk: u32,
    limits: Vec<MonthLimit>,
}

async fn show(view: View) -> Answer {
    let today = view.today();
    let stations = view.ask(move |store| stations(store, today)).await?;
    view.page(Place::Desk, "Where the books are", body(&stations)).await
}

fn stations(store: &Store, today: Date) -> Result<Stations, WorkflowError> {
    let (waiting, for_a_person) = workflow::queue_count(store)?;
    let (to_file, on_walk) = workflow::filing_count(store)?;
    let pile = workflow::pile(store, today)?;
    Ok(Stations { waiting, for_a_person, pile, to_file, on_walk, limits: workflow::month_limits(store, today)? })
}

fn body(stations: &Stations) -> Markup {
    let Stations { waiting, for_a_person, pile, to_file, on_walk, limits } = stations;
    html! {
        dl.stations {
            dt { a href="/intake" { "Coming in" } }
            dd { "by camera, photo or scanner" }
            dt { a href="/queue" { "In the queue" } }
            dd { (waiting + for_a_person) @if *for_a_person > 0 { ", " strong.doubt { (for_a_person) " of them for a person" } } }
            dt { a href="/pile" { "On the reading pile" } }
            dd { (pile.copies) @if pile.grows() { ", " span.doubt { "and growing faster than it is read" } } }
            dt { a href="/wall" { "To be filed" } }
            dd { (to_file) @if *on_walk > 0 { ", and " a href="/wall/walk" { (count(*on_walk, "copy")) " on the walk" } } }
            dt { a href="/money" { "This month" } }
            dd {
                @if limits.is_empty() { "no limit is set" }
                @for (at, limit) in limits.iter().enumerate() {
                    @if at > 0 { "; " }
                    (limit.spent) " of " (limit.limit) " spent, "
                    @if limit.left.minor_units < 0 { strong.bad { (limit.left) " left" } } @else { (limit.left) " left" }
                }
            }
        }
        form role="search" method="get" action="/collection" {
            label { "Do I own this? " kbd { "/" } input type="search" name="q" autocomplete="off" data-key="/"; }
            button.plain { "Search" }
        }
    }
}
