//! One photo file: loaded, read, timed. A bad file is an outcome of that file, whatever is wrong with it.

use std::any::Any;
use std::panic::catch_unwind;
use std::path::{Path, PathBuf};
use std::time::Instant;

use crate::picture::{self, Limits, Luma, PictureError};
use crate::reader::{self, Explanation, Symbol};

/// What came of one photo file.
#[derive(Debug)]
pub struct PhotoReading {
    /// Its path as given.
    pub path: PathBuf,
    /// Its symbols, or why there is no picture.
    pub outcome: Result<Vec<Symbol>, PhotoError>,
    /// Time to load and decode the file, in ms.
    pub load_ms: f64,
    /// Time to find and read symbols, in ms.
    pub read_ms: f64,
}

/// Why a photo file gave nothing.
#[derive(Debug, thiserror::Error)]
pub enum PhotoError {
    /// No picture.
    #[error(transparent)]
    Picture(#[from] PictureError),
    /// A defect of this program; caught so that one photo can't end a batch.
    #[error("a defect of boxward's stopped this photo, please report it with the photo: {0}")]
    Defect(String),
}

/// Loads and reads the photo at `path`.
#[must_use]
pub fn read_photo(path: &Path, limits: &Limits) -> PhotoReading {
    let start = Instant::now();
    let loaded = guarded(|| picture::load(path, limits)).and_then(|loaded| Ok(loaded?));
    let load_ms = ms_since(start);
    let start = Instant::now();
    let outcome = loaded.and_then(|luma| guarded(|| reader::read(&luma)));
    PhotoReading { path: path.to_owned(), outcome, load_ms, read_ms: ms_since(start) }
}

/// Loads the photo at `path`, reads it and tells what was seen on the way.
///
/// # Errors
/// If it is no picture, or a defect stopped the reader.
pub fn explain_photo(path: &Path, limits: &Limits) -> Result<(Luma, Explanation), PhotoError> {
    let luma = guarded(|| picture::load(path, limits))??;
    let explanation = guarded(|| reader::explain(&luma))?;
    Ok((luma, explanation))
}

pub(super) fn guarded<T>(work: impl FnOnce() -> T + std::panic::UnwindSafe) -> Result<T, PhotoError> {
    catch_unwind(work).map_err(|panic| PhotoError::Defect(panic_message(&*panic)))
}

fn panic_message(panic: &(dyn Any + Send)) -> String {
    let text = panic.downcast_ref::<&str>().copied().or_else(|| panic.downcast_ref::<String>().map(String::as_str));
    text.unwrap_or("no message").to_owned()
}

pub(super) fn ms_since(start: Instant) -> f64 {
    start.elapsed().as_secs_f64() * 1000.0
}
