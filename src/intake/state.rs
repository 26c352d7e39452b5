//! The states of a staged item and the legal steps between them.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

/// Where a staged item stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum ItemState {
    /// Its code is complete and certain: it waits for `resolve`.
    Waiting,
    /// Its code is missing, uncertain or without its add-on: a person completes it.
    Incomplete,
    /// It became one or more copies.
    Accepted,
    /// It became nothing.
    Dropped,
}

/// A step that the queue does not allow.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("an item that is {from} can't become {to}; take back what settled it with 'undo' first")]
pub struct IllegalStep {
    /// Its state.
    pub from: ItemState,
    /// The state it was to take.
    pub to: ItemState,
}

impl ItemState {
    /// All states.
    pub const ALL: [Self; 4] = [Self::Waiting, Self::Incomplete, Self::Accepted, Self::Dropped];

    /// Every legal step. Nothing leads out of accepted and dropped but undo, which restores rows as they were.
    const STEPS: [(Self, Self); 7] = [
        (Self::Incomplete, Self::Incomplete),
        (Self::Incomplete, Self::Waiting),
        (Self::Incomplete, Self::Dropped),
        (Self::Waiting, Self::Waiting),
        (Self::Waiting, Self::Incomplete),
        (Self::Waiting, Self::Accepted),
        (Self::Waiting, Self::Dropped),
    ];

    /// The state after a step to `to`.
    ///
    /// # Errors
    /// If the step is not legal.
    pub fn step(self, to: Self) -> Result<Self, IllegalStep> {
        if Self::STEPS.contains(&(self, to)) { Ok(to) } else { Err(IllegalStep { from: self, to }) }
    }

    /// Whether it still waits for anything.
    #[must_use]
    pub fn is_open(self) -> bool {
        matches!(self, Self::Waiting | Self::Incomplete)
    }

    /// The word of the store and of JSON.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Waiting => "waiting",
            Self::Incomplete => "incomplete",
            Self::Accepted => "accepted",
            Self::Dropped => "dropped",
        }
    }
}

impl fmt::Display for ItemState {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

impl FromStr for ItemState {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        Self::ALL
            .into_iter()
            .find(|state| state.word() == text)
            .ok_or_else(|| format!("'{text}' is no state of an item; waiting, incomplete, accepted and dropped are"))
    }
}
