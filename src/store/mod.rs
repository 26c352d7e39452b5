//! The collection file: SQLite, its schema and migrations, rows to plain types, and the journal that `undo` reads. The
//! only user of rusqlite.
//!
//! What is written when is left to [`crate::workflow`]. A released schema file is never edited, and a file written by
//! any release must stay readable: `tests/all/store_schema.rs` holds both.

mod backup;
mod boxes;
mod by_row;
mod copies;
mod copy_changes;
mod copy_records;
mod error;
mod expected;
mod export;
mod facts;
mod filed;
mod filing_settings;
mod journal;
mod limits;
mod listed;
mod lookup;
mod open;
mod pile;
mod pocket;
mod private;
mod purchases;
mod queue;
mod rekey;
mod rows;
mod salvage;
mod search;
mod shelf;
mod spend;
mod supplies;
mod titles;
mod write;
mod year;

pub use backup::{BackupFile, BackupSummary, Contents, Moment};
pub use by_row::ByRow;
pub use copies::NewPrinting;
pub use copy_records::{CopyOrder, CopyScope};
pub use error::StoreError;
pub use export::DataError;
pub use filed::{ShelfRow, Shelved};
pub use journal::{CopyEvent, Mark, Run, RunKind};
pub use listed::PrintingOf;
pub use pile::PartOfTitle;
pub use private::{new_private_folder, private_file, private_folder};
pub use queue::{NewItem, QueueFilter};
pub use salvage::{Lost, Salvaged, TableSalvaged, merge_log, salvage};
pub use search::{MOST_TITLES, TitlesFound};
pub use write::Writer;

use std::path::PathBuf;

/// An open collection file.
#[derive(Debug)]
pub struct Store {
    connection: rusqlite::Connection,
    path: PathBuf,
}
