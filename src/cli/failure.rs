//! The one place where errors become words for a person: what happened, its causes, what to do; and an exit code.

use std::error::Error;
use std::io;

use super::Exit;
use crate::source::FolderError;

/// Why a command could not do its job.
#[derive(Debug)]
pub(super) struct Failure {
    pub(super) exit: Exit,
    /// What happened, then each cause.
    pub(super) messages: Vec<String>,
    pub(super) hint: Option<&'static str>,
    /// The reader of the output went away, as `head` does: nothing to tell, and nobody to tell it to.
    pub(super) output_closed: bool,
}

/// What commands give back.
pub(super) type Outcome = Result<Exit, Failure>;

impl Failure {
    pub(super) fn new(exit: Exit, error: &dyn Error) -> Self {
        Self { exit, messages: messages(error), hint: None, output_closed: false }
    }

    /// The call was wrong in a way that clap can't know.
    pub(super) fn call(message: impl Into<String>) -> Self {
        Self { exit: Exit::Call, messages: vec![message.into()], hint: None, output_closed: false }
    }

    pub(super) fn hint(mut self, hint: &'static str) -> Self {
        self.hint = Some(hint);
        self
    }
}

/// An error's message and those of its causes. A cause that its parent already quotes is left out.
pub(super) fn messages(error: &dyn Error) -> Vec<String> {
    let mut messages = vec![error.to_string()];
    let mut source = error.source();
    while let Some(cause) = source {
        let text = cause.to_string();
        if !messages.iter().any(|m| m.contains(&text)) {
            messages.push(text);
        }
        source = cause.source();
    }
    messages
}

/// An error and its causes in one line, for a list of files.
pub(super) fn one_line(error: &dyn Error) -> String {
    messages(error).join(": ")
}

/// Only what the program writes to its own output is converted without saying more.
impl From<io::Error> for Failure {
    fn from(error: io::Error) -> Self {
        let output_closed = error.kind() == io::ErrorKind::BrokenPipe;
        Self { output_closed, ..Self::new(Exit::Machine, &error) }
    }
}

impl From<FolderError> for Failure {
    fn from(error: FolderError) -> Self {
        let exit = match &error {
            FolderError::Unreadable { .. } => Exit::Machine,
            FolderError::NoPicture { .. } => Exit::Data,
        };
        Self::new(exit, &error)
    }
}
