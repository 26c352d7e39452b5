use std::path::PathBuf;

use clap::Args;
use serde::Serialize;

use super::super::day::Day;
use super::super::failure::{Failure, Outcome};
use super::super::select::Select;
use super::super::ui::{Tone, Ui};
use super::super::words::{count, title_in_words};
use super::super::{Exit, Global, page_file};
use crate::collection::{CopyRecord, Money};
use crate::report::{Inventory, NO_APPRAISAL, Totals, inventory_head, inventory_line};
use crate::store::{CopyOrder, Store};
use crate::workflow::{Selection, WorkflowError, copy_photo, each_copy};

/// What is owned, grouped by publisher and title, with totals: for an insurer
///
/// All that is owned, or a selection of it. Currencies are never added to each other. Values are their owner's own figures.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  boxward report inventory --page inventory.html --photos\n  boxward report inventory --csv > inventory.csv"
)]
pub(super) struct Arguments {
    #[command(flatten)]
    select: Select,
    /// Writes the inventory as a page to print into this file
    #[arg(long, value_name = "OUT.html", conflicts_with_all = ["csv", "json"])]
    page: Option<PathBuf>,
    /// With the photos that are kept, in the page itself
    #[arg(long, requires = "page")]
    photos: bool,
    /// As a table (CSV), one line a copy
    #[arg(long, conflicts_with = "json")]
    csv: bool,
    /// One JSON object a line, one line a copy, then the totals
    #[arg(long)]
    json: bool,
}

/// The last line in JSON.
#[derive(Debug, Serialize)]
struct TotalLine<'a> {
    total: &'a Totals,
}

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    let store = global.existing_store()?;
    let selection = arguments.select.selection(global.now());
    if arguments.csv || arguments.json {
        lines(&store, &selection, arguments.csv, ui)?;
        return Ok(Exit::Done);
    }
    if let Some(out) = &arguments.page {
        page_file::may_be_written(out)?;
    }
    let mut inventory = Inventory::default();
    each_copy(&store, &selection, CopyOrder::Publisher, &mut |copy: CopyRecord| {
        let photo = if arguments.photos && copy.photo { copy_photo(&store, copy.copy)? } else { None };
        inventory.add(copy, photo).map_err(WorkflowError::from)
    })?;
    match &arguments.page {
        Some(out) => {
            page_file::write(out, &inventory.page(Day::Today.date(global.now())))?;
            let copies = usize::try_from(inventory.totals.copies).unwrap_or(usize::MAX);
            ui.note(format_args!("the inventory of {} is in {}", count(copies, "copy"), out.display()));
        }
        None => tell(&inventory, ui)?,
    }
    Ok(Exit::Done)
}

/// Line by line, so that a large collection needs little memory.
fn lines(store: &Store, selection: &Selection, csv: bool, ui: &mut Ui) -> Result<(), Failure> {
    let mut totals = Totals::default();
    if csv {
        ui.bytes(&inventory_head())?;
    }
    each_copy(store, selection, CopyOrder::Publisher, &mut |copy: CopyRecord| {
        totals.add(&copy).map_err(WorkflowError::from)?;
        if csv {
            ui.bytes(&inventory_line(&copy))?
        } else {
            ui.json(&copy)?
        }
        Ok::<_, Failure>(())
    })?;
    if !csv {
        ui.json(&TotalLine { total: &totals })?;
    }
    if !totals.value.is_empty() {
        ui.note(NO_APPRAISAL);
    }
    Ok(())
}

fn tell(inventory: &Inventory, ui: &mut Ui) -> std::io::Result<()> {
    for title in inventory.publishers.iter().flat_map(|of| &of.titles) {
        let name = ui.paint(&title_in_words(&title.title), Tone::Strong);
        ui.line(format_args!("{name}: {}", in_words(&title.totals)))?;
    }
    ui.line(format_args!("in all: {}", in_words(&inventory.totals)))?;
    if !inventory.totals.value.is_empty() {
        ui.line(format_args!("({NO_APPRAISAL})"))?;
    }
    Ok(())
}

/// `3 copies, paid 7.98 USD, value 12.00 USD; 1 without a price, 2 without a value`.
fn in_words(totals: &Totals) -> String {
    let mut parts = vec![count(totals.copies, "copy")];
    let sums = |money: &[Money]| money.iter().map(ToString::to_string).collect::<Vec<_>>().join(" and ");
    for (word, money) in [("paid", &totals.paid), ("value", &totals.value)] {
        if !money.is_empty() {
            parts.push(format!("{word} {}", sums(money)));
        }
    }
    for (number, what) in [(totals.without_price, "price"), (totals.without_value, "value")] {
        if number > 0 {
            parts.push(format!("{number} without a {what}"));
        }
    }
    parts.join(", ")
}
