//! What resolving asks of the collection, and what it decides.

use std::collections::HashSet;

use serde::{Deserialize, Serialize};

use super::answers::AnswerError;
use super::question::Question;
use crate::code::{AddOn, Code, Gtin};
use crate::collection::{NewTitle, Owned, Title, TitleChange, TitleId};
use crate::intake::ItemId;

/// What resolving looks up. Every answer must come by an index: none may grow with the collection.
pub trait Lookup {
    /// What can go wrong.
    type Error;

    /// The titles that a code stands for, latest volume last.
    ///
    /// # Errors
    /// If the collection can't be read.
    fn titles_of_code(&self, gtin: Gtin) -> Result<Vec<Title>, Self::Error>;

    /// The titles with this search key.
    ///
    /// # Errors
    /// If the collection can't be read.
    fn titles_named(&self, key: &str) -> Result<Vec<Title>, Self::Error>;

    /// A few titles of codes from the same company.
    ///
    /// # Errors
    /// If the collection can't be read.
    fn neighbours(&self, gtin: Gtin) -> Result<Vec<Title>, Self::Error>;

    /// The highest plain number among a title's issues.
    ///
    /// # Errors
    /// If the collection can't be read.
    fn highest_number(&self, title: TitleId) -> Result<Option<u32>, Self::Error>;

    /// What is owned of an issue.
    ///
    /// # Errors
    /// If the collection can't be read.
    fn owned(&self, title: TitleId, issue: &str) -> Result<Vec<Owned>, Self::Error>;

    /// The printings recorded with these very digits, if a list gave any of them; none otherwise.
    ///
    /// # Errors
    /// If the collection can't be read.
    fn listed(&self, gtin: Gtin, add_on: AddOn) -> Result<Vec<Listed>, Self::Error>;

    /// The title and issue that a code by itself stands for, as an ISBN does.
    ///
    /// # Errors
    /// If the collection can't be read.
    fn book(&self, gtin: Gtin) -> Result<Option<(Title, String)>, Self::Error>;
}

/// A cover and printing that a list gives these very digits for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Listed {
    /// Its title.
    pub title: Title,
    /// Its issue; empty for a whole book.
    pub issue: String,
    /// Its cover.
    pub cover: String,
    /// Its printing, from 1.
    pub printing: u32,
}

/// What a staged item turned out to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Verdict {
    /// Nothing of its issue is owned.
    #[serde(rename = "new")]
    New,
    /// Its very cover and printing is owned.
    #[serde(rename = "another copy")]
    AnotherCopy,
    /// Its issue is owned with other covers only.
    #[serde(rename = "another cover")]
    AnotherCover,
    /// Its cover is owned in other printings only.
    #[serde(rename = "another printing")]
    AnotherPrinting,
    /// Nobody has said yet what its code stands for.
    #[serde(rename = "unknown title")]
    UnknownTitle,
    /// It is nothing for the collection.
    #[serde(rename = "not a comic")]
    NotAComic,
}

impl Verdict {
    /// Its words, as in JSON.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::New => "new",
            Self::AnotherCopy => "another copy",
            Self::AnotherCover => "another cover",
            Self::AnotherPrinting => "another printing",
            Self::UnknownTitle => "unknown title",
            Self::NotAComic => "not a comic",
        }
    }
}

/// A title that is known, or the n-th new one of a plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum TitleRef {
    /// One of the collection's.
    Known(TitleId),
    /// One of [`Plan::titles`].
    New(usize),
}

/// A printing of which copies are accepted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Accepted {
    /// Its title.
    pub title: TitleRef,
    /// Its issue; empty for a whole book.
    pub issue: String,
    /// Its cover.
    pub cover: String,
    /// Its printing, from 1.
    pub printing: u32,
    /// Its code.
    pub code: Gtin,
    /// Its add-on.
    pub add_on: Option<AddOn>,
    /// How many copies.
    pub copies: u32,
}

/// What becomes of an item.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Outcome {
    /// It becomes copies.
    Accept(Accepted),
    /// It becomes nothing, for the reason given.
    Drop(&'static str),
}

/// A settled item.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Decision {
    /// The item.
    pub item: ItemId,
    /// What it turned out to be.
    pub verdict: Verdict,
    /// What becomes of it.
    pub outcome: Outcome,
}

/// Everything that one resolving decided; to be applied in this order.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Plan {
    /// Codes that a person completed, also of items that stay open.
    pub completed: Vec<(ItemId, Code)>,
    /// Titles to be made.
    pub titles: Vec<NewTitle>,
    /// Codes that stand for a title from now on.
    pub codes: Vec<(Gtin, TitleRef)>,
    /// Changes of known titles.
    pub changes: Vec<(TitleId, TitleChange)>,
    /// Settled items.
    pub decisions: Vec<Decision>,
    /// Items whose title nobody has named yet.
    pub unknown: Vec<ItemId>,
    /// What only a person can know.
    pub open: Vec<Question>,
}

impl Plan {
    /// Leaves what becomes of other items for later. Titles and codes are made by answers, and stay.
    pub fn keep_only(&mut self, items: &HashSet<ItemId>) {
        self.completed.retain(|(item, _)| items.contains(item));
        self.decisions.retain(|decision| items.contains(&decision.item));
        self.unknown.retain(|item| items.contains(item));
        self.open.retain(|question| question.items().iter().any(|item| items.contains(item)));
    }
}

/// Why nothing could be decided.
#[derive(Debug, thiserror::Error)]
pub enum ResolveError<E> {
    /// An answer can't be used.
    #[error(transparent)]
    Answer(#[from] AnswerError),
    /// The collection can't be read.
    #[error("the collection can't be read")]
    Lookup(#[source] E),
}

/// What was looked up or decided, or why it could not be.
pub(super) type Resolved<T, E> = Result<T, ResolveError<E>>;
