//! A title and issues of it, as a person types them in one line.

use super::WorkflowError;
use super::titles::titles_like;
use crate::collection::{IssueNumber, NewTitle, Title, search_key};
use crate::store::{Store, Writer};

/// The most issues that one line names.
const MOST: u32 = 1000;

/// Why nothing was put on the pull list or the list of wants, or taken off.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ListError {
    /// A title without an issue where one is needed.
    #[error("'{0}' names no issue; name issues behind the title, such as 12 or 14-16")]
    NoIssueNamed(String),
    /// The issue is owned.
    #[error("{title} {issue} is owned already")]
    OwnedAlready {
        /// The title's name.
        title: String,
        /// The issue.
        issue: String,
    },
    /// Several issues where a run begins with one.
    #[error("a standing title begins with one issue; name only that")]
    SeveralFirst,
    /// A run that would begin with an issue that has none after it.
    #[error("issue {0} is no plain number, so nobody knows the next one; name another to begin with")]
    NoPlainNumber(String),
    /// Nothing of that kind is on the list.
    #[error("{what} is not on the list")]
    NotListed {
        /// What was named.
        what: String,
    },
    /// A title was to be made that is there.
    #[error("there is a title '{0}' already; leave out --new, or give the year of the new one")]
    KnownTitle(String),
    /// Numbers that run backwards, or too many of them.
    #[error("{0} can't be listed; name at most 1000 issues, the lower number first")]
    NoRange(String),
    /// A run without gaps.
    #[error("nothing is missing of {0} between the lowest and the highest number owned")]
    NothingMissing(String),
}

/// Words that name a title and issues of it: `tide wardens 12 14-16`, `tide wardens '#Annual 2'`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Named {
    words: Vec<String>,
}

/// The words parted: what names the title, and the issues.
type Parted = (String, Vec<IssueNumber>);

impl Named {
    /// From words as they were typed.
    #[must_use]
    pub fn new(words: &[String]) -> Self {
        // The shell's quotes may hold several words.
        let split = |word: &String| match word.starts_with('#') {
            true => vec![word.clone()],
            false => word.split_whitespace().map(str::to_owned).collect(),
        };
        Self { words: words.iter().flat_map(split).collect() }
    }

    /// As typed.
    pub(super) fn text(&self) -> String {
        self.words.join(" ")
    }

    /// The words parted at each place where issues may begin, longest name first.
    fn parted(&self) -> Result<Vec<Parted>, WorkflowError> {
        let mut found = vec![(self.words.join(" "), Vec::new())];
        let mut issues: Vec<IssueNumber> = Vec::new();
        for (at, word) in self.words.iter().enumerate().rev() {
            let Some(mut numbers) = numbers(word)? else { break };
            numbers.append(&mut issues);
            issues = numbers;
            found.push((self.words[..at].join(" "), issues.clone()));
        }
        found.retain(|(name, _)| !search_key(name).is_empty());
        if found.is_empty() { Err(WorkflowError::NothingAsked(self.text())) } else { Ok(found) }
    }

    /// The one title that is known, and the issues; at least one if they are `needed`.
    ///
    /// # Errors
    /// If nothing is named, no title fits or several do, or no issue is named.
    pub(super) fn known(&self, store: &Store, needed: bool) -> Result<(Title, Vec<IssueNumber>), WorkflowError> {
        for (name, issues) in self.parted()? {
            if needed && issues.is_empty() {
                continue;
            }
            let mut titles = titles_like(store, &name)?.titles;
            match titles.len() {
                0 => {}
                1 => return Ok((titles.remove(0), issues)),
                titles => return Err(WorkflowError::SeveralTitles { query: name, titles }),
            }
        }
        if needed && !titles_like(store, &self.text())?.titles.is_empty() {
            return Err(WorkflowError::from(ListError::NoIssueNamed(self.text())));
        }
        Err(WorkflowError::NoTitleFits(self.text()))
    }

    /// A title that is made because none of that name is known; and the issues.
    ///
    /// # Errors
    /// If nothing is named, or a title of that name is known.
    pub(super) fn made(&self, writer: &Writer<'_>, new: &NewTitle) -> Result<(Title, Vec<IssueNumber>), WorkflowError> {
        let Some((name, issues)) = self.parted()?.pop() else {
            return Err(WorkflowError::NothingAsked(self.text()));
        };
        let known = writer.titles_named(&search_key(&name))?;
        if known.iter().any(|title| title.year == new.year) {
            return Err(WorkflowError::from(ListError::KnownTitle(name)));
        }
        let id = writer.insert_title(&NewTitle { name, ..new.clone() })?;
        Ok((writer.title(id)?, issues))
    }
}

/// The numbers that a word stands for; `None` if it is a word of the name.
fn numbers(word: &str) -> Result<Option<Vec<IssueNumber>>, WorkflowError> {
    let issue = IssueNumber::new(word);
    if word.starts_with('#') && !issue.as_str().is_empty() {
        return Ok(Some(vec![issue]));
    }
    if let Some((from, to)) = word.split_once(['-', '\u{2013}'])
        && let (Ok(from), Ok(to)) = (from.parse::<u32>(), to.parse::<u32>())
    {
        return match to.checked_sub(from) {
            Some(more) if more < MOST => Ok(Some((from..=to).map(|n| IssueNumber::new(&n.to_string())).collect())),
            _ => Err(WorkflowError::from(ListError::NoRange(word.to_owned()))),
        };
    }
    Ok(issue.is_numeric().then(|| vec![issue]))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_and_issues_are_parted_wherever_they_may_be() {
        let parted = |words: &[&str]| -> Vec<(String, Vec<String>)> {
            let named = Named::new(&words.iter().map(|w| (*w).to_owned()).collect::<Vec<_>>());
            let text = |issues: Vec<IssueNumber>| issues.iter().map(|i| i.as_str().to_owned()).collect();
            named.parted().unwrap().into_iter().map(|(name, issues)| (name, text(issues))).collect()
        };
        let is = |name: &str, issues: &[&str]| (name.to_owned(), issues.iter().map(|i| (*i).to_owned()).collect());
        assert_eq!(parted(&["tide wardens"]), [is("tide wardens", &[])]);
        assert_eq!(
            parted(&["station", "9", "4-6"]),
            [is("station 9 4-6", &[]), is("station 9", &["4", "5", "6"]), is("station", &["9", "4", "5", "6"])]
        );
        assert_eq!(parted(&["tide", "#Annual 2"]), [is("tide #Annual 2", &[]), is("tide", &["Annual 2"])]);
        assert_eq!(parted(&["tide", "-1", "1.5"]).pop(), Some(is("tide", &["-1", "1.5"])));
        for wrong in [&["tide", "9-4"][..], &["tide", "1-5000"], &["!"], &[]] {
            let named = Named::new(&wrong.iter().map(|w| (*w).to_owned()).collect::<Vec<_>>());
            assert!(named.parted().is_err() || wrong == ["!"], "{wrong:?}");
        }
    }
}
