//! Where a page goes: a file of its own, written over nothing but an older page.

use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

use super::Exit;
use super::failure::Failure;
use crate::report::START;

/// Whether a page may be written there: a photo's name, or a table's, is soon given by mistake.
pub(super) fn may_be_written(out: &Path) -> Result<(), Failure> {
    let shown = out.display();
    if !has_extension(out, "html") {
        return Err(Failure::call(format!("{shown}: a page is HTML")).hint("give it a name that ends in .html"));
    }
    is_free(out)
}

/// As [`may_be_written`], for a drawn picture.
pub(super) fn picture_may_be_written(out: &Path) -> Result<(), Failure> {
    if !has_extension(out, "svg") {
        let failure = Failure::call(format!("{}: a drawn picture is SVG", out.display()));
        return Err(failure.hint("give it a name that ends in .svg"));
    }
    is_free(out)
}

fn has_extension(out: &Path, wanted: &str) -> bool {
    out.extension().is_some_and(|e| e.eq_ignore_ascii_case(wanted))
}

fn is_free(out: &Path) -> Result<(), Failure> {
    let shown = out.display();
    let is_page = || {
        let mut start = vec![0; START.len()];
        File::open(out).and_then(|mut file| file.read_exact(&mut start)).is_ok() && start == START.as_bytes()
    };
    match out.metadata() {
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(()),
        // Asked before opening: opening a pipe would wait for its writer.
        Ok(there) if there.is_file() && is_page() => Ok(()),
        _ => Err(Failure::call(format!("{shown} is there, and no page of boxward's"))
            .hint("give another name; what is there stays as it is")),
    }
}

/// Writes a page where [`may_be_written`] allows it.
pub(super) fn write(out: &Path, page: &str) -> Result<(), Failure> {
    may_be_written(out)?;
    write_to(out, page)
}

/// Writes a drawn picture where [`picture_may_be_written`] allows it.
pub(super) fn write_picture(out: &Path, picture: &str) -> Result<(), Failure> {
    picture_may_be_written(out)?;
    write_to(out, picture)
}

fn write_to(out: &Path, page: &str) -> Result<(), Failure> {
    std::fs::write(out, page).map_err(|error| {
        let mut failure = Failure::new(Exit::Machine, &error);
        failure.messages.insert(0, format!("{} could not be written", out.display()));
        failure
    })
}
