use std::path::PathBuf;

use clap::{Args, Subcommand};
use jiff::Timestamp;
use serde::Serialize;

use super::failure::{Failure, Outcome};
use super::ui::{Tone, Ui};
use super::words::{count, item_in_words, typed_add_on, typed_code};
use super::{Exit, Global};
use crate::code::{AddOn, AddOnState, Certainty, Gtin, Symbology};
use crate::intake::{Item, ItemId, ItemState, RunId};
use crate::source::Origin;
use crate::store::{QueueFilter, Store};
use crate::workflow::{QueueChange, crop_to, queue_drop, queue_list, queue_set, queue_show};

/// Lists, shows, completes and drops what waits
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward queue list")]
pub(super) struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    List(ListArguments),
    Show(ShowArguments),
    Set(SetArguments),
    Drop(DropArguments),
}

/// Lists what waits, oldest first
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward queue list --state incomplete")]
struct ListArguments {
    /// Only items in this state; settled ones are listed with accepted or dropped
    #[arg(long, value_name = "STATE", value_parser = ["waiting", "incomplete", "accepted", "dropped"])]
    state: Option<String>,
    /// Only what this import or scan staged
    #[arg(long, value_name = "RUN", conflicts_with = "state")]
    run: Option<RunId>,
    /// One JSON object a line, one line an item
    #[arg(long)]
    json: bool,
}

/// Shows one item
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward queue show 21 --crop .")]
struct ShowArguments {
    /// Its number
    item: ItemId,
    /// Writes its picture into this folder
    #[arg(long, value_name = "FOLDER")]
    crop: Option<PathBuf>,
    /// As a JSON object
    #[arg(long)]
    json: bool,
}

/// Completes or corrects an item's code
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward queue set 21 --code 614141001040 --add-on 01411")]
struct SetArguments {
    /// Its number
    item: ItemId,
    /// The digits under the bars, with or without those of the add-on
    #[arg(long, value_name = "DIGITS", required_unless_present_any = ["add_on", "note"])]
    code: Option<String>,
    /// The digits of the add-on, or none
    #[arg(long, value_name = "DIGITS")]
    add_on: Option<String>,
    /// A note
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
    /// The item as a JSON object
    #[arg(long)]
    json: bool,
}

/// Drops items that are no books to record
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward queue drop 21 22")]
struct DropArguments {
    /// Their numbers
    #[arg(required = true, value_name = "ITEM")]
    items: Vec<ItemId>,
}

/// An item in JSON; its fields are documented in the README and must stay.
#[derive(Debug, Serialize)]
pub(super) struct ItemLine {
    item: ItemId,
    run: RunId,
    state: ItemState,
    gtin: Option<Gtin>,
    symbology: Option<Symbology>,
    add_on: Option<AddOn>,
    add_on_state: Option<&'static str>,
    certainty: Certainty,
    origin: &'static str,
    path: Option<String>,
    position: Option<u32>,
    device: Option<String>,
    seen_at: Timestamp,
    seen_again: usize,
    note: String,
    crop: Option<String>,
}

impl ItemLine {
    fn new(item: &Item, crop: Option<String>) -> Self {
        let (origin, path, position, device) = match &item.origin {
            Origin::Photo { path, position, .. } => {
                ("photo", Some(path.to_string_lossy().into_owned()), Some(*position), None)
            }
            Origin::Device { name } => ("device", None, None, Some(name.clone())),
            Origin::Typed => ("typed", None, None, None),
        };
        Self {
            item: item.id,
            run: item.run,
            state: item.state,
            gtin: item.code.map(|code| code.gtin),
            symbology: item.symbology,
            add_on: item.code.and_then(|code| code.add_on.read()),
            add_on_state: item.code.map(|code| code.add_on.word()),
            certainty: item.certainty,
            origin,
            path,
            position,
            device,
            seen_at: item.seen_at,
            seen_again: item.seen_again.len(),
            note: item.note.clone(),
            crop,
        }
    }
}

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    match &arguments.command {
        Command::List(arguments) => {
            let filter = match (&arguments.state, arguments.run) {
                (Some(state), _) => QueueFilter::State(state.parse().map_err(Failure::call)?),
                (None, Some(run)) => QueueFilter::Run(run),
                (None, None) => QueueFilter::Open,
            };
            list(&global.existing_store()?, filter, arguments.json, ui)
        }
        Command::Show(arguments) => {
            let store = global.existing_store()?;
            let item = queue_show(&store, arguments.item)?;
            let crop = match &arguments.crop {
                Some(folder) => crop_to(&store, folder, item.id)?.map(|path| path.display().to_string()),
                None => None,
            };
            show(&item, crop, arguments.json, ui)
        }
        Command::Set(arguments) => {
            let change = change(arguments)?;
            let (item, _) = queue_set(&global.existing_store()?, arguments.item, &change, global.now())?;
            show(&item, None, arguments.json, ui)
        }
        Command::Drop(arguments) => {
            queue_drop(&global.existing_store()?, &arguments.items, global.now())?;
            ui.line(format_args!("{} dropped", count(arguments.items.len(), "item")))?;
            Ok(Exit::Done)
        }
    }
}

/// Lists for this command and for the demo.
pub(super) fn list(store: &Store, filter: QueueFilter, json: bool, ui: &mut Ui) -> Outcome {
    let items = queue_list(store, filter)?;
    for item in &items {
        if json {
            ui.json(&ItemLine::new(item, None))?;
        } else {
            let words = item_in_words(item, ui);
            ui.line(words)?;
        }
    }
    if !json {
        let incomplete = items.iter().filter(|item| item.state == ItemState::Incomplete).count();
        let waits = if incomplete > 0 { format!(", {incomplete} for a person to complete") } else { String::new() };
        ui.note(format_args!("{}{waits}", count(items.len(), "item")));
    }
    Ok(Exit::Done)
}

fn show(item: &Item, crop: Option<String>, json: bool, ui: &mut Ui) -> Outcome {
    if json {
        ui.json(&ItemLine::new(item, crop))?;
        return Ok(Exit::Done);
    }
    let words = item_in_words(item, ui);
    ui.line(words)?;
    ui.line(format_args!("  seen {} in run {}", item.seen_at, item.run))?;
    for repeat in &item.seen_again {
        let place = repeat.path.as_ref().map(|path| format!(" in {}", path.display())).unwrap_or_default();
        ui.line(format_args!("  seen again {}{place}", repeat.seen_at))?;
    }
    if let (Some(by), Some(module_px)) = (&item.by, item.module_px) {
        ui.line(format_args!("  read by {by}, {module_px:.2} px a module"))?;
    }
    if !item.note.is_empty() {
        ui.line(format_args!("  {}", item.note))?;
    }
    match crop {
        Some(crop) => ui.line(format_args!("  picture: {crop}"))?,
        None if item.has_crop && item.state.is_open() => {
            let hint = ui.paint("queue show --crop FOLDER writes its picture", Tone::Doubt);
            ui.line(format_args!("  {hint}"))?;
        }
        None => {}
    }
    Ok(Exit::Done)
}

fn change(arguments: &SetArguments) -> Result<QueueChange, Failure> {
    let mut change = QueueChange { note: arguments.note.clone(), ..QueueChange::default() };
    if let Some(text) = &arguments.code {
        let (gtin, add_on) = typed_code(text)?;
        change.gtin = Some(gtin);
        change.add_on = add_on.map(AddOnState::Read);
    }
    if let Some(text) = &arguments.add_on {
        change.add_on = Some(typed_add_on(text)?);
    }
    Ok(change)
}
