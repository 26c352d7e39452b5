//! What is on the desk while one stack is resolved: what answers said, what was decided, what is asked.

use std::collections::HashMap;

use super::answers::Fault;
use super::known::Titles;
use super::plan::{Decision, Lookup, Outcome, Plan, TitleRef, Verdict};
use super::question::Question;
use super::{AnswerError, Answers};
use crate::collection::{IssueNumber, Owned};
use crate::intake::{Item, ItemId};

/// What is on the desk while one stack is resolved.
pub(super) struct Desk<'a, L: Lookup> {
    pub(super) lookup: &'a L,
    pub(super) answers: &'a Answers,
    pub(super) titles: Titles<'a, L>,
    pub(super) plan: Plan,
    /// The titles that answers named, by item.
    pub(super) named: HashMap<ItemId, TitleRef>,
    /// What this stack adds, so that its second copy of a book is known as such.
    pub(super) accepted: HashMap<(TitleRef, IssueNumber), Vec<Owned>>,
    /// Where in the open questions a group's question stands.
    pub(super) groups: HashMap<(&'static str, u64), usize>,
}

/// Which printing an item is of.
pub(super) struct Found {
    pub(super) title: TitleRef,
    pub(super) issue: String,
    pub(super) cover: String,
    pub(super) printing: u32,
}

/// The answer of a kind to an item's question, if there is one.
macro_rules! answer {
    ($desk:expr, $kind:ident, $ask:literal, $item:expr) => {
        match $desk.answers.get($ask, $item.id) {
            Some((line, Question::$kind(answer))) => Some((line, answer)),
            _ => None,
        }
    };
}
pub(super) use answer;

impl<'a, L: Lookup> Desk<'a, L> {
    /// A desk with nothing decided yet.
    pub(super) fn new(lookup: &'a L, answers: &'a Answers) -> Self {
        Self {
            lookup,
            answers,
            titles: Titles::new(lookup),
            plan: Plan::default(),
            named: HashMap::new(),
            accepted: HashMap::new(),
            groups: HashMap::new(),
        }
    }

    /// Decides that an item is none to keep.
    pub(super) fn drop_item(&mut self, item: &Item, why: &'static str) {
        let decision = Decision { item: item.id, verdict: Verdict::NotAComic, outcome: Outcome::Drop(why) };
        self.plan.decisions.push(decision);
    }

    /// The open question of a group, made when its first item needs it.
    pub(super) fn group(&mut self, ask: &'static str, key: u64, make: impl FnOnce() -> Question) -> &mut Question {
        let open = &mut self.plan.open;
        let index = *self.groups.entry((ask, key)).or_insert_with(|| {
            open.push(make());
            open.len() - 1
        });
        &mut self.plan.open[index]
    }
}

/// The answer was given about another code: the item was completed or undone since the question was printed.
pub(super) fn stale(line: usize, field: &str, item: &Item) -> AnswerError {
    let problem = format!("item {} has another code by now; print the questions again", item.id);
    Fault::new(field, problem).at(line)
}
