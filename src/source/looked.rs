//! One frame after another, looked at: from files, as if a camera had sent them, or from whatever sends frames.

use std::num::NonZeroUsize;
use std::ops::ControlFlow;
use std::path::PathBuf;
use std::time::Instant;

use jiff::{SignedDuration, Timestamp};

use super::photo::{guarded, ms_since};
use super::{PhotoError, in_order};
use crate::picture::{self, Limits, Luma};
use crate::reader::{self, Symbol};

/// A frame and what was read in it.
#[derive(Debug)]
pub struct Looked {
    /// When it was taken.
    pub at: Timestamp,
    /// The frame.
    pub luma: Luma,
    /// Its symbols.
    pub symbols: Vec<Symbol>,
    /// Time to find and read symbols, in ms.
    pub read_ms: f64,
}

impl Looked {
    /// Reads `luma`, a frame taken at `at`.
    ///
    /// # Errors
    /// If a defect stopped the reader.
    pub fn at(at: Timestamp, luma: Luma) -> Result<Self, PhotoError> {
        let start = Instant::now();
        let symbols = guarded(|| reader::read_frame(&luma))?;
        Ok(Self { at, luma, symbols, read_ms: ms_since(start) })
    }
}

/// How many frames a second a film has that was split into files.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rate(f64);

impl Rate {
    /// Frames a second: above 0, at most 1000.
    #[must_use]
    pub fn new(per_second: f64) -> Option<Self> {
        (per_second > 0.0 && per_second <= 1000.0).then_some(Self(per_second))
    }

    /// The moment of frame `number` of a film that began at `start`.
    #[must_use]
    pub fn moment(self, start: Timestamp, number: usize) -> Timestamp {
        let after = SignedDuration::try_from_secs_f64(number as f64 / self.0).unwrap_or(SignedDuration::MAX);
        start.saturating_add(after).unwrap_or(Timestamp::MAX)
    }
}

/// Looks at the frames in `files`, all of them and in order, on `jobs` threads, as if each had been taken in its turn of
/// a film that began at `start`. `take` gets each, or why its file is no frame, and may end it.
pub fn replay(
    files: &[PathBuf],
    rate: Rate,
    start: Timestamp,
    jobs: NonZeroUsize,
    mut take: impl FnMut(Result<Looked, (&PathBuf, PhotoError)>) -> ControlFlow<()>,
) {
    let limits = Limits::default();
    let numbered: Vec<(usize, &PathBuf)> = files.iter().enumerate().collect();
    let look = |&(number, path): &(usize, &PathBuf)| {
        let loaded = guarded(|| picture::load(path, &limits)).and_then(|loaded| Ok(loaded?));
        (number, loaded.and_then(|luma| Looked::at(rate.moment(start, number), luma)))
    };
    in_order(&numbered, jobs, look, |(number, looked)| take(looked.map_err(|error| (&files[number], error))));
}
