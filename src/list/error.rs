//! Why a list can't be read at all.

use std::path::PathBuf;

/// Why a list can't be read at all; what is wrong with a single row is a [`Problem`](super::Problem) of that row.
#[derive(Debug, thiserror::Error)]
pub enum ListError {
    /// The file can't be read.
    #[error("{} can't be read", path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// What the system said.
        #[source]
        source: std::io::Error,
    },
    /// Larger than any list.
    #[error("{} has more than {limit_mib} MiB {of}; part it, or save it as CSV", path.display())]
    TooLarge {
        /// The file.
        path: PathBuf,
        /// What is too large: the file, or what it unpacks to.
        of: &'static str,
        /// The limit.
        limit_mib: usize,
    },
    /// Not a list in a form that is read.
    #[error("{} is {what}; save it as .xlsx, CSV, TSV or JSON lines", path.display())]
    Form {
        /// The file.
        path: PathBuf,
        /// What it is instead.
        what: &'static str,
    },
    /// Nothing but blanks.
    #[error("{} has no row; its first row names the columns", path.display())]
    Empty {
        /// The file.
        path: PathBuf,
    },
    /// A row of columns' names that can't be used.
    #[error("{}: the columns' names can't be read: {problem}", path.display())]
    Columns {
        /// The file.
        path: PathBuf,
        /// What is wrong with them.
        problem: String,
    },
    /// More of something in a workbook than any list has.
    #[error("{} has more {what} than a list has; save the sheet as CSV", path.display())]
    TooMany {
        /// The file.
        path: PathBuf,
        /// Of what.
        what: &'static str,
    },
    /// A workbook that can't be read.
    #[error("{} is damaged or no .xlsx workbook; open it and save it again, or as CSV", path.display())]
    Workbook {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        #[source]
        source: Box<dyn std::error::Error + Send + Sync>,
    },
    /// A workbook without the sheet.
    #[error("{} has no sheet '{sheet}'; it has {}", path.display(), sheets.join(", "))]
    NoSheet {
        /// The file.
        path: PathBuf,
        /// The sheet that was asked for.
        sheet: String,
        /// Those it has.
        sheets: Vec<String>,
    },
    /// A sheet was named, but only workbooks have sheets.
    #[error("{} has no sheets; leave the sheet out", path.display())]
    NotAWorkbook {
        /// The file.
        path: PathBuf,
    },
}
