//! What the catalogue knows, owned or not.

mod import;
mod presets;
mod set;
mod show;

use clap::{Args, Subcommand};

use super::failure::Outcome;
use super::ui::Ui;
use super::{Exit, Global};

/// What is known of issues, owned or not: dates, prices, pages, sizes, key notes
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward catalogue show tide wardens")]
pub(super) struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    Show(show::Arguments),
    Set(set::Arguments),
    Import(import::Arguments),
    Presets(presets::Arguments),
}

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    match &arguments.command {
        Command::Show(arguments) => show::run(arguments, global, ui),
        Command::Set(arguments) => set::run(arguments, global, ui),
        Command::Import(arguments) => import::run(arguments, global, ui),
        Command::Presets(arguments) => presets::run(arguments, global, ui),
    }
}
