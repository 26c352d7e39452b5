use clap::Args;
use serde::Serialize;

use super::failure::{Failure, Outcome};
use super::ui::{Tone, Ui};
use super::{Exit, Global};
use crate::intake::RunId;
use crate::store::{Run, Store};
use crate::workflow::{self, runs};

/// Takes back what a command wrote
///
/// The latest run if none is named. An undo can be undone as well.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward undo --list")]
pub(super) struct Arguments {
    /// The run to take back
    run: Option<RunId>,
    /// Lists runs, newest first, and takes nothing back
    #[arg(long, conflicts_with = "run")]
    list: bool,
    /// How many runs are listed
    #[arg(long, value_name = "N", default_value_t = 20, requires = "list")]
    limit: u32,
    /// One JSON object a line
    #[arg(long)]
    json: bool,
}

/// A run in JSON; its fields are documented in the README and must stay.
#[derive(Debug, Serialize)]
struct UndoneLine<'a> {
    undone: &'a Run,
    undo: &'a Run,
}

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    let store = global.existing_store()?;
    if !arguments.list {
        undo(&store, arguments.run, arguments.json, global, ui)?;
        return Ok(Exit::Done);
    }
    for run in runs(&store, arguments.limit)? {
        if arguments.json {
            ui.json(&run)?;
        } else {
            let words = run_in_words(&run);
            ui.line(words)?;
        }
    }
    Ok(Exit::Done)
}

/// Takes back for this command and for the demo; gives the undo, which can be undone.
pub(super) fn undo(
    store: &Store,
    run: Option<RunId>,
    json: bool,
    global: &Global,
    ui: &mut Ui,
) -> Result<RunId, Failure> {
    let report = workflow::undo(store, run, global.now())?;
    if json {
        ui.json(&UndoneLine { undone: &report.undone, undo: &report.undo })?;
    } else {
        let kind = ui.paint(report.undone.kind.word(), Tone::Strong);
        let id = report.undone.id;
        ui.line(format_args!("run {id} ({kind}) is undone; undo {} brings it back", report.undo.id))?;
    }
    Ok(report.undo.id)
}

fn run_in_words(run: &Run) -> String {
    let undoes = run.undoes.map(|other| format!(" of run {other}")).unwrap_or_default();
    let undone = run.undone_by.map(|other| format!(", undone by run {other}")).unwrap_or_default();
    format!("run {}: {}{undoes}, {}{undone}", run.id, run.kind.word(), run.started)
}
