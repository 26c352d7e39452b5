//! The collection: found as one types, and each title with its run, its copies and its codes.

use std::sync::Arc;

use axum::Router;
use axum::extract::{Path, Query};
use axum::response::{Html, IntoResponse};
use axum::routing::{get, post};
use maud::{Markup, html};
use serde::Deserialize;

use crate::code::{Typed, parse_typed};
use crate::collection::{CopyRecord, SizeClass, Title, TitleChange, TitleId};
use crate::desk::frame::Place;
use crate::desk::site::Site;
use crate::desk::trouble::{Answer, Trouble};
use crate::desk::view::{Fields, View, lead};
use crate::desk::words::{
    choice, count, day, day_field, departure_in_words, edited, field, given, in_query, issue_in_words, named, number,
    pager,
};
use crate::meaning::Layout;
use crate::store::Store;
use crate::workflow::words::{Tone, asked_in_words, verdict_in_words};
use crate::workflow::{self, Gaps, Have, HaveAnswer, HaveTitle, Part, TitleDetail, WorkflowError};

/// So many titles are told at once.
const TITLES: usize = 20;

/// So many copies of a title.
const COPIES: usize = 200;

pub(super) fn routes() -> Router<Arc<Site>> {
    Router::new()
        .route("/collection", get(show))
        .route("/collection/found", get(part))
        .route("/title/{title}", get(title))
        .route("/title/{title}/set", post(set))
}

#[derive(Debug, Default, Deserialize)]
struct Asked {
    #[serde(default)]
    q: String,
    #[serde(default)]
    skip: usize,
    /// While one types, only what is cheap is told.
    #[serde(default)]
    quick: bool,
}

/// What a search gives.
enum Found {
    /// Titles by name, where nothing was typed; and whether there are further ones.
    All(Vec<TitleDetail>, bool),
    /// Do I own this? And how many titles fit.
    Answer(HaveAnswer, usize),
    /// Why it can't be told.
    Unclear(Vec<String>),
}

fn found(store: &Store, asked: &Asked) -> Result<Found, WorkflowError> {
    if asked.q.trim().is_empty() {
        let skip = u32::try_from(asked.skip).unwrap_or(u32::MAX);
        let mut titles = workflow::title_list(store, "", skip, TITLES as u32 + 1)?;
        let more = titles.len() > TITLES;
        titles.truncate(TITLES);
        return Ok(Found::All(titles, more));
    }
    let part = Part { skip: asked.skip, most: TITLES, counted: !asked.quick };
    match workflow::have_part(store, &asked.q, part) {
        Ok((answer, all)) => Ok(Found::Answer(answer, all)),
        Err(error @ (WorkflowError::NoCode { .. } | WorkflowError::NothingAsked(_))) => {
            Ok(Found::Unclear(workflow::messages(&error)))
        }
        Err(error) => Err(error),
    }
}

async fn show(view: View, Query(asked): Query<Asked>) -> Answer {
    let typed = asked.q.clone();
    let (asked, found) = view.ask(move |store| found(store, &asked).map(|found| (asked, found))).await?;
    let body = html! {
        form role="search" method="get" action="/collection" data-found="/collection/found" {
            label { "A code, a title and an issue, or words of a title " kbd { "/" }
                input type="search" name="q" value=(typed) autocomplete="off" data-key="/" aria-describedby="ask"; }
            button.plain { "Search" }
        }
        p.dim #ask { "Such as 61414100104101211, or tide wardens 12, or a few letters of a title." }
        p.unseen #told role="status" {}
        div #found { (results(&asked, &found)) }
    };
    view.page(Place::Collection, "The collection", body).await
}

/// The results alone, for a page that shows them as one types.
async fn part(view: View, Query(asked): Query<Asked>) -> Answer {
    let page = view.ask(move |store| found(store, &asked).map(|found| results(&asked, &found))).await?;
    Ok(Html(page.into_string()).into_response())
}

/// `data-told` is what a screen reader says of them.
fn results(asked: &Asked, found: &Found) -> Markup {
    let address = |skip: usize| format!("/collection?q={}&skip={skip}", in_query(&asked.q));
    match found {
        Found::Unclear(messages) => html! {
            div data-told=(messages.join(": ")) { @for message in messages { p.doubt { (message) } } }
        },
        Found::All(titles, more) => html! {
            div data-told="All titles" {
                @if titles.is_empty() { p { "No title is known yet. " a href="/intake" { "Read some books in." } } }
                @else {
                    (title_table("All titles, by name", titles.iter().map(|t| (&t.title, t.copies > 0, Some((t.issues, t.copies))))))
                    nav.pager aria-label="Parts of the list of titles" {
                        @if asked.skip > 0 { a href=(address(asked.skip.saturating_sub(TITLES))) rel="prev" { "Before" } }
                        @if *more { a href=(address(asked.skip + TITLES)) rel="next" { "Further" } }
                    }
                }
            }
        },
        Found::Answer(answer, all) => {
            let whole = !answer.titles.is_empty() && answer.titles.iter().all(|title| title.issue.is_none());
            html! {
                div data-told=(told(answer, *all)) {
                    @if answer.titles.is_empty() { p { strong { "not owned" } ": no title fits '" (answer.query) "'" } }
                    @else if whole && answer.code.is_none() {
                        (title_table("Titles that fit, owned ones first", answer.titles.iter().map(|t| {
                            (&t.title, t.answer == Have::Owned, t.issues.map(|issues| (issues, t.copies)))
                        })))
                    } @else { ul.answers { @for title in &answer.titles { li { (answered(title)) } } } }
                    @if answer.more_titles { p.dim { "Further titles fit: type more of the name." } }
                    @if !answer.waiting.is_empty() {
                        p { "Waiting in the queue: "
                            @for (at, item) in answer.waiting.iter().enumerate() {
                                @if at > 0 { ", " } a href=(format!("/queue/{item}")) { "item " (item) }
                            }
                        }
                    }
                    (pager("titles", asked.skip, answer.titles.len(), *all, TITLES, address))
                }
            }
        }
    }
}

fn told(answer: &HaveAnswer, all: usize) -> String {
    match answer.titles.as_slice() {
        [] => "not owned: no title fits".to_owned(),
        [one] => format!("{}: {}", verdict_in_words(one).0, asked_in_words(one)),
        _ => count(all, "title"),
    }
}

/// The answer for a title.
fn answered(known: &HaveTitle) -> Markup {
    let (word, tone) = verdict_in_words(known);
    let class = match tone {
        Tone::Good => "good",
        Tone::Doubt => "doubt",
        Tone::Bad => "bad",
        Tone::Strong => "",
    };
    html! {
        p { strong class=(class) { (word) } ": " a href=(format!("/title/{}", known.title.id)) { (asked_in_words(known)) }
            @if let Some(issues) = known.issues { ": " (count(issues, "issue")) ", " (count(known.copies, "copy")) } }
        @if let Some(want) = &known.wanted {
            p.detail { span.good { "wanted" } @if let Some(up_to) = want.up_to { ", up to " (up_to) }
                @if !want.note.is_empty() { ": " (want.note) } }
        }
        @for owned in &known.owned {
            p.detail { "cover " (owned.cover) ", printing " (owned.printing) ": " (count(owned.copies, "copy")) }
        }
        @for gone in &known.gone {
            p.detail { a href=(format!("/copy/{}", gone.copy)) { "cover " (gone.cover) ", printing " (gone.printing) }
                ": " (departure_in_words(&gone.gone)) }
        }
    }
}

fn title_table<'a>(caption: &str, titles: impl Iterator<Item = (&'a Title, bool, Option<(u32, u32)>)>) -> Markup {
    html! {
        div.wide tabindex="0" role="region" aria-label=(caption) { table {
            caption { (caption) }
            thead { tr { th scope="col" { "Title" } th scope="col" { "Owned" } th.number scope="col" { "Issues" } th.number scope="col" { "Copies" } } }
            tbody { @for (title, owned, counts) in titles {
                tr { td { a href=(format!("/title/{}", title.id)) { (named(title, "")) } }
                    td { @if owned { span.good { "yes" } } @else { "no" } }
                    @if let Some((issues, copies)) = counts { td.number { (issues) } td.number { (copies) } }
                    @else { td.number { "…" } td.number { "…" } } }
            } }
        } }
    }
}

async fn title(view: View, Path(id): Path<TitleId>, Query(asked): Query<Asked>) -> Answer {
    let skip = asked.skip;
    let (detail, gaps, (copies, all)) = view
        .ask(move |store| {
            let detail = workflow::title_show(store, id)?;
            let gaps = workflow::title_gaps(store, id)?;
            Ok::<_, WorkflowError>((detail, gaps, workflow::title_copies(store, id, skip, COPIES)?))
        })
        .await?;
    let body = html! {
        p { (count(detail.issues, "issue")) ", " (count(detail.copies, "copy")) " owned" }
        section { h2 { "The run" } (run(&gaps)) }
        section { h2 { "Copies" } (copy_table(&copies))
            (pager("copies", skip, copies.len(), all, COPIES, |skip| format!("/title/{id}?skip={skip}"))) }
        section { h2 { "Codes" } (codes(&detail)) }
        section { h2 { "Correct the title" } (correct(&view, &detail)) }
    };
    view.page(Place::Collection, &named(&detail.title, ""), body).await
}

fn run(gaps: &Gaps) -> Markup {
    let missing =
        gaps.missing.iter().map(|(from, to)| if from == to { from.to_string() } else { format!("{from}–{to}") });
    let missing = missing.collect::<Vec<_>>().join(", ");
    html! {
        @match gaps.first.zip(gaps.last) {
            None => p { "No numbered issue is owned." },
            Some((first, last)) if gaps.missing.is_empty() => p { span.good { "Nothing is missing" } " from " (first) " to " (last) "." },
            Some((first, last)) => p { (count(gaps.missing_issues, "issue")) " missing from " (first) " to " (last) ": " strong { (missing) } },
        }
        @if !gaps.known_missing.is_empty() {
            p { "Known and not owned: " (gaps.known_missing.iter().map(|issue| if issue.is_empty() { "the whole book" } else { issue }).collect::<Vec<_>>().join(", ")) }
        }
    }
}

fn copy_table(copies: &[CopyRecord]) -> Markup {
    html! {
        @if copies.is_empty() { p { "None was ever owned." } } @else {
            div.wide tabindex="0" role="region" aria-label="Copies" { table {
                caption { "In order of issues, those that left as well" }
                thead { tr {
                    th scope="col" { "Issue" } th scope="col" { "Cover, printing" } th scope="col" { "Copy" }
                    th scope="col" { "Condition" } th.number scope="col" { "Paid" } th scope="col" { "Read" } th scope="col" { "Where" }
                } }
                tbody { @for copy in copies {
                    tr {
                        th scope="row" { @if copy.issue.is_empty() { "the book" } @else { (copy.issue) } }
                        td { (copy.cover) ", " (copy.printing) }
                        td { a href=(format!("/copy/{}", copy.copy)) { (copy.copy) span.unseen { ": " (copy.title.name) (issue_in_words(&copy.issue, &copy.cover, copy.printing)) } } }
                        td { @if let Some(grade) = copy.facts.condition { (grade) } }
                        td.number { @if let Some(paid) = copy.paid { (paid) } }
                        td { @match copy.read_on { Some(on) => (on), None if copy.read => "yes", None => "not yet" } }
                        td { @if let Some(gone) = &copy.gone { (departure_in_words(gone)) }
                            @else if let Some(loan) = &copy.lent { "lent to " (loan.to) } @else { "here" } }
                    }
                } }
            } }
        }
    }
}

fn codes(detail: &TitleDetail) -> Markup {
    html! {
        @if detail.codes.is_empty() { p { "No code stands for it." } }
        ul { @for code in &detail.codes {
            li { (code.printed())
                @if let Some(known) = detail.codes_since.iter().find(|known| known.code == *code) { ", since " (known.since) } }
        } }
        @if let Some(layout) = detail.title.layout {
            p { "Its add-ons are laid out as " (layout)
                @if detail.title.issue_base > 0 { "; their issues count from " (detail.title.issue_base) } }
        }
    }
}

fn correct(view: &View, detail: &TitleDetail) -> Markup {
    let TitleDetail { title, facts, .. } = detail;
    let text = |value: Option<String>| value.unwrap_or_default();
    let layout = title.layout.map(|layout| layout.to_string());
    view.form(
        &format!("/title/{}/set", title.id),
        html! {
            (field("Name", "name", &title.name, ""))
            (field("Publisher", "publisher", &text(title.publisher.clone()), ""))
            (field("Volume", "volume", &title.volume, ""))
            (field("Year in which it began", "year", &text(title.year.map(|y| y.to_string())), ""))
            (choice("Layout of its five-digit add-ons", "layout", layout.as_deref(), Some("not known"), ["IIICP", "IICCP"]))
            (field("Added to the digits' issue number", "issue_base", &title.issue_base.to_string(), ""))
            (field("Family or character that it is filed under", "family", &text(facts.family.clone()), ""))
            (choice("Size of its issues", "size", facts.size.map(SizeClass::word), Some("not known"), SizeClass::ALL.map(SizeClass::word)))
            (field("Pages of its issues, cover not counted", "pages", &text(facts.pages.map(|p| p.to_string())), ""))
            (field("A further code that stands for it", "code", "", "12 or 13 digits"))
            (day_field("The day since which that code does", "since", None))
            p.dim { "Issues that are recorded keep their numbers: a changed layout counts for books that come in later." }
            button { "Correct it" }
        },
    )
}

#[derive(Debug, Deserialize)]
struct Correction {
    name: String,
    publisher: String,
    volume: String,
    year: String,
    layout: String,
    issue_base: String,
    family: String,
    size: String,
    pages: String,
    #[serde(default)]
    code: String,
    #[serde(default)]
    since: String,
    #[serde(default)]
    back: String,
}

async fn set(view: View, Path(id): Path<TitleId>, Fields(asked): Fields<Correction>) -> Answer {
    let now = view.now();
    let known = view.ask(move |store| workflow::title_show(store, id)).await?;
    let (title, facts) = (&known.title, &known.facts);
    let changed = |known: &str, typed: &str| (known.trim() != typed.trim()).then(|| typed.trim().to_owned());
    let code = match asked.code.trim() {
        "" => None,
        text => match parse_typed(text) {
            Ok(Typed::Code { gtin, add_on: None, .. }) => Some(gtin),
            Ok(_) => return Err(Trouble::data(format!("code: '{text}' is more or less than a main code"))),
            Err(error) => return Err(Trouble::data(format!("code: '{text}': {error}"))),
        },
    };
    let family = Some(asked.family.trim()).filter(|family| !family.is_empty()).map(str::to_owned);
    let pages: Option<u32> = number("pages", &asked.pages)?;
    if pages == Some(0) {
        return Err(Trouble::data("pages: an issue has at least one; leave it empty if it is not known"));
    }
    let layout: Option<Layout> = given("layout", &asked.layout)?;
    let year: Option<i16> = number("year", &asked.year)?;
    let issue_base: Option<u32> = number("added to the digits' issue number", &asked.issue_base)?;
    let change = TitleChange {
        publisher: changed(title.publisher.as_deref().unwrap_or_default(), &asked.publisher),
        name: changed(&title.name, &asked.name),
        volume: changed(&title.volume, &asked.volume),
        year: edited(title.year.as_ref(), year),
        layout: edited(title.layout.as_ref(), layout),
        issue_base: issue_base.filter(|base| *base != title.issue_base),
        code,
        since: day("since", &asked.since)?,
        family: edited(facts.family.as_ref(), family),
        size: edited(facts.size.as_ref(), given("size", &asked.size)?),
        pages: edited(facts.pages.as_ref(), pages),
    };
    if change == TitleChange::default() {
        return lead(&asked.back, None);
    }
    let (_, run) = view.ask(move |store| workflow::title_set(store, id, &change, now)).await?;
    lead(&asked.back, run)
}
