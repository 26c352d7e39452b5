use clap::Args;

use super::failure::Outcome;
use super::ui::{Tone, Ui};
use super::words::{issue_in_words, named};
use super::{Exit, Global};
use crate::filing::NamedCopy;
use crate::workflow::{self, FoundCopy, Spot};

/// Where does it stand? Box, divider, neighbours, and how far from the front
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward find tide wardens 12")]
pub(super) struct Arguments {
    /// A code, a title and an issue or issues, or a title
    #[arg(required = true, value_name = "WORD", allow_negative_numbers = true)]
    query: Vec<String>,
    /// One JSON object a line, one line a copy
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    let query = arguments.query.join(" ");
    let found = workflow::find(&global.existing_store()?, &query)?;
    for copy in &found {
        if arguments.json {
            ui.json(copy)?;
        } else {
            let words = in_words(copy, ui);
            ui.line(words)?;
        }
    }
    if found.is_empty() && !arguments.json {
        let no = ui.paint("not owned", Tone::Strong);
        ui.line(format_args!("{no}: no copy of '{}'", query.trim()))?;
    }
    Ok(Exit::Done)
}

fn in_words(found: &FoundCopy, ui: &Ui) -> String {
    let copy = &found.copy;
    let name = named(&copy.title, &issue_in_words(&copy.issue, &copy.cover, copy.printing));
    let spot = match &found.stands {
        Some(spot) => spot_in_words(spot, ui),
        None if found.read || found.goes_to.is_some() => "in no box yet".to_owned(),
        None => "on the reading pile".to_owned(),
    };
    let goes = found.goes_to.as_ref().map(|label| format!("; the walk puts it in {label}")).unwrap_or_default();
    let lent = found.lent_to.as_ref().map(|to| ui.paint(&format!("; lent to {to}"), Tone::Doubt)).unwrap_or_default();
    format!("{}: {name}: {spot}{goes}{lent}", copy.copy)
}

/// `Heron A, row 1, column 1: behind the divider Tide Wardens (2023), after 11, before 14, about 212 mm from the front`.
fn spot_in_words(spot: &Spot, ui: &Ui) -> String {
    let label = ui.paint(&spot.label, Tone::Strong);
    let note = if spot.note.is_empty() { String::new() } else { format!(" ({})", spot.note) };
    let short = |copy: &NamedCopy| format!("{} {}", copy.title.name, copy.issue).trim().to_owned();
    let after = spot.after.as_ref().map_or_else(|| "at the front".to_owned(), |copy| format!("after {}", short(copy)));
    let before = spot.before.as_ref().map_or_else(|| "at the end".to_owned(), |copy| format!("before {}", short(copy)));
    format!(
        "{label}{note}, row {}, column {}: behind the divider {}, {after}, {before}, about {} mm from the front",
        spot.place.row, spot.place.column, spot.divider, spot.mm
    )
}
