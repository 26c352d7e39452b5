use clap::Args;

use super::super::day::{Day, day};
use super::super::failure::Outcome;
use super::super::select::{Select, Several};
use super::super::ui::Ui;
use super::{Exit, Global, tell};
use crate::collection::{Departure, Leaving, Money};
use crate::workflow::copy_leave;

/// Notes that a copy was sold, given away, traded or lost
///
/// It stays in the record and in what was spent; the pile and 'do I own this?' count it no more.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward copy gone tide wardens 12 --how sold --price '12 USD' --to 'Ada Quill'")]
pub(super) struct Arguments {
    #[command(flatten)]
    select: Select,
    #[command(flatten)]
    several: Several,
    /// Every copy that fits, if several do
    #[arg(long)]
    all: bool,
    /// How it left: sold, given, traded or lost
    #[arg(long)]
    how: Leaving,
    /// When: today, or such as 2026-03-04
    #[arg(long, value_name = "DAY", value_parser = day, default_value = "today")]
    on: Day,
    /// For how much each, such as '12 USD'
    #[arg(long, value_name = "MONEY")]
    price: Option<Money>,
    /// To whom
    #[arg(long, value_name = "NAME")]
    to: Option<String>,
    /// One JSON object a line, one line a copy
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    let on = arguments.on.happened(global.now())?;
    let to = arguments.to.as_deref().map(str::trim).filter(|to| !to.is_empty()).map(str::to_owned);
    let departure = Departure { how: arguments.how, on, price: arguments.price, to };
    let bulk = arguments.several.bulk(arguments.all, on);
    let selection = arguments.several.selection(&arguments.select, global.now());
    let changed = copy_leave(&global.existing_store()?, &selection, &departure, bulk, global.now())?;
    tell::changed(&changed, arguments.json, bulk.dry_run, ui)?;
    Ok(Exit::Done)
}
