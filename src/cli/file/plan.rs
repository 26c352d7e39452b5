use std::path::PathBuf;

use clap::Args;
use serde::Serialize;

use super::super::day::Day;
use super::super::failure::{Failure, Outcome};
use super::super::ui::{Tone, Ui};
use super::super::words::{count, issue_in_words, named};
use super::super::{Exit, Global, page_file};
use crate::filing::{NamedCopy, PlanCost, SheetBox, SheetRun};
use crate::intake::RunId;
use crate::report::{walk_page, wall_picture};
use crate::workflow::{PlanAsked, Walk, file_plan};

/// Plans one walk along the boxes: what goes in where, and what has to move for it
///
/// As few copies as possible are moved; a new box and a split title are weighed against that (boxward file set). A walk that was
/// planned and not finished is shown again, as far as it is left; --again plans anew. Boxes are heavy: lift them with care,
/// stack no more cardboard boxes than their maker allows, and keep them off bare floors and outside walls.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward file plan --page walk.html --picture wall.svg")]
pub(super) struct Arguments {
    /// Lays the whole wall out anew, instead of moving as few copies as possible
    #[arg(long)]
    wall: bool,
    /// How full boxes may get this time, in hundredths of their length
    #[arg(long, value_name = "PERCENT", value_parser = clap::value_parser!(u32).range(10..=100))]
    fill: Option<u32>,
    /// Leaves room for what will come in so many weeks: by the pull list and, of other titles, the pace of the last thirteen
    #[arg(long, value_name = "WEEKS", default_value_t = 0, value_parser = clap::value_parser!(u32).range(0..=520))]
    grow: u32,
    /// Files at most so many copies, those that came first
    #[arg(long, value_name = "N")]
    limit: Option<u32>,
    /// Drops what is left of the last walk and plans again
    #[arg(long)]
    again: bool,
    /// Shows the plan and keeps nothing of it
    #[arg(long)]
    dry_run: bool,
    /// Writes the walk as a page to print into this file, one page a box
    #[arg(long, value_name = "OUT.html")]
    page: Option<PathBuf>,
    /// Draws the wall of boxes into this file
    #[arg(long, value_name = "OUT.svg")]
    picture: Option<PathBuf>,
    /// One JSON object a line: one for each box where there is something to do, then a summary
    #[arg(long)]
    json: bool,
}

/// The last line; its fields are documented in the README and must stay.
#[derive(Debug, Serialize)]
struct SummaryLine {
    summary: Summary,
}

#[derive(Debug, Serialize)]
struct Summary {
    run: Option<RunId>,
    goes_on: bool,
    #[serde(flatten)]
    cost: PlanCost,
}

pub(in super::super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    if let Some(out) = &arguments.page {
        page_file::may_be_written(out)?;
    }
    if let Some(out) = &arguments.picture {
        page_file::picture_may_be_written(out)?;
    }
    let asked = PlanAsked {
        wall: arguments.wall,
        fill_percent: arguments.fill,
        grow: (arguments.grow > 0).then(|| (arguments.grow, Day::Today.date(global.now()))),
        limit: arguments.limit,
        again: arguments.again,
        dry_run: arguments.dry_run,
    };
    let walk = file_plan(&global.existing_store()?, &asked, global.now())?;
    if let Some(out) = &arguments.page {
        page_file::write(out, &walk_page(&walk.sheet))?;
        ui.note(format_args!("the walk is in {}", out.display()));
    }
    if let Some(out) = &arguments.picture {
        page_file::write_picture(out, &wall_picture(&walk.sheet.wall))?;
        ui.note(format_args!("the wall is in {}", out.display()));
    }
    if arguments.json {
        for shelf in &walk.sheet.boxes {
            ui.json(shelf)?;
        }
        ui.json(&SummaryLine { summary: Summary { run: walk.run, goes_on: walk.goes_on, cost: walk.sheet.cost } })?;
        return Ok(Exit::Done);
    }
    if arguments.page.is_none() {
        for shelf in &walk.sheet.boxes {
            tell_box(shelf, ui)?;
        }
    }
    summarise(&walk, ui)?;
    Ok(Exit::Done)
}

fn in_words(copy: &NamedCopy) -> String {
    named(&copy.title, &issue_in_words(&copy.issue, &copy.cover, copy.printing))
}

fn tell_box(shelf: &SheetBox, ui: &mut Ui) -> Result<(), Failure> {
    let label = ui.paint(&shelf.label, Tone::Strong);
    let new = shelf.new_box.map(|kind| format!(", a {kind} box to be put there")).unwrap_or_default();
    let note = if shelf.note.is_empty() { String::new() } else { format!(" ({})", shelf.note) };
    let (before, after) = (shelf.percent_before, shelf.percent_after);
    ui.line(format_args!(
        "{label}{note}, row {}, column {}{new}: {before} % full, then {after} %",
        shelf.place.row, shelf.place.column
    ))?;
    for taken in &shelf.take_out {
        ui.line(format_args!("  take out {}, it goes to {}", in_words(&taken.copy), taken.to))?;
    }
    for run in &shelf.put_in {
        ui.line(format_args!("  {}", place_in_words(run)))?;
        for put in &run.copies {
            let from = put.from.as_ref().map(|from| format!(", from {from}")).unwrap_or_default();
            let seal = if put.seal { "; seal its bag" } else { "" };
            let put_in = ui.paint("put in", Tone::Good);
            ui.line(format_args!("    {put_in} {}{from}{seal}", in_words(&put.copy)))?;
        }
    }
    Ok(())
}

/// `behind the divider Tide Wardens (2023), between 11 and 14:`
fn place_in_words(run: &SheetRun) -> String {
    let new = if run.new_divider { "a new divider" } else { "the divider" };
    let short = |copy: &NamedCopy| {
        let same = run.copies.iter().any(|put| put.copy.title.id == copy.title.id);
        let name = if same { String::new() } else { copy.title.name.clone() };
        let others = if copy.cover == "1" && copy.printing == 1 {
            String::new()
        } else {
            format!(", cover {}, printing {}", copy.cover, copy.printing)
        };
        format!("{name} {}{others}", copy.issue).trim().to_owned()
    };
    let between = match (&run.after, &run.before) {
        (Some(after), Some(before)) => format!("between {} and {}", short(after), short(before)),
        (Some(after), None) => format!("behind {}, at the end", short(after)),
        (None, Some(before)) => format!("at the front, before {}", short(before)),
        (None, None) => "into the empty box".to_owned(),
    };
    format!("behind {new} {}, {between}:", run.divider)
}

fn summarise(walk: &Walk, ui: &mut Ui) -> Result<(), Failure> {
    let PlanCost { to_file, moved, new_boxes, splits } = walk.sheet.cost;
    if walk.sheet.boxes.is_empty() {
        ui.line("nothing is to be put away")?;
        return Ok(());
    }
    let mut parts = vec![format!("{} to file", count(to_file, "copy")), format!("{moved} to move")];
    if new_boxes > 0 {
        parts.push(count(new_boxes, "new box"));
    }
    if splits > 0 {
        parts.push(format!("{} split", count(splits, "title")));
    }
    let how = match (walk.run, walk.goes_on) {
        (Some(run), _) => format!(" (run {run}); boxward file done books it, box by box or all"),
        (None, true) => ": what is left of the walk; boxward file done books it".to_owned(),
        (None, false) => ": nothing is kept of this".to_owned(),
    };
    ui.line(format_args!("{}{how}", parts.join(", ")))?;
    Ok(())
}
