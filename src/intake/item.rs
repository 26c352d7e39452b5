//! A staged item, and how a further sighting fits it.

use std::path::PathBuf;

use jiff::Timestamp;

use super::{ItemId, ItemState, RunId};
use crate::code::{AddOnState, Certainty, Code, Gtin, PrefixKind, Symbology, prefix_kind};
use crate::source::{Origin, Sighting};

/// A sighting that is kept until a person or the collection settles it. Its crop is fetched on its own.
#[derive(Debug, Clone, PartialEq)]
pub struct Item {
    /// Its number.
    pub id: ItemId,
    /// The import or scan that staged it.
    pub run: RunId,
    /// Where it came from.
    pub origin: Origin,
    /// When it was seen.
    pub seen_at: Timestamp,
    /// Its code, as read or as completed by a person.
    pub code: Option<Code>,
    /// The kind of its symbol.
    pub symbology: Option<Symbology>,
    /// How far its code can be trusted.
    pub certainty: Certainty,
    /// The reader's stage.
    pub by: Option<String>,
    /// Module width in photo px.
    pub module_px: Option<f32>,
    /// Corners of the main symbol in photo px.
    pub corners: Option<[[f32; 2]; 4]>,
    /// Whether a crop is kept.
    pub has_crop: bool,
    /// Where it stands.
    pub state: ItemState,
    /// What a person or a run noted.
    pub note: String,
    /// Further sightings of it in the same run.
    pub seen_again: Vec<Repeat>,
}

/// A further sighting of a staged item within the same run.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Repeat {
    /// The photo, if it came from one.
    pub path: Option<PathBuf>,
    /// Which symbol of the photo, from 0.
    pub position: Option<u32>,
    /// When it was seen.
    pub seen_at: Timestamp,
}

/// How a sighting fits an item of the same run that still waits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fit {
    /// It is something else, or can't be told for certain to be the same.
    Other,
    /// The same code again.
    Repeat,
    /// The same code again from another photo or moment, and one of the two readings is certain or both agree: it
    /// confirms what was uncertain.
    Confirms,
}

/// How `sighting` fits `item`. Only a read add-on tells two issues of a title apart, so nothing else is ever merged.
#[must_use]
pub fn fit(item: &Item, sighting: &Sighting) -> Fit {
    let (Some(known), Some(seen)) = (item.code, sighting.code) else { return Fit::Other };
    if known != seen || seen.add_on.read().is_none() || !item.state.is_open() {
        return Fit::Other;
    }
    let same_picture = match (&item.origin, &sighting.origin) {
        (Origin::Photo { sha256: a, .. }, Origin::Photo { sha256: b, .. }) => a == b,
        _ => false,
    };
    if item.certainty == Certainty::Confirm && !same_picture { Fit::Confirms } else { Fit::Repeat }
}

/// Whether what a code means hangs on its add-on: it does for a comic or serial, not for an ISBN.
#[must_use]
pub fn needs_add_on(gtin: Gtin) -> bool {
    matches!(prefix_kind(gtin), PrefixKind::General | PrefixKind::Example | PrefixKind::Issn)
}

/// The state that a code and its certainty call for, before anything is settled.
#[must_use]
pub fn state_of(code: Option<Code>, certainty: Certainty) -> ItemState {
    match code {
        Some(code)
            if certainty == Certainty::Sure && !(code.add_on == AddOnState::Unread && needs_add_on(code.gtin)) =>
        {
            ItemState::Waiting
        }
        _ => ItemState::Incomplete,
    }
}
