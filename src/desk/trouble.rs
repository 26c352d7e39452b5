//! The one place where errors become answers to a browser: what happened, its causes, a status.

use std::error::Error;

use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use maud::html;

use super::frame::bare;
use crate::store::StoreError;
use crate::workflow::{self, WorkflowError};

/// Why a page is not shown, or a form did nothing.
#[derive(Debug)]
pub(super) struct Trouble {
    status: StatusCode,
    /// What happened, then each cause.
    messages: Vec<String>,
}

/// What a handler gives.
pub(super) type Answer = Result<Response, Trouble>;

impl Trouble {
    /// What was sent can't be used.
    pub(super) fn data(message: impl Into<String>) -> Self {
        Self { status: StatusCode::UNPROCESSABLE_ENTITY, messages: vec![message.into()] }
    }

    /// What a field holds can't be used, for a reason that is told elsewhere.
    pub(super) fn field(name: &str, error: &dyn Error) -> Self {
        let mut messages = workflow::messages(error);
        if let Some(first) = messages.first_mut() {
            *first = format!("{name}: {first}");
        }
        Self { status: StatusCode::UNPROCESSABLE_ENTITY, messages }
    }

    /// There is no such page or thing.
    pub(super) fn nothing_there(message: impl Into<String>) -> Self {
        Self { status: StatusCode::NOT_FOUND, messages: vec![message.into()] }
    }

    /// Too many want the same; later it may work.
    pub(super) fn busy(message: impl Into<String>) -> Self {
        Self { status: StatusCode::SERVICE_UNAVAILABLE, messages: vec![message.into()] }
    }

    /// The machine failed.
    pub(super) fn machine(error: &dyn Error) -> Self {
        Self { status: StatusCode::INTERNAL_SERVER_ERROR, messages: workflow::messages(error) }
    }
}

impl From<StoreError> for Trouble {
    fn from(error: StoreError) -> Self {
        let status = match &error {
            StoreError::NoItem(_)
            | StoreError::NoTitle(_)
            | StoreError::NoCopy(_)
            | StoreError::NoBox(_)
            | StoreError::NoRun(_) => StatusCode::NOT_FOUND,
            StoreError::Open { .. }
            | StoreError::Damaged(_)
            | StoreError::Sqlite(_)
            | StoreError::NotACollection { .. }
            | StoreError::Newer { .. } => StatusCode::INTERNAL_SERVER_ERROR,
            StoreError::Step { .. } => StatusCode::CONFLICT,
            StoreError::Busy { .. } => StatusCode::SERVICE_UNAVAILABLE,
            _ => StatusCode::UNPROCESSABLE_ENTITY,
        };
        Self { status, messages: workflow::messages(&error) }
    }
}

impl From<WorkflowError> for Trouble {
    fn from(error: WorkflowError) -> Self {
        match error {
            WorkflowError::Store(error) => error.into(),
            error => Self { status: StatusCode::UNPROCESSABLE_ENTITY, messages: workflow::messages(&error) },
        }
    }
}

impl IntoResponse for Trouble {
    fn into_response(self) -> Response {
        let page = bare(
            "That did not work",
            &html! {
                @for (at, message) in self.messages.iter().enumerate() {
                    p.trouble role=[(at == 0).then_some("alert")] { @if at > 0 { "because: " } (message) }
                }
                p { a href="/" { "To the first page" } " – nothing was changed." }
            },
        );
        (self.status, page).into_response()
    }
}

/// A few words without a page, for whoever is not let in.
pub(super) fn plain(status: StatusCode, words: &str) -> Response {
    (status, [(header::CONTENT_TYPE, "text/plain; charset=utf-8")], format!("{words}\n")).into_response()
}
