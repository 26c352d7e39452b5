//! What the program's exit code says. Scripts rely on these numbers: they must stay.

use std::process::ExitCode;

/// How a command ended; the worst of what happened.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
#[repr(u8)]
pub enum Exit {
    /// Done.
    Done = 0,
    /// Done in part: something was not read, or waits for a person.
    Partly = 1,
    /// The call was wrong: an unknown option, a missing argument. (The number is clap's own for this.)
    Call = 2,
    /// The data was wrong: a code that fails its check, a file that is no picture.
    Data = 3,
    /// The machine failed: disk, camera, database.
    Machine = 4,
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        Self::from(exit as u8)
    }
}
