use clap::{Args, Subcommand};
use serde::Serialize;

use super::day::Day;
use super::failure::{Failure, Outcome};
use super::new_title::{NewTitleArguments, or_new};
use super::ui::{Tone, Ui};
use super::words::{count, named};
use super::{Exit, Global};
use crate::collection::{Arrived, Due, Week};
use crate::intake::{ItemId, RunId};
use crate::store::Store;
use crate::workflow::{Named, PullCheck, PullRequest, pull_add, pull_check, pull_drop, pull_list};

/// Expected books: what the shop is asked for, when it is due, and what of it came
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward pull check")]
pub(super) struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    Add(AddArguments),
    List(ListArguments),
    Check(CheckArguments),
    Drop(DropArguments),
}

/// Puts issues on the list, or every further issue of a title
///
/// With --every, the next issue after the newest that came is expected, from the issue that is named on or else from the next.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  boxward pull add tide wardens --every=4 --due 2026-W10\n  boxward pull add moth parliament 107-109"
)]
struct AddArguments {
    /// A title, typed loosely, and issues: 12, 14-16, '#Annual 2'
    #[arg(required = true, value_name = "WORD")]
    words: Vec<String>,
    /// The week in which it is due, such as 2026-W10 or a day of it; of a standing title, that of the first issue
    #[arg(long, value_name = "WEEK")]
    due: Option<Week>,
    /// A standing title: every further issue, so many weeks after the one before
    #[arg(
        long,
        value_name = "WEEKS",
        num_args = 0..=1,
        require_equals = true,
        default_missing_value = "4",
        value_parser = clap::value_parser!(u32).range(1..=520)
    )]
    every: Option<u32>,
    #[command(flatten)]
    new: NewTitleArguments,
    /// One JSON object a line: what is expected of the title now
    #[arg(long)]
    json: bool,
}

/// Lists what is expected, by week
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward pull list --within 8")]
struct ListArguments {
    /// All that is due within so many weeks, further issues of standing titles too
    #[arg(long, value_name = "WEEKS", value_parser = clap::value_parser!(u32).range(0..=520))]
    within: Option<u32>,
    /// One JSON object a line, one line a book
    #[arg(long)]
    json: bool,
}

/// Tells what of the expected came in a week, what is missing, and what came without being asked for
///
/// Looks at the week's copies (by the day on which they were bought or, if nobody said, seen) and at what waits in the queue.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward pull check --week 2026-W10")]
struct CheckArguments {
    /// The week, such as 2026-W10 or a day of it [default: this one]
    #[arg(long, value_name = "WEEK")]
    week: Option<Week>,
    /// One JSON object a line, one line a book, then a summary
    #[arg(long)]
    json: bool,
}

/// Takes issues, or all of a title, off the list
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward pull drop tide wardens")]
struct DropArguments {
    /// A title, typed loosely, and issues; all of the title if no issue is named
    #[arg(required = true, value_name = "WORD")]
    words: Vec<String>,
    /// The run as a JSON object
    #[arg(long)]
    json: bool,
}

/// A checked book in JSON; the fields are documented in the README and must stay.
#[derive(Debug, Serialize)]
#[serde(tag = "what", rename_all = "lowercase")]
enum CheckLine<'a> {
    Came(&'a Arrived),
    Missing(&'a Due),
    Unasked(&'a Arrived),
    Unknown { item: ItemId },
}

/// The last line in JSON.
#[derive(Debug, Serialize)]
struct SummaryLine {
    summary: Summary,
}

#[derive(Debug, Serialize)]
struct Summary {
    week: Week,
    came: usize,
    missing: usize,
    unasked: usize,
    unknown: usize,
}

/// A run that took something off a list.
#[derive(Debug, Serialize)]
pub(super) struct DroppedLine {
    pub(super) run: Option<RunId>,
}

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    let store = global.existing_store()?;
    let today = Day::Today.date(global.now());
    let week = Week::of(today);
    match &arguments.command {
        Command::Add(arguments) => {
            let request = PullRequest {
                named: Named::new(&arguments.words),
                due: arguments.due,
                every: arguments.every,
                new: arguments.new.title(),
            };
            let (dues, _) = pull_add(&store, &request, today, global.now()).map_err(or_new)?;
            tell(&dues, week, arguments.json, ui)?;
        }
        Command::List(arguments) => {
            let dues = pull_list(&store, week, arguments.within)?;
            tell(&dues, week, arguments.json, ui)?;
            if dues.is_empty() && !arguments.json {
                ui.line("nothing is expected")?;
            }
        }
        Command::Check(arguments) => {
            let check = pull_check(&store, arguments.week.unwrap_or(week))?;
            if arguments.json { check_in_json(&check, ui)? } else { check_in_words(&check, ui)? }
        }
        Command::Drop(arguments) => {
            let named = Named::new(&arguments.words);
            let run = pull_drop(&store, &named, global.now())?;
            if arguments.json {
                ui.json(&DroppedLine { run })?;
            } else {
                ui.line(format_args!("{} is no longer expected", arguments.words.join(" ")))?;
            }
        }
    }
    Ok(Exit::Done)
}

/// What is still missing in the week of `today`, for `resolve`; nothing if nothing is.
pub(super) fn tell_missing(store: &Store, week: Week, ui: &mut Ui) -> Result<(), Failure> {
    let missing = pull_check(store, week)?.found.missing.len();
    if missing > 0 {
        ui.note(format_args!("{} expected and not here yet: boxward pull check", count(missing, "book")));
    }
    Ok(())
}

fn tell(dues: &[Due], week: Week, json: bool, ui: &mut Ui) -> std::io::Result<()> {
    for due in dues {
        if json {
            ui.json(due)?;
        } else {
            let words = due_in_words(due, week, ui);
            ui.line(words)?;
        }
    }
    Ok(())
}

/// `2026-W10: Tide Wardens 13 (2023, Lantern Row), every 4 weeks`.
fn due_in_words(due: &Due, week: Week, ui: &Ui) -> String {
    let when = match due.due {
        Some(due) if due < week => format!("{due}, {}", ui.paint("late", Tone::Doubt)),
        Some(due) => due.to_string(),
        None => "no week".to_owned(),
    };
    let every = due.every.map(|weeks| format!(", every {}", count(weeks, "week"))).unwrap_or_default();
    format!("{when}: {}{every}", named(&due.title, &format!(" {}", due.issue)))
}

fn check_in_json(check: &PullCheck, ui: &mut Ui) -> std::io::Result<()> {
    let PullCheck { week, found, unknown } = check;
    found.came.iter().try_for_each(|book| ui.json(&CheckLine::Came(book)))?;
    found.missing.iter().try_for_each(|due| ui.json(&CheckLine::Missing(due)))?;
    found.unasked.iter().try_for_each(|book| ui.json(&CheckLine::Unasked(book)))?;
    unknown.iter().try_for_each(|&item| ui.json(&CheckLine::Unknown { item }))?;
    let (came, missing, unasked) = (found.came.len(), found.missing.len(), found.unasked.len());
    ui.json(&SummaryLine { summary: Summary { week: *week, came, missing, unasked, unknown: unknown.len() } })
}

fn check_in_words(check: &PullCheck, ui: &mut Ui) -> std::io::Result<()> {
    let PullCheck { week, found, unknown } = check;
    let book = |book: &Arrived| {
        let copies = if book.copies > 1 { format!(", {} copies", book.copies) } else { String::new() };
        let wanted = if book.wanted { ", wanted" } else { "" };
        let issue = if book.issue.is_empty() { String::new() } else { format!(" {}", book.issue) };
        format!("{}{copies}{wanted}", named(&book.title, &issue))
    };
    for arrived in &found.came {
        let came = ui.paint("came", Tone::Good);
        ui.line(format_args!("{came}: {}", book(arrived)))?;
    }
    for due in &found.missing {
        let missing = ui.paint("missing", Tone::Bad);
        let words = due_in_words(due, *week, ui);
        ui.line(format_args!("{missing}: {words}"))?;
    }
    for arrived in &found.unasked {
        let unasked = ui.paint("came without being asked for", Tone::Doubt);
        ui.line(format_args!("{unasked}: {}", book(arrived)))?;
    }
    if !unknown.is_empty() {
        let items = unknown.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ");
        ui.line(format_args!("not known yet: item {items} (boxward resolve)"))?;
    }
    let (came, missing, unasked) = (found.came.len(), found.missing.len(), found.unasked.len());
    ui.line(format_args!("{week}: {came} came, {missing} missing, {unasked} not asked for"))
}
