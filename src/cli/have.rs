use clap::Args;

use super::failure::Outcome;
use super::ui::{Tone, Ui};
use super::words::have_in_words;
use super::{Exit, Global};
use crate::store::Store;
use crate::workflow;

/// Do I own this?
///
/// Asked with a code, with a title and an issue typed loosely, or with a title alone.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward have tide wardens 12")]
pub(super) struct Arguments {
    /// A code, a title and an issue, or a title
    #[arg(required = true, value_name = "WORD", allow_negative_numbers = true)]
    query: Vec<String>,
    /// As a JSON object
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    have(&global.existing_store()?, &arguments.query.join(" "), arguments.json, ui)
}

/// Asks for this command and for the demo.
pub(super) fn have(store: &Store, query: &str, json: bool, ui: &mut Ui) -> Outcome {
    let answer = workflow::have(store, query)?;
    if json {
        ui.json(&answer)?;
        return Ok(Exit::Done);
    }
    let lines = have_in_words(&answer, ui);
    if answer.titles.is_empty() {
        let no = ui.paint("not owned", Tone::Strong);
        ui.line(format_args!("{no}: no title fits '{}'", answer.query))?;
    }
    for line in lines {
        ui.line(line)?;
    }
    Ok(Exit::Done)
}
