//! The reading pile: what is on it, and taking off what was read.

use jiff::civil::Date;
use jiff::{Timestamp, ToSpan};

use super::WorkflowError;
use super::selection::candidates;
use crate::collection::{CopyId, IssueNumber, PACE_WEEKS, Pile, Unread};
use crate::intake::RunId;
use crate::store::{RunKind, Store};

/// What was read, as a person says it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum WasRead {
    /// By a code, or a title with an issue or issues ('tide wardens 1-12').
    Named {
        /// As typed.
        query: String,
        /// Every copy of it; else one of each issue.
        all: bool,
    },
    /// By its number.
    Copy(CopyId),
}

/// Unread copies in reading order, at most `limit`.
///
/// # Errors
/// If the collection can't be read.
pub fn pile_list(store: &Store, limit: u32) -> Result<Vec<Unread>, WorkflowError> {
    pile_part(store, 0, limit)
}

/// The same, behind the first `skip`.
///
/// # Errors
/// If the collection can't be read.
pub fn pile_part(store: &Store, skip: u32, limit: u32) -> Result<Vec<Unread>, WorkflowError> {
    Ok(store.unread(skip, limit)?)
}

/// The pile in numbers, as of `today`.
///
/// # Errors
/// If the collection can't be read.
pub fn pile(store: &Store, today: Date) -> Result<Pile, WorkflowError> {
    let after = today.saturating_sub(i64::from(PACE_WEEKS).weeks());
    store.read(|store| {
        let (copies, without_price) = store.unread_count()?;
        Ok(Pile {
            copies,
            came: store.came_within(after, today)?,
            read: store.read_within(after, today)?,
            paid: store.unread_paid()?,
            without_price,
        })
    })
}

/// Takes copies that were read on a day off the pile: all that is named or, if some can't be, none.
///
/// # Errors
/// If a name is unclear or nothing unread fits it, or the collection fails.
pub fn pile_read(
    store: &Store,
    what: &[WasRead],
    on: Date,
    now: Timestamp,
) -> Result<(Vec<Unread>, Option<RunId>), WorkflowError> {
    let mut copies: Vec<Unread> = Vec::new();
    for what in what {
        let found = match what {
            WasRead::Named { query, all } => named(store, query, *all)?,
            WasRead::Copy(copy) => vec![store.unread_copy(*copy)?],
        };
        copies.extend(
            found.into_iter().filter(|new| copies.iter().all(|known| known.copy != new.copy)).collect::<Vec<_>>(),
        );
    }
    let mut run = None;
    store.write(&mut run, RunKind::Pile, now, |writer| {
        copies.iter().try_for_each(|copy| writer.set_read(copy.copy, on)).map_err(WorkflowError::from)
    })?;
    Ok((copies, run))
}

fn named(store: &Store, query: &str, all: bool) -> Result<Vec<Unread>, WorkflowError> {
    let mut found = Vec::new();
    let mut whole_title = false;
    for (title, filter) in candidates(store, query)? {
        if filter.issues.is_none() && !all {
            whole_title = true;
            continue;
        }
        let copies = store.unread_of_title(title, &filter)?;
        if !copies.is_empty() {
            found.push(copies);
        }
    }
    let query = || query.trim().to_owned();
    match found.len() {
        0 if whole_title => Err(WorkflowError::WholeTitle(query())),
        0 => Err(WorkflowError::NothingUnread(query())),
        1 => {
            let mut copies = found.swap_remove(0);
            if !all {
                copies.dedup_by(|later, first| IssueNumber::new(&later.issue) == IssueNumber::new(&first.issue));
            }
            Ok(copies)
        }
        titles => Err(WorkflowError::SeveralTitles { query: query(), titles }),
    }
}
