//! What will come in the next weeks: what the pull list expects and, of other titles, what came in the last weeks.

use std::collections::{HashMap, HashSet};

use jiff::ToSpan;
use jiff::civil::Date;

use super::wall::Known;
use crate::collection::{CopyId, IssueNumber, SizeClass, TitleId, Week};
use crate::filing::{Book, Make};
use crate::store::{Store, StoreError};
use crate::workflow::pull::due_within;

/// The weeks whose pace is taken: a quarter of a year, so that a monthly title has come three times.
const PACE_WEEKS: u32 = 13;

/// Copies of a title and size that will come.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Coming {
    pub(super) title: TitleId,
    /// The issue, if it is expected by its number.
    pub(super) issue: Option<IssueNumber>,
    pub(super) size: SizeClass,
    pub(super) copies: u32,
}

/// What will come within so many weeks after `today`.
pub(super) fn coming(store: &Store, weeks: u32, today: Date) -> Result<Vec<Coming>, StoreError> {
    if weeks == 0 {
        return Ok(Vec::new());
    }
    let mut coming = Vec::new();
    // A week that has begun counts as a coming one.
    for due in due_within(store, Week::of(today), Some(weeks - 1))? {
        let size = store.title_facts(due.title.id)?.size.unwrap_or(SizeClass::Current);
        coming.push(Coming { title: due.title.id, issue: Some(IssueNumber::new(&due.issue)), size, copies: 1 });
    }
    let listed: HashSet<TitleId> = coming.iter().map(|coming| coming.title).collect();
    let standing: HashSet<TitleId> = store.standing()?.into_iter().map(|standing| standing.title.id).collect();
    let after = today.saturating_sub(i64::from(PACE_WEEKS).weeks());
    for (title, size, came) in store.came_by_title(after, today)? {
        // Rounded to the nearest: a monthly title came three times in thirteen weeks, and comes once in four.
        let copies = (came * weeks + PACE_WEEKS / 2) / PACE_WEEKS;
        if copies > 0 && !listed.contains(&title) && !standing.contains(&title) {
            coming.push(Coming { title, issue: None, size, copies });
        }
    }
    Ok(coming)
}

impl Known {
    /// Leaves room for what will come: at its place or, where that is not known, behind the last copy of its title.
    pub(super) fn expect(&mut self, coming: &[Coming]) {
        let last: HashMap<u32, usize> = self.wall.books.iter().enumerate().map(|(at, book)| (book.title, at)).collect();
        for Coming { title, issue, size, copies } in coming {
            let Some(title) = self.wall.titles.iter().position(|known| known.title.id == *title) else { continue };
            let make = Make { size: *size, ..Make::default() };
            let behind = || last.get(&(title as u32)).map(|&at| self.wall.books[at].key.clone()).unwrap_or_default();
            let key = issue.as_ref().map(|issue| self.settings.rule.copy_key(issue.sort_key(), "1", 1));
            let book = Book {
                copy: CopyId::new(i64::MAX),
                title: title as u32,
                key: key.unwrap_or_else(behind),
                um: self.settings.calibration.apply(make.um()),
                mg: make.mg(),
                size: *size,
                unread: false,
                at: None,
                expected: true,
            };
            self.wall.books.extend(std::iter::repeat_n(book, *copies as usize));
        }
        self.wall.sort(&self.settings.rule);
    }
}
