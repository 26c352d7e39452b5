use std::num::NonZeroUsize;
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

use clap::Args;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use serde::Serialize;

use super::failure::{Failure, Outcome, one_line};
use super::read::jobs;
use super::ui::{Tone, Ui};
use super::words::count;
use super::{Exit, Global, export, import_audit};
use crate::intake::ItemState;
use crate::picture::Limits;
use crate::source::pictures;
use crate::workflow::{self, FileOutcome, FileResult, ImportSummary, read_for_queue};

/// Reads photos and folders into the queue
///
/// A photo that was imported before is passed over, so an import that was interrupted goes on when it is run again.
/// Symbols that can't be read for certain wait in the queue with their picture. Ends with 0 if every photo is in the
/// queue.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward import photos/ && boxward resolve")]
pub(super) struct Arguments {
    /// Photos, and folders of photos
    #[arg(required_unless_present = "collection_data", value_name = "PATH")]
    paths: Vec<PathBuf>,
    /// Reads what export wrote (- for standard input) into an empty collection, instead of photos
    #[arg(long, value_name = "FILE", conflicts_with_all = ["paths", "jobs"])]
    collection_data: Option<PathBuf>,
    /// Imports nothing, but compares the photos of a box's books with what should stand in it; with - in the place of photos,
    /// the lines of a handheld scanner
    #[arg(long, value_name = "BOX", conflicts_with = "collection_data")]
    audit: Option<String>,
    /// One JSON object a line: one for each file once it is safe in the queue, then a summary
    #[arg(long)]
    json: bool,
    /// How many photos are read at once [default: one a core]
    #[arg(long, value_name = "N")]
    jobs: Option<NonZeroUsize>,
}

#[derive(Debug, Serialize)]
struct SummaryLine<'a> {
    summary: &'a ImportSummary,
}

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    if let Some(file) = &arguments.collection_data {
        return export::read_back(file, arguments.json, global, ui);
    }
    match &arguments.audit {
        Some(label) => import_audit::run(label, &arguments.paths, arguments.jobs, arguments.json, global, ui),
        None => import(&arguments.paths, arguments.json, arguments.jobs, global, ui),
    }
}

/// Imports for this command and for the demo.
pub(super) fn import(
    paths: &[PathBuf],
    json: bool,
    asked_jobs: Option<NonZeroUsize>,
    global: &Global,
    ui: &mut Ui,
) -> Outcome {
    let (mut files, mut refused) = (Vec::new(), Vec::new());
    for found in pictures(paths) {
        match found {
            Ok(path) => files.push(path),
            Err(error) => {
                let result = FileResult::Failed { error: one_line(&error) };
                refused.push(FileOutcome { path: error.path().to_owned(), result });
            }
        }
    }
    let store = global.store()?;
    let bar = progress_bar(files.len(), json, ui);
    let mut printed = Ok(());
    for outcome in &refused {
        report(outcome, json, ui)?;
    }
    let limits = Limits::default();
    let mut progress = |outcome: &FileOutcome| {
        printed = bar.suspend(|| report(outcome, json, ui));
        bar.inc(1);
        if printed.is_ok() { ControlFlow::Continue(()) } else { ControlFlow::Break(()) }
    };
    let read = |_: &Path, bytes: &[u8]| read_for_queue(bytes, &limits);
    let summary = workflow::import(&store, &files, &limits, &read, jobs(asked_jobs), &|| global.now(), &mut progress);
    bar.finish_and_clear();
    printed?;
    let mut summary = summary?;
    summary.files += refused.len();
    summary.failed += refused.len();
    if json {
        ui.json(&SummaryLine { summary: &summary })?;
    } else {
        summarise(&summary, ui)?;
    }
    Ok(match summary.failed {
        0 => Exit::Done,
        failed if failed == summary.files => Exit::Data,
        _ => Exit::Partly,
    })
}

fn progress_bar(files: usize, json: bool, ui: &Ui) -> ProgressBar {
    if json || !ui.shows_progress() {
        return ProgressBar::with_draw_target(None, ProgressDrawTarget::hidden());
    }
    let style = ProgressStyle::with_template("{bar:30} {pos} of {len} photos, {eta} to go");
    ProgressBar::new(files as u64).with_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()))
}

/// One file, told once it is on the disk. In words only what is out of the ordinary.
fn report(outcome: &FileOutcome, json: bool, ui: &mut Ui) -> Result<(), Failure> {
    if json {
        return Ok(ui.json(outcome)?);
    }
    let path = outcome.path.display();
    match &outcome.result {
        FileResult::Staged { staged, seen_again } => {
            for new in staged.iter().filter(|new| new.state == ItemState::Incomplete) {
                let waits = ui.paint("waits for a person", Tone::Doubt);
                ui.line(format_args!("{path}: item {} {waits}", new.item))?;
            }
            for again in seen_again {
                let what = if again.confirmed { "confirms" } else { "shows again" };
                ui.line(format_args!("{path}: {what} item {}", again.item))?;
            }
        }
        FileResult::NothingRead { item } => {
            let nothing = ui.paint("no code read", Tone::Doubt);
            ui.line(format_args!("{path}: {nothing}, item {item} waits for a person"))?;
        }
        // The same file again is no news; the same photo in two places is.
        FileResult::Known { as_path } if as_path.file_name() == outcome.path.file_name() => {}
        FileResult::Known { as_path } => {
            ui.line(format_args!("{path}: imported before as {}", as_path.display()))?;
        }
        FileResult::Failed { error } => ui.complain("error", format_args!("{path}: {error}")),
    }
    Ok(())
}

fn summarise(summary: &ImportSummary, ui: &mut Ui) -> Result<(), Failure> {
    let ImportSummary { run, files, staged, incomplete, seen_again, known, failed, .. } = *summary;
    let mut parts = vec![format!("{} in the queue", count(staged, "new item"))];
    let further = [
        (incomplete, "waiting for a person"),
        (seen_again, "seen again"),
        (known, "imported before"),
        (failed, "failed"),
    ];
    parts.extend(further.iter().filter(|(n, _)| *n > 0).map(|(n, what)| format!("{n} {what}")));
    let run = run.map(|run| format!(" (run {run})")).unwrap_or_default();
    ui.line(format_args!("{}: {}{run}", count(files, "file"), parts.join(", ")))?;
    Ok(())
}
