//! Putting copies away: the walk, the order, and what plans are made by.

mod done;
mod measure;
mod plan;
mod rule;
mod set;

use clap::{Args, Subcommand};

use super::Global;
use super::failure::Outcome;
use super::ui::Ui;

/// Puts what was read into the boxes: plans one walk along them, and books it
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward file plan --page walk.html && boxward file done")]
pub(super) struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    Plan(plan::Arguments),
    Done(done::Arguments),
    Rule(rule::Arguments),
    Set(set::Arguments),
    Measure(measure::Arguments),
}

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    match &arguments.command {
        Command::Plan(arguments) => plan::run(arguments, global, ui),
        Command::Done(arguments) => done::run(arguments, global, ui),
        Command::Rule(arguments) => rule::run(arguments, global, ui),
        Command::Set(arguments) => set::run(arguments, global, ui),
        Command::Measure(arguments) => measure::run(arguments, global, ui),
    }
}
