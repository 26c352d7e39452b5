//! Single copies, and selections of them.

mod leave;
mod lend;
mod list;
mod set;
mod tell;

use clap::{Args, Subcommand};

use super::failure::Outcome;
use super::ui::Ui;
use super::{Exit, Global};

/// Single copies: their condition, bags, prices, loans, and how they left
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  boxward copy set tide wardens 1-12 --not-bagged --bag polypropylene --board acid-free"
)]
pub(super) struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    List(list::ListArguments),
    Show(list::ShowArguments),
    Set(Box<set::Arguments>),
    Lend(lend::LendArguments),
    Returned(lend::ReturnedArguments),
    Gone(leave::Arguments),
}

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    match &arguments.command {
        Command::List(arguments) => list::list(arguments, global, ui),
        Command::Show(arguments) => list::show(arguments, global, ui),
        Command::Set(arguments) => set::run(arguments, global, ui),
        Command::Lend(arguments) => lend::lend(arguments, global, ui),
        Command::Returned(arguments) => lend::returned(arguments, global, ui),
        Command::Gone(arguments) => leave::run(arguments, global, ui),
    }
}
