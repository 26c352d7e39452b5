//! One scanning session and the staging queue: what frames of a book add up to, what a sighting becomes once it is
//! kept, the states it may pass through, and when a further sighting is a repeat of one that waits already.
//!
//! What becomes of a staged item is left to [`crate::resolve`], its rows to [`crate::store`]. The words of
//! [`ItemState`] are stored in collections and printed as JSON: they must stay.

mod ids;
mod item;
mod presentation;
mod state;

pub(crate) use ids::id;
pub use ids::{ItemId, RunId};
pub use item::{Fit, Item, Repeat, fit, needs_add_on, state_of};
pub use presentation::{
    AGREEING_FRAMES, BLANK_FRAMES, Device, Glimpse, HOLD_STILL_AFTER, LEFT_AFTER, MISSING_FRAMES, Note, Presentations,
    Taken, Turn,
};
pub use state::{IllegalStep, ItemState};
