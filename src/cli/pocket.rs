use std::path::PathBuf;

use clap::Args;
use serde::Serialize;

use super::day::Day;
use super::failure::Outcome;
use super::ui::Ui;
use super::words::count;
use super::{Exit, Global, page_file};
use crate::collection::Week;
use crate::report::pocket_page;
use crate::workflow;

/// A page for the phone: do I own this, do I want this?
///
/// One file that needs no network and is searched as one types: send it to the phone and open it at the shop's counter. It
/// holds what is owned, wanted and expected today, so make it anew before each trip. Whoever has the file can read it.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward pocket pocket.html")]
pub(super) struct Arguments {
    /// The page's file; an older page is replaced
    #[arg(value_name = "OUT.html")]
    out: PathBuf,
    /// What was written as a JSON object
    #[arg(long)]
    json: bool,
}

/// A written page in JSON; the fields are documented in the README and must stay.
#[derive(Debug, Serialize)]
struct PocketLine {
    page: String,
    titles: usize,
    issues: usize,
    wanted: usize,
}

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    page_file::may_be_written(&arguments.out)?;
    let store = global.existing_store()?;
    let today = Day::Today.date(global.now());
    let titles = workflow::pocket(&store, Week::of(today))?;
    page_file::write(&arguments.out, &pocket_page(&titles, today))?;
    let page = arguments.out.display().to_string();
    let issues = titles.iter().map(|title| title.owned.len()).sum();
    let wanted = titles.iter().map(|title| title.wants.len()).sum();
    if arguments.json {
        ui.json(&PocketLine { page, titles: titles.len(), issues, wanted })?;
        return Ok(Exit::Done);
    }
    let owned = count(issues, "issue");
    ui.line(format_args!("{page}: {}, {owned} owned, {wanted} wanted", count(titles.len(), "title")))?;
    Ok(Exit::Done)
}
