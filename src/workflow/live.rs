//! A session with the books in hand: frames and scanned codes in, what to say about each book out.
//!
//! The command line and the web page both speak through it. Where frames come from is left to [`crate::source`], what
//! they add up to is [`crate::intake::Presentations`]' to say.

use std::sync::Arc;

use jiff::Timestamp;
use serde::Serialize;

use super::{Have, HaveAnswer, Session, StageOutcome, Step, WorkflowError, have};
use crate::code::{Code, Gtin, Symbology};
use crate::collection::Purchase;
use crate::intake::{self, Glimpse, ItemId, ItemState, Note, Presentations, RunId, Turn};
use crate::reader::Symbol;
use crate::source::handheld::Heard;
use crate::source::{Evidence, Origin, Sighting};
use crate::store::{QueueFilter, Store};

/// The name under which a camera's sightings are kept.
const CAMERA: &str = "camera";
/// The name under which a handheld scanner's are.
const HANDHELD: &str = "handheld";

/// What is said about a book, in a word.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Voice {
    /// Nothing of its issue is owned.
    New,
    /// Its issue is owned with other covers only.
    AnotherCover,
    /// Its cover is owned in other printings only.
    AnotherPrinting,
    /// It is owned, or waits in the queue since before this session.
    AnotherCopy,
    /// Nobody has said yet which title its code is, or how it counts.
    WaitsForTitle,
    /// The book before it had the same code.
    SameBook,
    /// It was taken before in this session, and another book since.
    SecondCopy,
    /// Its main code is certain, its add-on is not.
    HoldStill,
    /// Its code is not certain or not whole: it waits in the queue for a person.
    WaitsForPerson,
}

/// What a person hears.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Tone {
    /// Lay it on the pile.
    Good,
    /// Look here.
    Look,
    /// That did not work.
    Failed,
}

impl Voice {
    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::New => "new",
            Self::AnotherCover => "another cover",
            Self::AnotherPrinting => "another printing",
            Self::AnotherCopy => "another copy",
            Self::WaitsForTitle => "waits for its title",
            Self::SameBook => "same book?",
            Self::SecondCopy => "a second copy?",
            Self::HoldStill => "hold still",
            Self::WaitsForPerson => "waits for a person",
        }
    }

    /// As a tone.
    #[must_use]
    pub fn tone(self) -> Tone {
        match self {
            Self::New | Self::AnotherCover | Self::AnotherPrinting | Self::WaitsForTitle => Tone::Good,
            Self::AnotherCopy | Self::SameBook | Self::SecondCopy | Self::HoldStill => Tone::Look,
            Self::WaitsForPerson => Tone::Failed,
        }
    }
}

/// What is to be said about a book.
#[derive(Debug, Clone, PartialEq)]
pub enum Said {
    /// The main code is certain, the add-on is not.
    HoldStill {
        /// The main code.
        gtin: Gtin,
    },
    /// A book was taken.
    Taken(Box<Taken>),
}

/// A book that was taken.
#[derive(Debug, Clone, PartialEq)]
pub struct Taken {
    /// In a word.
    pub voice: Voice,
    /// Its code.
    pub code: Code,
    /// The kind of its symbol.
    pub symbology: Symbology,
    /// How it is staged.
    pub outcome: StageOutcome,
    /// What the collection knew before.
    pub have: HaveAnswer,
}

impl Said {
    /// In a word.
    #[must_use]
    pub fn voice(&self) -> Voice {
        match self {
            Self::HoldStill { .. } => Voice::HoldStill,
            Self::Taken(taken) => taken.voice,
        }
    }
}

/// What a session has come to so far.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct Totals {
    /// New items, without those dropped.
    pub new: usize,
    /// Those of them that a person must complete.
    pub incomplete: usize,
    /// Items that were seen again, each as often as it was.
    pub again: Vec<ItemId>,
    /// Items dropped.
    pub dropped: usize,
}

/// A session with the books in hand.
#[derive(Debug, Default)]
pub struct Live {
    session: Session,
    presentations: Presentations<Arc<Symbol>>,
    totals: Totals,
}

impl Live {
    /// A session in which nothing was seen yet, for books bought like this.
    #[must_use]
    pub fn new(purchase: Purchase) -> Self {
        let mut session = Session::new();
        session.set_purchase(purchase);
        Self { session, ..Self::default() }
    }

    /// What books are bought for from now on.
    pub fn set_purchase(&mut self, purchase: Purchase) {
        self.session.set_purchase(purchase);
    }

    /// What books are bought for.
    #[must_use]
    pub fn purchase(&self) -> &Purchase {
        self.session.purchase()
    }

    /// The run that the session is recorded as, once something is staged.
    #[must_use]
    pub fn run(&self) -> Option<RunId> {
        self.session.run()
    }

    /// What the session has come to so far.
    #[must_use]
    pub fn totals(&self) -> &Totals {
        &self.totals
    }

    /// Takes what was read in one frame.
    ///
    /// # Errors
    /// If the collection fails.
    pub fn frame(&mut self, store: &Store, at: Timestamp, symbols: Vec<Symbol>) -> Result<Vec<Said>, WorkflowError> {
        let glimpses: Vec<_> = symbols.into_iter().map(glimpse).collect();
        let notes = self.presentations.frame(at, &glimpses);
        self.say(store, at, notes)
    }

    /// Takes what a handheld scanner sent; `None` if it is the book that the camera has taken already.
    ///
    /// # Errors
    /// If the collection fails.
    pub fn heard(&mut self, store: &Store, at: Timestamp, heard: &Heard) -> Result<Option<Said>, WorkflowError> {
        match self.presentations.heard(heard.code, heard.symbology, heard.certainty) {
            Some(taken) => self.take(store, at, taken, HANDHELD).map(Some),
            None => Ok(None),
        }
    }

    /// No frame will come for now: what is before the camera is taken as far as it was seen.
    ///
    /// # Errors
    /// If the collection fails.
    pub fn rest(&mut self, store: &Store, at: Timestamp) -> Result<Vec<Said>, WorkflowError> {
        let notes = self.presentations.finish();
        self.say(store, at, notes)
    }

    /// Drops the last book taken: it is no book of the collection's. `None` if there is none.
    ///
    /// # Errors
    /// If it is settled by now, or the collection fails.
    pub fn drop_last(&mut self, store: &Store, now: Timestamp) -> Result<Option<Step>, WorkflowError> {
        let step = self.session.drop_last(store, now)?;
        if let Some(Step::Dropped { code, was, .. }) = step {
            self.totals.dropped += 1;
            self.totals.new -= 1;
            self.totals.incomplete -= usize::from(was == ItemState::Incomplete);
            self.forget(code);
        }
        Ok(step)
    }

    /// Takes the last step back, as if it had never been. `None` if there is none.
    ///
    /// # Errors
    /// If another command has built on the session, or the collection fails.
    pub fn undo_last(&mut self, store: &Store) -> Result<Option<Step>, WorkflowError> {
        let step = self.session.undo_last(store)?;
        match step {
            Some(Step::Staged { outcome: StageOutcome::Staged(new), code }) => {
                self.totals.new -= 1;
                self.totals.incomplete -= usize::from(new.state == ItemState::Incomplete);
                self.forget(code);
            }
            Some(Step::Staged { outcome: StageOutcome::SeenAgain(_), .. }) => {
                self.totals.again.pop();
            }
            Some(Step::Dropped { was, .. }) => {
                self.totals.dropped -= 1;
                self.totals.new += 1;
                self.totals.incomplete += usize::from(was == ItemState::Incomplete);
            }
            None => {}
        }
        Ok(step)
    }

    fn forget(&mut self, code: Option<Code>) {
        if let Some(code) = code {
            self.presentations.forget(code);
        }
    }

    fn say(&mut self, store: &Store, at: Timestamp, notes: Vec<Note<Arc<Symbol>>>) -> Result<Vec<Said>, WorkflowError> {
        let said = notes.into_iter().map(|note| match note {
            Note::HoldStill { gtin } => Ok(Said::HoldStill { gtin }),
            Note::Taken(taken) => self.take(store, at, taken, CAMERA),
        });
        said.collect()
    }

    fn take(
        &mut self,
        store: &Store,
        at: Timestamp,
        taken: intake::Taken<Arc<Symbol>>,
        device: &str,
    ) -> Result<Said, WorkflowError> {
        let intake::Taken { code, symbology, certainty, turn, picture } = taken;
        // Asked before it is staged: the queue is to tell of other items.
        let add_on = code.add_on.read();
        let have = have(store, &format!("{}{}", code.gtin, add_on.map(|a| format!("+{a}")).unwrap_or_default()))?;
        let waits = store.items(QueueFilter::Code(code.gtin))?.iter().any(|item| item.code == Some(code));
        let sighting = Sighting {
            code: Some(code),
            symbology: Some(symbology),
            certainty,
            origin: Origin::Device { name: device.to_owned() },
            seen_at: at,
            evidence: picture.as_deref().map(evidence),
        };
        let outcome = self.session.stage(store, &sighting, at)?;
        let voice = match (&outcome, turn) {
            (StageOutcome::SeenAgain(_), Turn::SameBook) => Voice::SameBook,
            (StageOutcome::SeenAgain(_), Turn::First | Turn::SecondCopy) => Voice::SecondCopy,
            (StageOutcome::Staged(new), _) if new.state == ItemState::Incomplete => Voice::WaitsForPerson,
            (StageOutcome::Staged(_), _) => match have.answer {
                _ if waits => Voice::AnotherCopy,
                Have::NotOwned if have.titles.is_empty() => Voice::WaitsForTitle,
                Have::NotOwned => Voice::New,
                Have::AnotherCover => Voice::AnotherCover,
                Have::AnotherPrinting => Voice::AnotherPrinting,
                Have::Owned => Voice::AnotherCopy,
            },
        };
        match &outcome {
            StageOutcome::Staged(new) => {
                self.totals.new += 1;
                self.totals.incomplete += usize::from(new.state == ItemState::Incomplete);
            }
            StageOutcome::SeenAgain(again) => self.totals.again.push(again.item),
        }
        Ok(Said::Taken(Box::new(Taken { voice, code, symbology, outcome, have })))
    }
}

fn glimpse(symbol: Symbol) -> Glimpse<Arc<Symbol>> {
    let [tl, tr, br, bl] = symbol.corners;
    let mean = |i: usize| (tl[i] + tr[i] + br[i] + bl[i]) / 4.0;
    Glimpse {
        code: symbol.code,
        symbology: symbol.symbology,
        certainty: symbol.certainty,
        middle: [mean(0), mean(1)],
        width_px: (tr[0] - tl[0]).hypot(tr[1] - tl[1]),
        picture: Arc::new(symbol),
    }
}

fn evidence(symbol: &Symbol) -> Evidence {
    Evidence {
        // A crop without pixels is none.
        crop_png: symbol.crop.to_png().unwrap_or_default(),
        corners: Some(symbol.corners),
        by: Some(symbol.by.to_owned()),
        module_px: Some(symbol.module_px),
    }
}
