use clap::Args;

use super::super::failure::Outcome;
use super::super::ui::{Tone, Ui};
use super::super::{Exit, Global};
use crate::workflow::file_done;

/// Books what the walk does: all that is left, or what it does at one box
///
/// A copy that was taken out of its box and is not in the next one yet is in the hand: the walk can go on tomorrow. boxward undo
/// takes the last booking back.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward file done 'Heron A'")]
pub(super) struct Arguments {
    /// A box's label; without one, all
    #[arg(value_name = "BOX")]
    shelf: Option<String>,
    /// One JSON object a line, one line a box
    #[arg(long)]
    json: bool,
}

pub(in super::super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    let (done, run) = file_done(&global.existing_store()?, arguments.shelf.as_deref(), global.now())?;
    for shelf in &done {
        if arguments.json {
            ui.json(shelf)?;
        } else {
            let label = ui.paint(&shelf.label, Tone::Strong);
            ui.line(format_args!("{label}: {} put in, {} taken out", shelf.put_in, shelf.taken_out))?;
        }
    }
    let left = match done.last().map_or(0, |last| last.left) {
        0 => "the walk is done".to_owned(),
        left => format!("{left} still to be put in"),
    };
    ui.note(format_args!("{left}{}", run.map(|run| format!(" (run {run})")).unwrap_or_default()));
    Ok(Exit::Done)
}
