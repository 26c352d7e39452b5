//! The phone's pages: taking photos, and 'do I own this?'. Nothing else is routed here.

use std::sync::Arc;

use axum::Router;
use axum::extract::{Path, Query, Request, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::middleware;
use axum::response::IntoResponse;
use axum::routing::{get, post};
use maud::{Markup, html};
use serde::Deserialize;

use super::Phones;
use crate::code::Correction;
use crate::desk::assets;
use crate::desk::frame::{Page, PhonePlace, phone};
use crate::desk::limits::WRONG_LINK_DELAY;
use crate::desk::site::Site;
use crate::desk::trouble::{Answer, Trouble};
use crate::desk::upload::{Asked, Sender, answered, panel};
use crate::desk::view::View;
use crate::desk::words;
use crate::store::Store;
use crate::workflow::words::{Line, have_in_words};
use crate::workflow::{self, Part, WorkflowError};

/// Longer questions are no code and no title.
const LONGEST_QUESTION: usize = 200;

pub(in crate::desk) fn routes(phones: &Arc<Phones>) -> Router {
    let site = Arc::clone(&phones.site);
    let (guarded, door) = (Arc::clone(&site), Arc::clone(phones));
    let enter = move |State(site): State<Arc<Site>>, headers: HeaderMap, Path(given): Path<String>| async move {
        enter(&door, &site, &headers, &given).await
    };
    Router::new()
        .route("/", get(start))
        .route("/photos", post(photos))
        .route("/have", get(have))
        .route("/enter/{token}", get(enter))
        .route("/static/{mark}/{name}", get(assets::file))
        .fallback(|| async { Trouble::nothing_there("there is no such page") })
        .with_state(site)
        .layer(middleware::from_fn(move |request, next| {
            let guard = guarded.guard();
            async move { guard.admit(request, next).await }
        }))
}

/// Lets a phone in that has the link. One that is in already goes on.
async fn enter(phones: &Phones, site: &Site, headers: &HeaderMap, given: &str) -> Answer {
    let to = (header::LOCATION, "/".to_owned());
    let guard = site.guard();
    if guard.known(headers).is_ok() {
        return Ok((StatusCode::SEE_OTHER, [to]).into_response());
    }
    if phones.enters(given) {
        return Ok((StatusCode::SEE_OTHER, [(header::SET_COOKIE, site.guard().set_cookie()), to]).into_response());
    }
    tokio::time::sleep(WRONG_LINK_DELAY).await;
    Err(Trouble::nothing_there("this link lets nobody in (any more); take a new one from the desk's page 'Phone'"))
}

async fn start(view: View) -> Page {
    let batch = view.shared().uploads.draw();
    let panel = panel(Sender::Phone, "/photos", view.check(), batch, None);
    phone(PhonePlace::Photos, "Photos into the queue", &html! { (panel) (plainly()) })
}

async fn photos(view: View, Query(asked): Query<Asked>, request: Request) -> Answer {
    answered(&view, &asked, request, |view, batch, taken| async move {
        let panel = panel(Sender::Phone, "/photos", view.check(), batch, Some(&taken));
        Ok(phone(PhonePlace::Photos, "Photos into the queue", &html! { (panel) (plainly()) }).into_response())
    })
    .await
}

/// What a person should know who uses it.
fn plainly() -> Markup {
    html! {
        p.dim { "What is sent here is not encrypted: others in the same network can read it. Use it in a network that you trust." }
    }
}

/// So many titles are shown: more than a phone's page is read to its end.
const SHOWN: usize = 20;

/// A question.
#[derive(Debug, Deserialize)]
struct Question {
    #[serde(default)]
    q: String,
    /// Set by the script, which wants the answer alone: 1 as one types, 2 when the question is whole.
    #[serde(default)]
    part: Option<u8>,
}

/// What there is to say.
enum Said {
    Nothing,
    Lines(Vec<Line>),
    /// No title fits.
    NoTitle(Vec<Line>),
    /// It can't be asked like this.
    Wrong {
        why: String,
        perhaps: Vec<Correction>,
    },
}

async fn have(view: View, Query(question): Query<Question>) -> Answer {
    let asked = question.q.trim().to_owned();
    let said = if asked.is_empty() {
        Said::Nothing
    } else if asked.chars().nth(LONGEST_QUESTION).is_some() {
        Said::Wrong { why: format!("at most {LONGEST_QUESTION} characters"), perhaps: Vec::new() }
    } else {
        let asked = asked.clone();
        // Counting long runs is not worth a wait at each letter.
        let counted = question.part != Some(1);
        view.ask(move |store| ask(store, &asked, counted)).await?
    };
    let answer = told(&said, &asked);
    if question.part.is_some() {
        return Ok(axum::response::Html(answer.into_string()).into_response());
    }
    let body = html! {
        form.ask role="search" action="/have" data-live="answer" {
            label for="q" { "Do I own this?" }
            input type="search" id="q" name="q" value=(asked) autocomplete="off" autocapitalize="none" spellcheck="false"
                enterkeyhint="search" maxlength=(LONGEST_QUESTION) aria-describedby="how";
            p #how.dim { "The digits under the bars with those beside them, a title and an issue, or a title." }
            button { "Look" }
        }
        div #answer role="status" { (answer) }
    };
    Ok(phone(PhonePlace::Have, "Do I own this?", &body).into_response())
}

fn ask(store: &Store, asked: &str, counted: bool) -> Result<Said, WorkflowError> {
    match workflow::have_part(store, asked, Part { skip: 0, most: SHOWN, counted }) {
        Ok((mut answer, all)) => {
            answer.more_titles |= all > SHOWN;
            let lines = have_in_words(&answer);
            Ok(if answer.titles.is_empty() { Said::NoTitle(lines) } else { Said::Lines(lines) })
        }
        Err(WorkflowError::NoCode { source, .. }) => {
            Ok(Said::Wrong { why: source.to_string(), perhaps: workflow::proposals(Some(store), asked) })
        }
        Err(error) => Err(error),
    }
}

fn told(said: &Said, asked: &str) -> Markup {
    let lines = |lines: &[Line]| html! { @for line in lines { p.line { (words::line(line)) } } };
    match said {
        Said::Nothing => html! {},
        Said::Lines(found) => lines(found),
        Said::NoTitle(found) => {
            html! { p.line { strong { "not owned" } ": no title fits '" (asked) "'" } (lines(found)) }
        }
        Said::Wrong { why, perhaps } => html! {
            p.line { strong.bad { "no code" } ": " (why) }
            @if !perhaps.is_empty() {
                p { "Perhaps:" }
                ul.perhaps {
                    @for code in perhaps {
                        @let add_on = code.add_on.map(|add_on| format!(" {add_on}")).unwrap_or_default();
                        @let digits = format!("{}{add_on}", code.gtin.printed());
                        @let query = form_urlencoded::Serializer::new(String::new()).append_pair("q", &digits).finish();
                        li { a.button.plain href={ "/have?" (query) } { (digits) } " " (code.kind)
                            @if code.known { ", a code of the collection" } }
                    }
                }
            }
        },
    }
}
