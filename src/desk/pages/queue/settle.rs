//! Taking the queue into the collection: what needs no answer at once, and a list of what is asked.

use axum::http::StatusCode;
use axum::response::IntoResponse;
use maud::{Markup, html};

use super::fields::Faults;
use super::sent::{Fault, Sent};
use super::words::{count, decided_in_words};
use super::{ask, bought, ways};
use crate::desk::frame::Place;
use crate::desk::trouble::{Answer, Trouble};
use crate::desk::view::{Fields, View, lead};
use crate::intake::ItemId;
use crate::resolve::{Answers, Question};
use crate::store::Store;
use crate::workflow::{self, Decided, ResolveReport, Select, WorkflowError, verdict_counts};

/// So many of what will be taken in are listed; all are counted.
const LISTED: usize = 100;

/// What can be taken in, and what is asked.
struct Ready {
    report: ResolveReport,
    hard: usize,
    first: Option<ItemId>,
}

/// What taking in came to.
enum Done {
    Taken { run: crate::intake::RunId, asked: usize },
    Again(Fault, StatusCode),
}

pub(super) async fn show(view: View, Fields(sent): Fields<Vec<(String, String)>>) -> Answer {
    page(&view, &Sent(sent), None).await
}

async fn page(view: &View, sent: &Sent, fault: Option<&Fault>) -> Answer {
    let ready = view.ask(ready).await?;
    view.page(Place::Queue, "Into the collection", body(view, &ready, sent, fault)).await
}

/// Takes in what the page showed, as far as it still needs no answer.
pub(super) async fn take_in(view: View, Fields(sent): Fields<Vec<(String, String)>>) -> Answer {
    let (sent, now) = (Sent(sent), view.now());
    let items: Vec<ItemId> = sent
        .get("items")
        .split(',')
        .map(|item| item.parse().map_err(|_| Trouble::data(format!("'{item}' is no item's number"))))
        .collect::<Result<_, _>>()?;
    let options = match bought::options(&sent, Select::Items(items.clone())) {
        Ok(options) => options,
        Err(fault) => return again(&view, &sent, &fault, StatusCode::UNPROCESSABLE_ENTITY).await,
    };
    let done = view
        .ask(move |store| {
            let report = workflow::resolve(store, &Answers::none(), &options, None, now)?;
            Ok::<_, WorkflowError>(match report.run {
                Some(run) => Done::Taken { run, asked: items.len() - report.decided.len().min(items.len()) },
                None => {
                    let problem = "what was shown was settled meanwhile, or asks something now; this is how it stands";
                    Done::Again(Fault::new("", problem), StatusCode::CONFLICT)
                }
            })
        })
        .await?;
    match done {
        Done::Taken { run, asked: 0 } => lead(&bought::lead_with("/queue/settle", &sent), Some(run)),
        Done::Taken { run, asked } => {
            let path = bought::lead_with("/queue/settle", &sent);
            lead(&format!("{path}{}left={asked}", if path.contains('?') { '&' } else { '?' }), Some(run))
        }
        Done::Again(fault, status) => again(&view, &sent, &fault, status).await,
    }
}

async fn again(view: &View, sent: &Sent, fault: &Fault, status: StatusCode) -> Answer {
    let page = page(view, sent, Some(fault)).await?;
    Ok((status, page).into_response())
}

fn ready(store: &Store) -> Result<Ready, WorkflowError> {
    let report = workflow::preview(store, &Answers::none(), Select::All)?;
    let hard = workflow::queue_hard(store)?;
    Ok(Ready { report, hard: hard.len(), first: hard.first().map(|(_, item)| *item) })
}

fn body(view: &View, ready: &Ready, sent: &Sent, fault: Option<&Fault>) -> Markup {
    let Ready { report, hard, first } = ready;
    let asked: Vec<_> = report.open.iter().filter(|question| ask::is_asked_here(question)).collect();
    let left: Option<usize> = sent.get("left").parse().ok();
    html! {
        (ways(*hard))
        (Faults(fault).told())
        @if let Some(left) = left.filter(|left| *left > 0) {
            p.trouble role="status" { (count(left, "item")) " of those shown stayed: settled meanwhile, or asking something now." }
        }
        section aria-labelledby="ready" {
            h2 #ready { "Needs no answer" }
            @if report.decided.is_empty() { p { "Nothing can be taken in without an answer." } }
            @else {
                p { (summary(report)) }
                (view.form("/queue/settle", html! {
                    input type="hidden" name="items" value=(super::words::joined(report.decided.iter().map(|decided| decided.item)));
                    (bought::fields(sent, Faults(fault)))
                    button { "Take " (count(report.decided.len(), "item")) " into the collection" }
                }))
                (preview(&report.decided))
            }
        }
        section aria-labelledby="asked" {
            h2 #asked { "Asks something" }
            @if asked.is_empty() { p { "Nothing is asked." } }
            @else {
                ul {
                    @for question in asked {
                        li { a href=(bought::lead_with(&ask::path(question), sent)) { (ask::headline(question)) } }
                    }
                }
            }
        }
        @if let Some(first) = first {
            section aria-labelledby="hard" {
                h2 #hard { "Waits for a look at its picture" }
                p { a href={ "/queue/" (first) } { (count(*hard, "item")) " to complete" } }
            }
        }
    }
}

fn summary(report: &ResolveReport) -> String {
    let dropped = report.decided.iter().filter(|decided| decided.dropped.is_some()).count();
    let taken = ResolveReport { unknown: Vec::new(), ..report.clone() };
    let counts =
        verdict_counts(&taken).iter().map(|(verdict, n)| format!("{n} {}", verdict.words())).collect::<Vec<_>>();
    let drops = if dropped > 0 { format!("; {dropped} of them dropped") } else { String::new() };
    format!("{}: {}{drops}", count(report.decided.len(), "item"), counts.join(", "))
}

fn preview(decided: &[Decided]) -> Markup {
    html! {
        div.wide tabindex="0" role="region" aria-label="What will be taken in" { table {
            caption {
                "What it will do"
                @if decided.len() > LISTED { ": the first " (LISTED) " of " (decided.len()) }
            }
            thead { tr { th.number scope="col" { "Item" } th scope="col" { "What it is" } } }
            tbody {
                @for decided in decided.iter().take(LISTED) {
                    tr {
                        td.number { a href={ "/queue/" (decided.item) } { (decided.item) } }
                        td { (decided_in_words(decided)) }
                    }
                }
            }
        } }
    }
}

/// The first question that is answered on a page of its own.
pub(super) fn first_asked(open: &[Question]) -> Option<&Question> {
    open.iter().find(|question| ask::is_asked_here(question))
}
