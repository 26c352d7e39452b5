//! What can go wrong with a collection file.

use std::path::PathBuf;

use crate::collection::{CopyId, Currency, TitleId};
use crate::intake::{IllegalStep, ItemId, RunId};

/// Why the store did not do what it was asked.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// The file can't be opened or created.
    #[error("the collection {} can't be opened", path.display())]
    Open {
        /// The file.
        path: PathBuf,
        /// What the system said.
        #[source]
        source: std::io::Error,
    },
    /// The file is no SQLite database, or another program's.
    #[error("{} is no boxward collection ({what}); name another file", path.display())]
    NotACollection {
        /// The file.
        path: PathBuf,
        /// What it is instead.
        what: &'static str,
    },
    /// A newer boxward wrote the file.
    #[error("{} has schema {found}, this boxward knows {known}; use a newer boxward", path.display())]
    Newer {
        /// The file.
        path: PathBuf,
        /// Its schema.
        found: i64,
        /// The newest schema that this program knows.
        known: i64,
    },
    /// Another process kept the file locked for too long.
    #[error("another process has kept the collection locked for {seconds} seconds; end it or try again")]
    Busy {
        /// How long this process waited.
        seconds: u64,
    },
    /// A row holds something that this program never writes.
    #[error("the collection is damaged: {0}")]
    Damaged(String),
    /// A copy of a collection is not what it should be.
    #[error("{} is no whole collection ({what}); take another backup", path.display())]
    NotWhole {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        what: String,
    },
    /// Another process wrote to the collection between its backup and its replacement.
    #[error("another process wrote to the collection meanwhile; end it and try again")]
    WrittenMeanwhile,
    /// There is no such item.
    #[error("there is no item {0} in the queue")]
    NoItem(ItemId),
    /// There is no such title.
    #[error("there is no title {0}")]
    NoTitle(TitleId),
    /// There is no such copy.
    #[error("there is no copy {0}")]
    NoCopy(CopyId),
    /// The copy is not on the pile.
    #[error("copy {0} is read already")]
    ReadAlready(CopyId),
    /// The copy is not owned any more.
    #[error("copy {0} left already; it is owned no more")]
    LeftAlready(CopyId),
    /// The copy is lent already.
    #[error("copy {copy} is lent to {to} already")]
    LentAlready {
        /// The copy.
        copy: CopyId,
        /// Who has it.
        to: String,
    },
    /// The copy is not lent.
    #[error("copy {0} is not lent")]
    NotLent(CopyId),
    /// Nothing is kept under the name.
    #[error("no preset is called '{0}'")]
    NoPreset(String),
    /// No limit is set in the currency.
    #[error("no limit is set in {0}")]
    NoLimit(Currency),
    /// There is no such box in use.
    #[error("there is no box '{0}'")]
    NoBox(String),
    /// Two boxes would have one label.
    #[error("there is a box '{0}' already; label this one differently")]
    LabelTaken(String),
    /// A box that is not empty was to be retired.
    #[error("{copies} copies stand in box '{label}' or are to be put in; file them elsewhere first")]
    BoxInUse {
        /// The box.
        label: String,
        /// How many.
        copies: u32,
    },
    /// There is no such measurement.
    #[error("there is no measurement {0}")]
    NoMeasurement(i64),
    /// There is no such run.
    #[error("there is no run {0}; 'undo --list' shows all")]
    NoRun(RunId),
    /// A step that the queue does not allow.
    #[error("item {item}")]
    Step {
        /// The item.
        item: ItemId,
        /// The step.
        #[source]
        source: IllegalStep,
    },
    /// There is nothing to take back.
    #[error("nothing is left to undo")]
    NothingToUndo,
    /// Of the run nothing is kept that could be taken back.
    #[error("run {0} left nothing to take back: it changed nothing, or came with an export")]
    NothingKept(RunId),
    /// The run has been taken back.
    #[error("run {run} was undone by run {by}; undo run {by} to bring it back")]
    AlreadyUndone {
        /// The run.
        run: RunId,
        /// The undo.
        by: RunId,
    },
    /// A later run builds on what this one did.
    #[error("run {run} can't be undone: run {later} ({kind}) has built on it; undo run {later} first")]
    BuiltOn {
        /// The run.
        run: RunId,
        /// The later run.
        later: RunId,
        /// What it was.
        kind: String,
    },
    /// Rows that no run is recorded for hang on what this run did.
    #[error("run {run} can't be undone: other records refer to what it made")]
    InUse {
        /// The run.
        run: RunId,
    },
    /// Another process took the run back while it was going on.
    #[error("run {0} was undone by another process while it was going on; start again")]
    Interrupted(RunId),
    /// A run that was to be gone on with is another command's.
    #[error("run {run} is a run of {}; begin a new one", kind.word())]
    OtherKind {
        /// The run.
        run: RunId,
        /// What it is.
        kind: super::RunKind,
    },
    /// There is no room on the disk.
    #[error("its disk is full")]
    Full,
    /// The disk did not do what it was asked: it may be full, too.
    #[error("its disk failed ({0})")]
    Disk(String),
    /// The file or its folder can't be written.
    #[error("it or its folder can't be written ({0})")]
    ReadOnly(String),
    /// SQLite failed.
    #[error("the collection file failed")]
    Sqlite(#[source] rusqlite::Error),
}

impl From<rusqlite::Error> for StoreError {
    fn from(error: rusqlite::Error) -> Self {
        use rusqlite::Error as Sql;
        use rusqlite::ErrorCode as Code;
        match error.sqlite_error_code() {
            Some(Code::DatabaseBusy | Code::DatabaseLocked) => Self::Busy { seconds: super::open::WAIT.as_secs() },
            // What the program asks is always the same: a table or column that is not there has been lost.
            Some(Code::DatabaseCorrupt | Code::NotADatabase | Code::Unknown) => Self::Damaged(error.to_string()),
            Some(Code::DiskFull) => Self::Full,
            Some(Code::SystemIoFailure) => Self::Disk(error.to_string()),
            Some(Code::ReadOnly | Code::CannotOpen) => Self::ReadOnly(error.to_string()),
            _ => match error {
                Sql::FromSqlConversionFailure(_, _, what) => Self::Damaged(what.to_string()),
                error @ (Sql::IntegralValueOutOfRange(..) | Sql::InvalidColumnType(..) | Sql::Utf8Error(..)) => {
                    Self::Damaged(error.to_string())
                }
                error => Self::Sqlite(error),
            },
        }
    }
}
