//! What each waiting item needs, so that a person finds the hard ones first.

use std::collections::HashMap;

use super::preview::decided_by;
use super::resolve::planned;
use super::{Decided, Select, WorkflowError};
use crate::code::Certainty;
use crate::intake::{Item, ItemId, ItemState};
use crate::resolve::{Answers, Question};
use crate::store::{QueueFilter, Store};

/// What an item needs before it can enter the collection; the hardest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Need {
    /// No code was read.
    Code,
    /// Its add-on was not read.
    AddOn,
    /// It was read, and is to be confirmed.
    Confirm,
    /// Nobody has said yet which title its code stands for.
    Title,
    /// Another answer.
    Answer,
    /// Nothing.
    Nothing,
}

impl Need {
    /// All, the hardest first.
    pub const ALL: [Self; 6] = [Self::Code, Self::AddOn, Self::Confirm, Self::Title, Self::Answer, Self::Nothing];

    /// Whether a person completes it by its picture.
    #[must_use]
    pub fn is_of_picture(self) -> bool {
        self <= Self::Confirm
    }

    /// What an item needs by itself, whatever the collection knows.
    fn of(item: &Item) -> Option<Self> {
        match item.code {
            None => Some(Self::Code),
            Some(_) if item.certainty == Certainty::Confirm => Some(Self::Confirm),
            Some(_) => (item.state == ItemState::Incomplete).then_some(Self::AddOn),
        }
    }

    /// What a question asks for.
    fn asked(question: &Question, item: &Item) -> Self {
        match question {
            Question::Code(_) => Self::of(item).unwrap_or(Self::Confirm),
            Question::AddOn(_) => Self::AddOn,
            Question::Title(_) | Question::Book(_) => Self::Title,
            _ => Self::Answer,
        }
    }
}

/// An item with what it needs.
#[derive(Debug, Clone, PartialEq)]
pub struct Waiting {
    /// The item.
    pub item: Item,
    /// What it needs first.
    pub need: Need,
    /// The word of the question that is answered without looking at its picture, if one is open.
    pub ask: Option<&'static str>,
    /// What it is, if it needs nothing.
    pub decided: Option<Decided>,
}

/// What waits: the hardest items first, then the oldest.
///
/// # Errors
/// If the collection can't be read.
pub fn queue_needs(store: &Store) -> Result<Vec<Waiting>, WorkflowError> {
    store.read(|store| {
        let (items, plan) = planned(store, &Select::All, &Answers::none())?;
        let mut decided: HashMap<ItemId, Decided> =
            decided_by(store, &plan)?.into_iter().map(|decided| (decided.item, decided)).collect();
        let mut asked: HashMap<ItemId, Vec<&Question>> = HashMap::new();
        for question in &plan.open {
            question.items().iter().for_each(|item| asked.entry(*item).or_default().push(question));
        }
        let mut waiting: Vec<_> = items
            .into_iter()
            .map(|item| {
                let questions = asked.get(&item.id).map(Vec::as_slice).unwrap_or_default();
                let need = questions.iter().map(|question| Need::asked(question, &item)).min();
                let ask =
                    questions.iter().map(|question| question.ask()).find(|ask| !matches!(*ask, "code" | "add_on"));
                Waiting { need: need.unwrap_or(Need::Nothing), ask, decided: decided.remove(&item.id), item }
            })
            .collect();
        waiting.sort_by_key(|waiting| (waiting.need, waiting.item.id));
        Ok(waiting)
    })
}

/// The items that a person completes by their pictures, in the order of [`queue_needs`]; with what each needs.
///
/// # Errors
/// If the collection can't be read.
pub fn queue_hard(store: &Store) -> Result<Vec<(Need, ItemId)>, WorkflowError> {
    let items = store.items(QueueFilter::State(ItemState::Incomplete))?;
    let mut hard: Vec<_> = items.iter().filter_map(|item| Some((Need::of(item)?, item.id))).collect();
    hard.sort_unstable();
    Ok(hard)
}
