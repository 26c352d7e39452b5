//! The order of steps and the transactions: what the command line and the web page share.
//!
//! Every function that writes is one recorded run (or part of one) that [`undo`] takes back. The clock, the photo reader
//! and the folder for crops come in as arguments.

mod catalogue;
mod backup;
mod check;
mod copies;
mod data;
mod error;
mod filing;
mod gaps;
mod have;
mod import;
mod limits;
mod lists;
mod live;
mod photo;
mod named;
mod needs;
mod pile;
mod pocket;
mod preview;
mod pull;
mod queue;
mod repair;
mod resolve;
mod selection;
mod session;
mod sitting;
mod spend;
mod titles;
mod told;
mod want;
pub mod words;
mod year;

pub use backup::{
    BackupError, BackupKept, BackupMade, Restored, backup, backup_check, backup_folder, backups, restore,
};
pub use catalogue::{IssueChange, catalogue_set, catalogue_show};
pub use check::{Meant, meant, proposals};
pub use copies::{
    Bulk, Changed, copy_crop, copy_history, copy_leave, copy_lend, copy_photo, copy_returned, copy_set, copy_show,
    each_copy, title_copies,
};
pub use data::{ExportError, export_to, import_data};
pub use error::{WorkflowError, messages};
pub use filing::*;
pub use gaps::{Gaps, checklists, gaps_of, title_gaps};
pub use have::{Have, HaveAnswer, HaveTitle, Part, have, have_part};
pub use import::{
    FileOutcome, FileResult, ImportSummary, LookedPhoto, PhotoSession, ReadPhoto, SymbolSighting, import,
};
pub use limits::{MonthLimit, month_limits, remove_month_limit, set_month_limit};
pub use lists::{
    Completed, Differs, ListReport, ListTaking, RowNew, RowOutcome, list_import, list_preset, list_presets,
    remove_list_preset,
};
pub use live::{Live, Said, Taken, Tone, Totals, Voice};
pub use named::{ListError, Named};
pub use needs::{Need, Waiting, queue_hard, queue_needs};
pub use photo::{PhotoReadError, read_for_queue};
pub use pile::{WasRead, pile, pile_list, pile_part, pile_read};
pub use pocket::pocket;
pub use preview::preview;
pub use pull::{PullCheck, PullRequest, pull_add, pull_check, pull_drop, pull_list};
pub use queue::{QueueChange, crop_to, queue_count, queue_crop, queue_drop, queue_list, queue_set, queue_show};
pub use repair::{RepairError, Repaired, repair};
pub use resolve::{Decided, ResolveOptions, ResolveReport, Select, resolve, verdict_counts};
pub use selection::Selection;
pub use session::{SeenAgain, Session, StageOutcome, Staged, Step};
pub use sitting::{Film, Frames, Hand, News, Outline, Pictures, Sitting};
pub use spend::{spend, spend_against_cover};
pub use titles::{CodeDate, TitleDetail, title_list, title_set, title_show};
pub use told::{Told, purchase_in_words, totals_in_words};
pub use want::{Wanted, WantedIssue, want_add, want_drop, want_list};
pub use year::{BoughtAndRead, bought_and_read, year_review};

use jiff::Timestamp;

use crate::intake::RunId;
use crate::store::{Run, Store};

/// What an undo did.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct UndoReport {
    /// The undo itself, a run that can be undone.
    pub undo: Run,
    /// The run that was taken back.
    pub undone: Run,
}

/// Takes back `run`, or the latest run that is neither an undo nor undone.
///
/// # Errors
/// If there is nothing to undo, the run is undone already, or a later run has built on it.
pub fn undo(store: &Store, run: Option<RunId>, now: Timestamp) -> Result<UndoReport, WorkflowError> {
    let (undo, undone) = store.undo(run, now)?;
    Ok(UndoReport { undo, undone })
}

/// The latest runs, newest first.
///
/// # Errors
/// If the collection can't be read.
pub fn runs(store: &Store, limit: u32) -> Result<Vec<Run>, WorkflowError> {
    Ok(store.runs(limit)?)
}
