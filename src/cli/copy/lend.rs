use clap::Args;

use super::super::day::{Day, day};
use super::super::failure::{Failure, Outcome};
use super::super::select::{Select, Several};
use super::super::ui::Ui;
use super::{Exit, Global, tell};
use crate::workflow::{copy_lend, copy_returned};

/// Notes to whom a copy is lent
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward copy lend tide wardens 12 --to 'Ada Quill'")]
pub(super) struct LendArguments {
    #[command(flatten)]
    select: Select,
    #[command(flatten)]
    several: Several,
    /// Every copy that fits, if several do
    #[arg(long)]
    all: bool,
    /// Who has it
    #[arg(long, value_name = "NAME")]
    to: String,
    /// Since when: today, or such as 2026-03-04
    #[arg(long, value_name = "DAY", value_parser = day, default_value = "today")]
    on: Day,
    /// One JSON object a line, one line a copy
    #[arg(long)]
    json: bool,
}

/// Notes that lent copies are back
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward copy returned --lent-to 'Ada Quill'")]
pub(super) struct ReturnedArguments {
    #[command(flatten)]
    select: Select,
    #[command(flatten)]
    several: Several,
    /// The day: today, or such as 2026-03-04
    #[arg(long, value_name = "DAY", value_parser = day, default_value = "today")]
    on: Day,
    /// One JSON object a line, one line a copy
    #[arg(long)]
    json: bool,
}

pub(super) fn lend(arguments: &LendArguments, global: &Global, ui: &mut Ui) -> Outcome {
    if arguments.to.trim().is_empty() {
        return Err(Failure::call("--to names nobody"));
    }
    let bulk = arguments.several.bulk(arguments.all, arguments.on.date(global.now()));
    let selection = arguments.several.selection(&arguments.select, global.now());
    let changed = copy_lend(&global.existing_store()?, &selection, &arguments.to, bulk, global.now())?;
    tell::changed(&changed, arguments.json, bulk.dry_run, ui)?;
    Ok(Exit::Done)
}

pub(super) fn returned(arguments: &ReturnedArguments, global: &Global, ui: &mut Ui) -> Outcome {
    let bulk = arguments.several.bulk(true, arguments.on.date(global.now()));
    let mut selection = arguments.several.selection(&arguments.select, global.now());
    if selection.says_something() {
        // Of what is named, only what is lent can come back.
        selection.filter.lent = Some(true);
    }
    let changed = copy_returned(&global.existing_store()?, &selection, bulk, global.now())?;
    tell::changed(&changed, arguments.json, bulk.dry_run, ui)?;
    Ok(Exit::Done)
}
