//! The whole record into a file and back.

use std::fs;
use std::io::{self, BufRead, BufWriter};
use std::path::{Path, PathBuf};

use super::WorkflowError;
use super::backup::{PARTIAL, with_end};
use crate::store::{DataError, Store, private_file};

/// Why a record was not exported, or not read back.
#[derive(Debug, thiserror::Error)]
pub enum ExportError {
    /// A file of that name is there.
    #[error("{} is there already, and stays as it is; give another name", .0.display())]
    There(PathBuf),
    /// The file can't be written.
    #[error("{} can't be written", path.display())]
    File {
        /// The file.
        path: PathBuf,
        /// What the system said.
        #[source]
        source: io::Error,
    },
    /// The record or the lines.
    #[error(transparent)]
    Data(#[from] DataError),
}

/// Writes every record into a new file, which has its name once it is whole; gives how many records.
///
/// # Errors
/// If a file of that name is there, it can't be written, or the collection can't be read.
pub fn export_to(store: &Store, path: &Path) -> Result<u64, WorkflowError> {
    if path.exists() {
        return Err(ExportError::There(path.to_owned()).into());
    }
    let partial = with_end(path, PARTIAL);
    let at = |source| ExportError::File { path: path.to_owned(), source };
    let mut out = BufWriter::new(private_file().create(true).truncate(true).open(&partial).map_err(at)?);
    let records = match store.export(&mut out) {
        Ok(records) => records,
        Err(error) => {
            // What is not whole is of no use; that it can't be removed would hide why.
            let _ = fs::remove_file(&partial);
            return Err(ExportError::Data(error).into());
        }
    };
    out.get_ref().sync_all().map_err(at)?;
    fs::rename(&partial, path).map_err(at)?;
    Ok(records)
}

/// Reads what [`export_to`] or [`Store::export`] wrote into the collection at `path`, which must be empty or not there.
///
/// # Errors
/// If the collection is not empty or fails, or a line can't be used; then nothing was read, and none was made.
pub fn import_data(path: &Path, input: &mut dyn BufRead) -> Result<u64, WorkflowError> {
    if path.exists() {
        return read_into(path, input);
    }
    // It has its name once it is whole.
    let partial = with_end(path, PARTIAL);
    remove(&partial);
    let records = read_into(&partial, input).inspect_err(|_| remove(&partial))?;
    if path.exists() {
        remove(&partial);
        return Err(ExportError::There(path.to_owned()).into());
    }
    let at = |source| ExportError::File { path: path.to_owned(), source };
    // What SQLite did not get into the file belongs to it as well.
    for end in ["-wal", ""] {
        let from = with_end(&partial, end);
        if from.exists() {
            fs::rename(from, with_end(path, end)).map_err(at)?;
        }
    }
    Ok(records)
}

/// Removes a collection that is not whole. That it can't be removed would hide why it is not.
fn remove(partial: &Path) {
    for end in ["", "-wal", "-shm"] {
        let _ = fs::remove_file(with_end(partial, end));
    }
}

fn read_into(path: &Path, input: &mut dyn BufRead) -> Result<u64, WorkflowError> {
    let records = Store::open(path)?.import_data(input).map_err(ExportError::from)?;
    Store::open(path)?;
    Ok(records)
}
