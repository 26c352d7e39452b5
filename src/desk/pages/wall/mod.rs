//! The wall of boxes, drawn to scale: how full each is, and the walk that puts away what was read.

mod one_box;
mod walk;

use std::sync::Arc;

use axum::Router;
use axum::extract::Query;
use axum::routing::{get, post};
use maud::{Markup, html};
use serde::Deserialize;

use crate::desk::frame::Place;
use crate::desk::site::Site;
use crate::desk::trouble::Answer;
use crate::desk::view::View;
use crate::desk::words::{choice, count, field, in_query, pager};
use crate::filing::{BoxKind, Sheet};
use crate::report::wall_markup;
use crate::store::Store;
use crate::workflow::{self, BoxFill, WorkflowError};

/// So many boxes are drawn on one page.
const BOXES: usize = 200;

pub(super) fn routes() -> Router<Arc<Site>> {
    Router::new()
        .route("/wall", get(show))
        .route("/wall/add", post(one_box::add))
        .route("/wall/box", get(one_box::show))
        .route("/wall/box/change", post(one_box::change))
        .route("/wall/box/retire", post(one_box::retire))
        .route("/wall/walk", get(walk::show))
        .route("/wall/plan", post(walk::plan))
        .route("/wall/done", post(walk::done))
}

/// The page of a box.
fn address(label: &str) -> String {
    format!("/wall/box?label={}", in_query(label))
}

#[derive(Debug, Default, Deserialize)]
struct Part {
    #[serde(default)]
    skip: usize,
}

/// What the page shows.
struct Wall {
    /// Those of this part, each with what it is for.
    boxes: Vec<(BoxFill, String)>,
    all: usize,
    copies: u32,
    overfull: Vec<String>,
    walk: Option<Sheet>,
}

async fn show(view: View, Query(part): Query<Part>) -> Answer {
    let wall = view.ask(move |store| wall(store, part.skip)).await?;
    let body = body(&view, &wall, part.skip);
    view.page(Place::Wall, "The wall of boxes", body).await
}

fn wall(store: &Store, skip: usize) -> Result<Wall, WorkflowError> {
    let boxes = workflow::box_list(store)?;
    let all = boxes.len();
    let copies = boxes.iter().map(|fill| fill.copies).sum();
    let overfull = boxes.iter().filter(|fill| fill.percent > 100).map(|fill| fill.shelf.label.clone()).collect();
    let named = |fill: BoxFill| Ok((workflow::purpose_in_words(store, &fill.shelf.purpose)?, fill));
    let boxes = boxes.into_iter().skip(skip).take(BOXES).map(named);
    let boxes =
        boxes.map(|named| named.map(|(purpose, fill)| (fill, purpose))).collect::<Result<_, WorkflowError>>()?;
    Ok(Wall { boxes, all, copies, overfull, walk: workflow::walk_left(store)? })
}

fn body(view: &View, wall: &Wall, skip: usize) -> Markup {
    html! {
        @if wall.all == 0 {
            p { "There are no boxes yet. Add one below; or plan the walk at once: it says how many boxes are needed." }
        } @else {
            p { (count(wall.all, "box")) ", " (count(wall.copies, "copy")) " in them." }
        }
        @if !wall.overfull.is_empty() {
            p.trouble role="alert" {
                "Fuller than full: "
                @for (at, label) in wall.overfull.iter().take(12).enumerate() {
                    @if at > 0 { ", " } a href=(address(label)) { (label) }
                }
                @if wall.overfull.len() > 12 { " and " (wall.overfull.len() - 12) " more" }
                ". The walk makes room."
            }
        }
        section {
            h2 { "The walk" }
            @match &wall.walk {
                Some(sheet) => {
                    p { "A walk is begun: " (count(sheet.boxes.len(), "stop")) " left. " a.button href="/wall/walk" data-key="w" { "Go on with it " kbd { "w" } } }
                }
                None => { (walk::form(view, false)) }
            }
        }
        @if !wall.boxes.is_empty() {
            (drawing(wall))
            (table(wall))
            (pager("boxes", skip, wall.boxes.len(), wall.all, BOXES, |skip| format!("/wall?skip={skip}")))
        }
        section {
            h2 { "Another box" }
            (view.form("/wall/add", html! { (fields(None, "")) button { "Add the box" } }))
        }
        p.dim {
            "Full boxes are heavy: lift them with care, do not stack more cardboard boxes than their maker allows, and keep "
            "them off bare floors and outside walls (common practice)."
        }
    }
}

/// With the walk's moves where one is begun.
fn drawing(wall: &Wall) -> Markup {
    let shown = |label: &str| wall.boxes.iter().any(|(fill, _)| fill.shelf.label == label);
    let boxes: Vec<_> = match &wall.walk {
        Some(sheet) => sheet.wall.iter().filter(|drawn| shown(&drawn.label)).cloned().collect(),
        None => wall.boxes.iter().map(|(fill, _)| fill.at_rest()).collect(),
    };
    html! {
        div.wide.wall role="region" aria-label="Drawing of the wall" tabindex="0" {
            (wall_markup(&boxes, |drawn| Some(address(&drawn.label))))
        }
    }
}

fn table(wall: &Wall) -> Markup {
    html! {
        div.wide role="region" aria-label="Table of the boxes" tabindex="0" { table {
            caption { "The boxes in walking order" }
            thead { tr {
                th { "Box" } th { "For" } th { "Row, column" } th.number { "Copies" } th.number { "Full" } th.number { "Weight" }
            } }
            tbody {
                @for (fill, purpose) in &wall.boxes {
                    tr {
                        td { a href=(address(&fill.shelf.label)) { (fill.shelf.label) } @if fill.shelf.planned { " (not there yet)" } }
                        td { (purpose) }
                        td { (fill.shelf.place.row) ", " (fill.shelf.place.column) }
                        td.number { (fill.copies) }
                        td.number { (percent(fill)) }
                        td.number { (weight(fill)) }
                    }
                }
            }
        } }
    }
}

fn percent(fill: &BoxFill) -> Markup {
    html! { span.bad[fill.percent > 100] { (fill.percent) " %" } }
}

fn weight(fill: &BoxFill) -> Markup {
    html! {
        "about " (fill.grams / 1000) "." (fill.grams / 100 % 10) " kg" @if fill.is_heavy() { span.doubt { ", lift it with care" } }
    }
}

/// The fields of a box: as it is, or empty for a new one; `purpose` is what it is for, as the field takes it.
fn fields(fill: Option<&BoxFill>, purpose: &str) -> Markup {
    let shelf = fill.map(|fill| &fill.shelf);
    let text = |of: fn(&crate::filing::ShelfBox) -> String| shelf.map(of).unwrap_or_default();
    html! {
        (field("Label", "new_label", &text(|shelf| shelf.label.clone()), "what is written on it"))
        (choice("Kind", "kind", shelf.map(|shelf| shelf.kind.word()), None, BoxKind::ALL.map(BoxKind::word)))
        (field("Inner length in mm", "inner_mm", &text(|shelf| shelf.inner_mm.to_string()), "empty: as usual for its kind"))
        (field("For", "purpose", purpose, "unread, title=NAME, family=NAME, publisher=NAME, size=SIZE, rest, or spare"))
        (field("Row", "row", &text(|shelf| shelf.place.row.to_string()), "from the top"))
        (field("Column", "column", &text(|shelf| shelf.place.column.to_string()), "from the left"))
        (field("Note", "note", &text(|shelf| shelf.note.clone()), "what to recognise it by"))
    }
}
