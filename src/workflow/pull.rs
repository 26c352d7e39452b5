//! What is expected from the shop, and what of it came.

use jiff::Timestamp;
use jiff::civil::Date;

use super::WorkflowError;
use super::have::by_code;
use super::named::{ListError, Named};
use crate::code::AddOnState;
use crate::collection::{
    Came, Comparison, Due, IssueId, IssueNumber, NewTitle, Standing, Title, TitleId, Week, compare, search_key,
};
use crate::intake::{ItemId, RunId};
use crate::store::{QueueFilter, RunKind, Store, StoreError, Writer};

/// The most issues of one title that are looked ahead to.
const MOST_AHEAD: usize = 520;

/// What to expect.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PullRequest {
    /// The title and its issues.
    pub named: Named,
    /// The week in which it is due. Of a standing title, that of the first issue.
    pub due: Option<Week>,
    /// Every further issue is expected, so many weeks after the one before.
    pub every: Option<u32>,
    /// The title is new, and made with this; its name is what was named.
    pub new: Option<NewTitle>,
}

/// What was expected in a week, and what came.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PullCheck {
    /// The week.
    pub week: Week,
    /// What came and what did not.
    pub found: Comparison,
    /// Items of the queue that came in it, and nobody knows yet what they are.
    pub unknown: Vec<ItemId>,
}

/// Puts books on the pull list; gives what is expected now of the title.
///
/// # Errors
/// If no title fits or several do, an issue is owned already, nothing says which issue is meant, or the collection fails.
pub fn pull_add(
    store: &Store,
    request: &PullRequest,
    today: Date,
    now: Timestamp,
) -> Result<(Vec<Due>, Option<RunId>), WorkflowError> {
    let mut run = None;
    let title = store.write(&mut run, RunKind::Pull, now, |writer| {
        let (title, issues) = match &request.new {
            Some(new) => request.named.made(writer, new)?,
            None => request.named.known(writer, request.every.is_none())?,
        };
        match (request.every, &issues[..]) {
            (Some(weeks), [] | [_]) => expect_all(writer, &title, weeks, issues.first(), request.due, today)?,
            (Some(_), _) => return Err(WorkflowError::from(ListError::SeveralFirst)),
            (None, []) => return Err(WorkflowError::from(ListError::NoIssueNamed(title.name))),
            (None, issues) => {
                for number in issues {
                    let issue = not_owned(writer, &title, number)?;
                    writer.set_expected(issue, request.due)?;
                }
            }
        }
        Ok(title.id)
    })?;
    let list = pull_list(store, Week::of(today), None)?;
    Ok((list.into_iter().filter(|due| due.title.id == title).collect(), run))
}

fn expect_all(
    writer: &Writer<'_>,
    title: &Title,
    weeks: u32,
    first: Option<&IssueNumber>,
    due: Option<Week>,
    today: Date,
) -> Result<(), WorkflowError> {
    let newest = writer.newest(title.id, None)?;
    let first = match first {
        Some(number) => number.whole().ok_or_else(|| ListError::NoPlainNumber(number.to_string()))?,
        None => newest.map_or(1, |(number, _)| number.saturating_add(1)),
    };
    let after_newest = newest.and_then(|(_, came)| came).map(|came| came.after(weeks));
    let due = due.or(after_newest).unwrap_or(Week::of(today));
    Ok(writer.set_standing(title.id, weeks, first, due)?)
}

/// Finds or keeps an issue that is to be asked for.
pub(super) fn not_owned(writer: &Writer<'_>, title: &Title, number: &IssueNumber) -> Result<IssueId, WorkflowError> {
    if !writer.owned(title.id, number.as_str())?.is_empty() {
        return Err(WorkflowError::from(ListError::OwnedAlready {
            title: title.name.clone(),
            issue: number.to_string(),
        }));
    }
    Ok(writer.issue(title.id, number.as_str())?)
}

/// Takes issues of a title off the pull list or, if none is named, all of it.
///
/// # Errors
/// If no title fits or several do, something is not on the list, or the collection fails.
pub fn pull_drop(store: &Store, named: &Named, now: Timestamp) -> Result<Option<RunId>, WorkflowError> {
    let mut run = None;
    store.write(&mut run, RunKind::Pull, now, |writer| {
        let (title, issues) = named.known(writer, false)?;
        let mut dropped = 0;
        if issues.is_empty() {
            dropped += u32::from(writer.remove_standing(title.id)?);
        }
        let of_title = writer.expected()?.into_iter().filter(|(due, _)| due.title.id == title.id);
        let listed: Vec<_> = of_title.map(|(due, _)| IssueNumber::new(&due.issue)).collect();
        for number in if issues.is_empty() { &listed } else { &issues } {
            let issue = writer.issue_id(title.id, number)?;
            let was_there = issue.map_or(Ok(false), |issue| writer.remove_expected(issue))?;
            if !was_there {
                return Err(WorkflowError::from(ListError::NotListed { what: format!("{} {number}", title.name) }));
            }
            dropped += 1;
        }
        if dropped == 0 { Err(WorkflowError::from(ListError::NotListed { what: title.name })) } else { Ok(()) }
    })?;
    Ok(run)
}

/// What is expected, by week: single issues that are not owned, and of each standing title the next issue, or all that are
/// due within so many weeks from `week`.
///
/// # Errors
/// If the collection can't be read.
pub fn pull_list(store: &Store, week: Week, within: Option<u32>) -> Result<Vec<Due>, WorkflowError> {
    Ok(store.read(|store| due_within(store, week, within))?)
}

/// As [`pull_list`], in a transaction that is there already.
pub(super) fn due_within(store: &Store, week: Week, within: Option<u32>) -> Result<Vec<Due>, StoreError> {
    let until = within.map(|weeks| week.after(weeks));
    let mut list = dues(store, None)?;
    if let Some(until) = until {
        let further = |due: &Due| {
            std::iter::successors(due.following(), Due::following)
                .take_while(|due| due.due.is_some_and(|due| due <= until))
                .take(MOST_AHEAD)
                .collect::<Vec<_>>()
        };
        let more: Vec<_> = list.iter().flat_map(further).collect();
        list.extend(more);
        list.retain(|due| due.due.is_some_and(|due| due <= until));
    }
    sort(&mut list);
    Ok(list)
}

/// What was expected before `before` (or is now).
fn dues(store: &Store, before: Option<Week>) -> Result<Vec<Due>, StoreError> {
    let mut list = Vec::new();
    for standing in store.standing()? {
        let newest = store.newest(standing.title.id, before.map(Week::monday))?;
        list.push(Standing::next(&standing, newest));
    }
    // What is owned since counts as expected if it came in the week that is looked at.
    let singles = store.expected()?.into_iter().filter(|(_, owned)| !owned || before.is_some());
    list.extend(singles.map(|(due, _)| due));
    sort(&mut list);
    Ok(list)
}

/// By week, then by title and number; what has no week comes last.
fn sort(list: &mut [Due]) {
    list.sort_by_cached_key(|due| {
        let title = (search_key(&due.title.name), due.title.year, due.title.id);
        (due.due.is_none(), due.due, title, IssueNumber::new(&due.issue))
    });
}

/// Holds what came in a week, in the queue and in the collection, against what was expected.
///
/// # Errors
/// If the collection can't be read.
pub fn pull_check(store: &Store, week: Week) -> Result<PullCheck, WorkflowError> {
    store.read(|store| {
        let dues = dues(store, Some(week))?;
        let mut came: Vec<Came> = store.came_in(week)?.into_iter().map(|book| Came { may_be: vec![book] }).collect();
        let mut unknown = Vec::new();
        for item in store.items(QueueFilter::Open)? {
            let day = jiff::tz::TimeZone::UTC.to_datetime(item.seen_at).date();
            if Week::of(day) != week {
                continue;
            }
            let Some(code) = item.code.filter(|code| code.add_on != AddOnState::Unread) else {
                unknown.push(item.id);
                continue;
            };
            let titles = by_code(store, "", code.gtin, code.add_on.read())?.titles;
            let may_be: Vec<_> = titles.into_iter().filter_map(|t| Some((t.title, t.issue?))).collect();
            if may_be.is_empty() {
                unknown.push(item.id);
            } else {
                came.push(Came { may_be });
            }
        }
        let wants = store.wants()?;
        let wanted = |title: TitleId, issue: &IssueNumber| {
            wants.iter().any(|(known, number, ..)| known.id == title && IssueNumber::new(number) == *issue)
        };
        let mut found = compare(week, &dues, wanted, came);
        // A single issue that came in another week is not missing.
        let owned = |due: &Due| Ok::<_, StoreError>(!store.owned(due.title.id, &due.issue)?.is_empty());
        let mut missing = Vec::new();
        for due in found.missing {
            if due.every.is_some() || !owned(&due)? {
                missing.push(due);
            }
        }
        found.missing = missing;
        Ok(PullCheck { week, found, unknown })
    })
}
