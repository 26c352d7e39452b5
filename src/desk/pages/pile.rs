//! The reading pile: what is unread in reading order, its pace, and taking off what was read.

use std::sync::Arc;

use axum::Router;
use axum::extract::Query;
use axum::routing::{get, post};
use maud::{Markup, html};
use serde::Deserialize;

use crate::collection::{CopyId, PACE_WEEKS, Pile, Unread};
use crate::desk::frame::Place;
use crate::desk::site::Site;
use crate::desk::trouble::{Answer, Trouble};
use crate::desk::view::{Fields, View, lead};
use crate::desk::words::{count, day, day_field, issue_in_words, named, pager};
use crate::workflow::{self, WasRead, WorkflowError};

/// So many copies are shown at once.
const COPIES: u32 = 100;

pub(super) fn routes() -> Router<Arc<Site>> {
    Router::new().route("/pile", get(show)).route("/pile/read", post(read))
}

#[derive(Debug, Default, Deserialize)]
struct Asked {
    #[serde(default)]
    skip: u32,
}

async fn show(view: View, Query(asked): Query<Asked>) -> Answer {
    let today = view.today();
    let (pile, copies) = view
        .ask(move |store| {
            Ok::<_, WorkflowError>((workflow::pile(store, today)?, workflow::pile_part(store, asked.skip, COPIES)?))
        })
        .await?;
    let (shown, all) = (copies.len(), pile.copies as usize);
    let body = html! {
        (numbers(&pile))
        @if copies.is_empty() { p { "Nothing is left to read here." } }
        @else { (list(&view, &copies)) }
        (pager("copies", asked.skip as usize, shown, all, COPIES as usize, |skip| format!("/pile?skip={skip}")))
    };
    view.page(Place::Pile, "The reading pile", body).await
}

/// Tenths as a number with one decimal place.
fn tenths(tenths: u64) -> String {
    format!("{}.{}", tenths / 10, tenths % 10)
}

fn numbers(pile: &Pile) -> Markup {
    let boxes = match pile.tenths_of_short_boxes() {
        (least, most) if least == most => tenths(most),
        (least, most) => format!("{} to {}", tenths(least), tenths(most)),
    };
    let mut paid: Vec<String> = pile.paid.iter().map(ToString::to_string).collect();
    if pile.without_price > 0 {
        paid.push(format!("{} without a price", pile.without_price));
    }
    html! {
        p { strong { (count(pile.copies, "copy")) " unread" }
            @if pile.copies > 0 { ", " (boxes) " short boxes; paid: " (paid.join(", ")) } }
        p { "In the last " (PACE_WEEKS) " weeks " (pile.came) " came and " (pile.read) " were read: "
            @match pile.lasts_tenths_of_weeks() {
                _ if pile.copies == 0 => "nothing is left.",
                Some(weeks) => { "at this pace the pile lasts " (tenths(weeks)) " weeks." }
                None => "no pace to measure the pile by.",
            } }
        @if pile.grows() { p.doubt { "The pile grows faster than it is read." } }
    }
}

fn list(view: &View, copies: &[Unread]) -> Markup {
    view.form(
        "/pile/read",
        html! {
            p { "Tick what was read, or press " kbd { "r" } " for the first book, or for the one that the keyboard is at." }
            div.row { (day_field("Read on", "on", Some(view.today()))) button { "The ticked ones are read" } }
            div.wide tabindex="0" role="region" aria-label="Unread copies" { table {
                caption { "In reading order" }
                thead { tr { th scope="col" { "Tick" } th scope="col" { "Book" } th scope="col" { "Here since" } th scope="col" { "One by one" } } }
                tbody { @for copy in copies {
                    @let name = named(&copy.title, &issue_in_words(&copy.issue, &copy.cover, copy.printing));
                    tr {
                        td { input type="checkbox" name="copy" value=(copy.copy) aria-label=(name); }
                        td { a href=(format!("/copy/{}", copy.copy)) { (name) } }
                        td { @if let Some(came) = copy.came { (came) } }
                        td { button.small name="one" value=(copy.copy) data-key="r" { "Read" span.unseen { ": " (name) } } }
                    }
                } }
            } }
        },
    )
}

/// The form's pairs: a tick is a pair of its own, so that a name may come several times.
async fn read(view: View, Fields(pairs): Fields<Vec<(String, String)>>) -> Answer {
    let of = |name: &str| -> Vec<&str> {
        pairs.iter().filter(|(known, _)| known == name).map(|(_, value)| value.as_str()).collect()
    };
    let first = |name: &str| of(name).first().copied().unwrap_or_default();
    let on = day("read on", first("on"))?.unwrap_or_else(|| view.today());
    // One book's own button says nothing of what is ticked beside it.
    let one = of("one");
    let meant = if one.is_empty() { of("copy") } else { one };
    let mut what = Vec::with_capacity(meant.len());
    for copy in meant {
        let id: CopyId = copy.parse().map_err(|_| Trouble::data(format!("copy: '{copy}' is no copy's number")))?;
        what.push(WasRead::Copy(id));
    }
    if what.is_empty() {
        return Err(Trouble::data("nothing is ticked; tick what was read"));
    }
    let back = first("back").to_owned();
    let now = view.now();
    let (_, run) = view.ask(move |store| workflow::pile_read(store, &what, on, now)).await?;
    lead(&back, run)
}
