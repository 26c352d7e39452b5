//! What a handler is given: the collection, and the frame to put a page into.

use std::convert::Infallible;
use std::sync::Arc;

use axum::body::Body;
use axum::extract::{FromRequest, FromRequestParts, Query, Request};
use axum::http::request::Parts;
use axum::http::{StatusCode, header};
use axum::response::IntoResponse;
use jiff::Timestamp;
use jiff::civil::Date;
use maud::{Markup, html};
use serde::Deserialize;
use serde::de::DeserializeOwned;

use super::frame::{self, Notice, Place};
use super::guard::{CHECK_FIELD, Guard};
use super::phone::Phones;
use super::site::{Shared, Site};
use super::trouble::{Answer, Trouble};
use crate::intake::RunId;
use crate::store::{Store, StoreError};
use crate::workflow;

/// One request's view of the desk.
#[derive(Debug, Clone)]
pub(super) struct View {
    site: Arc<Site>,
    guard: Arc<Guard>,
    /// Where the browser is, with its query: where a form on the page leads back to.
    here: String,
    /// The run that the form before this page made.
    run: Option<RunId>,
}

#[derive(Debug, Default, Deserialize)]
struct After {
    run: Option<RunId>,
}

impl FromRequestParts<Arc<Site>> for View {
    type Rejection = Infallible;

    async fn from_request_parts(parts: &mut Parts, site: &Arc<Site>) -> Result<Self, Infallible> {
        let after = Query::<After>::try_from_uri(&parts.uri).map(|query| query.0).unwrap_or_default();
        let here = parts.uri.path_and_query().map_or("/", |here| here.as_str());
        Ok(Self { site: Arc::clone(site), guard: site.guard(), here: without_run(here), run: after.run })
    }
}

impl View {
    /// Asks the collection.
    pub(super) async fn ask<T, E>(
        &self,
        work: impl FnOnce(&Store) -> Result<T, E> + Send + 'static,
    ) -> Result<T, Trouble>
    where
        T: Send + 'static,
        E: Send + From<StoreError> + 'static,
        Trouble: From<E>,
    {
        self.site.shared.step(work).await
    }

    /// What all of the desk's servers share.
    pub(super) fn shared(&self) -> &Arc<Shared> {
        &self.site.shared
    }

    /// The server for phones, if the desk was opened with one.
    pub(super) fn phones(&self) -> Option<&Arc<Phones>> {
        self.site.phones.get()
    }

    /// The time.
    pub(super) fn now(&self) -> Timestamp {
        self.site.shared.now()
    }

    /// The day.
    pub(super) fn today(&self) -> Date {
        self.site.shared.today()
    }

    /// A page at a place of the desk.
    pub(super) async fn page(&self, place: Place, title: &str, body: Markup) -> Answer {
        let notice = match self.run {
            Some(run) => self.ask(move |store| store.run(run)).await.ok(),
            None => None,
        };
        let notice = notice.map(|run| Notice { undo: self.undo_form(run.id), run });
        Ok(frame::page(place, title, self.check(), notice.as_ref(), &body).into_response())
    }

    /// A form that changes something: `body` is its fields and buttons.
    pub(super) fn form(&self, action: &str, body: Markup) -> Markup {
        html! {
            form method="post" action=(action) {
                input type="hidden" name=(CHECK_FIELD) value=(self.check());
                input type="hidden" name="back" value=(self.here);
                (body)
            }
        }
    }

    /// The session's check token, for a form with files or a script.
    pub(super) fn check(&self) -> &str {
        self.guard.check()
    }

    /// A moment as its clock showed it here: 2026-03-04 18:05.
    pub(super) fn time(&self, moment: Timestamp) -> String {
        self.site.shared.local(moment).strftime("%Y-%m-%d %H:%M").to_string()
    }

    /// The button that takes a run back.
    pub(super) fn undo_form(&self, run: RunId) -> Markup {
        self.form(
            "/undo",
            html! {
                input type="hidden" name="run" value=(run);
                button.small { "Undo" span.unseen { " run " (run) } }
            },
        )
    }
}

/// Leads to a page of this desk after a form; the page says what `run` was and offers to take it back.
pub(super) fn lead(back: &str, run: Option<RunId>) -> Answer {
    let back = own_path(back);
    let to = match run {
        Some(run) => format!("{back}{}run={run}", if back.contains('?') { '&' } else { '?' }),
        None => back.to_owned(),
    };
    Ok((StatusCode::SEE_OTHER, [(header::LOCATION, to)]).into_response())
}

/// A path of this server, whatever a form says: `//host` and `/\host` lead elsewhere in browsers (WHATWG, URL, 'path
/// start state').
fn own_path(given: &str) -> &str {
    let own = given.starts_with('/')
        && !given.starts_with("//")
        && given.bytes().all(|byte| byte.is_ascii_graphic() && byte != b'\\' && byte != b'#');
    if own { given } else { "/" }
}

/// A page's own address: what the form before it did is told once.
fn without_run(here: &str) -> String {
    let Some((path, query)) = here.split_once('?') else { return here.to_owned() };
    let rest: Vec<_> = query.split('&').filter(|pair| !pair.starts_with("run=")).collect();
    if rest.is_empty() { path.to_owned() } else { format!("{path}?{}", rest.join("&")) }
}

/// A form's fields, or a query's. What can't be used is told on a page.
#[derive(Debug)]
pub(super) struct Fields<T>(pub(super) T);

impl<T: DeserializeOwned> FromRequest<Arc<Site>> for Fields<T> {
    type Rejection = Trouble;

    async fn from_request(request: Request<Body>, site: &Arc<Site>) -> Result<Self, Trouble> {
        match axum::Form::<T>::from_request(request, site).await {
            Ok(form) => Ok(Self(form.0)),
            Err(rejection) => Err(Trouble::data(rejection.body_text())),
        }
    }
}

/// Takes back a run.
#[derive(Debug, Deserialize)]
pub(super) struct UndoAsked {
    run: RunId,
    #[serde(default)]
    back: String,
}

pub(super) async fn undo(view: View, Fields(asked): Fields<UndoAsked>) -> Answer {
    let now = view.now();
    let done = view.ask(move |store| workflow::undo(store, Some(asked.run), now)).await?;
    lead(&asked.back, Some(done.undo.id))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_form_leads_to_no_other_server() {
        for own in ["/", "/queue?sort=a&n=1", "/copy/3"] {
            assert_eq!(own_path(own), own);
        }
        for foreign in
            ["//evil.example", "/\\evil.example", "https://evil.example", "", "queue", "/a\r\nSet-Cookie: x", "/ä"]
        {
            assert_eq!(own_path(foreign), "/", "{foreign}");
        }
    }

    #[test]
    fn a_run_is_told_once() {
        assert_eq!(without_run("/pile?run=3"), "/pile");
        assert_eq!(without_run("/pile?skip=2&run=3"), "/pile?skip=2");
        assert_eq!(without_run("/pile"), "/pile");
    }
}
