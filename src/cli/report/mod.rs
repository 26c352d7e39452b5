//! Answers to keep, to print or to hand on.

mod run;

use clap::{Args, Subcommand};

use super::Global;
use super::failure::Outcome;
use super::ui::Ui;

/// Reports to keep and to print: a run's checklist
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward report run tide wardens --page tide-wardens.html")]
pub(super) struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    Run(run::Arguments),
}

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    match &arguments.command {
        Command::Run(arguments) => run::run(arguments, global, ui),
    }
}
