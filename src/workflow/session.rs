//! One scanning session: sightings that come in one after another from devices, each on the disk when it is reported.

use jiff::Timestamp;
use serde::Serialize;

use super::WorkflowError;
use crate::code::{Certainty, Code};
use crate::collection::Purchase;
use crate::intake::{Fit, Item, ItemId, ItemState, RunId, fit, state_of};
use crate::source::{Origin, Sighting};
use crate::store::{Mark, NewItem, RunKind, Store, StoreError, Writer};

/// A new item.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Staged {
    /// Its number.
    pub item: ItemId,
    /// The state that it is in.
    pub state: ItemState,
}

/// A symbol that repeats an item of the same run.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct SeenAgain {
    /// The item.
    pub item: ItemId,
    /// Whether it confirmed a code that was uncertain.
    pub confirmed: bool,
}

/// What became of one sighting of a scan.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(tag = "result", rename_all = "snake_case")]
pub enum StageOutcome {
    /// It is a new item.
    Staged(Staged),
    /// It repeats an item of the same scan.
    SeenAgain(SeenAgain),
}

impl StageOutcome {
    /// The item that it is, or repeats.
    #[must_use]
    pub fn item(&self) -> ItemId {
        match self {
            Self::Staged(new) => new.item,
            Self::SeenAgain(again) => again.item,
        }
    }
}

/// One scanning session.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Session {
    run: Option<RunId>,
    purchase: Purchase,
    /// What was done, and the moment before each, for [`Session::undo_last`].
    steps: Vec<(Step, Mark)>,
}

/// One thing that a session did.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// A sighting was staged.
    Staged {
        /// What became of it.
        outcome: StageOutcome,
        /// Its code.
        code: Option<Code>,
    },
    /// An item was dropped.
    Dropped {
        /// The item.
        item: ItemId,
        /// Its code.
        code: Option<Code>,
        /// The state that it was in.
        was: ItemState,
    },
}

impl Session {
    /// A session in which nothing was seen yet.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// The run that the session is recorded as, once something is staged.
    #[must_use]
    pub fn run(&self) -> Option<RunId> {
        self.run
    }

    /// What books are bought for from now on.
    pub fn set_purchase(&mut self, purchase: Purchase) {
        self.purchase = purchase;
    }

    /// What books are bought for.
    #[must_use]
    pub fn purchase(&self) -> &Purchase {
        &self.purchase
    }

    /// Stages one sighting; when this returns it is on the disk.
    ///
    /// # Errors
    /// If the collection fails.
    pub fn stage(&mut self, store: &Store, sighting: &Sighting, now: Timestamp) -> Result<StageOutcome, WorkflowError> {
        let (outcome, mark) = store.write(&mut self.run, RunKind::Scan, now, |writer| {
            let mark = writer.mark(writer.run())?;
            if let Origin::Photo { path, sha256, .. } = &sighting.origin
                && store.photo(sha256)?.is_none()
            {
                writer.insert_photo(path, sha256, usize::from(sighting.code.is_some()))?;
            }
            let outcome = stage(writer, sighting)?;
            if let StageOutcome::Staged(new) = outcome
                && !self.purchase.is_empty()
            {
                writer.set_purchase(new.item, &self.purchase)?;
            }
            Ok::<_, WorkflowError>((outcome, mark))
        })?;
        self.steps.push((Step::Staged { outcome, code: sighting.code }, mark));
        Ok(outcome)
    }

    /// Drops the last item staged that is not dropped yet; `None` if there is none.
    ///
    /// # Errors
    /// If it is settled by now, or the collection fails.
    pub fn drop_last(&mut self, store: &Store, now: Timestamp) -> Result<Option<Step>, WorkflowError> {
        let dropped =
            |item| self.steps.iter().any(|(s, _)| matches!(s, Step::Dropped { item: gone, .. } if *gone == item));
        let last = self.steps.iter().rev().find_map(|(step, _)| match step {
            Step::Staged { outcome: StageOutcome::Staged(new), code } if !dropped(new.item) => Some((new.item, *code)),
            _ => None,
        });
        let Some((item, code)) = last else { return Ok(None) };
        let (was, mark) = store.write(&mut self.run, RunKind::Scan, now, |writer| {
            let mark = writer.mark(writer.run())?;
            let was = writer.item(item)?.state;
            writer.set_state(item, ItemState::Dropped)?;
            writer.set_note(item, "dropped while scanning")?;
            Ok::<_, WorkflowError>((was, mark))
        })?;
        let step = Step::Dropped { item, code, was };
        self.steps.push((step, mark));
        Ok(Some(step))
    }

    /// Takes back the last thing done, as if it had never been; `None` if there is none.
    ///
    /// # Errors
    /// If another command has built on the session, or the collection fails.
    pub fn undo_last(&mut self, store: &Store) -> Result<Option<Step>, WorkflowError> {
        let (Some(run), Some(&(step, mark))) = (self.run, self.steps.last()) else { return Ok(None) };
        store.back_to(run, mark)?;
        self.steps.pop();
        Ok(Some(step))
    }
}

/// Stages a sighting, or notes it with the item of the same run that it repeats.
pub(super) fn stage(writer: &Writer<'_>, sighting: &Sighting) -> Result<StageOutcome, StoreError> {
    let same_code = match sighting.code {
        Some(code) => writer.open_in_run(writer.run(), code.gtin)?,
        None => Vec::new(),
    };
    let known = same_code.into_iter().find_map(|item| match fit(&item, sighting) {
        Fit::Other => None,
        fit => Some((item, fit)),
    });
    match known {
        Some((item, fit)) => repeat(writer, &item, fit, sighting).map(StageOutcome::SeenAgain),
        None => {
            let state = state_of(sighting.code, sighting.certainty);
            let item = writer.insert_item(&NewItem { sighting, state, note: "" })?;
            Ok(StageOutcome::Staged(Staged { item, state }))
        }
    }
}

fn repeat(writer: &Writer<'_>, item: &Item, fit: Fit, sighting: &Sighting) -> Result<SeenAgain, StoreError> {
    writer.insert_repeat(item.id, &sighting.origin, sighting.seen_at)?;
    let confirmed = match item.code {
        Some(code) if fit == Fit::Confirms => {
            writer.set_code(item, code, Certainty::Sure, state_of(Some(code), Certainty::Sure))?;
            true
        }
        _ => false,
    };
    Ok(SeenAgain { item: item.id, confirmed })
}
