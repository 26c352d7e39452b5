//! The walk along the boxes, ticked off box by box.

use maud::{Markup, html};
use serde::Deserialize;

use crate::desk::frame::Place;
use crate::desk::trouble::{Answer, Trouble};
use crate::desk::view::{Fields, View, lead};
use crate::desk::words::{count, field, number};
use crate::filing::{Sheet, SheetBox};
use crate::report::box_markup;
use crate::workflow::{self, PlanAsked};

/// So many stops are shown; the next ones come when these are done.
const STOPS: usize = 50;

/// How to plan, as typed.
#[derive(Debug, Deserialize)]
pub(super) struct Typed {
    /// The whole wall anew.
    wall: Option<String>,
    /// Drops what is left of a walk.
    again: Option<String>,
    #[serde(default)]
    fill: String,
    #[serde(default)]
    grow: String,
    #[serde(default)]
    limit: String,
}

#[derive(Debug, Deserialize)]
pub(super) struct Done {
    /// The box; empty for all that are left.
    #[serde(default)]
    label: String,
}

/// What a plan is asked for by.
pub(super) fn form(view: &View, again: bool) -> Markup {
    view.form(
        "/wall/plan",
        html! {
            @if again { input type="hidden" name="again" value="yes"; }
            @else { p { "Plans one walk that puts away what was read and moves as few copies as possible." } }
            details {
                summary { "How to plan" }
                label.beside { input type="checkbox" name="wall" value="yes"; " lay the whole wall out anew" }
                (field("Boxes get at most this full, in %", "fill", "", "empty: as set"))
                (field("Leave room for so many weeks", "grow", "", "by the pull list and the pace of the last months"))
                (field("File at most so many copies", "limit", "", "those that came first"))
            }
            button { @if again { "Drop the rest and plan again" } @else { "Plan the walk" } }
        },
    )
}

pub(super) async fn plan(view: View, Fields(typed): Fields<Typed>) -> Answer {
    let (now, today) = (view.now(), view.today());
    let percent = number("Boxes get at most this full", &typed.fill)?;
    if percent.is_some_and(|percent| !(10..=100).contains(&percent)) {
        return Err(Trouble::data("Boxes get at most this full: a number of percent from 10 to 100"));
    }
    let weeks: u32 = number("Leave room for so many weeks", &typed.grow)?.unwrap_or(0);
    if weeks > 520 {
        return Err(Trouble::data("Leave room for so many weeks: at most 520, which is ten years"));
    }
    let asked = PlanAsked {
        wall: typed.wall.is_some(),
        fill_percent: percent,
        grow: (weeks > 0).then_some((weeks, today)),
        limit: number("File at most so many copies", &typed.limit)?,
        again: typed.again.is_some(),
        dry_run: false,
    };
    let walk = view.ask(move |store| workflow::file_plan(store, &asked, now)).await?;
    lead("/wall/walk", walk.run)
}

pub(super) async fn show(view: View) -> Answer {
    let sheet = view.ask(workflow::walk_left).await?;
    let body = match &sheet {
        Some(sheet) if !sheet.boxes.is_empty() => stops(&view, sheet),
        _ => html! {
            p { "Nothing is to be put away: everything that was read stands in its box." }
            p { a href="/wall" { "To the wall" } }
        },
    };
    view.page(Place::Wall, "The walk along the boxes", body).await
}

fn stops(view: &View, sheet: &Sheet) -> Markup {
    let copies: u32 = sheet.wall.iter().map(|drawn| drawn.put_in).sum();
    html! {
        p {
            (count(sheet.boxes.len(), "stop")) " left, " (count(copies, "copy")) " to put in. A copy that was taken out and is in "
            "no box yet is in your hand: the walk can go on tomorrow."
        }
        @for (at, stop) in sheet.boxes.iter().take(STOPS).enumerate() { (one(view, stop, at == 0)) }
        @if sheet.boxes.len() > STOPS { p { "The further stops are shown when these are done." } }
        section {
            h2 { "The rest at once" }
            (view.form("/wall/done", html! { button.plain { "All of it is done" } }))
            (form(view, true))
        }
        p { a href="/wall" { "To the wall" } }
    }
}

fn one(view: &View, stop: &SheetBox, first: bool) -> Markup {
    html! {
        section.stop {
            h2 { (stop.label) }
            (box_markup(stop))
            (view.form("/wall/done", html! {
                input type="hidden" name="label" value=(stop.label);
                button data-key=[first.then_some("d")] {
                    "Done at " (stop.label) @if first { " " kbd { "d" } }
                }
            }))
        }
    }
}

pub(super) async fn done(view: View, Fields(done): Fields<Done>) -> Answer {
    let now = view.now();
    let label = Some(done.label).filter(|label| !label.is_empty());
    let (_, run) = view.ask(move |store| workflow::file_done(store, label.as_deref(), now)).await?;
    lead("/wall/walk", run)
}
