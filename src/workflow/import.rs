//! Photos into the queue.
//!
//! A photo is one transaction: what is reported as staged is on the disk, and an import that was interrupted goes on by
//! being run again, because photos are known by their content.

use std::error::Error;
use std::num::NonZeroUsize;
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use jiff::Timestamp;
use serde::Serialize;
use sha2::{Digest, Sha256};

use super::session::{SeenAgain, StageOutcome, Staged, stage};
use super::{WorkflowError, messages};
use crate::code::{Certainty, Code, Symbology};
use crate::intake::{ItemId, ItemState, RunId};
use crate::picture::{self, Limits};
use crate::source::{Evidence, Origin, Sighting, in_order};
use crate::store::{NewItem, RunKind, Store, StoreError, Writer};

/// A photo as its reader gives it.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ReadPhoto {
    /// The symbols read.
    pub symbols: Vec<SymbolSighting>,
    /// The whole photo, reduced, as PNG: the evidence when nothing was read. May be empty otherwise.
    pub fallback_png: Vec<u8>,
}

/// One symbol of a photo.
#[derive(Debug, Clone, PartialEq)]
pub struct SymbolSighting {
    /// Its code.
    pub code: Code,
    /// Its kind.
    pub symbology: Symbology,
    /// How far the code can be trusted.
    pub certainty: Certainty,
    /// The picture side.
    pub evidence: Evidence,
}

/// What became of one file.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FileOutcome {
    /// The file.
    #[serde(serialize_with = "shown")]
    pub path: PathBuf,
    /// What became of it.
    #[serde(flatten)]
    pub result: FileResult,
}

/// What became of a file.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "result", rename_all = "snake_case")]
pub enum FileResult {
    /// Its symbols are in the queue.
    Staged {
        /// New items.
        staged: Vec<Staged>,
        /// Symbols that repeat items of the same import.
        seen_again: Vec<SeenAgain>,
    },
    /// No code was read: one item waits for a person.
    NothingRead {
        /// The item.
        item: ItemId,
    },
    /// A photo with the same content was imported before.
    Known {
        /// The path under which it was.
        #[serde(serialize_with = "shown")]
        as_path: PathBuf,
    },
    /// It could not be read; nothing of it is in the queue.
    Failed {
        /// Why.
        error: String,
    },
}

/// A path that is no Unicode must not keep its outcome from being told.
fn shown<S: serde::Serializer>(path: &Path, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_str(&path.display())
}

/// What an import did.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct ImportSummary {
    /// The run, if anything was staged.
    pub run: Option<RunId>,
    /// Files looked at.
    pub files: usize,
    /// New items, those without a code among them.
    pub staged: usize,
    /// Those of them that a person must complete.
    pub incomplete: usize,
    /// Symbols that repeat items of this import.
    pub seen_again: usize,
    /// Photos that were imported before.
    pub known: usize,
    /// Photos in which nothing was read.
    pub nothing_read: usize,
    /// Files that could not be read.
    pub failed: usize,
}

/// A photo that was looked at, before anything of it is staged.
#[derive(Debug, Clone, PartialEq)]
pub enum LookedPhoto {
    /// It was read.
    Read {
        /// The sum of its bytes, which it is known by.
        sha256: [u8; 32],
        /// What was read in it.
        photo: ReadPhoto,
    },
    /// A photo with the same content was imported before.
    Known {
        /// The path under which it was.
        as_path: PathBuf,
        /// The run that did.
        run: RunId,
    },
    /// It can't be read.
    Failed {
        /// Why.
        error: String,
    },
}

impl LookedPhoto {
    /// Reads a photo's bytes, whose sum is `sha256`. A reader that panics on one damaged photo ends nothing else.
    pub fn read<E: Into<Box<dyn Error>>>(sha256: [u8; 32], read: impl FnOnce() -> Result<ReadPhoto, E>) -> Self {
        match std::panic::catch_unwind(std::panic::AssertUnwindSafe(read)) {
            Ok(Ok(photo)) => Self::Read { sha256, photo },
            Ok(Err(error)) => Self::Failed { error: messages(&*error.into()).join(": ") },
            Err(_) => Self::Failed { error: "the reader failed on this picture; please report it".to_owned() },
        }
    }

    /// What is known of a photo by the sum of its bytes alone; `None` if it has to be read.
    ///
    /// # Errors
    /// If the collection can't be read.
    pub fn known(store: &Store, sha256: &[u8; 32]) -> Result<Option<Self>, WorkflowError> {
        Ok(store.photo(sha256)?.map(|(as_path, run)| Self::Known { as_path, run }))
    }
}

/// Photos that come in one by one, as they are uploaded, and are one import: one run, in which what is seen again is a
/// repeat. A run that is undone meanwhile stays undone; what comes after is another.
#[derive(Debug, Default)]
pub struct PhotoSession {
    run: Option<RunId>,
}

impl PhotoSession {
    /// Stages a photo, under `label` as the path that it is recorded with; when this returns it is on the disk.
    ///
    /// # Errors
    /// If the collection fails.
    pub fn settle(
        &mut self,
        store: &Store,
        label: &Path,
        looked: LookedPhoto,
        now: Timestamp,
    ) -> Result<FileOutcome, WorkflowError> {
        let goes_on = |run| store.run(run).is_ok_and(|run| run.undone_by.is_none());
        self.run = self.run.filter(|run| goes_on(*run));
        let result = settle(store, &mut self.run, label, looked, now)?;
        Ok(FileOutcome { path: label.to_owned(), result })
    }

    /// The run that the photos are recorded as, once something is staged.
    #[must_use]
    pub fn run(&self) -> Option<RunId> {
        self.run
    }
}

/// Imports `paths` on `jobs` threads: hashes each file, reads it with `read` (given its path and bytes) unless its
/// content is known, and stages it. `progress` is called for each file, in the order given, after its commit; it may
/// end the import, which then has staged all that was reported. If the last thing done to the collection was an import of
/// some of the files, this one goes on with it: as the same run, in which a book on two photos is one.
///
/// # Errors
/// If the collection fails. A file that fails is an outcome.
pub fn import<E: Into<Box<dyn Error>>>(
    store: &Store,
    paths: &[PathBuf],
    limits: &Limits,
    read: &(impl Fn(&Path, &[u8]) -> Result<ReadPhoto, E> + Sync),
    jobs: NonZeroUsize,
    clock: &(impl Fn() -> Timestamp + Sync),
    progress: &mut dyn FnMut(&FileOutcome) -> ControlFlow<()>,
) -> Result<ImportSummary, WorkflowError> {
    let known = Mutex::new(store.again()?);
    let mut summary = ImportSummary::default();
    let mut run = None;
    let mut broken_off = None;
    let mut failure = None;
    let work = |path: &PathBuf| (path.clone(), look(path, read, limits, &known));
    in_order(paths, jobs, work, |(path, looked)| {
        let recorded = std::path::absolute(&path).unwrap_or_else(|_| path.clone());
        let settled = looked.and_then(|looked| {
            match &looked {
                LookedPhoto::Known { run: known, .. } if run.is_none() => {
                    broken_off = last_import(store)?.filter(|last| last == known).or(broken_off);
                }
                LookedPhoto::Read { .. } => run = run.or(broken_off),
                _ => {}
            }
            settle(store, &mut run, &recorded, looked, clock())
        });
        let outcome = match settled {
            Ok(result) => FileOutcome { path, result },
            Err(error) => {
                failure = Some(error);
                return ControlFlow::Break(());
            }
        };
        summary.add(&outcome.result);
        progress(&outcome)
    });
    summary.run = run;
    failure.map_or(Ok(summary), Err)
}

/// The last thing done to the collection, if it was an import.
fn last_import(store: &Store) -> Result<Option<RunId>, WorkflowError> {
    Ok(store.runs(1)?.pop().filter(|last| last.kind == RunKind::Import).map(|last| last.id))
}

impl ImportSummary {
    fn add(&mut self, result: &FileResult) {
        self.files += 1;
        match result {
            FileResult::Staged { staged, seen_again } => {
                self.staged += staged.len();
                self.incomplete += staged.iter().filter(|s| s.state == ItemState::Incomplete).count();
                self.seen_again += seen_again.len();
            }
            FileResult::NothingRead { .. } => {
                self.staged += 1;
                self.incomplete += 1;
                self.nothing_read += 1;
            }
            FileResult::Known { .. } => self.known += 1,
            FileResult::Failed { .. } => self.failed += 1,
        }
    }
}

fn look<E: Into<Box<dyn Error>>>(
    path: &Path,
    read: &impl Fn(&Path, &[u8]) -> Result<ReadPhoto, E>,
    limits: &Limits,
    known: &Mutex<Store>,
) -> Result<LookedPhoto, WorkflowError> {
    let bytes = match picture::bytes(path, limits) {
        Ok(bytes) => bytes,
        Err(error) => return Ok(LookedPhoto::Failed { error: messages(&error).join(": ") }),
    };
    let sha256: [u8; 32] = Sha256::digest(&bytes).into();
    if let Some(known) = LookedPhoto::known(&known.lock().unwrap_or_else(PoisonError::into_inner), &sha256)? {
        return Ok(known);
    }
    Ok(LookedPhoto::read(sha256, || read(path, &bytes)))
}

fn settle(
    store: &Store,
    run: &mut Option<RunId>,
    recorded: &Path,
    looked: LookedPhoto,
    now: Timestamp,
) -> Result<FileResult, WorkflowError> {
    match looked {
        LookedPhoto::Known { as_path, .. } => Ok(FileResult::Known { as_path }),
        LookedPhoto::Failed { error } => Ok(FileResult::Failed { error }),
        LookedPhoto::Read { sha256, photo } => {
            Ok(store.write(run, RunKind::Import, now, |writer| stage_photo(writer, recorded, sha256, photo, now))?)
        }
    }
}

fn stage_photo(
    writer: &Writer<'_>,
    path: &Path,
    sha256: [u8; 32],
    photo: ReadPhoto,
    seen_at: Timestamp,
) -> Result<FileResult, StoreError> {
    // Looked up again inside the transaction: the same content may stand twice in one list, or come from two processes.
    if let Some((as_path, _)) = writer.photo(&sha256)? {
        return Ok(FileResult::Known { as_path });
    }
    writer.insert_photo(path, &sha256, photo.symbols.len())?;
    let origin = |position| Origin::Photo { path: path.to_owned(), sha256, position };
    if photo.symbols.is_empty() {
        let evidence = Evidence { crop_png: photo.fallback_png, corners: None, by: None, module_px: None };
        let sighting = Sighting {
            code: None,
            symbology: None,
            certainty: Certainty::Confirm,
            origin: origin(0),
            seen_at,
            evidence: Some(evidence),
        };
        let state = ItemState::Incomplete;
        let item = writer.insert_item(&NewItem { sighting: &sighting, state, note: "no code was read" })?;
        return Ok(FileResult::NothingRead { item });
    }
    let (mut staged, mut seen_again) = (Vec::new(), Vec::new());
    for (position, symbol) in (0..).zip(photo.symbols) {
        let sighting = Sighting {
            code: Some(symbol.code),
            symbology: Some(symbol.symbology),
            certainty: symbol.certainty,
            origin: origin(position),
            seen_at,
            evidence: Some(symbol.evidence),
        };
        match stage(writer, &sighting)? {
            StageOutcome::Staged(new) => staged.push(new),
            StageOutcome::SeenAgain(repeat) => seen_again.push(repeat),
        }
    }
    Ok(FileResult::Staged { staged, seen_again })
}
