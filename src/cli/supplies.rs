use clap::{Args, Subcommand};

use super::day::Day;
use super::failure::Outcome;
use super::ui::{Tone, Ui};
use super::{Exit, Global};
use crate::collection::Money;
use crate::filing::{Item, Supply};
use crate::workflow::{self, StockChange, stock_set};

/// What to buy: bags, boards, dividers and boxes, for what is here and for what will come
///
/// Here is all that stands in no box, read or not; what will come is what the pull list expects and, of other titles, what the
/// pace of the last thirteen weeks says. In stock is what was counted last (supplies set): bagging and filing take nothing off it. Full boxes are heavy: lift them with care, stack no more cardboard boxes than their maker allows, and keep them off bare floors and
/// outside walls.
#[derive(Debug, Args)]
#[command(args_conflicts_with_subcommands = true, after_help = "Example:\n  boxward supplies --weeks 8")]
pub(super) struct Arguments {
    #[command(subcommand)]
    command: Option<Command>,
    /// For how many coming weeks
    #[arg(long, value_name = "N", default_value_t = 4, value_parser = clap::value_parser!(u32).range(0..=520))]
    weeks: u32,
    /// One JSON object a line, one line an item
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Subcommand)]
enum Command {
    Set(SetArguments),
}

/// Says what is in stock, and what a pack is
///
/// Stock is counted by hand: nothing that is bagged or filed lowers it.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward supplies set bags=current --on-hand 140 --pack 100 --price '9.50 USD'")]
struct SetArguments {
    /// bags=SIZE, boards=SIZE, dividers, or boxes=KIND
    item: Item,
    /// How many are there
    #[arg(long, value_name = "N")]
    on_hand: Option<u32>,
    /// How many a pack holds [default: 100 bags or boards, 25 dividers, 1 box]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
    pack: Option<u32>,
    /// What a pack costs, such as '9.50 USD'
    #[arg(long, value_name = "MONEY")]
    price: Option<Money>,
}

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    let store = global.existing_store()?;
    if let Some(Command::Set(set)) = &arguments.command {
        let change = StockChange { on_hand: set.on_hand, pack: set.pack, pack_price: set.price };
        let run = stock_set(&store, set.item, &change, global.now())?;
        ui.note(run.map_or("nothing changed".to_owned(), |run| format!("{} is set (run {run})", set.item)));
        return Ok(Exit::Done);
    }
    let supplies = workflow::supplies(&store, arguments.weeks, Day::Today.date(global.now()))?;
    for supply in &supplies {
        if arguments.json {
            ui.json(supply)?;
        } else {
            let words = in_words(supply, arguments.weeks, ui);
            ui.line(words)?;
        }
    }
    if !arguments.json && supplies.iter().any(|supply| supply.on_hand > 0) {
        ui.note("in stock is what was counted last; boxward supplies set ITEM --on-hand N after counting again");
    }
    Ok(Exit::Done)
}

fn in_words(supply: &Supply, weeks: u32, ui: &Ui) -> String {
    let buy = match supply.packs {
        0 => ui.paint("enough", Tone::Good),
        packs => {
            let packs = match (packs, supply.pack) {
                (packs, 1) => format!("buy {packs}"),
                (1, pack) => format!("buy a pack of {pack}"),
                (packs, pack) => format!("buy {packs} packs of {pack}"),
            };
            let cost = supply.cost.map(|cost| format!(" for {cost}")).unwrap_or_default();
            ui.paint(&format!("{packs}{cost}"), Tone::Strong)
        }
    };
    let Supply { item, here, coming, on_hand, .. } = supply;
    format!("{item}: {here} for what is here, {coming} for the next {weeks} weeks, {on_hand} in stock: {buy}")
}
