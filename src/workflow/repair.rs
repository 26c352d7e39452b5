//! A damaged collection: what can be read of it, in a new file.
//!
//! The damaged file is copied first, with its log; what is tried is tried on the copy. The new file has its name when it is
//! whole, compared and on the disk.

use std::fs::{self, File, OpenOptions};
use std::io::{self, ErrorKind, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use super::WorkflowError;
use super::backup::{PARTIAL, with_end};
use crate::store::{BackupFile, BackupSummary, Salvaged, StoreError, merge_log, salvage};

/// What the copy of the damaged file ends in.
const DAMAGED: &str = ".damaged.partial";

/// What a database's log ends in (sqlite.org/wal.html).
const LOG: &str = "-wal";

/// What is read at once: a page, so that a bad place on the disk costs no more.
const BLOCK: usize = 4096;

/// Why nothing was saved.
#[derive(Debug, thiserror::Error)]
pub enum RepairError {
    /// A file of that name is there.
    #[error("{} is there already, and stays as it is; give another name with --to", .0.display())]
    There(PathBuf),
    /// A file can't be read or written.
    #[error("{} can't be used", path.display())]
    File {
        /// The file.
        path: PathBuf,
        /// What the system said.
        #[source]
        source: io::Error,
    },
}

/// A collection made of what could be read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Repaired {
    /// What it is about.
    pub summary: BackupSummary,
    /// What was saved and what was not.
    pub salvaged: Salvaged,
    /// Whether there was a log beside the damaged file that could not be brought into it: what was written last is missing.
    pub log_lost: bool,
    /// Bytes that the disk did not give.
    pub unreadable_bytes: u64,
}

/// Saves what can be read of the collection `file` into the new file `to`. `file` stays as it is.
///
/// # Errors
/// If `file` can't be read or is another program's or a newer one's or holds nothing of a collection; if `to` is there or
/// can't be written.
pub fn repair(file: &Path, to: &Path) -> Result<Repaired, WorkflowError> {
    if to.exists() {
        return Err(RepairError::There(to.to_owned()).into());
    }
    let (damaged, partial) = (with_end(to, DAMAGED), with_end(to, PARTIAL));
    let repaired = try_to(file, &damaged, &partial, to);
    // Of no use any more; that one can't be removed would hide what happened.
    for left in
        [&damaged, &with_end(&damaged, LOG), &with_end(&damaged, "-shm"), &with_end(&partial, "-journal"), &partial]
    {
        let _ = fs::remove_file(left);
    }
    repaired
}

fn try_to(file: &Path, damaged: &Path, partial: &Path, to: &Path) -> Result<Repaired, WorkflowError> {
    let at = |path: &Path| {
        let path = path.to_owned();
        move |source| RepairError::File { path, source }
    };
    let mut unreadable_bytes = copy(file, damaged)?;
    let log = with_end(file, LOG);
    let has_log = fs::metadata(&log).is_ok_and(|log| log.len() > 0);
    if has_log {
        unreadable_bytes += copy(&log, &with_end(damaged, LOG))?;
    }
    let log_lost = has_log && !merge_log(damaged);
    match fs::remove_file(partial) {
        Err(error) if error.kind() != ErrorKind::NotFound => return Err(at(partial)(error).into()),
        _ => {}
    }
    let salvaged = salvage(damaged, partial).map_err(|error| match error {
        // What is wrong with the copy is wrong with the file.
        StoreError::NotACollection { what, .. } => StoreError::NotACollection { path: file.to_owned(), what },
        StoreError::Newer { found, known, .. } => StoreError::Newer { path: file.to_owned(), found, known },
        error => error,
    })?;
    let made = BackupFile::open(partial)?;
    made.verify()?;
    let summary = made.summary()?;
    drop(made);
    File::open(partial).and_then(|file| file.sync_all()).map_err(at(partial))?;
    fs::rename(partial, to).map_err(at(to))?;
    Ok(Repaired { summary, salvaged, log_lost, unreadable_bytes })
}

/// Copies a file, zeros in the place of what can't be read; gives how many bytes those are.
fn copy(from: &Path, to: &Path) -> Result<u64, RepairError> {
    let at = |path: &Path| {
        let path = path.to_owned();
        move |source| RepairError::File { path, source }
    };
    let mut input = File::open(from).map_err(at(from))?;
    let length = input.metadata().map_err(at(from))?.len();
    let mut options = OpenOptions::new();
    options.write(true).create(true).truncate(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let mut output = options.open(to).map_err(at(to))?;
    let mut block = [0; BLOCK];
    let (mut done, mut unreadable) = (0, 0);
    while done < length {
        let size = usize::try_from(length - done).unwrap_or(BLOCK).min(BLOCK);
        let read = input.seek(SeekFrom::Start(done)).and_then(|_| input.read_exact(&mut block[..size]));
        if read.is_err() {
            block.fill(0);
            unreadable += size as u64;
        }
        output.write_all(&block[..size]).map_err(at(to))?;
        done += size as u64;
    }
    Ok(unreadable)
}
