//! What is missing of a title's run.

use serde::Serialize;

use super::WorkflowError;
use super::titles::titles_like;
use crate::collection::{Checklist, Title, TitleId, gaps, search_key};
use crate::store::{Store, StoreError};

/// What is missing of a title, as far as its plain numbers tell.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Gaps {
    /// The title.
    pub title: Title,
    /// The lowest number owned; `None` if none is.
    pub first: Option<u32>,
    /// The highest.
    pub last: Option<u32>,
    /// Numbers missing between them, as runs from one to another.
    pub missing: Vec<(u32, u32)>,
    /// How many numbers that are.
    pub missing_issues: u32,
    /// Issues that are known, as from a list, and not owned, in order.
    pub known_missing: Vec<String>,
}

/// What is missing of the titles that fit a loosely typed name, at most [`MOST_TITLES`](crate::store::MOST_TITLES).
///
/// # Errors
/// If nothing is named, or the collection can't be read.
pub fn gaps_of(store: &Store, name: &str) -> Result<Vec<Gaps>, WorkflowError> {
    if search_key(name).is_empty() {
        return Err(WorkflowError::NothingAsked(name.trim().to_owned()));
    }
    store.read(|store| {
        let titles = titles_like(store, name)?.titles;
        Ok(titles.into_iter().map(|title| gaps_of_title(store, title)).collect::<Result<_, StoreError>>()?)
    })
}

/// What is missing of one title.
///
/// # Errors
/// If there is none of that number, or the collection can't be read.
pub fn title_gaps(store: &Store, title: TitleId) -> Result<Gaps, WorkflowError> {
    store.read(|store| Ok(gaps_of_title(store, store.title(title)?)?))
}

/// The checklists of the titles that fit a loosely typed name.
///
/// # Errors
/// If nothing is named, or the collection can't be read.
pub fn checklists(store: &Store, name: &str) -> Result<Vec<Checklist>, WorkflowError> {
    if search_key(name).is_empty() {
        return Err(WorkflowError::NothingAsked(name.trim().to_owned()));
    }
    store.read(|store| {
        let of = |title: Title| Ok(Checklist::new(title.clone(), &store.owned_issues(title.id)?));
        Ok(titles_like(store, name)?.titles.into_iter().map(of).collect::<Result<_, StoreError>>()?)
    })
}

pub(super) fn gaps_of_title(store: &Store, title: Title) -> Result<Gaps, StoreError> {
    let owned = store.owned_numbers(title.id)?;
    let missing = gaps(&owned);
    let missing_issues = missing.iter().map(|(from, to)| to - from + 1).sum();
    let known_missing = store.issues_not_owned(title.id)?;
    Ok(Gaps {
        title,
        first: owned.first().copied(),
        last: owned.last().copied(),
        missing,
        missing_issues,
        known_missing,
    })
}
