//! The boxes in the room, and what each is for.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::collection::{SizeClass, TitleId};
use crate::intake::id;

id! {
    /// A box.
    BoxId
}

/// What is sold as a box. Lengths are from memory: measure the own ones.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum BoxKind {
    /// Holds 100 to 150 comics.
    Short,
    /// Holds twice that.
    Long,
    /// Wide and high enough for magazines.
    Magazine,
    /// The collector's own: its length has to be said.
    Own,
}

impl BoxKind {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Short, Self::Long, Self::Magazine, Self::Own];

    /// The word of the store, the command line and JSON.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Short => "short",
            Self::Long => "long",
            Self::Magazine => "magazine",
            Self::Own => "own",
        }
    }

    /// The usual inner length in millimetres; that of a short box for an own one.
    #[must_use]
    pub fn inner_mm(self) -> u32 {
        match self {
            Self::Short | Self::Magazine | Self::Own => 375,
            Self::Long => 700,
        }
    }
}

impl FromStr for BoxKind {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let found = Self::ALL.into_iter().find(|kind| kind.word() == text);
        found.ok_or_else(|| format!("'{text}' is no kind of box; there are short, long, magazine and own"))
    }
}

impl fmt::Display for BoxKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

/// What a box is for. A copy goes to the boxes of the first purpose in this order that fits it.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(tag = "for", content = "of", rename_all = "lowercase")]
pub enum Purpose {
    /// Copies that are not read yet.
    Unread,
    /// One title.
    Title(TitleId),
    /// A family or character, by its name.
    Family(String),
    /// A publisher, by its name.
    Publisher(String),
    /// A size.
    Size(SizeClass),
    /// Whatever no other box is for.
    Rest,
    /// Empty, and free to become any.
    Spare,
}

/// Where a box stands. Boxes are walked along in this order: row by row, and in each from its first column.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
pub struct Place {
    /// The row.
    pub row: u32,
    /// The column.
    pub column: u32,
    /// Its turn among boxes in the same row and column.
    pub turn: u32,
}

impl Place {
    /// Where a new box stands between two others on the walk: in the next column if it is the last, else in the same place as a
    /// neighbour, behind the one or before the other.
    #[must_use]
    pub fn between(before: Option<Self>, behind: Option<Self>) -> Self {
        match (before, behind) {
            (None, None) => Self { row: 1, column: 1, turn: 0 },
            (Some(before), None) => Self { column: before.column + 1, turn: 0, ..before },
            (Some(before), Some(_)) => Self { turn: before.turn + 1, ..before },
            (None, Some(behind)) => behind,
        }
    }
}

/// A box.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ShelfBox {
    /// Its number.
    #[serde(rename = "box")]
    pub id: BoxId,
    /// What is written on it.
    pub label: String,
    /// Its kind.
    pub kind: BoxKind,
    /// Its inner length.
    pub inner_mm: u32,
    /// Whether magazines fit in.
    pub magazines: bool,
    /// What it is for.
    #[serde(flatten)]
    pub purpose: Purpose,
    /// Where it stands.
    #[serde(flatten)]
    pub place: Place,
    /// What to recognise it by; a picture's path or words.
    pub note: String,
    /// Whether a plan adds it and it is not there yet.
    pub planned: bool,
}
