//! A title's run as a list to tick off.

use serde::Serialize;

use super::Title;

/// A gap of at most so many issues stands in a checklist one by one, to be ticked off with a pen; a longer one in one line.
const LONGEST_GAP: u32 = 50;

/// A line of a checklist.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Entry {
    /// An issue that is owned.
    Owned {
        /// Its number; empty for a whole book.
        number: String,
        /// How many copies of it.
        copies: u32,
    },
    /// Issues between two that are owned.
    Missing {
        /// The first.
        from: u32,
        /// The last.
        to: u32,
    },
}

/// What is owned of a title and what is missing between, as far as its plain numbers tell.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Checklist {
    /// The title.
    pub title: Title,
    /// The lowest plain number owned; `None` if none is.
    pub first: Option<u32>,
    /// The highest.
    pub last: Option<u32>,
    /// Issues owned.
    pub owned_issues: u32,
    /// Issues missing.
    pub missing_issues: u32,
    /// Both, in order.
    pub entries: Vec<Entry>,
}

impl Checklist {
    /// From the issues owned, in order: each with its number, its plain number if it has one, and its copies.
    #[must_use]
    pub fn new(title: Title, owned: &[(String, Option<u32>, u32)]) -> Self {
        let mut list = Self { title, first: None, last: None, owned_issues: 0, missing_issues: 0, entries: Vec::new() };
        for (number, plain, copies) in owned {
            if let Some(plain) = *plain {
                if let Some(last) = list.last.filter(|last| plain > last + 1) {
                    list.missing_issues += plain - last - 1;
                    list.entries.push(Entry::Missing { from: last + 1, to: plain - 1 });
                }
                list.first = list.first.or(Some(plain));
                list.last = list.last.max(Some(plain));
            }
            list.owned_issues += 1;
            list.entries.push(Entry::Owned { number: number.clone(), copies: *copies });
        }
        list
    }

    /// The entries as lines to tick off: short gaps issue by issue.
    pub fn lines(&self) -> impl Iterator<Item = Entry> {
        self.entries.iter().flat_map(|entry| match entry {
            Entry::Missing { from, to } if to - from < LONGEST_GAP => {
                (*from..=*to).map(|number| Entry::Missing { from: number, to: number }).collect()
            }
            other => vec![other.clone()],
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::collection::{IssueNumber, TitleId};

    fn list(owned: &[&str]) -> Checklist {
        let title = Title {
            id: TitleId::new(1),
            publisher: None,
            name: "Tide Wardens".to_owned(),
            volume: String::new(),
            year: None,
            layout: None,
            issue_base: 0,
        };
        let owned: Vec<_> = owned.iter().map(|n| ((*n).to_owned(), IssueNumber::new(n).whole(), 1)).collect();
        Checklist::new(title, &owned)
    }

    fn shown(list: &Checklist) -> Vec<String> {
        let lines = list.lines().map(|entry| match entry {
            Entry::Owned { number, .. } => number,
            Entry::Missing { from, to } => format!("?{from}-{to}"),
        });
        lines.collect()
    }

    #[test]
    fn what_is_missing_stands_between_what_is_owned() {
        let few = list(&["-1", "1", "1.5", "4", "Annual 1"]);
        assert_eq!(shown(&few), ["-1", "1", "1.5", "?2-2", "?3-3", "4", "Annual 1"]);
        assert_eq!((few.first, few.last, few.owned_issues, few.missing_issues), (Some(1), Some(4), 5, 2));
        assert_eq!(shown(&list(&[])), [""; 0]);
        assert_eq!(list(&["Annual 1"]).first, None);
    }

    #[test]
    fn a_long_gap_is_one_line() {
        assert_eq!(list(&["1", "52"]).lines().count(), 52);
        assert_eq!(shown(&list(&["1", "53"])), ["1", "?2-52", "53"]);
        let most = list(&["0", &u32::MAX.to_string()]);
        assert_eq!((shown(&most).len(), most.missing_issues), (3, u32::MAX - 1));
    }
}
