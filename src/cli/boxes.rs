use std::path::PathBuf;

use clap::{ArgAction, Args, Subcommand};

use super::failure::{Failure, Outcome};
use super::ui::{Tone, Ui};
use super::words::{count, issue_in_words, named};
use super::{Exit, Global, page_file};
use crate::filing::BoxKind;
use crate::report::{BoxCheck, box_page};
use crate::store::Store;
use crate::workflow::{
    self, BoxChange, BoxContent, BoxFill, PurposeAsked, box_add, box_list, box_retire, box_set, box_show,
};

/// The boxes of the wall: where each stands, what it is for, what stands in it
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward box list")]
pub(super) struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    Add(AddArguments),
    List(ListArguments),
    Set(SetArguments),
    Show(ShowArguments),
    Audit(AuditArguments),
    Retire(RetireArguments),
}

/// Adds a box behind the last one, or where it is said to stand
///
/// Boxes are walked along row by row, and in each row from its first column. A copy goes to the boxes of the narrowest purpose that
/// fits it: unread, title, family, publisher, size, rest. A spare box is empty until a plan takes it.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  boxward box add 'Heron A' --kind long --for 'publisher=Brass Heron' --row 2 --column 1"
)]
struct AddArguments {
    /// What is written on it
    label: String,
    #[command(flatten)]
    what: What,
    /// The box as a JSON object
    #[arg(long)]
    json: bool,
}

/// What a box is like.
#[derive(Debug, Args)]
struct What {
    /// short, long, magazine, or own
    #[arg(long, value_parser = clap::builder::ValueParser::new(kind))]
    kind: Option<BoxKind>,
    /// Its inner length [default: 375 for short and magazine boxes, 700 for long ones]
    #[arg(long, value_name = "MM", value_parser = clap::value_parser!(u32).range(50..=3000))]
    inner_mm: Option<u32>,
    /// Whether magazines fit in [default: into magazine boxes alone]
    #[arg(long, value_name = "yes|no", value_parser = yes_or_no, action = ArgAction::Set)]
    magazines: Option<bool>,
    /// unread, title=NAME, family=NAME, publisher=NAME, size=SIZE, rest, or spare
    #[arg(long = "for", value_name = "PURPOSE")]
    purpose: Option<PurposeAsked>,
    /// The row it stands in
    #[arg(long, value_name = "N")]
    row: Option<u32>,
    /// The column
    #[arg(long, value_name = "N")]
    column: Option<u32>,
    /// What to recognise it by: words, or a picture's path
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
}

/// Lists the boxes in walking order, and how full each is
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward box list")]
struct ListArguments {
    /// One JSON object a line, one line a box
    #[arg(long)]
    json: bool,
}

/// Changes a box
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward box set 'Heron A' --inner-mm 690 --note 'dent in the lid'")]
struct SetArguments {
    /// Its label
    #[arg(value_name = "BOX")]
    shelf: String,
    /// Another label
    #[arg(long)]
    label: Option<String>,
    #[command(flatten)]
    what: What,
    /// The box as a JSON object
    #[arg(long)]
    json: bool,
}

/// Shows what stands in a box, from front to back
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward box show 'Heron A'")]
struct ShowArguments {
    /// Its label
    #[arg(value_name = "BOX")]
    shelf: String,
    /// The box and its content as a JSON object
    #[arg(long)]
    json: bool,
}

/// A list to go through a box with: what should stand in it, from front to back
///
/// boxward import --audit BOX compares it with photos of its books, or with a handheld scanner's lines.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward box audit 'Heron A' --page heron-a.html")]
struct AuditArguments {
    /// Its label
    #[arg(value_name = "BOX")]
    shelf: String,
    /// Writes the list as a page to print into this file
    #[arg(long, value_name = "OUT.html")]
    page: Option<PathBuf>,
}

/// Takes an empty box out of use
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward box retire 'Heron A'")]
struct RetireArguments {
    /// Its label
    #[arg(value_name = "BOX")]
    shelf: String,
}

fn kind(text: &str) -> Result<BoxKind, String> {
    text.parse()
}

fn yes_or_no(text: &str) -> Result<bool, String> {
    match text {
        "yes" => Ok(true),
        "no" => Ok(false),
        other => Err(format!("'{other}' is neither yes nor no")),
    }
}

impl What {
    fn change(&self, label: Option<&str>) -> BoxChange {
        BoxChange {
            label: label.map(str::to_owned),
            kind: self.kind,
            inner_mm: self.inner_mm,
            magazines: self.magazines,
            purpose: self.purpose.clone(),
            row: self.row,
            column: self.column,
            note: self.note.clone(),
        }
    }
}

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    match &arguments.command {
        Command::Add(add) => {
            let store = global.store()?;
            let (added, _) = box_add(&store, &add.what.change(Some(&add.label)), global.now())?;
            tell(&store, &added, add.json, ui)?;
        }
        Command::List(list) => {
            let store = global.existing_store()?;
            let boxes = box_list(&store)?;
            for shelf in &boxes {
                tell(&store, shelf, list.json, ui)?;
            }
            if !list.json {
                ui.note(count(boxes.len(), "box"));
            }
        }
        Command::Set(set) => {
            let store = global.existing_store()?;
            let (changed, _) = box_set(&store, &set.shelf, &set.what.change(set.label.as_deref()), global.now())?;
            tell(&store, &changed, set.json, ui)?;
        }
        Command::Show(show) => {
            let store = global.existing_store()?;
            let content = box_show(&store, &show.shelf)?;
            if show.json {
                ui.json(&content)?;
            } else {
                content_in_words(&store, &content, ui)?;
            }
        }
        Command::Audit(audit) => {
            let content = box_show(&global.existing_store()?, &audit.shelf)?;
            match &audit.page {
                Some(out) => {
                    page_file::write(out, &box_page(&content.fill.shelf, &checks(&content)))?;
                    ui.note(format_args!("the list is in {}", out.display()));
                }
                None => {
                    for check in checks(&content) {
                        ui.line(format_args!("[ ] {} mm: {} ({})", check.mm, check.words, check.divider))?;
                    }
                }
            }
        }
        Command::Retire(retire) => {
            let (shelf, run) = box_retire(&global.existing_store()?, &retire.shelf, global.now())?;
            let run = run.map(|run| format!(" (run {run})")).unwrap_or_default();
            ui.line(format_args!("{}: out of use{run}", shelf.label))?;
        }
    }
    Ok(Exit::Done)
}

fn checks(content: &BoxContent) -> Vec<BoxCheck> {
    let check = |line: &workflow::ContentLine| BoxCheck {
        mm: line.mm,
        words: format!(
            "{}{}",
            line.copy.title.name,
            issue_in_words(&line.copy.issue, &line.copy.cover, line.copy.printing)
        ),
        divider: line.divider.clone(),
    };
    content.content.iter().map(check).collect()
}

fn tell(store: &Store, fill: &BoxFill, json: bool, ui: &mut Ui) -> Result<(), Failure> {
    if json {
        return Ok(ui.json(fill)?);
    }
    let shelf = &fill.shelf;
    let label = ui.paint(&shelf.label, Tone::Strong);
    let purpose = workflow::purpose_in_words(store, &shelf.purpose)?;
    let place = format!("row {}, column {}", shelf.place.row, shelf.place.column);
    let planned = if shelf.planned { ", not there yet" } else { "" };
    let note = if shelf.note.is_empty() { String::new() } else { format!(" ({})", shelf.note) };
    let percent =
        ui.paint(&format!("{} % full", fill.percent), if fill.percent > 100 { Tone::Bad } else { Tone::Good });
    let kilos = f64::from(fill.grams / 100) / 10.0;
    let heavy = if fill.is_heavy() { ", lift it with care" } else { "" };
    ui.line(format_args!(
        "{label}: {} box of {} mm for {purpose}, {place}{planned}{note}; {}, {percent}, about {kilos:.1} kg{heavy}",
        shelf.kind,
        shelf.inner_mm,
        count(fill.copies, "copy"),
    ))?;
    Ok(())
}

fn content_in_words(store: &Store, content: &BoxContent, ui: &mut Ui) -> Result<(), Failure> {
    tell(store, &content.fill, false, ui)?;
    let mut last = None;
    for line in &content.content {
        if last != Some(&line.divider) {
            let divider = ui.paint(&line.divider, Tone::Strong);
            ui.line(format_args!("  {divider}"))?;
            last = Some(&line.divider);
        }
        let copy = &line.copy;
        let issue = issue_in_words(&copy.issue, &copy.cover, copy.printing);
        ui.line(format_args!("    {} mm: {}: {}", line.mm, copy.copy, named(&copy.title, &issue)))?;
    }
    Ok(())
}
