use clap::Args;
use serde::Serialize;

use super::super::ui::Tone;
use super::super::words::count;
use super::{Exit, Global, Outcome, Ui};
use crate::list::{Choices, DayOrder};
use crate::workflow::{list_presets, remove_list_preset};

/// Lists how lists are read, as kept with import --save-preset
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward catalogue presets --remove corner")]
pub(super) struct Arguments {
    /// Forgets this one
    #[arg(long, value_name = "NAME")]
    remove: Option<String>,
    /// One JSON object a line, one line a preset
    #[arg(long)]
    json: bool,
}

/// A preset in JSON; its fields are documented in the README and must stay.
#[derive(Debug, Serialize)]
struct PresetLine<'a> {
    preset: &'a str,
    #[serde(flatten)]
    choices: &'a Choices,
}

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    let store = global.existing_store()?;
    if let Some(name) = &arguments.remove {
        remove_list_preset(&store, name, global.now())?;
    }
    let presets = list_presets(&store)?;
    for (name, choices) in &presets {
        if arguments.json {
            ui.json(&PresetLine { preset: name, choices })?;
        } else {
            let words = in_words(choices);
            ui.line(format_args!("{}: {words}", ui.paint(name, Tone::Strong)))?;
        }
    }
    if !arguments.json {
        ui.note(count(presets.len(), "preset"));
    }
    Ok(Exit::Done)
}

fn in_words(choices: &Choices) -> String {
    let mut parts: Vec<_> = choices.columns.iter().map(|(field, column)| format!("{field} is '{column}'")).collect();
    parts.extend(choices.sheet.iter().map(|sheet| format!("sheet '{sheet}'")));
    if choices.skip > 0 {
        parts.push(format!("{} above the names", count(choices.skip, "row")));
    }
    if choices.unnamed {
        parts.push("no row of names".to_owned());
    }
    match choices.days {
        DayOrder::Ymd => {}
        DayOrder::Dmy => parts.push("days first".to_owned()),
        DayOrder::Mdy => parts.push("months first".to_owned()),
    }
    parts.extend(choices.currency.iter().map(|currency| format!("prices in {currency}")));
    if parts.is_empty() { "columns by their names".to_owned() } else { parts.join(", ") }
}
