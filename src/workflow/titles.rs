//! Titles, looked up and corrected by a person.

use jiff::Timestamp;
use jiff::civil::Date;
use serde::Serialize;

use super::WorkflowError;
use crate::code::{Gtin, PrefixKind, prefix_kind};
use crate::collection::{Title, TitleChange, TitleFacts, TitleId, search_key, words};
use crate::intake::RunId;
use crate::store::{RunKind, Store, StoreError, TitlesFound};

/// A title with what hangs on it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct TitleDetail {
    /// The title.
    #[serde(flatten)]
    pub title: Title,
    /// What else is known of it.
    #[serde(flatten)]
    pub facts: TitleFacts,
    /// The codes that stand for it.
    pub codes: Vec<Gtin>,
    /// Since when, where that is known.
    pub codes_since: Vec<CodeDate>,
    /// How many of its issues are owned.
    pub issues: u32,
    /// How many copies of them.
    pub copies: u32,
}

/// The day since which a code stands for a title.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct CodeDate {
    /// The code.
    pub code: Gtin,
    /// The day.
    pub since: Date,
}

/// Titles that fit a loosely typed name, at most [`MOST_TITLES`](crate::store::MOST_TITLES); or all by name, if it is empty:
/// `skip` and `limit` page through them.
///
/// # Errors
/// If the collection can't be read.
pub fn title_list(store: &Store, name: &str, skip: u32, limit: u32) -> Result<Vec<TitleDetail>, WorkflowError> {
    store.read(|store| {
        let by_name = !search_key(name).is_empty();
        let titles = if by_name { titles_like(store, name)?.titles } else { store.titles(skip, limit)? };
        Ok(titles.into_iter().map(|title| detail(store, title)).collect::<Result<_, _>>()?)
    })
}

/// One title.
///
/// # Errors
/// If there is none of that number.
pub fn title_show(store: &Store, title: TitleId) -> Result<TitleDetail, WorkflowError> {
    store.read(|store| Ok(detail(store, store.title(title)?)?))
}

/// Changes a title. Issues keep their numbers: a changed layout or base counts for codes that are resolved later.
///
/// # Errors
/// If there is no such title, its name would be empty, or the code is a book's own.
pub fn title_set(
    store: &Store,
    title: TitleId,
    change: &TitleChange,
    now: Timestamp,
) -> Result<(TitleDetail, Option<RunId>), WorkflowError> {
    if change.name.as_deref().is_some_and(|name| search_key(name).is_empty()) {
        return Err(WorkflowError::NoName);
    }
    if let Some(code) = change.code.filter(|&code| prefix_kind(code) == PrefixKind::Isbn) {
        return Err(WorkflowError::BookCode(code));
    }
    if change.since.is_some() && change.code.is_none() {
        return Err(WorkflowError::NoCodeForDay);
    }
    let mut run = None;
    store.write(&mut run, RunKind::Title, now, |writer| {
        writer.update_title(title, change).map_err(WorkflowError::from)
    })?;
    Ok((title_show(store, title)?, run))
}

fn detail(store: &Store, title: Title) -> Result<TitleDetail, StoreError> {
    let codes = store.codes_of_title(title.id)?;
    let codes_since = store.code_dates(title.id)?.into_iter().map(|(code, since)| CodeDate { code, since }).collect();
    let (issues, copies) = store.owned_of_title(title.id)?;
    Ok(TitleDetail { facts: store.title_facts(title.id)?, title, codes, codes_since, issues, copies })
}

/// Titles of a loosely typed name: those of that very name; or else those that begin so, then those with all its words; or
/// else, without a year or volume at its end, those of that year or volume.
pub(super) fn titles_like(store: &Store, name: &str) -> Result<TitlesFound, StoreError> {
    let words = words(&search_key(name));
    let found = titles_of_words(store, &words)?;
    let Some((last, rest)) = words.split_last() else { return Ok(found) };
    if !found.titles.is_empty() || rest.is_empty() {
        return Ok(found);
    }
    let marked = ["volume", "vol", "v"].iter().find_map(|mark| last.strip_prefix(mark)).unwrap_or(last);
    let rest = match rest.split_last() {
        Some((mark, before)) if matches!(mark.as_str(), "volume" | "vol" | "v") => before,
        _ => rest,
    };
    let mut found = titles_of_words(store, rest)?;
    found.titles.retain(|title| {
        title.year.is_some_and(|year| year.to_string() == *last) || search_key(&title.volume) == marked
    });
    Ok(found)
}

fn titles_of_words(store: &Store, words: &[String]) -> Result<TitlesFound, StoreError> {
    if words.is_empty() {
        return Ok(TitlesFound::default());
    }
    let same = store.titles_named(&words.join(" "))?;
    if same.is_empty() { store.titles_with_words(words) } else { Ok(TitlesFound { titles: same, more: false }) }
}
