//! One book: all that is known of it, where it stands, what happened to it, and what may be changed about it.

use std::sync::Arc;

use axum::Router;
use axum::extract::multipart::{Multipart, MultipartError};
use axum::extract::{DefaultBodyLimit, Path};
use axum::http::header;
use axum::response::IntoResponse;
use axum::routing::{get, post};
use jiff::civil::Date;
use maud::{Markup, html};
use serde::Deserialize;
use tokio::time::timeout;

use crate::collection::{
    BAG_YEARS, BagMaterial, Board, CopyChange, CopyId, CopyRecord, Departure, Edit, Grade, Leaving, Money, SizeClass,
    bag_limit,
};
use crate::desk::frame::Place;
use crate::desk::guard::CHECK_FIELD;
use crate::desk::limits::{PATIENCE, PHOTO_BYTES};
use crate::desk::site::Site;
use crate::desk::trouble::{Answer, Trouble};
use crate::desk::view::{Fields, View, lead};
use crate::desk::words::{
    choice, day, day_field, departure_in_words, edited, field, given, in_query, issue_in_words, named,
};
use crate::picture::{Limits, keepsake};
use crate::report::{NO_APPRAISAL, OLD_BAGS};
use crate::store::{CopyEvent, Store};
use crate::workflow::{self, Bulk, Changed, FoundCopy, Selection, WasRead, WorkflowError};

pub(super) fn routes() -> Router<Arc<Site>> {
    Router::new()
        .route("/copy/{copy}", get(show))
        .route("/copy/{copy}/photo", get(photo).post(keep_photo).layer(DefaultBodyLimit::max(PHOTO_BYTES)))
        .route("/copy/{copy}/photo/forget", post(forget_photo))
        .route("/copy/{copy}/crop", get(crop))
        .route("/copy/{copy}/set", post(set))
        .route("/copy/{copy}/read", post(read))
        .route("/copy/{copy}/lend", post(lend))
        .route("/copy/{copy}/returned", post(returned))
        .route("/copy/{copy}/leave", post(leave))
}

const BAGS: [BagMaterial; 4] =
    [BagMaterial::Polypropylene, BagMaterial::Polyethylene, BagMaterial::Polyester, BagMaterial::Unknown];
const BOARDS: [Board; 3] = [Board::AcidFree, Board::Buffered, Board::Unknown];
const WAYS: [Leaving; 4] = [Leaving::Sold, Leaving::Given, Leaving::Traded, Leaving::Lost];

/// What is shown of a copy.
struct Shown {
    copy: CopyRecord,
    found: Option<FoundCopy>,
    crop: bool,
    history: Vec<CopyEvent>,
}

fn shown(store: &Store, id: CopyId) -> Result<Shown, WorkflowError> {
    Ok(Shown {
        copy: workflow::copy_show(store, id)?,
        found: workflow::find_copy(store, id)?,
        crop: workflow::copy_crop(store, id)?.is_some(),
        history: workflow::copy_history(store, id)?,
    })
}

async fn show(view: View, Path(id): Path<CopyId>) -> Answer {
    let shown = view.ask(move |store| shown(store, id)).await?;
    let copy = &shown.copy;
    let title = named(&copy.title, &issue_in_words(&copy.issue, &copy.cover, copy.printing));
    let held = copy.gone.is_none();
    let body = html! {
        p { "Copy " (copy.copy) " of " a href=(format!("/title/{}", copy.title.id)) { (copy.title.name) } }
        @if let Some(gone) = &copy.gone { p.doubt { "Owned no more: " (departure_in_words(gone)) } }
        section { h2 { "What is known" } (facts(copy, view.today())) }
        @if copy.photo || shown.crop { section { h2 { "Pictures" } (pictures(&view, &shown)) } }
        @if held {
            section { h2 { "Where it stands" } (place(&shown.found)) }
            section { h2 { "Read, lent, gone" } (moves(&view, copy)) }
            section { h2 { "Change what is known" } (change_form(&view, copy)) }
            section { h2 { "Photo" } (photo_form(&view, copy)) }
        }
        section { h2 { "What happened to it" } (history(&view, &shown.history)) }
    };
    view.page(Place::Collection, &title, body).await
}

fn text(value: Option<impl ToString>) -> String {
    value.map(|value| value.to_string()).unwrap_or_default()
}

fn facts(copy: &CopyRecord, today: Date) -> Markup {
    let of = |day: Option<Date>| day.map(|day| format!(" (of {day})")).unwrap_or_default();
    let bagged = |word: &str, thing: &str| if word == "unknown" { thing.to_owned() } else { format!("{word} {thing}") };
    let bought: Vec<_> = [copy.shop.clone(), copy.acquired.map(|on| on.to_string())].into_iter().flatten().collect();
    let kept: Vec<_> = [
        copy.bagging.bag.map(|bag| bagged(bag.word(), "bag")),
        copy.bagging.board.map(|board| bagged(board.word(), "board")),
        copy.bagging.bag_size.map(|size| size.to_string()),
        copy.bagging.bagged_on.map(|on| format!("since {on}")),
    ]
    .into_iter()
    .flatten()
    .collect();
    let rows = [
        ("Code", copy.code.map(|code| format!("{} {}", code.printed(), text(copy.add_on)))),
        ("Bought", (!bought.is_empty()).then(|| bought.join(", "))),
        ("Paid", copy.paid.map(|paid| paid.to_string())),
        ("Price on the cover", copy.price.cover_price.map(|price| price.to_string())),
        ("Asked instead", copy.price.asked.map(|price| price.to_string())),
        ("Taken off", copy.price.discount.map(|discount| discount.to_string())),
        ("Tax on top", copy.price.tax.map(|tax| tax.to_string())),
        ("Condition", copy.facts.condition.map(|grade| format!("{grade} ({})", grade.name()))),
        ("Defects", copy.facts.defects.clone()),
        ("Signed by", copy.facts.signed_by.clone()),
        ("Kept in", (!kept.is_empty()).then(|| kept.join(", "))),
        ("Value", copy.facts.value.map(|value| format!("{value}{}", of(copy.facts.valued_on)))),
        ("Lent", copy.lent.as_ref().map(|loan| format!("to {} since {}", loan.to, loan.since))),
    ];
    let read = match copy.read_on {
        Some(on) => format!("on {on}"),
        None if copy.read => "yes".to_owned(),
        None => "not yet".to_owned(),
    };
    let old = copy.bag_older_than(bag_limit(today, BAG_YEARS));
    html! {
        dl.facts {
            @for (what, text) in rows { @if let Some(text) = text { dt { (what) } dd { (text) } } }
            dt { "Read" } dd { (read) }
        }
        @if copy.facts.value.is_some() { p.dim { "The " (NO_APPRAISAL) "." } }
        @if old { p.doubt { "Its bag is old; " (OLD_BAGS) "." } }
    }
}

fn pictures(view: &View, shown: &Shown) -> Markup {
    let id = shown.copy.copy;
    html! {
        div.pictures {
            @if shown.copy.photo {
                figure { img src=(format!("/copy/{id}/photo")) alt="Photo of this copy"; figcaption { "Its photo"
                    (view.form(&format!("/copy/{id}/photo/forget"), html! { button.small { "Remove the photo" } })) } }
            }
            @if shown.crop {
                figure { img src=(format!("/copy/{id}/crop")) alt="The bar code on its cover"; figcaption { "The code that it came in by" } }
            }
        }
    }
}

fn place(found: &Option<FoundCopy>) -> Markup {
    let near =
        |copy: &crate::filing::NamedCopy| named(&copy.title, &issue_in_words(&copy.issue, &copy.cover, copy.printing));
    html! {
        @match found.as_ref().and_then(|found| found.stands.as_ref()) {
            None => p { "It stands in no box." },
            Some(spot) => {
                p { "In box " a href=(format!("/wall/box?label={}", in_query(&spot.label))) { (spot.label) } ", row " (spot.place.row) ", column " (spot.place.column)
                    @if !spot.note.is_empty() { " (" (spot.note) ")" }
                    ", behind the divider " strong { (spot.divider) } ", about " (spot.mm) " mm from the front." }
                p.dim {
                    @match &spot.after { Some(copy) => { "after " (near(copy)) } None => "the first of the box" }
                    @match &spot.before { Some(copy) => { ", before " (near(copy)) } None => ", the last of the box" }
                }
            }
        }
        @if let Some(label) = found.as_ref().and_then(|found| found.goes_to.as_ref()) {
            p { "The walk puts it into box " strong { (label) } ": " a href="/wall/walk" { "to the walk" } }
        }
    }
}

fn moves(view: &View, copy: &CopyRecord) -> Markup {
    let (id, today) = (copy.copy, Some(view.today()));
    html! {
        @if !copy.read {
            (view.form(&format!("/copy/{id}/read"), html! { div.row {
                (day_field("Read on", "on", today)) button data-key="r" { "It is read " kbd { "r" } }
            } }))
        }
        @if let Some(loan) = &copy.lent {
            (view.form(&format!("/copy/{id}/returned"), html! { div.row {
                (day_field(&format!("{} brought it back on", loan.to), "on", today)) button { "It is back" }
            } }))
        } @else {
            (view.form(&format!("/copy/{id}/lend"), html! { div.row {
                (field("Lend it to", "to", "", "")) (day_field("Since", "on", today)) button.plain { "It is lent" }
            } }))
        }
        details {
            summary { "It has left the collection" }
            (view.form(&format!("/copy/{id}/leave"), html! {
                (choice("How", "how", None, None, WAYS.map(Leaving::word)))
                (day_field("On", "on", today))
                (field("For how much", "price", "", "such as 12.00 USD"))
                (field("To whom", "to", "", ""))
                button { "It is gone" }
                p.dim { "It stays in the record and in what was spent." }
            }))
        }
    }
}

fn change_form(view: &View, copy: &CopyRecord) -> Markup {
    let money = |value: Option<Money>| text(value);
    view.form(
        &format!("/copy/{}/set", copy.copy),
        html! {
            div.columns {
                (field("Condition", "condition", &text(copy.facts.condition), "such as 9.4, or near mint"))
                (field("Signed by", "signed_by", &text(copy.facts.signed_by.as_ref()), ""))
                label { "Notes of defects" textarea name="defects" rows="2" { (text(copy.facts.defects.as_ref())) } }
                (choice("Bag", "bag", copy.bagging.bag.map(BagMaterial::word), Some("none"), BAGS.map(BagMaterial::word)))
                (choice("Backing board", "board", copy.bagging.board.map(Board::word), Some("none"), BOARDS.map(Board::word)))
                (choice("Size of both", "bag_size", copy.bagging.bag_size.map(SizeClass::word), Some("not known"), SizeClass::ALL.map(SizeClass::word)))
                (day_field("In its bag since", "bagged_on", copy.bagging.bagged_on))
                (field("Bought at", "shop", &text(copy.shop.as_ref()), ""))
                (day_field("Bought on", "acquired", copy.acquired))
                (field("Paid, all in all", "paid", &money(copy.paid), "such as 3.99 USD"))
                (field("Price on the cover", "cover_price", &money(copy.price.cover_price), ""))
                (field("Asked instead", "asked", &money(copy.price.asked), "as for a back issue"))
                (field("Taken off", "discount", &text(copy.price.discount), "such as 10 %"))
                (field("Tax on top", "tax", &money(copy.price.tax), ""))
                (field("Value", "value", &money(copy.facts.value), "what you hold it to be worth: no appraisal"))
            }
            button { "Keep these" }
        },
    )
}

fn photo_form(view: &View, copy: &CopyRecord) -> Markup {
    let action = format!("/copy/{}/photo?{CHECK_FIELD}={}", copy.copy, view.check());
    html! {
        form method="post" action=(action) enctype="multipart/form-data" {
            label { "A photo of it" input type="file" name="photo" accept="image/*" required; }
            button.plain { "Keep this photo" }
            p.dim { "A small copy is kept in the collection, without what the camera noted beside it." }
        }
    }
}

/// What a kind of record is called here.
fn record_words(kind: &str) -> &str {
    match kind {
        "copy" => "the copy itself",
        "item" => "its item in the queue",
        "copy_fact" => "condition and value",
        "copy_bag" => "bag and board",
        "copy_price" => "how its price came about",
        "copy_photo" => "its photo",
        "reading" => "the day it was read",
        "loan" => "a loan",
        "departure" => "how it left",
        "filed" => "its box",
        "walk_step" => "its place on the walk",
        other => other,
    }
}

fn history(view: &View, events: &[CopyEvent]) -> Markup {
    html! {
        @if events.is_empty() { p { "No run is recorded: it came with an export." } }
        @else {
            div.wide tabindex="0" role="region" aria-label="Runs that changed it" { table {
                caption { "Runs that made and changed it, latest first" }
                thead { tr { th.number scope="col" { "Run" } th scope="col" { "What" } th scope="col" { "Wrote" } th scope="col" { "Day and time" }
                    th scope="col" { "" span.unseen { "Take back" } } } }
                tbody { @for CopyEvent { run, touched } in events {
                    tr {
                        td.number { (run.id) }
                        td { (run.kind.word()) @if let Some(other) = run.undoes { " of run " (other) } }
                        td { (touched.iter().map(|kind| record_words(kind)).collect::<Vec<_>>().join(", ")) }
                        td { time datetime=(run.started) { (view.time(run.started)) } }
                        td { @if let Some(other) = run.undone_by { "undone by run " (other) } @else { (view.undo_form(run.id)) } }
                    }
                } }
            } }
        }
    }
}

async fn photo(view: View, Path(id): Path<CopyId>) -> Answer {
    picture(view.ask(move |store| workflow::copy_photo(store, id)).await?, "image/jpeg")
}

async fn crop(view: View, Path(id): Path<CopyId>) -> Answer {
    picture(view.ask(move |store| workflow::copy_crop(store, id)).await?, "image/png")
}

fn picture(bytes: Option<Vec<u8>>, kind: &'static str) -> Answer {
    let bytes = bytes.ok_or_else(|| Trouble::nothing_there("no such picture is kept of this copy"))?;
    Ok(([(header::CONTENT_TYPE, kind)], bytes).into_response())
}

fn this(id: CopyId) -> Selection {
    Selection { copies: vec![id], ..Selection::default() }
}

fn once(day: Date) -> Bulk {
    Bulk { dry_run: false, several: false, day }
}

fn back(id: CopyId, changed: &Changed) -> Answer {
    lead(&format!("/copy/{id}"), changed.run)
}

#[derive(Debug, Deserialize)]
struct Known {
    condition: String,
    defects: String,
    signed_by: String,
    bag: String,
    board: String,
    bag_size: String,
    bagged_on: String,
    shop: String,
    acquired: String,
    paid: String,
    cover_price: String,
    asked: String,
    discount: String,
    tax: String,
    value: String,
}

async fn set(view: View, Path(id): Path<CopyId>, Fields(asked): Fields<Known>) -> Answer {
    let (now, today) = (view.now(), view.today());
    let copy = view.ask(move |store| workflow::copy_show(store, id)).await?;
    let words = |known: &Option<String>, typed: &str| {
        let typed = typed.trim().replace("\r\n", "\n");
        edited(known.as_ref(), (!typed.is_empty()).then_some(typed))
    };
    let money =
        |field: &str, known: Option<Money>, typed: &str| Ok::<_, Trouble>(edited(known.as_ref(), given(field, typed)?));
    let (facts, bagging, price) = (&copy.facts, &copy.bagging, &copy.price);
    let change = CopyChange {
        acquired: edited(copy.acquired.as_ref(), day("bought on", &asked.acquired)?),
        shop: words(&copy.shop, &asked.shop),
        paid: money("paid", copy.paid, &asked.paid)?,
        condition: edited(facts.condition.as_ref(), given::<Grade>("condition", &asked.condition)?),
        defects: words(&facts.defects, &asked.defects),
        signed_by: words(&facts.signed_by, &asked.signed_by),
        value: money("value", facts.value, &asked.value)?,
        bag: edited(bagging.bag.as_ref(), given("bag", &asked.bag)?),
        board: edited(bagging.board.as_ref(), given("backing board", &asked.board)?),
        bag_size: edited(bagging.bag_size.as_ref(), given("size of both", &asked.bag_size)?),
        bagged_on: edited(bagging.bagged_on.as_ref(), day("in its bag since", &asked.bagged_on)?),
        cover_price: money("price on the cover", price.cover_price, &asked.cover_price)?,
        asked: money("asked instead", price.asked, &asked.asked)?,
        discount: edited(price.discount.as_ref(), given("taken off", &asked.discount)?),
        tax: money("tax on top", price.tax, &asked.tax)?,
    };
    let changed =
        view.ask(move |store| workflow::copy_set(store, &this(id), &change, &Edit::Keep, once(today), now)).await?;
    back(id, &changed)
}

#[derive(Debug, Deserialize)]
struct OnDay {
    on: String,
    #[serde(default)]
    to: String,
    #[serde(default)]
    how: String,
    #[serde(default)]
    price: String,
}

impl OnDay {
    fn day(&self, view: &View) -> Result<Date, Trouble> {
        Ok(day("the day", &self.on)?.unwrap_or_else(|| view.today()))
    }
}

async fn read(view: View, Path(id): Path<CopyId>, Fields(asked): Fields<OnDay>) -> Answer {
    let (now, on) = (view.now(), asked.day(&view)?);
    let (_, run) = view.ask(move |store| workflow::pile_read(store, &[WasRead::Copy(id)], on, now)).await?;
    lead(&format!("/copy/{id}"), run)
}

async fn lend(view: View, Path(id): Path<CopyId>, Fields(asked): Fields<OnDay>) -> Answer {
    let (now, on) = (view.now(), asked.day(&view)?);
    if asked.to.trim().is_empty() {
        return Err(Trouble::data("lend it to: say who has it"));
    }
    let changed = view.ask(move |store| workflow::copy_lend(store, &this(id), &asked.to, once(on), now)).await?;
    back(id, &changed)
}

async fn returned(view: View, Path(id): Path<CopyId>, Fields(asked): Fields<OnDay>) -> Answer {
    let (now, on) = (view.now(), asked.day(&view)?);
    let changed = view.ask(move |store| workflow::copy_returned(store, &this(id), once(on), now)).await?;
    back(id, &changed)
}

async fn leave(view: View, Path(id): Path<CopyId>, Fields(asked): Fields<OnDay>) -> Answer {
    let (now, on) = (view.now(), asked.day(&view)?);
    let how = given("how", &asked.how)?.ok_or_else(|| Trouble::data("how: say how it left"))?;
    let to = Some(asked.to.trim()).filter(|to| !to.is_empty()).map(str::to_owned);
    let gone = Departure { how, on, price: given("for how much", &asked.price)?, to };
    let changed = view.ask(move |store| workflow::copy_leave(store, &this(id), &gone, once(on), now)).await?;
    back(id, &changed)
}

async fn forget_photo(view: View, Path(id): Path<CopyId>) -> Answer {
    let (now, today) = (view.now(), view.today());
    let changed = view
        .ask(move |store| workflow::copy_set(store, &this(id), &CopyChange::default(), &Edit::Clear, once(today), now))
        .await?;
    back(id, &changed)
}

async fn keep_photo(view: View, Path(id): Path<CopyId>, mut form: Multipart) -> Answer {
    let (now, today) = (view.now(), view.today());
    let mut bytes = Vec::new();
    let unread = |error: MultipartError| Trouble::data(format!("photo: {}", error.body_text()));
    let slow = |_| Trouble::data("photo: it came too slowly; send it again");
    while let Some(mut field) = timeout(PATIENCE, form.next_field()).await.map_err(slow)?.map_err(unread)? {
        let is_photo = field.name() == Some("photo");
        while let Some(part) = timeout(PATIENCE, field.chunk()).await.map_err(slow)?.map_err(unread)? {
            if is_photo {
                bytes.extend_from_slice(&part);
            }
        }
    }
    if bytes.is_empty() {
        return Err(Trouble::data("photo: none was chosen"));
    }
    let changed = view
        .ask(move |store| {
            let jpeg = keepsake(&bytes, &Limits::default()).map_err(|error| Trouble::field("photo", &error))?;
            let photo = Edit::To(jpeg);
            Ok::<_, Trouble>(workflow::copy_set(store, &this(id), &CopyChange::default(), &photo, once(today), now)?)
        })
        .await?;
    back(id, &changed)
}
