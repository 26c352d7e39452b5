//! What is expected and what is wanted, and what of it came.

use serde::Serialize;

use super::{IssueNumber, Money, Title, TitleId, Week};

/// A title of which every further issue is expected.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Standing {
    /// The title.
    pub title: Title,
    /// The weeks from one issue to the next.
    pub weeks: u32,
    /// The first number that is expected.
    pub first_number: u32,
    /// The week in which that is due.
    pub first_due: Week,
}

/// A book that is expected.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Due {
    /// Its title.
    pub title: Title,
    /// Its issue.
    pub issue: String,
    /// The week in which it is due, if that is known.
    pub due: Option<Week>,
    /// For an issue of a standing title, the weeks from one to the next.
    pub every: Option<u32>,
}

/// What may be paid for an issue that is wanted.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct Want {
    /// The most that may be paid; `None` if nobody said.
    pub up_to: Option<Money>,
    /// A note; empty for none.
    pub note: String,
}

/// A book that came, as far as it is known.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Came {
    /// The titles and issues that it may be: several where titles share a code.
    pub may_be: Vec<(Title, String)>,
}

/// A book that came.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Arrived {
    /// Its title.
    pub title: Title,
    /// Its issue.
    pub issue: String,
    /// How many copies.
    pub copies: u32,
    /// Whether it was on the list of wants.
    pub wanted: bool,
}

/// What was expected in a week, and what came.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Comparison {
    /// What was asked for and came.
    pub came: Vec<Arrived>,
    /// What is due and did not come.
    pub missing: Vec<Due>,
    /// What came without being asked for.
    pub unasked: Vec<Arrived>,
}

impl Standing {
    /// What is expected next, given the newest number that came and its week: first the issue that the list began with, then each a
    /// while after the one before.
    #[must_use]
    pub fn next(&self, newest: Option<(u32, Option<Week>)>) -> Due {
        let (number, due) = match newest {
            Some((newest, came)) if newest >= self.first_number => {
                let after_first = newest.saturating_sub(self.first_number).saturating_add(1);
                let due = match came {
                    Some(came) => came.after(self.weeks),
                    None => self.first_due.after(self.weeks.saturating_mul(after_first)),
                };
                (newest.saturating_add(1), due)
            }
            _ => (self.first_number, self.first_due),
        };
        Due { title: self.title.clone(), issue: number.to_string(), due: Some(due), every: Some(self.weeks) }
    }
}

impl Due {
    /// The one after it, if its title is a standing one.
    #[must_use]
    pub fn following(&self) -> Option<Self> {
        let weeks = self.every?;
        let number: u32 = self.issue.parse().ok()?;
        let due = self.due.map(|due| due.after(weeks));
        Some(Self { issue: number.saturating_add(1).to_string(), due, ..self.clone() })
    }

    /// Whether that came answers to it: the very issue or, of a standing title, one of the numbers that are expected.
    fn is_met_by(&self, title: TitleId, issue: &IssueNumber) -> bool {
        let expected = IssueNumber::new(&self.issue);
        let later =
            || self.every.is_some() && issue.whole().zip(expected.whole()).is_some_and(|(came, due)| came >= due);
        self.title.id == title && (*issue == expected || later())
    }
}

/// Holds what came in a week against what was expected before it. Of what is not due by then, nothing is missing.
#[must_use]
pub fn compare(
    week: Week,
    dues: &[Due],
    wanted: impl Fn(TitleId, &IssueNumber) -> bool,
    came: Vec<Came>,
) -> Comparison {
    let mut comparison = Comparison::default();
    let mut met = vec![false; dues.len()];
    for Came { may_be } in came {
        let meets = |(title, issue): &(Title, String)| {
            dues.iter().position(|due| due.is_met_by(title.id, &IssueNumber::new(issue)))
        };
        let is_wanted = |(title, issue): &(Title, String)| wanted(title.id, &IssueNumber::new(issue));
        let asked = may_be.iter().find_map(|book| meets(book).map(|due| (book, due)));
        let Some(book) = asked.map(|(book, _)| book).or_else(|| may_be.iter().find(|b| is_wanted(b))).or(may_be.last())
        else {
            continue;
        };
        let wanted = is_wanted(book);
        if let Some((_, due)) = asked {
            met[due] = true;
        }
        let list = if asked.is_some() || wanted { &mut comparison.came } else { &mut comparison.unasked };
        let (title, issue) = book.clone();
        let number = IssueNumber::new(&issue);
        match list.iter_mut().find(|known| known.title.id == title.id && IssueNumber::new(&known.issue) == number) {
            Some(known) => known.copies += 1,
            None => list.push(Arrived { title, issue, copies: 1, wanted }),
        }
    }
    let missing = dues.iter().zip(met).filter(|(due, met)| !met && due.due.is_some_and(|due| due <= week));
    comparison.missing = missing.map(|(due, _)| due.clone()).collect();
    comparison
}

#[cfg(test)]
mod tests {
    use super::*;

    fn title(id: i64) -> Title {
        Title {
            id: TitleId::new(id),
            publisher: None,
            name: format!("Title {id}"),
            volume: String::new(),
            year: None,
            layout: None,
            issue_base: 0,
        }
    }

    fn week(text: &str) -> Week {
        text.parse().unwrap()
    }

    fn standing() -> Standing {
        Standing { title: title(1), weeks: 4, first_number: 12, first_due: week("2026-W10") }
    }

    fn came(list: &[(i64, &str)]) -> Vec<Came> {
        list.iter().map(|(id, issue)| Came { may_be: vec![(title(*id), (*issue).to_owned())] }).collect()
    }

    #[test]
    fn a_standing_title_expects_the_next_after_the_newest() {
        let next = |newest| {
            let due = standing().next(newest);
            (due.issue, due.due.unwrap().to_string())
        };
        let is = |issue: &str, week: &str| (issue.to_owned(), week.to_owned());
        assert_eq!(next(None), is("12", "2026-W10"));
        assert_eq!(next(Some((7, Some(week("2026-W09"))))), is("12", "2026-W10"));
        assert_eq!(next(Some((12, Some(week("2026-W11"))))), is("13", "2026-W15"));
        // Nobody knows when it came: by the plan.
        assert_eq!(next(Some((13, None))), is("14", "2026-W18"));
        let following = standing().next(None).following().unwrap();
        assert_eq!((following.issue.as_str(), following.due), ("13", Some(week("2026-W14"))));
    }

    #[test]
    fn what_came_is_held_against_what_was_expected() {
        let single = |id, issue: &str, due: Option<&str>| Due {
            title: title(id),
            issue: issue.to_owned(),
            due: due.map(week),
            every: None,
        };
        let dues = [
            standing().next(None),
            single(2, "1", Some("2026-W09")),
            single(2, "2", Some("2026-W10")),
            single(2, "3", Some("2026-W11")),
            single(3, "\u{bd}", None),
        ];
        let wanted = |title: TitleId, issue: &IssueNumber| title.number() == 4 && issue.as_str() == "7";
        let found = compare(
            week("2026-W10"),
            &dues,
            wanted,
            came(&[(1, "13"), (1, "11"), (2, "2"), (2, "2"), (3, "0.5"), (4, "7"), (4, "8")]),
        );
        let books = |list: &[Arrived]| -> Vec<_> {
            list.iter().map(|a| (a.title.id.number(), a.issue.clone(), a.copies, a.wanted)).collect()
        };
        let is = |id, issue: &str, copies, wanted| (id, issue.to_owned(), copies, wanted);
        assert_eq!(
            books(&found.came),
            [is(1, "13", 1, false), is(2, "2", 2, false), is(3, "0.5", 1, false), is(4, "7", 1, true)]
        );
        assert_eq!(books(&found.unasked), [is(1, "11", 1, false), is(4, "8", 1, false)]);
        assert_eq!(found.missing.iter().map(|due| due.issue.as_str()).collect::<Vec<_>>(), ["1"]);
    }

    #[test]
    fn of_titles_that_share_a_code_the_expected_one_came() {
        let both = Came { may_be: vec![(title(1), "12".to_owned()), (title(2), "12".to_owned())] };
        let found = compare(week("2026-W10"), &[standing().next(None)], |_, _| false, vec![both.clone()]);
        assert_eq!(found.came[0].title.id, TitleId::new(1));
        let found = compare(week("2026-W10"), &[], |_, _| false, vec![both]);
        assert_eq!(found.unasked[0].title.id, TitleId::new(2));
    }
}
