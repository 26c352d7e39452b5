//! One box: what stands in it from front to back, and what it is for.

use axum::extract::Query;
use maud::{Markup, html};
use serde::Deserialize;

use super::{address, fields, percent, weight};
use crate::desk::frame::Place;
use crate::desk::trouble::{Answer, Trouble};
use crate::desk::view::{Fields, View, lead};
use crate::desk::words::{count, given, number};
use crate::filing::Purpose;
use crate::report::copy_markup;
use crate::workflow::{self, BoxChange, BoxContent, WorkflowError};

/// So many copies are listed; a box holds a few hundred.
const COPIES: usize = 1_000;

#[derive(Debug, Deserialize)]
pub(super) struct Asked {
    label: String,
}

/// What a form says of a box, as typed.
#[derive(Debug, Deserialize)]
pub(super) struct Typed {
    /// The box that is meant; empty for a new one.
    #[serde(default)]
    label: String,
    new_label: String,
    kind: String,
    inner_mm: String,
    purpose: String,
    row: String,
    column: String,
    note: String,
}

impl Typed {
    fn change(&self) -> Result<BoxChange, Trouble> {
        Ok(BoxChange {
            label: Some(self.new_label.trim().to_owned()),
            kind: given("Kind", &self.kind)?,
            inner_mm: number("Inner length", &self.inner_mm)?,
            magazines: None,
            purpose: given("For", &self.purpose)?,
            row: number("Row", &self.row)?,
            column: number("Column", &self.column)?,
            note: Some(self.note.trim().to_owned()),
        })
    }
}

pub(super) async fn show(view: View, Query(asked): Query<Asked>) -> Answer {
    let (content, purpose, words) = view
        .ask(move |store| {
            let content = workflow::box_show(store, &asked.label)?;
            let purpose = &content.fill.shelf.purpose;
            let typed = match purpose {
                Purpose::Title(title) => format!("title={}", title.number()),
                Purpose::Unread => "unread".to_owned(),
                Purpose::Family(name) => format!("family={name}"),
                Purpose::Publisher(name) => format!("publisher={name}"),
                Purpose::Size(size) => format!("size={size}"),
                Purpose::Rest => "rest".to_owned(),
                Purpose::Spare => "spare".to_owned(),
            };
            let words = workflow::purpose_in_words(store, purpose)?;
            Ok::<_, WorkflowError>((content, typed, words))
        })
        .await?;
    let title = format!("Box {}", content.fill.shelf.label);
    let body = body(&view, &content, &purpose, &words);
    view.page(Place::Wall, &title, body).await
}

fn body(view: &View, content: &BoxContent, purpose: &str, words: &str) -> Markup {
    let fill = &content.fill;
    let shelf = &fill.shelf;
    html! {
        p {
            "A " (shelf.kind) " box of " (shelf.inner_mm) " mm for " (words) ", row " (shelf.place.row) ", column "
            (shelf.place.column) ": " (count(fill.copies, "copy")) ", " (percent(fill)) " full, " (weight(fill)) "."
        }
        @if !shelf.note.is_empty() { p.dim { (shelf.note) } }
        @for group in content.content[..content.content.len().min(COPIES)].chunk_by(|one, next| one.divider == next.divider) {
            section {
                h2 { (group[0].divider) }
                ol.front-to-back {
                    @for line in group {
                        li { span.mm { (line.mm) " mm" } " " a href=(format!("/copy/{}", line.copy.copy)) { (copy_markup(&line.copy)) } }
                    }
                }
            }
        }
        @if content.content.len() > COPIES { p { "And " (content.content.len() - COPIES) " more." } }
        section {
            h2 { "Change it" }
            (view.form("/wall/box/change", html! {
                input type="hidden" name="label" value=(shelf.label);
                (fields(Some(fill), purpose))
                button { "Change the box" }
            }))
        }
        @if fill.copies == 0 {
            (view.form("/wall/box/retire", html! {
                input type="hidden" name="label" value=(shelf.label);
                button.plain { "Take it out of use" }
            }))
        }
        p { a href="/wall" { "To the wall" } }
    }
}

pub(super) async fn add(view: View, Fields(typed): Fields<Typed>) -> Answer {
    let (change, now) = (typed.change()?, view.now());
    let (_, run) = view.ask(move |store| workflow::box_add(store, &change, now)).await?;
    lead("/wall", run)
}

pub(super) async fn change(view: View, Fields(typed): Fields<Typed>) -> Answer {
    let (change, now) = (typed.change()?, view.now());
    let (fill, run) = view.ask(move |store| workflow::box_set(store, &typed.label, &change, now)).await?;
    lead(&address(&fill.shelf.label), run)
}

pub(super) async fn retire(view: View, Fields(asked): Fields<Asked>) -> Answer {
    let now = view.now();
    let (_, run) = view.ask(move |store| workflow::box_retire(store, &asked.label, now)).await?;
    lead("/wall", run)
}
