//! One item: its picture, enlarged, beside the form that completes its code.

use axum::extract::Path;
use axum::http::{StatusCode, header};
use axum::response::IntoResponse;
use jiff::Timestamp;
use maud::{Markup, html};

use super::digits::{self, Told, Understood, understand};
use super::fields::{Faults, Text};
use super::sent::{Fault, Sent};
use super::words::{code_in_words, origin_in_words, picture_in_words, state_in_words};
use super::{part, ways};
use crate::code::{AddOnState, Certainty, Code, Gtin};
use crate::desk::frame::Place;
use crate::desk::trouble::{Answer, Trouble};
use crate::desk::view::{Fields, View, lead};
use crate::intake::{Item, ItemId, ItemState, RunId, needs_add_on};
use crate::store::{Store, StoreError};
use crate::workflow::{self, Need, QueueChange, WorkflowError};

/// What the page shows.
#[derive(Debug)]
struct Look {
    item: Item,
    /// The fields as typed or, before anything is, as read.
    code: String,
    add_on: String,
    told: Told,
    fault: Option<Fault>,
    /// The next item to complete by its picture, and how many there are.
    next: Option<ItemId>,
    hard: usize,
}

/// What a form did.
enum Done {
    Next { to: Option<ItemId>, run: Option<RunId> },
    Again(Box<Look>, StatusCode),
}

pub(super) async fn show(Path(id): Path<ItemId>, view: View) -> Answer {
    let look = view.ask(move |store| look(store, id, None, None)).await?;
    let body = body(&view, &look);
    view.page(Place::Queue, &title(&look.item), body).await
}

/// An item's picture.
pub(super) async fn crop(Path(id): Path<ItemId>, view: View) -> Answer {
    let png = view.ask(move |store| workflow::queue_crop(store, id)).await?;
    let png = png.ok_or_else(|| Trouble::nothing_there(format!("item {id} has no picture")))?;
    Ok(([(header::CONTENT_TYPE, "image/png")], png).into_response())
}

/// What the digits in the fields are, while they are typed.
pub(super) async fn check(Path(id): Path<ItemId>, view: View, Fields(sent): Fields<Vec<(String, String)>>) -> Answer {
    let sent = Sent(sent);
    let told = view.ask(move |store| digits::tell(store, id, sent.get("code"), sent.get("add_on"))).await?;
    part(digits::told(&told, false))
}

/// Saves, drops, or only looks at what was typed.
pub(super) async fn change(Path(id): Path<ItemId>, view: View, Fields(sent): Fields<Vec<(String, String)>>) -> Answer {
    let (sent, now) = (Sent(sent), view.now());
    match view.ask(move |store| changed(store, id, &sent, now)).await? {
        Done::Next { to: Some(item), run } => lead(&format!("/queue/{item}"), run),
        Done::Next { to: None, run } => lead("/queue/settle", run),
        Done::Again(look, status) => {
            let page = view.page(Place::Queue, &title(&look.item), body(&view, &look)).await?;
            Ok((status, page).into_response())
        }
    }
}

fn changed(store: &Store, id: ItemId, sent: &Sent, now: Timestamp) -> Result<Done, WorkflowError> {
    let again = |sent: &Sent, fault: Option<Fault>, status| {
        look(store, id, Some(sent), fault).map(|look| Done::Again(Box::new(look), status))
    };
    let mut sent = sent.clone();
    if let Some(proposal) = sent.text("take") {
        set(&mut sent, "code", proposal);
        return again(&sent, None, StatusCode::OK);
    }
    let item = store.item(id)?;
    let need = need(store, id)?;
    let written = match sent.get("do") {
        "check" => return again(&sent, None, StatusCode::OK),
        "drop" => workflow::queue_drop(store, &[id], now),
        action => {
            let code = match understand(sent.get("code"), sent.get("add_on")) {
                Ok(code) => code,
                Err(fault) => return again(&sent, Some(fault), StatusCode::UNPROCESSABLE_ENTITY),
            };
            // What had to be repaired is written out in full, and saved when it is sent so.
            if let Some(repair) = code.repair {
                set(&mut sent, "code", code.gtin.printed());
                let problem =
                    format!("{repair}; what stands there now is how it is understood: save it again if it fits");
                return again(&sent, Some(Fault::new("code", problem)), StatusCode::UNPROCESSABLE_ENTITY);
            }
            match add_on(&item, &code, action) {
                Ok(add_on) => {
                    let seen = Some(seen(&sent));
                    let change = QueueChange { gtin: Some(code.gtin), add_on, note: None, seen };
                    workflow::queue_set(store, id, &change, now).map(|(_, run)| run)
                }
                Err(fault) => return again(&sent, Some(fault), StatusCode::UNPROCESSABLE_ENTITY),
            }
        }
    };
    match written {
        Ok(run) => Ok(Done::Next { to: next(store, id, need)?.0, run }),
        // Another program was there first. What was typed stays in the fields.
        Err(WorkflowError::ChangedMeanwhile { .. } | WorkflowError::Store(StoreError::Step { .. })) => {
            let now = store.item(id)?;
            let problem = if now.state.is_open() {
                let code = now.code.map_or_else(|| "no code".to_owned(), code_in_words);
                format!("the item was changed meanwhile, it is {code} now; save again to replace that")
            } else {
                format!("the item was settled meanwhile: {}", state_in_words(now.state))
            };
            again(&sent, Some(Fault::new("", problem)), StatusCode::CONFLICT)
        }
        Err(error) => Err(error),
    }
}

/// What is said about the add-on: `None` leaves what was seen.
fn add_on(item: &Item, code: &Understood, action: &str) -> Result<Option<AddOnState>, Fault> {
    let stored = item.code.filter(|stored| stored.gtin == code.gtin);
    match (code.add_on, action, stored) {
        (None, "absent", _) => Ok(Some(AddOnState::Absent)),
        (Some(add_on), "absent", _) => {
            Err(Fault::new("add_on", format!("{add_on}, but it is said that none is printed")))
        }
        (Some(add_on), ..) => Ok(Some(AddOnState::Read(add_on))),
        // An add-on that was taken out of its field is not what was read there.
        (None, _, Some(Code { add_on: AddOnState::Read(_), .. })) => Ok(Some(AddOnState::Unread)),
        (None, _, Some(Code { add_on: AddOnState::Unread, .. }))
            if item.certainty == Certainty::Sure && needs_add_on(code.gtin) =>
        {
            Err(Fault::new("add_on", "type the digits beside the bars; if there are none, say that none are printed"))
        }
        _ => Ok(None),
    }
}

/// The code that the page showed when the form was filled in.
fn seen(sent: &Sent) -> Option<Code> {
    let (gtin, add_on) = sent.get("seen").split_once('+')?;
    let add_on = match add_on {
        "absent" => AddOnState::Absent,
        "unread" => AddOnState::Unread,
        digits => AddOnState::Read(digits.parse().ok()?),
    };
    Some(Code { gtin: gtin.parse().ok()?, add_on })
}

fn shown(code: Option<Code>) -> String {
    code.map_or_else(String::new, |Code { gtin, add_on }| {
        let add_on = add_on.read().map_or_else(|| add_on.word().to_owned(), |digits| digits.to_string());
        format!("{gtin}+{add_on}")
    })
}

fn set(sent: &mut Sent, name: &str, value: String) {
    sent.0.retain(|(field, _)| field != name);
    sent.0.push((name.to_owned(), value));
}

/// What the item needs by its picture, before anything is changed.
fn need(store: &Store, id: ItemId) -> Result<Need, WorkflowError> {
    let hard = workflow::queue_hard(store)?;
    Ok(hard.into_iter().find(|(_, item)| *item == id).map_or(Need::Code, |(need, _)| need))
}

/// The hard item behind this one on the sheet, or the first one; and how many there are.
fn next(store: &Store, id: ItemId, need: Need) -> Result<(Option<ItemId>, usize), WorkflowError> {
    let hard = workflow::queue_hard(store)?;
    let others = || hard.iter().filter(|(_, item)| *item != id);
    let behind = others().find(|place| **place > (need, id)).or_else(|| others().next());
    Ok((behind.map(|(_, item)| *item), hard.len()))
}

fn look(store: &Store, id: ItemId, sent: Option<&Sent>, fault: Option<Fault>) -> Result<Look, WorkflowError> {
    let item = workflow::queue_show(store, id)?;
    let read = |code: Code| code.add_on.read().map(|add_on| add_on.to_string());
    let (code, add_on) = match sent {
        Some(sent) => (sent.get("code").to_owned(), sent.get("add_on").to_owned()),
        None => (
            item.code.map(|code| Gtin::printed(code.gtin)).unwrap_or_default(),
            item.code.and_then(read).unwrap_or_default(),
        ),
    };
    let told = digits::tell(store, id, &code, &add_on)?;
    let (next, hard) = next(store, id, need(store, id)?)?;
    Ok(Look { item, code, add_on, told, fault, next, hard })
}

fn title(item: &Item) -> String {
    match (item.state, item.code, item.certainty) {
        (ItemState::Accepted | ItemState::Dropped, ..) => format!("Item {} is settled", item.id),
        (_, None, _) => format!("Item {}: which code does the picture show?", item.id),
        (_, Some(_), Certainty::Confirm) => format!("Item {}: is this its code?", item.id),
        (ItemState::Incomplete, ..) => format!("Item {}: which digits stand beside the bars?", item.id),
        _ => format!("Item {}", item.id),
    }
}

fn body(view: &View, look: &Look) -> Markup {
    let Look { item, fault, .. } = look;
    html! {
        (ways(look.hard))
        @if let Some(fault) = fault { p.trouble role="alert" { "Nothing was changed: " (fault.problem) } }
        @if item.state.is_open() {
            div.beside {
                (picture(item))
                (form(view, look))
            }
        } @else {
            p { "It waits no more: " (state_in_words(item.state)) "." }
            @if !look.code.is_empty() || !look.add_on.is_empty() {
                p { "Its digits here: " strong { (look.code) " " (look.add_on) } }
            }
            (picture(item))
            div { (digits::told(&look.told, false)) }
            p { "What settled it can be taken back: " a href="/safety" { "what was done" } "." }
        }
        p.row {
            @if let Some(next) = look.next {
                a.button.plain href={ "/queue/" (next) } data-key="n" { "Next one to complete" } span { kbd { "n" } }
            } @else {
                a.button.plain href="/queue/settle" data-key="n" { "On to taking in" } span { kbd { "n" } }
            }
        }
    }
}

fn picture(item: &Item) -> Markup {
    html! {
        figure.crop {
            @if item.has_crop {
                a href={ "/queue/" (item.id) "/crop.png" } {
                    img src={ "/queue/" (item.id) "/crop.png" } alt=(picture_in_words(item));
                    span.unseen { " by itself" }
                }
            } @else { p.no-crop { "No picture is kept of it." } }
            figcaption.dim {
                (origin_in_words(item))
                @if !item.seen_again.is_empty() { ", seen again in " (super::words::listed(item.seen_again.iter().map(|repeat| {
                    let name = repeat.path.as_ref().and_then(|path| path.file_name());
                    name.map_or_else(|| repeat.seen_at.to_string(), |name| name.to_string_lossy().into_owned())
                }))) }
                @if !item.note.is_empty() { ": " (item.note) }
            }
        }
    }
}

fn form(view: &View, look: &Look) -> Markup {
    let Look { item, fault, .. } = look;
    let faults = Faults(fault.as_ref());
    let has_code = item.code.is_some_and(|_| item.certainty == Certainty::Sure);
    let path = format!("/queue/{}", item.id);
    let absent = item.code.is_some_and(|code| code.add_on == AddOnState::Absent);
    html! {
        div data-form-live={ (path) "/check" } {
            (view.form(&path, html! {
                input type="hidden" name="seen" value=(shown(item.code));
                (faults.text(Text {
                    name: "code", label: "Digits under the bars", value: &look.code, keys: "numeric",
                    hint: "12 under a UPC-A, the small ones before and behind too", first: !has_code, live: true,
                    ..Text::default()
                }))
                (faults.text(Text {
                    name: "add_on", label: "Digits beside them, the add-on", value: &look.add_on, keys: "numeric",
                    hint: if absent { "none are printed, as is said of it; five or two if there are" } else { "five, or two" },
                    first: has_code, live: true, ..Text::default()
                }))
                div.row {
                    button name="do" value="save" { "Save, and on" }
                    button.plain name="do" value="absent" { "No add-on printed" }
                    button.plain name="do" value="check" { "Check" }
                    button.plain name="do" value="drop" data-key="d" { "Drop it: no book" }
                    span { kbd { "d" } }
                }
                div.told role="status" data-live-into { (digits::told(&look.told, fault.is_some())) }
            }))
        }
    }
}
