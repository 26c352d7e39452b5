//! All that waits, as pictures on a sheet: the hard ones first.

use maud::{Markup, html};
use serde::Deserialize;

use super::sent::Sent;
use super::ways;
use super::words::{code_in_words, count, decided_in_words, need_in_words, need_word, picture_in_words};
use crate::desk::frame::Place;
use crate::desk::trouble::{Answer, Trouble};
use crate::desk::view::{Fields, View, lead};
use crate::desk::words::pager;
use crate::intake::ItemId;
use crate::workflow::{self, Need, Waiting};

/// So many pictures are on a page.
const PAGE: usize = 60;

#[derive(Debug, Default, Deserialize)]
pub(super) struct Asked {
    /// The word of a kind; empty for all.
    #[serde(default)]
    only: String,
    #[serde(default)]
    skip: usize,
}

pub(super) async fn show(view: View, Fields(asked): Fields<Asked>) -> Answer {
    let waiting = view.ask(workflow::queue_needs).await?;
    let body = sheet(&view, &waiting, &asked);
    view.page(Place::Queue, "What waits", body).await
}

fn sheet(view: &View, waiting: &[Waiting], asked: &Asked) -> Markup {
    let of = |need: Need| waiting.iter().filter(|waiting| waiting.need == need).count();
    let hard = waiting.iter().filter(|waiting| waiting.need.is_of_picture()).count();
    let only = Need::ALL.into_iter().find(|need| need_word(*need) == asked.only);
    let shown: Vec<_> = waiting.iter().filter(|waiting| only.is_none_or(|need| waiting.need == need)).collect();
    let skip = asked.skip.min(shown.len());
    let page = &shown[skip..(skip + PAGE).min(shown.len())];
    let of_kind = only.map(|need| format!("&only={}", need_word(need))).unwrap_or_default();
    html! {
        (ways(hard))
        @if waiting.is_empty() {
            p { "Nothing waits. Photos and scans come in by the intake." }
        } @else {
            nav.kinds aria-label="Kinds of items" {
                a href="/queue" aria-current=[only.is_none().then_some("true")] { "all " (waiting.len()) }
                @for need in Need::ALL {
                    @if of(need) > 0 {
                        a href={ "/queue?only=" (need_word(need)) } aria-current=[(only == Some(need)).then_some("true")] {
                            (need_in_words(need)) " " (of(need))
                        }
                    }
                }
            }
            p.dim { "The hard ones come first. Arrow keys go from picture to picture, " kbd { "Enter" } " opens one, " kbd { "t" } " ticks it." }
            (view.form("/queue/drop", html! {
                ul.sheet data-sheet { @for waiting in page { (cell(waiting)) } }
                div.row {
                    button.plain data-key="d" { "Drop what is ticked" }
                    span { kbd { "d" } " no books to record: undo brings them back" }
                }
            }))
            (pager("items", skip, page.len(), shown.len(), PAGE, |skip| format!("/queue?skip={skip}{of_kind}")))
        }
    }
}

fn cell(waiting: &Waiting) -> Markup {
    let item = &waiting.item;
    let class = if waiting.need.is_of_picture() { "doubt" } else { "dim" };
    html! {
        li {
            a href={ "/queue/" (item.id) } {
                @if item.has_crop {
                    img src={ "/queue/" (item.id) "/crop.png" } alt=(picture_in_words(item)) loading="lazy";
                } @else {
                    span.no-crop { (picture_in_words(item)) }
                }
            }
            label { input type="checkbox" name="item" value=(item.id); " item " (item.id) }
            @if let Some(code) = item.code { p.code { (code_in_words(code)) } }
            p class=(class) {
                @match (&waiting.decided, waiting.ask) {
                    (Some(decided), _) => (decided_in_words(decided)),
                    (None, Some(ask)) if !waiting.need.is_of_picture() => {
                        (need_in_words(waiting.need)) ": "
                        a href={ "/queue/ask/" (ask) "/" (item.id) } { "answer" span.unseen { " for item " (item.id) } }
                    }
                    _ => (need_in_words(waiting.need)),
                }
            }
            @if !item.seen_again.is_empty() { p.dim { "seen again: " (count(item.seen_again.len(), "time")) } }
        }
    }
}

/// Drops what is ticked, or the one item of a page.
pub(super) async fn drop_ticked(view: View, Fields(sent): Fields<Vec<(String, String)>>) -> Answer {
    let sent = Sent(sent);
    let items: Vec<ItemId> = sent
        .all("item")
        .map(|item| item.parse().map_err(|_| Trouble::data(format!("'{item}' is no item's number"))))
        .collect::<Result<_, _>>()?;
    if items.is_empty() {
        return Err(Trouble::data("no item is ticked; tick those that are no books to record"));
    }
    let now = view.now();
    let run = view.ask(move |store| workflow::queue_drop(store, &items, now)).await?;
    lead(sent.get("back"), run)
}
