//! What strangers' bytes are given to, and what must hold whatever they are: no panic, no code that its own check refuses,
//! nothing stored by halves. `tests/all/fuzz_targets.rs` runs every target on changed examples, `scripts/fuzz` under libFuzzer,
//! which looks for bytes that take new ways through the code.
//!
//! A new target is a file here with a `check` and its `seeds`, and a line in [`TARGETS`]. What was found goes into
//! `found/TARGET/`, where every test run tries it again.

mod answers;
mod codes;
mod data;
mod lists;
mod mutate;
mod pictures;
mod words;
mod workbooks;

pub use mutate::{changed, damaged};

use std::fs;
use std::path::{Path, PathBuf};

/// Where strangers' bytes go in.
pub struct Target {
    /// What it is called by `scripts/fuzz`.
    pub name: &'static str,
    /// Takes bytes; panics if what must hold does not.
    pub check: fn(&[u8]),
    /// Examples to begin with.
    pub seeds: fn() -> Vec<Vec<u8>>,
    /// Pieces of text that mean something there.
    pub words: &'static [&'static str],
}

/// Every target.
pub const TARGETS: [Target; 7] =
    [pictures::TARGET, codes::TARGET, words::TARGET, lists::TARGET, workbooks::TARGET, answers::TARGET, data::TARGET];

/// The example picture in every format, in `testdata/formats`.
pub const FORMATS: [&str; 11] = [
    "baseline.jpg",
    "progressive.jpg",
    "cmyk.jpg",
    "orientation-6.jpg",
    "palette.png",
    "grey-16-bit.png",
    "lossless.webp",
    "lossy.webp",
    "grey.bmp",
    "colour.tiff",
    "colour.gif",
];

/// The bytes of a file below `testdata`.
fn example(name: &str) -> Vec<u8> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata").join(name);
    fs::read(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// Texts as seeds.
fn texts(texts: &[&str]) -> Vec<Vec<u8>> {
    texts.iter().map(|text| text.as_bytes().to_vec()).collect()
}

/// A folder in memory where there is one: hundreds of small files are written a second.
fn folder() -> tempfile::TempDir {
    let memory = Path::new("/dev/shm");
    if memory.is_dir() { tempfile::tempdir_in(memory).unwrap() } else { tempfile::tempdir().unwrap() }
}

/// What was found once, and is tried again: the files in `found/NAME`.
pub fn found(name: &str) -> Vec<(PathBuf, Vec<u8>)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzz/found").join(name);
    let Ok(entries) = fs::read_dir(&folder) else { return Vec::new() };
    let mut files: Vec<PathBuf> = entries.map(|entry| entry.unwrap().path()).collect();
    files.sort();
    files.into_iter().map(|path| (path.clone(), fs::read(path).unwrap())).collect()
}
