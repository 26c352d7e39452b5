//! The command line: clap, wording, colours, exit codes. Everything else is below and knows nothing of it.
//!
//! One file per command, its arguments and its handler side by side. Commands' names, their options, the JSON fields and
//! the exit codes are documented in the README and used by scripts: they must stay.

mod ask;
mod catalogue;
mod backup;
mod boxes;
mod check;
mod copy;
mod day;
mod desk;
mod demo;
mod edit;
mod exit;
mod explain;
mod export;
mod failure;
mod file;
mod find;
mod have;
mod import;
mod import_audit;
mod lines;
mod manual;
mod page_file;
mod new_title;
mod pile;
mod plain;
mod pocket;
mod pull;
mod queue;
mod read;
mod repair;
mod report;
mod resolve;
mod scan;
mod select;
mod spend;
mod spend_limit;
mod stack;
mod supplies;
mod title;
mod ui;
mod undo;
mod want;
mod words;

pub use exit::Exit;

use std::error::Error;
use std::ffi::OsString;
use std::num::{IntErrorKind, ParseIntError};
use std::path::PathBuf;
use std::process::ExitCode;

use clap::error::ContextKind;
use clap::{Args, CommandFactory, Parser, Subcommand};
use etcetera::BaseStrategy;
use jiff::Timestamp;
use jiff::tz::TimeZone;

use crate::desk::Clock;
use crate::store::{Store, StoreError, private_folder};
use failure::{Failure, Outcome};
use ui::Ui;

/// Takes a comic collector's new books from the stack on the desk to the right place in the right box, and keeps the
/// record that makes it possible.
#[derive(Debug, Parser)]
#[command(
    name = "boxward",
    version,
    max_term_width = 100,
    after_help = "Exit codes: 0 done, 1 done in part, 2 wrong call, 3 wrong data, 4 the machine failed.\n\n\
                  Example:\n  boxward read photos/"
)]
struct Cli {
    #[command(flatten)]
    global: Global,
    #[command(subcommand)]
    command: Command,
}

/// Options that every command takes.
#[derive(Debug, Args)]
struct Global {
    /// The collection's file; it is made when first written to [default: collection.sqlite in the data folder]
    #[arg(long, value_name = "FILE", env = "BOXWARD_COLLECTION", hide_env_values = true, global = true)]
    collection: Option<PathBuf>,
    /// Prints answers and errors only
    #[arg(long, short, global = true)]
    quiet: bool,
    /// The time to take for now
    #[arg(long, hide = true, env = "BOXWARD_NOW", hide_env = true, global = true)]
    now: Option<Timestamp>,
}

impl Global {
    /// The collection's file.
    fn collection(&self) -> Result<PathBuf, Failure> {
        if let Some(path) = &self.collection {
            return Ok(path.clone());
        }
        let folders = etcetera::base_strategy::choose_native_strategy().map_err(|error| {
            Failure::new(Exit::Machine, &error).hint("name the collection's file with --collection FILE")
        })?;
        Ok(folders.data_dir().join("boxward").join("collection.sqlite"))
    }

    /// The platform's folder for the collection, unless another file is named.
    fn make_folder(&self) -> Result<(), Failure> {
        if self.collection.is_none()
            && let Some(folder) = self.collection()?.parent()
        {
            private_folder(folder).map_err(|source| StoreError::Open { path: folder.to_owned(), source })?;
        }
        Ok(())
    }

    /// The collection, made if there is none.
    fn store(&self) -> Result<Store, Failure> {
        self.make_folder()?;
        Ok(Store::open(&self.collection()?)?)
    }

    /// The collection, if there is one: a command that only asks makes none.
    fn existing_store(&self) -> Result<Store, Failure> {
        let path = self.collection()?;
        if !path.exists() {
            let failure = Failure::call(format!("there is no collection at {}", path.display()));
            return Err(failure.hint("boxward import makes it; or name another with --collection FILE"));
        }
        Ok(Store::open(&path)?)
    }

    /// The clock of what goes on for long.
    fn clock(&self) -> Clock {
        let held = self.now;
        Clock::new(move || held.unwrap_or_else(Timestamp::now), TimeZone::system())
    }

    /// The time.
    fn now(&self) -> Timestamp {
        self.now.unwrap_or_else(Timestamp::now)
    }
}

#[derive(Debug, Subcommand)]
enum Command {
    Read(read::Arguments),
    Check(check::Arguments),
    Import(import::Arguments),
    Scan(scan::Arguments),
    Queue(queue::Arguments),
    Resolve(resolve::Arguments),
    Have(have::Arguments),
    Title(title::Arguments),
    Catalogue(catalogue::Arguments),
    Pile(pile::Arguments),
    Copy(copy::Arguments),
    Pull(pull::Arguments),
    Want(want::Arguments),
    Pocket(pocket::Arguments),
    Spend(spend::Arguments),
    Find(find::Arguments),
    Box(boxes::Arguments),
    File(file::Arguments),
    Supplies(supplies::Arguments),
    Report(report::Arguments),
    Export(export::Arguments),
    Backup(backup::Arguments),
    Repair(repair::Arguments),
    Desk(desk::Arguments),
    Undo(undo::Arguments),
    Demo(demo::Arguments),
    Manual(manual::Arguments),
}

/// Runs the program with these arguments, the first being its own name.
#[must_use]
pub fn run(arguments: impl IntoIterator<Item = OsString>) -> ExitCode {
    let mut arguments: Vec<_> = arguments.into_iter().collect();
    let asked_nothing = arguments.len() < 2;
    if asked_nothing {
        arguments = vec!["boxward".into(), "--help".into()];
    }
    let cli = match Cli::try_parse_from(&arguments) {
        Ok(cli) => cli,
        Err(error) => {
            // Help and version are errors to clap, with the exit code 0. Nobody can be told if printing fails.
            let tame = tame(&arguments);
            let said = tame.as_ref().unwrap_or(&error);
            let _ = no_number(said).as_ref().unwrap_or(said).print();
            if asked_nothing {
                return Exit::Call.into();
            }
            return ExitCode::from(u8::try_from(error.exit_code()).unwrap_or(Exit::Call as u8));
        }
    };
    let mut ui = Ui::new(cli.global.quiet);
    match dispatch(&cli, &mut ui) {
        Ok(exit) => exit.into(),
        // What was not printed, or not imported because nobody listened, was not done.
        Err(failure) if failure.output_closed => Exit::Partly.into(),
        Err(failure) => {
            let failure = match cli.global.collection() {
                Ok(path) => failure.of_collection(&path),
                Err(_) => failure,
            };
            let mut messages = failure.messages.iter();
            if let Some(first) = messages.next() {
                ui.complain("error", first);
            }
            messages.for_each(|cause| ui.complain("because", cause));
            if let Some(hint) = failure.hint {
                ui.complain("hint", hint);
            }
            failure.exit.into()
        }
    }
}

/// What is wrong with a call whose words hold nothing unruly: clap repeats them as they are, and a shell puts files' names there.
fn tame(arguments: &[OsString]) -> Option<clap::Error> {
    Cli::try_parse_from(arguments.iter().map(|word| plain::word(&word.to_string_lossy()))).err()
}

fn dispatch(cli: &Cli, ui: &mut Ui) -> Outcome {
    match &cli.command {
        Command::Read(arguments) => read::run(arguments, ui),
        Command::Check(arguments) => check::run(arguments, &cli.global, ui),
        Command::Import(arguments) => import::run(arguments, &cli.global, ui),
        Command::Scan(arguments) => scan::run(arguments, &cli.global, ui),
        Command::Queue(arguments) => queue::run(arguments, &cli.global, ui),
        Command::Resolve(arguments) => resolve::run(arguments, &cli.global, ui),
        Command::Have(arguments) => have::run(arguments, &cli.global, ui),
        Command::Title(arguments) => title::run(arguments, &cli.global, ui),
        Command::Catalogue(arguments) => catalogue::run(arguments, &cli.global, ui),
        Command::Pile(arguments) => pile::run(arguments, &cli.global, ui),
        Command::Copy(arguments) => copy::run(arguments, &cli.global, ui),
        Command::Pull(arguments) => pull::run(arguments, &cli.global, ui),
        Command::Want(arguments) => want::run(arguments, &cli.global, ui),
        Command::Pocket(arguments) => pocket::run(arguments, &cli.global, ui),
        Command::Spend(arguments) => spend::run(arguments, &cli.global, ui),
        Command::Find(arguments) => find::run(arguments, &cli.global, ui),
        Command::Box(arguments) => boxes::run(arguments, &cli.global, ui),
        Command::File(arguments) => file::run(arguments, &cli.global, ui),
        Command::Supplies(arguments) => supplies::run(arguments, &cli.global, ui),
        Command::Report(arguments) => report::run(arguments, &cli.global, ui),
        Command::Export(arguments) => export::run(arguments, &cli.global, ui),
        Command::Backup(arguments) => backup::run(arguments, &cli.global, ui),
        Command::Repair(arguments) => repair::run(arguments, &cli.global, ui),
        Command::Desk(arguments) => desk::run(arguments, &cli.global, ui),
        Command::Undo(arguments) => undo::run(arguments, &cli.global, ui),
        Command::Demo(arguments) => demo::run(arguments, &cli.global, ui),
        Command::Manual(arguments) => manual::run(arguments, Cli::command(), ui),
    }
}

/// What is wrong with a word that should be a number, where that is all: the standard library says it in words of its own.
fn no_number(error: &clap::Error) -> Option<clap::Error> {
    let number = error.source()?.downcast_ref::<ParseIntError>()?;
    let [word, argument] = [ContextKind::InvalidValue, ContextKind::InvalidArg].map(|kind| error.get(kind));
    let why = match number.kind() {
        IntErrorKind::PosOverflow => "no number as large as that goes there",
        IntErrorKind::NegOverflow => "no number as small as that goes there",
        IntErrorKind::Zero => "at least 1 goes there",
        _ => "a whole number goes there, in digits",
    };
    let said = format!("invalid value '{}' for '{}': {why}\n\nFor more information, try '--help'.\n", word?, argument?);
    Some(clap::Error::raw(error.kind(), said))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn each(command: &clap::Command, check: &impl Fn(&clap::Command)) {
        check(command);
        command.get_subcommands().for_each(|c| each(c, check));
    }

    #[test]
    fn the_definitions_hold_together() {
        Cli::command().debug_assert();
    }

    #[test]
    fn every_command_explains_itself_and_ends_with_an_example() {
        each(&Cli::command(), &|command| {
            let name = command.get_name();
            assert!(command.get_about().is_some(), "{name} has no help text");
            let end = command.get_after_help().map(ToString::to_string).unwrap_or_default();
            let example =
                end.rsplit_once("Example:\n  ").unwrap_or_else(|| panic!("{name}'s help ends without an example"));
            assert!(example.1.contains("boxward"), "{name}: {end}");
            for argument in command.get_arguments() {
                assert!(argument.get_help().is_some(), "{name}: {} has no help", argument.get_id());
            }
        });
    }
}
