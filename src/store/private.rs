//! Files and folders that only their owner reads: a record says what somebody owns, what it cost and where it stands.

use std::fs::{DirBuilder, OpenOptions};
use std::io;
use std::path::Path;

/// How to open a file for writing that, where it is new, only its owner reads.
#[must_use]
pub fn private_file() -> OpenOptions {
    let mut options = OpenOptions::new();
    options.write(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options
}

/// Makes a folder, and those above it, into which only their owner looks. One that is there stays as it is.
///
/// # Errors
/// If it can't be made.
pub fn private_folder(path: &Path) -> io::Result<()> {
    builder().recursive(true).create(path)
}

/// Makes a folder into which only its owner looks.
///
/// # Errors
/// If it can't be made, or anything of that name is there.
pub fn new_private_folder(path: &Path) -> io::Result<()> {
    builder().create(path)
}

fn builder() -> DirBuilder {
    let mut builder = DirBuilder::new();
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder
}
