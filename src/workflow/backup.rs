//! Backups: where they lie, how they are named, how many stay, and the order of steps that loses nothing.
//!
//! A backup gets its name when it is whole, on the disk and compared with the collection; whatever stops the program
//! before leaves only a file that ends in `.partial`, which the next backup removes.

use std::fs::{self, File};
use std::io::{self, ErrorKind};
use std::num::NonZeroU32;
use std::path::{Path, PathBuf};

use jiff::Timestamp;

use super::WorkflowError;
use crate::store::{BackupFile, BackupSummary, Moment, Store, StoreError, private_file, private_folder};

/// What a backup's name ends in until it is whole.
pub(super) const PARTIAL: &str = ".partial";

/// Why a backup or its return was not done.
#[derive(Debug, thiserror::Error)]
pub enum BackupError {
    /// A folder or file can't be used.
    #[error("{} can't be used; name another folder with --to", path.display())]
    File {
        /// The folder or file.
        path: PathBuf,
        /// What the system said.
        #[source]
        source: io::Error,
    },
    /// An older backup can't be removed.
    #[error("the backup {} is whole, but the older {} can't be removed", made.display(), path.display())]
    Older {
        /// The new one.
        made: PathBuf,
        /// The older one.
        path: PathBuf,
        /// What the system said.
        #[source]
        source: io::Error,
    },
    /// A collection was to be replaced by itself.
    #[error("{} is the collection itself; name a backup of it", .0.display())]
    Itself(PathBuf),
    /// What would be overwritten can't be kept.
    #[error("{} can't be backed up first, so it stays as it is", path.display())]
    Present {
        /// The collection.
        path: PathBuf,
        /// Why.
        #[source]
        source: Box<WorkflowError>,
    },
}

/// A backup that was made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BackupMade {
    /// Its file.
    pub path: PathBuf,
    /// What it is about.
    pub summary: BackupSummary,
    /// Older ones that were removed, oldest first.
    pub removed: Vec<PathBuf>,
}

/// A backup that is there.
#[derive(Debug)]
pub struct BackupKept {
    /// Its file.
    pub path: PathBuf,
    /// When it was made, by its name.
    pub made: Timestamp,
    /// What it is about, or why it can't be used.
    pub summary: Result<BackupSummary, StoreError>,
}

/// A collection that came back.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Restored {
    /// What it is about.
    pub summary: BackupSummary,
    /// The backup of what was there before, if anything was.
    pub before: Option<PathBuf>,
}

/// Copies the collection into `folder`, while others use it; then removes the oldest backups of the same collection,
/// so that `keep` stay.
///
/// # Errors
/// If the folder or a file in it can't be written, or the copy is not what the collection is; then no backup was removed.
pub fn backup(store: &Store, folder: &Path, keep: NonZeroU32, now: Timestamp) -> Result<BackupMade, WorkflowError> {
    let _alone = alone_in(folder, store.path())?;
    let (mut made, _) = make(store, folder, now)?;
    let keep = keep.get() as usize;
    let mut older = named_in(store.path(), folder)?;
    // Another collection of the same name may have its backups here as well.
    older.retain(|(_, path)| {
        *path != made.path
            && BackupFile::open(path).and_then(|file| file.summary()).is_ok_and(|s| s.began == made.summary.began)
    });
    for (_, path) in older.iter().take((older.len() + 1).saturating_sub(keep)) {
        fs::remove_file(path).map_err(|source| BackupError::Older {
            made: made.path.clone(),
            path: path.clone(),
            source,
        })?;
        made.removed.push(path.clone());
    }
    Ok(made)
}

/// Where backups of the collection at `path` lie unless another folder is named: beside it.
#[must_use]
pub fn backup_folder(path: &Path) -> PathBuf {
    path.with_extension("backups")
}

/// Reads all of a backup: its pages, its references, its rows.
///
/// # Errors
/// If it is no whole collection.
pub fn backup_check(file: &Path) -> Result<BackupSummary, WorkflowError> {
    let backup = BackupFile::open(file)?;
    backup.verify()?;
    Ok(backup.summary()?)
}

/// The backups of the collection at `path` that lie in `folder`, newest first.
///
/// # Errors
/// If the folder can't be read. That there is none is no error.
pub fn backups(path: &Path, folder: &Path) -> Result<Vec<BackupKept>, WorkflowError> {
    let found = named_in(path, folder)?.into_iter().rev().map(|((made, _), path)| {
        let summary = BackupFile::open(&path).and_then(|file| file.summary());
        BackupKept { path, made, summary }
    });
    Ok(found.collect())
}

/// Replaces the collection at `path` by the one in `file`. What was there before is first backed up into `folder`.
///
/// # Errors
/// If the file is no whole collection, or what is there can't be backed up or is being written to; then nothing was
/// replaced.
pub fn restore(path: &Path, file: &Path, folder: &Path, now: Timestamp) -> Result<Restored, WorkflowError> {
    let same = |a: &Path, b: &Path| fs::canonicalize(a).ok().zip(fs::canonicalize(b).ok()).is_some_and(|(a, b)| a == b);
    if same(path, file) {
        return Err(BackupError::Itself(path.to_owned()).into());
    }
    let from = BackupFile::open(file)?;
    from.verify()?;
    let summary = from.summary()?;
    let present = |source: WorkflowError| BackupError::Present { path: path.to_owned(), source: Box::new(source) };
    let was_there = path.exists();
    let store = Store::open(path).map_err(|error| present(error.into()))?;
    let before = match was_there {
        true => {
            let _alone = alone_in(folder, path)?;
            Some(make(&store, folder, now).map_err(present)?)
        }
        false => None,
    };
    store.replace_by(&from, before.as_ref().map(|(_, moment)| moment))?;
    drop(store);
    // An older schema is brought up to date at once, not by the next command.
    drop(Store::open(path)?);
    Ok(Restored { summary, before: before.map(|(made, _)| made.path) })
}

fn make(store: &Store, folder: &Path, now: Timestamp) -> Result<(BackupMade, Moment), WorkflowError> {
    let path = free_name(store.path(), folder, now);
    let partial = with_end(&path, PARTIAL);
    let at = |source| BackupError::File { path: partial.clone(), source };
    let copied = store.copy_to(&partial).and_then(|moment| Ok((moment, BackupFile::open(&partial)?.summary()?)));
    let (moment, summary) = match copied {
        Ok(copied) => copied,
        Err(error) => {
            // What is not whole is of no use; that it can't be removed would hide why.
            let _ = fs::remove_file(&partial);
            return Err(error.into());
        }
    };
    File::open(&partial).and_then(|file| file.sync_all()).map_err(at)?;
    fs::rename(&partial, &path).map_err(at)?;
    #[cfg(unix)]
    File::open(folder).and_then(|folder| folder.sync_all()).map_err(at)?;
    Ok((BackupMade { path, summary, removed: Vec::new() }, moment))
}

/// Makes the folder if there is none, keeps other backups out of it as long as what is given lives, and clears away what
/// an interrupted one left.
fn alone_in(folder: &Path, collection: &Path) -> Result<File, BackupError> {
    let at = |path: &Path| {
        let path = path.to_owned();
        move |source| BackupError::File { path, source }
    };
    private_folder(folder).map_err(at(folder))?;
    let path = folder.join(".boxward-backup.lock");
    let lock = private_file().create(true).truncate(false).open(&path).map_err(at(&path))?;
    match lock.lock() {
        // Some network folders know no locks; names are still never taken twice.
        Err(error) if error.kind() != ErrorKind::Unsupported => return Err(at(&path)(error)),
        _ => {}
    }
    for entry in fs::read_dir(folder).map_err(at(folder))? {
        let path = entry.map_err(at(folder))?.path();
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        if name.strip_suffix(PARTIAL).is_some_and(|name| made_of(name, &stem(collection)).is_some()) {
            fs::remove_file(&path).map_err(at(&path))?;
        }
    }
    Ok(lock)
}

/// `collection-20260304T183000Z.sqlite`, or with `-2` and so on behind the time.
fn free_name(collection: &Path, folder: &Path, now: Timestamp) -> PathBuf {
    let stem = stem(collection);
    let time = now.strftime("%Y%m%dT%H%M%SZ");
    let name =
        |n: u32| folder.join(if n < 2 { format!("{stem}-{time}.sqlite") } else { format!("{stem}-{time}-{n}.sqlite") });
    (1..).map(name).find(|path| !path.exists()).unwrap_or_else(|| name(1))
}

type Made = (Timestamp, u32);

/// The backups of the collection by their names, oldest first.
fn named_in(collection: &Path, folder: &Path) -> Result<Vec<(Made, PathBuf)>, BackupError> {
    let at = |source| BackupError::File { path: folder.to_owned(), source };
    let entries = match fs::read_dir(folder) {
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(Vec::new()),
        other => other.map_err(at)?,
    };
    let mut found = Vec::new();
    for entry in entries {
        let path = entry.map_err(at)?.path();
        let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        found.extend(made_of(&name, &stem(collection)).map(|made| (made, path)));
    }
    found.sort();
    Ok(found)
}

fn made_of(name: &str, stem: &str) -> Option<Made> {
    let time = name.strip_prefix(stem)?.strip_prefix('-')?.strip_suffix(".sqlite")?;
    let (time, n) = match time.split_once('-') {
        Some((time, n)) => (time, n.parse().ok()?),
        None => (time, 1),
    };
    let time = jiff::civil::DateTime::strptime("%Y%m%dT%H%M%SZ", time).ok()?;
    Some((jiff::tz::TimeZone::UTC.to_timestamp(time).ok()?, n))
}

fn stem(collection: &Path) -> String {
    collection.file_stem().unwrap_or_default().to_string_lossy().into_owned()
}

pub(super) fn with_end(path: &Path, end: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(end);
    name.into()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_tell_when_and_whose() {
        let now: Timestamp = "2026-03-04T18:30:00Z".parse().unwrap();
        let folder = Path::new("no such folder");
        let path = free_name(Path::new("a/my books.sqlite"), folder, now);
        assert_eq!(path, folder.join("my books-20260304T183000Z.sqlite"));
        for (name, made) in [
            ("my books-20260304T183000Z.sqlite", Some((now, 1))),
            ("my books-20260304T183000Z-12.sqlite", Some((now, 12))),
            ("my books-20260304T183000Z-x.sqlite", None),
            ("my books-20260304T183000Z.sqlite.partial", None),
            ("my books-20260399T183000Z.sqlite", None),
            ("my books-2-20260304T183000Z.sqlite", None),
            ("my books.sqlite", None),
            ("books-20260304T183000Z.sqlite", None),
        ] {
            assert_eq!(made_of(name, "my books"), made, "{name}");
        }
    }
}
