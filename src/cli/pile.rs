use std::io::stdin;

use clap::{Args, Subcommand};
use jiff::civil::Date;
use serde::Serialize;

use super::day::{Day, day};
use super::failure::{Failure, Outcome};
use super::lines::{Lines, is_cut};
use super::ui::{Tone, Ui};
use super::words::{count, issue_in_words, named};
use super::{Exit, Global};
use crate::collection::{CopyId, Money, PACE_WEEKS, Pile, Unread};
use crate::source::handheld::{ADD_ON_WAIT, Handheld, HandheldError, Heard};
use crate::store::Store;
use crate::workflow::{self, WasRead, pile_list, pile_read};

/// The reading pile: what is unread in reading order, and how long it lasts
#[derive(Debug, Args)]
#[command(args_conflicts_with_subcommands = true, after_help = "Example:\n  boxward pile --limit 10")]
pub(super) struct Arguments {
    #[command(subcommand)]
    command: Option<Command>,
    /// How many copies are listed; the numbers below them are the whole pile's
    #[arg(long, value_name = "N")]
    limit: Option<u32>,
    /// One JSON object a line, one line a copy, then a summary
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Subcommand)]
enum Command {
    Read(ReadArguments),
}

/// Takes what was read off the pile
///
/// Named by its code, by title and issue, or by a run of issues. Of several copies of an issue one is taken, the first in
/// reading order. With - each line of standard input names a book, as a handheld scanner types them.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward pile read tide wardens 1-12")]
struct ReadArguments {
    /// A code, a title and an issue, or a title and issues
    #[arg(value_name = "WORD", allow_negative_numbers = true, required_unless_present = "copy")]
    query: Vec<String>,
    /// A copy's number, as boxward pile lists it; may be given several times
    #[arg(long, value_name = "NUMBER", conflicts_with = "query")]
    copy: Vec<CopyId>,
    /// Every unread copy that fits, and whole titles too
    #[arg(long)]
    all: bool,
    /// The day: today, or such as 2026-03-04
    #[arg(long, value_name = "DAY", value_parser = day, default_value = "today")]
    on: Day,
    /// One JSON object a line, one line a copy
    #[arg(long)]
    json: bool,
}

/// A copy that was read, in JSON; its fields are documented in the README and must stay.
#[derive(Debug, Serialize)]
struct ReadLine<'a> {
    #[serde(flatten)]
    copy: &'a Unread,
    read_on: Date,
}

/// The last line; its fields are documented in the README and must stay.
#[derive(Debug, Serialize)]
struct SummaryLine<'a> {
    summary: Summary<'a>,
}

#[derive(Debug, Serialize)]
struct Summary<'a> {
    copies: u32,
    weeks: u32,
    came: u32,
    went: u32,
    grows: bool,
    lasts_weeks: Option<f64>,
    short_boxes: [f64; 2],
    paid: &'a [Money],
    without_price: u32,
}

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    let store = global.existing_store()?;
    match &arguments.command {
        None => list(&store, arguments, Day::Today.date(global.now()), ui),
        Some(Command::Read(read)) if read.query == ["-"] => lines(&store, read, global, ui),
        Some(Command::Read(read)) => {
            let what: Vec<WasRead> = match read.query.as_slice() {
                [] => read.copy.iter().copied().map(WasRead::Copy).collect(),
                words => vec![WasRead::Named { query: words.join(" "), all: read.all }],
            };
            take_off(&store, &what, read, global, ui)?;
            Ok(Exit::Done)
        }
    }
}

fn list(store: &Store, arguments: &Arguments, today: Date, ui: &mut Ui) -> Outcome {
    for copy in pile_list(store, arguments.limit.unwrap_or(u32::MAX))? {
        if arguments.json {
            ui.json(&copy)?;
            continue;
        }
        let since = copy.came.map(|day| format!(", since {day}")).unwrap_or_default();
        ui.line(format_args!("{}: {}{since}", copy.copy, in_words(&copy)))?;
    }
    let pile = workflow::pile(store, today)?;
    if arguments.json {
        ui.json(&SummaryLine { summary: summary(&pile) })?;
    } else {
        told(&pile, ui)?;
    }
    Ok(Exit::Done)
}

fn in_words(copy: &Unread) -> String {
    named(&copy.title, &issue_in_words(&copy.issue, &copy.cover, copy.printing))
}

/// Tenths are far within what a float holds exactly enough to print them.
fn tenths(tenths: u64) -> f64 {
    tenths as f64 / 10.0
}

fn summary(pile: &Pile) -> Summary<'_> {
    let (least, most) = pile.tenths_of_short_boxes();
    Summary {
        copies: pile.copies,
        weeks: PACE_WEEKS,
        came: pile.came,
        went: pile.read,
        grows: pile.grows(),
        lasts_weeks: pile.lasts_tenths_of_weeks().map(tenths),
        short_boxes: [tenths(least), tenths(most)],
        paid: &pile.paid,
        without_price: pile.without_price,
    }
}

fn told(pile: &Pile, ui: &mut Ui) -> std::io::Result<()> {
    let copies = ui.paint(&format!("{} unread", count(pile.copies, "copy")), Tone::Strong);
    let mut paid: Vec<String> = pile.paid.iter().map(ToString::to_string).collect();
    if pile.without_price > 0 {
        paid.push(format!("{} without a price", pile.without_price));
    }
    if pile.copies == 0 {
        ui.line(copies)?;
    } else {
        let boxes = match pile.tenths_of_short_boxes() {
            (least, most) if least == most => format!("{:.1}", tenths(most)),
            (least, most) => format!("{:.1} to {:.1}", tenths(least), tenths(most)),
        };
        ui.line(format_args!("{copies}, {boxes} short boxes; paid: {}", paid.join(", ")))?;
    }
    let lasts = match pile.lasts_tenths_of_weeks() {
        _ if pile.copies == 0 => "nothing is left".to_owned(),
        Some(weeks) => format!("at this pace the pile lasts {:.1} weeks", tenths(weeks)),
        None => "no pace to measure the pile by".to_owned(),
    };
    let (came, read) = (pile.came, pile.read);
    ui.line(format_args!("in the last {PACE_WEEKS} weeks {came} came and {read} were read: {lasts}"))?;
    if pile.grows() {
        let warning = ui.paint("the pile grows faster than it is read", Tone::Doubt);
        ui.line(warning)?;
    }
    Ok(())
}

fn take_off(
    store: &Store,
    what: &[WasRead],
    arguments: &ReadArguments,
    global: &Global,
    ui: &mut Ui,
) -> Result<(), Failure> {
    let on = arguments.on.date(global.now());
    let (copies, run) = pile_read(store, what, on, global.now())?;
    for copy in &copies {
        if arguments.json {
            ui.json(&ReadLine { copy, read_on: on })?;
        } else {
            let read = ui.paint("read", Tone::Good);
            ui.line(format_args!("{read}: {}; seal its bag, it is to be filed", in_words(copy)))?;
        }
    }
    if let Some(run) = run {
        ui.note(format_args!("{} off the pile (run {run})", count(copies.len(), "copy")));
    }
    Ok(())
}

/// Books one a line; one that is not understood is told and does not end the rest.
fn lines(store: &Store, arguments: &ReadArguments, global: &Global, ui: &mut Ui) -> Outcome {
    let mut scanner = Handheld::new(ADD_ON_WAIT);
    let mut exit = Exit::Done;
    let mut book = |query: String, ui: &mut Ui| -> Result<(), Failure> {
        if is_cut(&query) {
            ui.complain("error", "a line is longer than a book's name: type one book a line");
            exit = Exit::Partly;
            return Ok(());
        }
        let what = [WasRead::Named { query, all: arguments.all }];
        match take_off(store, &what, arguments, global, ui) {
            Err(failure) if matches!(failure.exit, Exit::Call | Exit::Data) => {
                ui.complain("error", failure.messages.join(": "));
                exit = Exit::Partly;
                Ok(())
            }
            other => other,
        }
    };
    for line in Lines(stdin().lock()) {
        let line = line?;
        for heard in scanner.line(global.now(), &line) {
            match heard {
                Ok(heard) => book(digits(&heard), ui)?,
                Err(HandheldError::NotACode(_)) => book(line.clone(), ui)?,
                Err(HandheldError::StrayAddOn(add_on)) => book(add_on.to_string(), ui)?,
            }
        }
    }
    if let Some(heard) = scanner.finish() {
        book(digits(&heard), ui)?;
    }
    Ok(exit)
}

fn digits(heard: &Heard) -> String {
    let add_on = heard.code.add_on.read().map(|add_on| format!("+{add_on}")).unwrap_or_default();
    format!("{}{add_on}", heard.code.gtin)
}
