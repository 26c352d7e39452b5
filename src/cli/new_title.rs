//! A title that is not in the collection yet.

use clap::Args;

use super::failure::Failure;
use crate::collection::NewTitle;
use crate::workflow::WorkflowError;

/// Makes the title that is named.
#[derive(Debug, Args)]
pub(super) struct NewTitleArguments {
    /// The title is not in the collection yet: makes it
    #[arg(long)]
    new: bool,
    /// The new title's publisher
    #[arg(long, requires = "new")]
    publisher: Option<String>,
    /// The year in which the new title begins
    #[arg(long, requires = "new")]
    year: Option<i16>,
}

impl NewTitleArguments {
    /// What is known of the title, if it is to be made.
    pub(super) fn title(&self) -> Option<NewTitle> {
        let title = NewTitle { publisher: self.publisher.clone(), year: self.year, ..NewTitle::default() };
        self.new.then_some(title)
    }
}

/// Of a title that was not found, says how it is made.
pub(super) fn or_new(error: WorkflowError) -> Failure {
    let is_unknown = matches!(error, WorkflowError::NoTitleFits(_));
    let failure = Failure::from(error);
    if is_unknown {
        failure.hint("--new makes the title; boxward title list shows every title there is")
    } else {
        failure
    }
}
