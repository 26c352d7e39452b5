//! The one place where errors become words for a person: what happened, its causes, what to do; and an exit code.

use std::borrow::Cow;
use std::error::Error;
use std::io;
use std::path::Path;

use super::Exit;
use crate::list::ListError;
use crate::source::FolderError;
use crate::source::camera::CameraError;
use crate::store::{DataError, StoreError};
use crate::workflow::{self, BackupError, ExportError, RepairError, WorkflowError};

/// Why a command could not do its job.
#[derive(Debug)]
pub(super) struct Failure {
    pub(super) exit: Exit,
    /// What happened, then each cause.
    pub(super) messages: Vec<String>,
    pub(super) hint: Option<Cow<'static, str>>,
    /// What ails the collection's file, whose name the store does not know.
    ails: Option<Ails>,
    /// The reader of the output went away, as `head` does: nothing to tell, and nobody to tell it to.
    pub(super) output_closed: bool,
}

/// What ails a collection's file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Ails {
    Damage,
    NoRoom,
    Disk,
    NoWriting,
}

/// What commands give back.
pub(super) type Outcome = Result<Exit, Failure>;

impl Failure {
    pub(super) fn new(exit: Exit, error: &dyn Error) -> Self {
        Self { exit, messages: workflow::messages(error), hint: None, ails: None, output_closed: false }
    }

    /// The call was wrong in a way that clap can't know.
    pub(super) fn call(message: impl Into<String>) -> Self {
        Self { exit: Exit::Call, messages: vec![message.into()], hint: None, ails: None, output_closed: false }
    }

    /// What was typed is wrong in itself.
    pub(super) fn data(message: impl Into<String>) -> Self {
        Self { exit: Exit::Data, ..Self::call(message) }
    }

    pub(super) fn hint(mut self, hint: &'static str) -> Self {
        self.hint = Some(hint.into());
        self
    }

    /// Names the collection's file, if it is what failed, and the remedy.
    pub(super) fn of_collection(mut self, path: &Path) -> Self {
        let Some(ails) = self.ails else { return self };
        let file = path.display();
        self.messages.insert(0, format!("the collection {file} can't be used"));
        self.hint = Some(match ails {
            Ails::Damage => format!(
                "boxward backup list shows backups to restore; boxward repair {file} --to NEW saves what can be read of it"
            )
            .into(),
            Ails::NoRoom => "what was reported as done is kept: make room on its disk, then do the rest again".into(),
            Ails::Disk => {
                "what was reported as done is kept: see whether its disk is full or fails, then do the rest again".into()
            }
            Ails::NoWriting => "allow writing to the file and its folder, or copy it to where that is allowed".into(),
        });
        self
    }
}

/// An error and its causes in one line, for a list of files.
pub(super) fn one_line(error: &dyn Error) -> String {
    workflow::messages(error).join(": ")
}

/// Only what the program writes to its own output is converted without saying more.
impl From<io::Error> for Failure {
    fn from(error: io::Error) -> Self {
        let output_closed = error.kind() == io::ErrorKind::BrokenPipe;
        Self { output_closed, ..Self::new(Exit::Machine, &error) }
    }
}

impl From<FolderError> for Failure {
    fn from(error: FolderError) -> Self {
        let exit = match &error {
            FolderError::Unreadable { .. } => Exit::Machine,
            FolderError::NoPicture { .. } => Exit::Data,
        };
        Self::new(exit, &error)
    }
}

impl From<CameraError> for Failure {
    fn from(error: CameraError) -> Self {
        let exit = match &error {
            CameraError::NotBuiltIn | CameraError::NoSuchCamera { .. } => Exit::Call,
            CameraError::NoCamera
            | CameraError::NoFormat { .. }
            | CameraError::Busy { .. }
            | CameraError::Forbidden { .. }
            | CameraError::Gone { .. }
            | CameraError::Failed { .. } => Exit::Machine,
        };
        Self::new(exit, &error)
    }
}

impl From<StoreError> for Failure {
    fn from(error: StoreError) -> Self {
        let exit = match &error {
            StoreError::Open { .. }
            | StoreError::Busy { .. }
            | StoreError::Full
            | StoreError::Disk(_)
            | StoreError::ReadOnly(_)
            | StoreError::Damaged(_)
            | StoreError::Interrupted(_)
            | StoreError::WrittenMeanwhile
            | StoreError::Sqlite(_) => Exit::Machine,
            StoreError::NotACollection { .. } | StoreError::NotWhole { .. } | StoreError::Newer { .. } => Exit::Data,
            StoreError::NoItem(_)
            | StoreError::NoTitle(_)
            | StoreError::NoCopy(_)
            | StoreError::ReadAlready(_)
            | StoreError::LeftAlready(_)
            | StoreError::LentAlready { .. }
            | StoreError::NotLent(_)
            | StoreError::NoPreset(_)
            | StoreError::NoLimit(_)
            | StoreError::NoBox(_)
            | StoreError::LabelTaken(_)
            | StoreError::BoxInUse { .. }
            | StoreError::NoMeasurement(_)
            | StoreError::NoRun(_)
            | StoreError::Step { .. }
            | StoreError::NothingToUndo
            | StoreError::NothingKept(_)
            | StoreError::AlreadyUndone { .. }
            | StoreError::BuiltOn { .. }
            | StoreError::OtherKind { .. }
            | StoreError::InUse { .. } => Exit::Call,
        };
        let ails = match &error {
            StoreError::Damaged(_) => Some(Ails::Damage),
            StoreError::Full => Some(Ails::NoRoom),
            StoreError::Disk(_) => Some(Ails::Disk),
            StoreError::ReadOnly(_) => Some(Ails::NoWriting),
            _ => None,
        };
        let failure = Self { ails, ..Self::new(exit, &error) };
        match error {
            StoreError::NotACollection { .. } | StoreError::NotWhole { .. } => {
                failure.hint("if it was a collection, boxward repair FILE --to NEW saves what can be read of it")
            }
            StoreError::NoItem(_) => failure.hint("boxward queue list shows what waits"),
            StoreError::ReadAlready(_) => failure.hint("boxward pile shows what is unread"),
            StoreError::NoCopy(_) => failure.hint("boxward copy list shows every copy with its number"),
            StoreError::NoBox(_) => failure.hint("boxward box list shows every box"),
            StoreError::NoMeasurement(_) => failure.hint("boxward file measure shows what was measured"),
            StoreError::NoPreset(_) => failure.hint("boxward catalogue presets shows every preset"),
            StoreError::NoTitle(_) => failure.hint("boxward title list shows every title"),
            _ => failure,
        }
    }
}

impl From<WorkflowError> for Failure {
    fn from(error: WorkflowError) -> Self {
        let exit = match error {
            WorkflowError::Store(error) => return error.into(),
            WorkflowError::Backup(error) => return error.into(),
            WorkflowError::Export(error) => return error.into(),
            WorkflowError::Repair(error) => return error.into(),
            WorkflowError::Crop { .. } => Exit::Machine,
            WorkflowError::ListFile(
                ListError::Unreadable { .. }
                | ListError::TooLarge { .. }
                | ListError::Form { .. }
                | ListError::Empty { .. }
                | ListError::Columns { .. }
                | ListError::TooMany { .. }
                | ListError::Workbook { .. },
            )
            | WorkflowError::Answer(_)
            | WorkflowError::NoCode { .. }
            | WorkflowError::Sum(_)
            | WorkflowError::Plan(_)
            | WorkflowError::Measurement(_) => Exit::Data,
            WorkflowError::List(_)
            | WorkflowError::NoName
            | WorkflowError::NothingAsked(_)
            | WorkflowError::NoMainCode { .. }
            | WorkflowError::WholeTitle(_)
            | WorkflowError::NoIssueNamed(_)
            | WorkflowError::NoTitleFits(_)
            | WorkflowError::NoCodeForDay
            | WorkflowError::Columns(_)
            | WorkflowError::ListFile(ListError::NoSheet { .. } | ListError::NotAWorkbook { .. })
            | WorkflowError::NoPresetName
            | WorkflowError::NothingUnread(_)
            | WorkflowError::NothingSelected
            | WorkflowError::NoCopyFits
            | WorkflowError::SeveralCopies { .. }
            | WorkflowError::OnePhoto { .. }
            | WorkflowError::GoneBeforeItCame { .. }
            | WorkflowError::BackBeforeLent { .. }
            | WorkflowError::NoYear(_)
            | WorkflowError::SeveralTitles { .. }
            | WorkflowError::NoLabel
            | WorkflowError::NoLength
            | WorkflowError::SpareNotEmpty(_)
            | WorkflowError::NothingToFile(_)
            | WorkflowError::BookCode(_)
            | WorkflowError::ChangedMeanwhile { .. } => Exit::Call,
        };
        let failure = Self::new(exit, &error);
        match error {
            WorkflowError::NothingSelected | WorkflowError::NoCopyFits => {
                failure.hint("boxward copy list shows copies with their numbers")
            }
            WorkflowError::SeveralCopies { .. } => failure
                .hint("name one by its number with --copy, which boxward copy list tells, or all of them with --all"),
            WorkflowError::NoTitleFits(_) => failure.hint("boxward title list shows every title"),
            WorkflowError::Columns(_) => failure.hint("--map title='Series' says which column is the title"),
            WorkflowError::NothingUnread(_) => failure.hint("boxward pile shows what is unread"),
            WorkflowError::NothingToFile(_) => failure.hint("boxward file plan shows what is to be done"),
            WorkflowError::WholeTitle(_) => failure.hint("--all means every unread copy of it"),
            _ => failure,
        }
    }
}

impl From<BackupError> for Failure {
    fn from(error: BackupError) -> Self {
        let exit = match &error {
            BackupError::File { .. } | BackupError::Older { .. } | BackupError::Present { .. } => Exit::Machine,
            BackupError::Itself(_) => Exit::Call,
        };
        let failure = Self::new(exit, &error);
        match error {
            BackupError::Present { source, .. } if matches!(*source, WorkflowError::Store(StoreError::Full | StoreError::Disk(_))) => {
                failure.hint("see whether a disk is full or fails, then restore again")
            }
            BackupError::Present { .. } => failure
                .hint("move it away together with its -wal and -shm files, then restore the backup into its place; boxward repair FILE --to NEW saves what can be read of it"),
            _ => failure,
        }
    }
}

impl From<RepairError> for Failure {
    fn from(error: RepairError) -> Self {
        match error {
            RepairError::There(_) => Self::new(Exit::Call, &error),
            RepairError::File { .. } => Self::new(Exit::Machine, &error),
        }
    }
}

impl From<ExportError> for Failure {
    fn from(error: ExportError) -> Self {
        match error {
            ExportError::There(_) => Self::new(Exit::Call, &error),
            ExportError::File { .. } => Self::new(Exit::Machine, &error),
            ExportError::Data(error) => error.into(),
        }
    }
}

impl From<DataError> for Failure {
    fn from(error: DataError) -> Self {
        let exit = match error {
            DataError::Store(error) => return error.into(),
            // The reader of standard output may go away, as with any other command.
            DataError::File(error) => return error.into(),
            DataError::NotEmpty(_) => Exit::Call,
            DataError::NoExport | DataError::Newer { .. } | DataError::Line { .. } | DataError::CutShort => Exit::Data,
        };
        Self::new(exit, &error)
    }
}
