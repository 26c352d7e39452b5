use std::path::PathBuf;

use clap::Args;

use super::super::failure::Outcome;
use super::super::ui::{Tone, Ui};
use super::super::words::title_in_words;
use super::super::{Exit, Global, page_file};
use crate::collection::{Checklist, Entry};
use crate::report::run_page;
use crate::workflow::checklists;

/// A title's run as a checklist: what is owned, and what is missing between
///
/// Missing is what lies between the lowest and the highest plain number owned. With --page, a page to print.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward report run tide wardens --page tide-wardens.html")]
pub(super) struct Arguments {
    /// The title, typed loosely
    #[arg(required = true, value_name = "WORD")]
    name: Vec<String>,
    /// Writes the checklist as a page to print into this file
    #[arg(long, value_name = "OUT.html", conflicts_with = "json")]
    page: Option<PathBuf>,
    /// One JSON object a line, one line a title
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    let name = arguments.name.join(" ");
    let lists = checklists(&global.existing_store()?, &name)?;
    if let Some(out) = arguments.page.as_deref().filter(|_| !lists.is_empty()) {
        page_file::write(out, &run_page(&name, &lists))?;
        ui.note(format_args!("the checklist is in {}", out.display()));
        return Ok(Exit::Done);
    }
    if lists.is_empty() && !arguments.json {
        ui.line(format_args!("no title fits '{}'", name.trim()))?;
    }
    for list in &lists {
        if arguments.json {
            ui.json(list)?;
        } else {
            tell(list, ui)?;
        }
    }
    Ok(Exit::Done)
}

fn tell(list: &Checklist, ui: &mut Ui) -> std::io::Result<()> {
    let span = list.first.zip(list.last).map(|(first, last)| format!(" from {first} to {last}")).unwrap_or_default();
    let name = ui.paint(&title_in_words(&list.title), Tone::Strong);
    ui.line(format_args!("{name}: {} owned, {} missing{span}", list.owned_issues, list.missing_issues))?;
    for entry in list.lines() {
        match entry {
            Entry::Owned { number, copies } => {
                let number = if number.is_empty() { "whole book" } else { number.as_str() };
                let copies = if copies > 1 { format!(" ({copies} copies)") } else { String::new() };
                ui.line(format_args!("  [x] {number}{copies}"))?;
            }
            Entry::Missing { from, to } if from == to => ui.line(format_args!("  [ ] {from}"))?,
            Entry::Missing { from, to } => ui.line(format_args!("  [ ] {from}-{to}"))?,
        }
    }
    Ok(())
}
