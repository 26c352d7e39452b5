use std::num::NonZeroU32;
use std::path::{Path, PathBuf};

use clap::{Args, Subcommand};
use serde::Serialize;

use super::failure::{Outcome, one_line};
use super::ui::{Tone, Ui};
use super::words::count;
use super::{Exit, Global};
use crate::store::BackupSummary;
use crate::workflow::{self, backup_folder, backups, restore};

/// Makes a copy of the collection that is compared with it, while other commands go on
///
/// The newest backups of a collection stay, older ones are removed once the new one is whole. A backup is a collection's file like
/// any other; keep one on another disk as well.
#[derive(Debug, Args)]
#[command(
    args_conflicts_with_subcommands = true,
    after_help = "Example:\n  boxward backup --to /media/stick/comics --keep 20"
)]
pub(super) struct Arguments {
    #[command(subcommand)]
    command: Option<Command>,
    #[command(flatten)]
    folder: Folder,
    /// How many stay
    #[arg(long, value_name = "N", default_value = "10")]
    keep: NonZeroU32,
    /// The backup as a JSON object
    #[arg(long)]
    json: bool,
}

/// Where backups lie.
#[derive(Debug, Args)]
struct Folder {
    /// The folder of backups [default: the collection's, its name ending in .backups]
    #[arg(long, value_name = "FOLDER")]
    to: Option<PathBuf>,
}

#[derive(Debug, Subcommand)]
enum Command {
    List(ListArguments),
    Restore(RestoreArguments),
}

/// Lists backups, newest first
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward backup list")]
struct ListArguments {
    /// The folder of backups [default: the collection's, its name ending in .backups]
    #[arg(long = "in", value_name = "FOLDER")]
    folder: Option<PathBuf>,
    /// One JSON object a line, one line a backup
    #[arg(long)]
    json: bool,
}

/// Brings a backup back in the collection's place
///
/// Of what is there a backup is made first, and its name told: without it nothing is replaced. End other commands before.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward backup restore collection-20260304T183000Z.sqlite")]
struct RestoreArguments {
    /// The backup
    file: PathBuf,
    #[command(flatten)]
    folder: Folder,
    /// What was done as a JSON object
    #[arg(long)]
    json: bool,
}

/// Backups in JSON; the fields are documented in the README and must stay.
#[derive(Debug, Serialize)]
struct MadeLine<'a> {
    backup: String,
    titles: u32,
    copies: u32,
    removed: &'a [PathBuf],
}

#[derive(Debug, Serialize)]
struct KeptLine {
    backup: String,
    made: jiff::Timestamp,
    titles: Option<u32>,
    copies: Option<u32>,
    error: Option<String>,
}

#[derive(Debug, Serialize)]
struct RestoredLine {
    restored: String,
    titles: u32,
    copies: u32,
    before: Option<String>,
}

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    match &arguments.command {
        Some(Command::List(arguments)) => list(arguments, global, ui),
        Some(Command::Restore(arguments)) => bring_back(arguments, global, ui),
        None => make(arguments, global, ui),
    }
}

fn make(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    let store = global.existing_store()?;
    let folder = folder_of(arguments.folder.to.as_deref(), store.path());
    let made = workflow::backup(&store, &folder, arguments.keep, global.now())?;
    let BackupSummary { titles, copies, .. } = made.summary;
    if arguments.json {
        ui.json(&MadeLine { backup: made.path.display().to_string(), titles, copies, removed: &made.removed })?;
        return Ok(Exit::Done);
    }
    let whole = ui.paint("the same as the collection", Tone::Good);
    ui.line(format_args!("{}: {}, {whole}", made.path.display(), holds(made.summary)))?;
    if !made.removed.is_empty() {
        let removed = count(made.removed.len(), "older backup");
        ui.note(format_args!("{removed} removed: the newest {} stay", arguments.keep));
    }
    Ok(Exit::Done)
}

fn list(arguments: &ListArguments, global: &Global, ui: &mut Ui) -> Outcome {
    let collection = global.collection()?;
    let folder = folder_of(arguments.folder.as_deref(), &collection);
    let found = backups(&collection, &folder)?;
    let mut exit = Exit::Done;
    for kept in &found {
        let backup = kept.path.display().to_string();
        let error = kept.summary.as_ref().err().map(|error| one_line(error));
        if error.is_some() {
            exit = Exit::Data;
        }
        if arguments.json {
            let summary = kept.summary.as_ref().ok();
            let (titles, copies) = (summary.map(|s| s.titles), summary.map(|s| s.copies));
            ui.json(&KeptLine { backup, made: kept.made, titles, copies, error })?;
        } else if let Some(error) = error {
            ui.complain("error", error);
        } else if let Ok(summary) = &kept.summary {
            ui.line(format_args!("{backup}: {}, made {}", holds(*summary), kept.made))?;
        }
    }
    if found.is_empty() && !arguments.json {
        ui.line(format_args!("no backup of {} is in {}", collection.display(), folder.display()))?;
    }
    Ok(exit)
}

fn bring_back(arguments: &RestoreArguments, global: &Global, ui: &mut Ui) -> Outcome {
    let collection = global.collection()?;
    let folder = folder_of(arguments.folder.to.as_deref(), &collection);
    global.make_folder()?;
    let restored = restore(&collection, &arguments.file, &folder, global.now())?;
    let BackupSummary { titles, copies, .. } = restored.summary;
    let before = restored.before.map(|path| path.display().to_string());
    let file = arguments.file.display().to_string();
    if arguments.json {
        ui.json(&RestoredLine { restored: file, titles, copies, before })?;
        return Ok(Exit::Done);
    }
    ui.line(format_args!("{}: {} again, as in {file}", collection.display(), holds(restored.summary)))?;
    if let Some(before) = before {
        ui.line(format_args!("what was there before is in {before}"))?;
    }
    Ok(Exit::Done)
}

fn folder_of(asked: Option<&Path>, collection: &Path) -> PathBuf {
    asked.map_or_else(|| backup_folder(collection), Path::to_owned)
}

fn holds(summary: BackupSummary) -> String {
    format!("{}, {}", count(summary.titles, "title"), count(summary.copies, "copy"))
}
