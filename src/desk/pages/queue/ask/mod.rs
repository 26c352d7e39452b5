//! One question, with a form for its answer: what only a person can know, settled for all items that it is about.

mod form;
mod reply;

use axum::extract::Path;
use axum::http::StatusCode;
use axum::response::IntoResponse;
use jiff::Timestamp;
use maud::{Markup, html};

pub(super) use form::{example, headline};

use super::fields::Faults;
use super::sent::{Fault, Sent};
use super::words::{count, listed, picture_in_words};
use super::{bought, settle, ways};
use crate::desk::frame::Place;
use crate::desk::trouble::Answer;
use crate::desk::view::{Fields, View, lead};
use crate::intake::{ItemId, RunId};
use crate::resolve::{Answers, Question};
use crate::store::Store;
use crate::workflow::{self, ResolveOptions, Select, WorkflowError};

/// So many of a question's pictures are shown.
const PICTURES: usize = 12;

/// Whether a question is answered here: codes and add-ons are completed beside their pictures.
pub(super) fn is_asked_here(question: &Question) -> bool {
    !matches!(question, Question::Code(_) | Question::AddOn(_))
}

/// Where a question is asked.
pub(super) fn path(question: &Question) -> String {
    let item = question.items().first().map_or(0, |item| item.number());
    format!("/queue/ask/{}/{item}", question.ask())
}

/// What a page shows.
struct Asked {
    question: Question,
    /// Answers to what was asked of the same items before, which nothing but this form keeps.
    given: Vec<Question>,
    /// The run that they made, if they wrote anything.
    run: Option<RunId>,
    /// The first of its items that have a picture, each with what it shows.
    pictures: Vec<(ItemId, String)>,
}

impl Asked {
    fn new(store: &Store, question: Question, given: Vec<Question>, run: Option<RunId>) -> Result<Self, WorkflowError> {
        let first = question.items().iter().take(PICTURES).map(|item| workflow::queue_show(store, *item));
        let items = first.collect::<Result<Vec<_>, _>>()?;
        let shown = items.iter().filter(|item| item.has_crop);
        let pictures = shown.map(|item| (item.id, picture_in_words(item))).collect();
        Ok(Self { question, given, run, pictures })
    }
}

/// What an answer came to.
enum Done {
    /// All that was asked here is settled; the next question, if there is one.
    Settled { run: Option<RunId>, next: Option<String> },
    /// The form again, with what is wrong.
    Again(Box<Asked>, Fault, StatusCode),
    /// Something more is asked of the same items.
    Further(Box<Asked>),
    /// The answer is lost as long as the add-on is not known.
    Incomplete(ItemId),
    /// Somebody else answered it.
    Gone,
}

pub(super) async fn show(
    Path((ask, item)): Path<(String, ItemId)>,
    view: View,
    Fields(sent): Fields<Vec<(String, String)>>,
) -> Answer {
    let (sent, wanted) = (Sent(sent), ask.clone());
    let asked = view
        .ask(move |store| {
            let question = find(&open(store, &Answers::none())?, &wanted, item);
            question.map(|question| Asked::new(store, question, Vec::new(), None)).transpose()
        })
        .await?;
    match asked {
        Some(asked) => view.page(Place::Queue, &headline(&asked.question), body(&view, &asked, &sent, None)).await,
        None => gone(&view, &ask, item, None).await,
    }
}

pub(super) async fn answer(
    Path((ask, item)): Path<(String, ItemId)>,
    view: View,
    Fields(sent): Fields<Vec<(String, String)>>,
) -> Answer {
    let (sent, now) = (Sent(sent), view.now());
    let (wanted, form) = (ask.clone(), sent.clone());
    match view.ask(move |store| settled(store, &wanted, item, &form, now)).await? {
        Done::Settled { run, next } => lead(&bought::lead_with(next.as_deref().unwrap_or("/queue/settle"), &sent), run),
        Done::Again(asked, fault, status) => {
            let body = body(&view, &asked, &sent, Some(&fault));
            Ok((status, view.page(Place::Queue, &headline(&asked.question), body).await?).into_response())
        }
        Done::Further(asked) => {
            let body = body(&view, &asked, &bought::only(&sent), None);
            view.page(Place::Queue, &headline(&asked.question), body).await
        }
        Done::Incomplete(item) => {
            let body = html! {
                p.trouble role="alert" {
                    "The answer can't be kept yet: the add-on of item " (item) " is not known. Complete it, then answer again."
                }
                p { a.button href={ "/queue/" (item) } { "Complete item " (item) } }
            };
            Ok((StatusCode::CONFLICT, view.page(Place::Queue, "First its add-on", body).await?).into_response())
        }
        Done::Gone => gone(&view, &ask, item, Some(&sent)).await,
    }
}

async fn gone(view: &View, ask: &str, item: ItemId, sent: Option<&Sent>) -> Answer {
    let typed = sent.map(|sent| reply::typed(ask, sent)).unwrap_or_default();
    let body = html! {
        p.trouble role="alert" {
            "Item " (item) " does not ask this any more: it was answered or settled meanwhile, here or by another program."
            @if sent.is_some() { " Nothing was changed by this answer." }
        }
        @if !typed.is_empty() {
            p { "What was typed:" }
            dl.stations { @for (name, value) in &typed { dt { (name) } dd { (value) } } }
        }
        p.row {
            a.button href="/queue/settle" { "What is still asked" }
            a.button.plain href={ "/queue/" (item) } { "Item " (item) }
        }
    };
    let status = if sent.is_some() { StatusCode::CONFLICT } else { StatusCode::NOT_FOUND };
    Ok((status, view.page(Place::Queue, "Answered already", body).await?).into_response())
}

fn open(store: &Store, given: &Answers) -> Result<Vec<Question>, WorkflowError> {
    Ok(workflow::preview(store, given, Select::All)?.open)
}

fn find(open: &[Question], ask: &str, item: ItemId) -> Option<Question> {
    let asked = open.iter().filter(|question| is_asked_here(question));
    asked.filter(|question| question.ask() == ask).find(|question| question.items().contains(&item)).cloned()
}

/// A question as its form carries it, to know whether it is still the same.
fn seen(question: &Question) -> String {
    serde_json::to_string(question).unwrap_or_default()
}

fn settled(store: &Store, ask: &str, item: ItemId, sent: &Sent, now: Timestamp) -> Result<Done, WorkflowError> {
    let given = Answers::parse(sent.get("given"))?;
    let run: Option<RunId> = sent.get("run").parse().ok();
    let Some(question) = find(&open(store, &given)?, ask, item) else { return Ok(Done::Gone) };
    let given: Vec<_> = given.questions().cloned().collect();
    let again = |fault, status| {
        let asked = Asked::new(store, question.clone(), given.clone(), run)?;
        Ok(Done::Again(Box::new(asked), fault, status))
    };
    if sent.get("seen") != seen(&question) {
        let problem = "the queue has changed meanwhile, this is how it stands; what was typed is kept";
        return again(Fault::new("", problem), StatusCode::CONFLICT);
    }
    let answered = reply::answered(&question, sent)
        .and_then(|answer| Ok((answer, bought::options(sent, Select::Items(picked(store, &question, sent)))?)));
    let (answer, options) = match answered {
        Ok(answered) => answered,
        Err(fault) => return again(fault, StatusCode::UNPROCESSABLE_ENTITY),
    };
    let Select::Items(items) = options.select.clone() else { return Ok(Done::Gone) };
    let all: Vec<_> = given.iter().cloned().chain([answer]).collect();
    let done = Answers::new(all.iter().cloned()).map_err(WorkflowError::from).and_then(|answers| {
        let report = workflow::resolve(store, &answers, &ResolveOptions { run, ..options }, None, now)?;
        Ok((answers, report.run))
    });
    let (answers, run) = match done {
        Ok(done) => done,
        Err(WorkflowError::Answer(error)) => {
            let field = error.field.unwrap_or_default();
            return again(Fault::new(&field, error.problem), StatusCode::UNPROCESSABLE_ENTITY);
        }
        Err(error) => return Err(error),
    };
    // What would be asked again is kept nowhere but in the form: it goes on until the items are settled.
    let still = open(store, &Answers::none())?;
    let again = items.iter().find(|item| find(&still, ask, **item).is_some());
    if let Some(&item) = again {
        let of_these = workflow::preview(store, &answers, Select::Items(items.clone()))?.open;
        return Ok(match of_these.into_iter().find(is_asked_here) {
            Some(question) => Done::Further(Box::new(Asked::new(store, question, all, run)?)),
            None => Done::Incomplete(item),
        });
    }
    Ok(Done::Settled { run, next: settle::first_asked(&still).map(path) })
}

/// The items that an answer settles. A book can be another copy of one that waits itself and needs no answer: that is
/// taken in with it.
fn picked(store: &Store, question: &Question, sent: &Sent) -> Vec<ItemId> {
    let mut items = question.items().to_vec();
    if let Question::AnotherCopy(asked) = question
        && sent.get("do") == "yes"
        && let Ok(report) = workflow::preview(store, &Answers::none(), Select::All)
    {
        let same = report.decided.iter().filter(|decided| {
            decided.dropped.is_none()
                && decided.title.as_deref() == Some(asked.title.as_str())
                && decided.issue.as_deref() == Some(asked.issue.as_str())
                && decided.cover.as_deref() == Some(asked.cover.as_str())
                && decided.printing == Some(asked.printing)
        });
        items.extend(same.map(|decided| decided.item));
    }
    items
}

fn body(view: &View, asked: &Asked, sent: &Sent, fault: Option<&Fault>) -> Markup {
    let Asked { question, given, run, pictures } = asked;
    let given: String = given.iter().map(|given| seen(given) + "\n").collect();
    let faults = Faults(fault);
    let path = path(question);
    html! {
        (ways(0))
        (faults.told())
        div.beside {
            div.crops {
                @for (item, shows) in pictures {
                    a href={ "/queue/" (item) } {
                        img src={ "/queue/" (item) "/crop.png" } alt={ (shows) ", item " (item) } loading="lazy";
                    }
                }
                p.dim { (count(question.items().len(), "item")) ": " (listed(question.items())) }
            }
            div data-form-live={ (path) "/example" } {
                (view.form(&path, html! {
                    input type="hidden" name="seen" value=(seen(question));
                    @if !given.is_empty() { input type="hidden" name="given" value=(given); }
                    @if let Some(run) = run { input type="hidden" name="run" value=(run); }
                    (form::fields(question, sent, faults))
                }))
            }
        }
    }
}
