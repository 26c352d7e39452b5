//! Which copies a person means: words that name a title, its issues or a code, numbers, and what is said beside.

use super::titles::titles_like;
use super::{WorkflowError, have};
use crate::collection::{CopyFilter, CopyId, CopyRecord, IssueNumber, TitleId, search_key};
use crate::store::{CopyOrder, CopyScope, PartOfTitle, Store, StoreError};

/// Copies, as a person selects them.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Selection {
    /// A code, a title and an issue or issues ('tide wardens 1-12'), or a title; empty for all titles.
    pub words: String,
    /// Copies by their numbers, instead of words.
    pub copies: Vec<CopyId>,
    /// What they must be beside.
    pub filter: CopyFilter,
}

impl Selection {
    /// Whether it says anything: a change must not reach every copy by an oversight.
    #[must_use]
    pub fn says_something(&self) -> bool {
        !self.words.trim().is_empty() || !self.copies.is_empty() || self.filter.says_something()
    }
}

/// Where the copies of a selection are to be found.
///
/// # Errors
/// If its words are unclear, or the collection can't be read.
pub(super) fn scopes(store: &Store, selection: &Selection) -> Result<Vec<CopyScope>, WorkflowError> {
    if !selection.copies.is_empty() {
        let mut copies = selection.copies.clone();
        copies.sort_unstable();
        copies.dedup();
        return Ok(copies.into_iter().map(CopyScope::Copy).collect());
    }
    if selection.words.trim().is_empty() {
        return Ok(vec![CopyScope::All]);
    }
    let titles = candidates(store, &selection.words)?;
    if titles.is_empty() {
        return Err(WorkflowError::NoTitleFits(selection.words.trim().to_owned()));
    }
    Ok(vec![CopyScope::Titles(titles)])
}

/// Hands each copy of a selection to `each`, in order.
///
/// # Errors
/// As `each`; if words are unclear, a number is no copy's, or the collection can't be read.
pub(super) fn each_selected<E: From<StoreError>>(
    store: &Store,
    scopes: &[CopyScope],
    filter: &CopyFilter,
    order: CopyOrder,
    each: &mut dyn FnMut(CopyRecord) -> Result<(), E>,
) -> Result<(), E> {
    for scope in scopes {
        if let CopyScope::Copy(copy) = *scope {
            each(store.copy_record(copy)?)?;
            continue;
        }
        store.each_copy(scope, order, &mut |copy| if filter.fits(&copy) { each(copy) } else { Ok(()) })?;
    }
    Ok(())
}

/// The titles that may be meant, and what of them.
pub(super) fn candidates(store: &Store, query: &str) -> Result<Vec<(TitleId, PartOfTitle)>, WorkflowError> {
    if let Some((name, from, to)) = range(query) {
        let titles = store.read(|store| titles_like(store, name))?.titles;
        let filter = PartOfTitle { issues: Some((from, to)), ..PartOfTitle::default() };
        if !titles.is_empty() {
            return Ok(titles.into_iter().map(|title| (title.id, filter.clone())).collect());
        }
    }
    let filter = |known: have::HaveTitle| {
        let issue = known.issue.as_deref().map(IssueNumber::new);
        let issues = issue.map(|issue| (issue.clone(), issue));
        (known.title.id, PartOfTitle { issues, cover: known.cover, printing: known.printing })
    };
    Ok(have::have(store, query)?.titles.into_iter().map(filter).collect())
}

/// A name and the first and last issue behind it, as in 'tide wardens 1-12'.
fn range(query: &str) -> Option<(&str, IssueNumber, IssueNumber)> {
    let (name, issues) = query.trim().rsplit_once(|c: char| c.is_whitespace() || c == '#')?;
    // A minus sign of the first number is no dash between two.
    let dash = issues.char_indices().skip(1).find(|(_, c)| matches!(c, '-' | '\u{2013}'))?;
    let (from, to) = (&issues[..dash.0], &issues[dash.0 + dash.1.len_utf8()..]);
    let (from, to) = (IssueNumber::new(from), IssueNumber::new(to));
    let is_range = from.is_numeric() && to.is_numeric() && from <= to && !search_key(name).is_empty();
    // Digits and hyphens alone are a code.
    (is_range && name.chars().any(char::is_alphabetic)).then_some((name, from, to))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ranges_are_told_from_codes_and_single_issues() {
        for (query, expected) in [
            ("tide wardens 1-12", Some(("tide wardens", "1", "12"))),
            ("tide wardens #1-12", Some(("tide wardens ", "1", "12"))),
            ("tide wardens -1-2", Some(("tide wardens", "-1", "2"))),
            ("tide wardens 0\u{2013}1.5", Some(("tide wardens", "0", "1.5"))),
            ("tide wardens -1", None),
            ("tide wardens 12-1", None),
            ("tide-wardens 12", None),
            ("614141001040 0121-1", None),
            ("1-12", None),
        ] {
            let found = range(query);
            let found = found.as_ref().map(|(name, from, to)| (*name, from.as_str(), to.as_str()));
            assert_eq!(found, expected, "{query}");
        }
    }
}
