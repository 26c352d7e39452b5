//! Answers to keep, to print or to hand on.

mod inventory;
mod run;
mod year;

use clap::{Args, Subcommand};

use super::Global;
use super::failure::Outcome;
use super::ui::Ui;

/// Reports to keep and to print: an inventory, a run's checklist, a year in review
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward report inventory --page inventory.html")]
pub(super) struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    Inventory(Box<inventory::Arguments>),
    Run(run::Arguments),
    Year(year::Arguments),
}

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    match &arguments.command {
        Command::Inventory(arguments) => inventory::run(arguments, global, ui),
        Command::Run(arguments) => run::run(arguments, global, ui),
        Command::Year(arguments) => year::run(arguments, global, ui),
    }
}
