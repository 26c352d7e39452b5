//! What can go wrong between the steps.

use std::error::Error;
use std::path::PathBuf;

use jiff::civil::Date;

use crate::code::Gtin;
use crate::collection::{CopyId, SumError};
use crate::list::{ListError, MappingError};
use crate::resolve::{AnswerError, ResolveError};
use crate::store::StoreError;

/// Why a step was not done.
#[derive(Debug, thiserror::Error)]
pub enum WorkflowError {
    /// The collection refused or failed.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// An answer can't be used.
    #[error(transparent)]
    Answer(#[from] AnswerError),
    /// The record was not exported, or not read back.
    #[error(transparent)]
    Export(#[from] super::ExportError),
    /// Nothing was put on a list, or taken off.
    #[error(transparent)]
    List(#[from] super::ListError),
    /// A backup or its return was not done.
    #[error(transparent)]
    Backup(#[from] super::BackupError),
    /// Nothing was saved of a damaged collection.
    #[error(transparent)]
    Repair(#[from] super::RepairError),
    /// A crop can't be written.
    #[error("the crop {} can't be written; name another folder", path.display())]
    Crop {
        /// Its file.
        path: PathBuf,
        /// What the system said.
        #[source]
        source: std::io::Error,
    },
    /// A title was to lose its name.
    #[error("a title has a name")]
    NoName,
    /// A question about the collection without digits or words.
    #[error("'{0}' names nothing; give a code, or a title and an issue")]
    NothingAsked(String),
    /// A code that fails its check and is no title either.
    #[error("'{text}' is no code")]
    NoCode {
        /// What was typed.
        text: String,
        /// Why.
        #[source]
        source: crate::code::TypedError,
    },
    /// A change that needs a main code on an item that has none.
    #[error("item {item} has no code; give its main code too")]
    NoMainCode {
        /// The item.
        item: crate::intake::ItemId,
    },
    /// The item's code is not the one that was shown when the change was made.
    #[error("item {item} has another code by now; look at it again")]
    ChangedMeanwhile {
        /// The item.
        item: crate::intake::ItemId,
    },
    /// A title was named where issues of it are meant.
    #[error("'{0}' names a whole title; name its issue, issues such as 1-12, or say that all of it is meant")]
    WholeTitle(String),
    /// A title was named where one issue is meant.
    #[error("'{0}' names a whole title; name one issue of it")]
    NoIssueNamed(String),
    /// No title fits a name or a code.
    #[error("no title fits '{0}'")]
    NoTitleFits(String),
    /// A list's file can't be read.
    #[error(transparent)]
    ListFile(#[from] ListError),
    /// A list's columns can't be found.
    #[error(transparent)]
    Columns(#[from] MappingError),
    /// A preset was to have a blank name.
    #[error("a preset has a name")]
    NoPresetName,
    /// A day for a code without the code.
    #[error("the day is a code's; give the code too")]
    NoCodeForDay,
    /// Nothing that is unread fits.
    #[error("nothing unread fits '{0}'")]
    NothingUnread(String),
    /// A change that would reach every copy.
    #[error(
        "nothing says which copies are meant; name a code, a title, issues such as 1-12, a copy's number or what they are"
    )]
    NothingSelected,
    /// No copy is as selected.
    #[error("no copy fits")]
    NoCopyFits,
    /// Several copies are, where one is meant.
    #[error("{copies} copies fit, and one is meant")]
    SeveralCopies {
        /// How many fit.
        copies: usize,
    },
    /// A photo shows one copy.
    #[error("a photo is kept of one copy, and {copies} fit; name one by its number with --copy")]
    OnePhoto {
        /// How many fit.
        copies: usize,
    },
    /// A copy was to leave before it came.
    #[error("copy {copy} came on {acquired}; it can't have left on {day} (--on), before that")]
    GoneBeforeItCame {
        /// The copy.
        copy: CopyId,
        /// When it came.
        acquired: Date,
        /// The day that was given.
        day: Date,
    },
    /// A loan was to end before it began.
    #[error("copy {copy} was lent on {since}; it can't have come back on {day} (--on), before that")]
    BackBeforeLent {
        /// The copy.
        copy: CopyId,
        /// When it was lent.
        since: Date,
        /// The day that was given.
        day: Date,
    },
    /// A year that no calendar has.
    #[error("there is no year {0}")]
    NoYear(i16),
    /// Prices add up to more than can be.
    #[error(transparent)]
    Sum(#[from] SumError),
    /// Several titles fit.
    #[error("'{query}' fits {titles} titles; add the year or the volume behind the name")]
    SeveralTitles {
        /// What was typed.
        query: String,
        /// How many titles have something unread that fits.
        titles: usize,
    },
    /// A box has no label.
    #[error("a box needs a label to find it by")]
    NoLabel,
    /// A box of the collector's own kind has no length.
    #[error("a box of an own kind needs its inner length; such as --inner-mm 300")]
    NoLength,
    /// A box that is not empty was to become spare.
    #[error("copies stand in box '{0}'; only an empty box is spare")]
    SpareNotEmpty(String),
    /// The walk has nothing to do there, or anywhere.
    #[error("the walk has nothing to do{}", .0.as_ref().map(|label| format!(" at box '{}'", label.trim())).unwrap_or_default())]
    NothingToFile(Option<String>),
    /// No plan is possible.
    #[error(transparent)]
    Plan(#[from] crate::filing::PlanError),
    /// Books can't have been measured so.
    #[error(transparent)]
    Measurement(#[from] crate::filing::MeasurementError),
    /// A code is a book's own number and stands for one book, not for a title.
    #[error("{0} is a book's own number and can't stand for a title")]
    BookCode(Gtin),
}

impl From<ResolveError<StoreError>> for WorkflowError {
    fn from(error: ResolveError<StoreError>) -> Self {
        match error {
            ResolveError::Answer(error) => error.into(),
            ResolveError::Lookup(error) => error.into(),
        }
    }
}

/// An error's message and those of its causes. A cause that its parent already quotes is left out.
#[must_use]
pub fn messages(error: &dyn Error) -> Vec<String> {
    let mut messages = vec![error.to_string()];
    let mut source = error.source();
    while let Some(cause) = source {
        let text = cause.to_string();
        if !messages.iter().any(|m| m.contains(&text)) {
            messages.push(text);
        }
        source = cause.source();
    }
    messages
}
