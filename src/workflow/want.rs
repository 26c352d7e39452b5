//! What is wanted, and how much it may cost.

use jiff::Timestamp;
use serde::Serialize;

use super::WorkflowError;
use super::gaps::gaps_of_title;
use super::named::{ListError, Named};
use super::pull::not_owned;
use super::titles::titles_like;
use crate::collection::{IssueNumber, NewTitle, Title, Want};
use crate::intake::RunId;
use crate::store::{RunKind, Store};

/// The most issues that are wanted at once.
const MOST: u32 = 1000;

/// Which issues are wanted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Wanted {
    /// These; of a new title if one is given, whose name is what was named.
    Issues(Named, Option<NewTitle>),
    /// What is missing of the run of the title with this name.
    Gaps(String),
}

/// An issue that is wanted.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct WantedIssue {
    /// Its title.
    pub title: Title,
    /// Its number.
    pub issue: String,
    /// What may be paid for it, and what was noted.
    #[serde(flatten)]
    pub want: Want,
    /// Whether a copy came.
    pub came: bool,
}

/// Puts issues on the list of wants, all or none; of those that are on it, replaces what was said.
///
/// # Errors
/// If no title fits or several do, an issue is owned already, nothing is missing of a run, or the collection fails.
pub fn want_add(
    store: &Store,
    wanted: &Wanted,
    want: &Want,
    now: Timestamp,
) -> Result<(Vec<WantedIssue>, Option<RunId>), WorkflowError> {
    let mut run = None;
    let (title, issues) = store.write(&mut run, RunKind::Want, now, |writer| {
        let (title, issues) = match wanted {
            Wanted::Issues(named, Some(new)) => named.made(writer, new)?,
            Wanted::Issues(named, None) => named.known(writer, true)?,
            Wanted::Gaps(name) => missing(writer, name)?,
        };
        if issues.is_empty() {
            return Err(WorkflowError::from(ListError::NoIssueNamed(title.name)));
        }
        for number in &issues {
            writer.set_want(not_owned(writer, &title, number)?, want)?;
        }
        Ok((title, issues))
    })?;
    let list = want_list(store, true)?.into_iter();
    let added = list.filter(|known| known.title.id == title.id && issues.contains(&IssueNumber::new(&known.issue)));
    Ok((added.collect(), run))
}

fn missing(store: &Store, name: &str) -> Result<(Title, Vec<IssueNumber>), WorkflowError> {
    let mut titles = titles_like(store, name)?.titles;
    let gaps = match titles.len() {
        0 => return Err(WorkflowError::NoTitleFits(name.trim().to_owned())),
        1 => gaps_of_title(store, titles.remove(0))?,
        titles => return Err(WorkflowError::SeveralTitles { query: name.trim().to_owned(), titles }),
    };
    match gaps.missing_issues {
        0 => Err(WorkflowError::from(ListError::NothingMissing(gaps.title.name))),
        1..=MOST => {
            let numbers = gaps.missing.iter().flat_map(|(from, to)| *from..=*to);
            Ok((gaps.title, numbers.map(|number| IssueNumber::new(&number.to_string())).collect()))
        }
        _ => Err(WorkflowError::from(ListError::NoRange(format!("{} missing issues", gaps.missing_issues)))),
    }
}

/// What is wanted, by title and number; also what came since if `all`.
///
/// # Errors
/// If the collection can't be read.
pub fn want_list(store: &Store, all: bool) -> Result<Vec<WantedIssue>, WorkflowError> {
    let found = store.wants()?.into_iter().map(|(title, issue, want, came)| WantedIssue { title, issue, want, came });
    Ok(found.filter(|wanted| all || !wanted.came).collect())
}

/// Takes issues of a title off the list of wants or, if none is named, all of them.
///
/// # Errors
/// If no title fits or several do, something is not on the list, or the collection fails.
pub fn want_drop(store: &Store, named: &Named, now: Timestamp) -> Result<Option<RunId>, WorkflowError> {
    let mut run = None;
    store.write(&mut run, RunKind::Want, now, |writer| {
        let (title, issues) = named.known(writer, false)?;
        let of_title = writer.wants()?.into_iter().filter(|(known, ..)| known.id == title.id);
        let listed: Vec<_> = of_title.map(|(_, number, ..)| IssueNumber::new(&number)).collect();
        let dropped = if issues.is_empty() { &listed } else { &issues };
        if dropped.is_empty() {
            return Err(WorkflowError::from(ListError::NotListed { what: title.name }));
        }
        for number in dropped {
            let issue = writer.issue_id(title.id, number)?;
            let was_there = issue.map_or(Ok(false), |issue| writer.remove_want(issue))?;
            if !was_there {
                return Err(WorkflowError::from(ListError::NotListed { what: format!("{} {number}", title.name) }));
            }
        }
        Ok(())
    })?;
    Ok(run)
}
