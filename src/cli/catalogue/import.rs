use std::path::{Path, PathBuf};

use clap::Args;
use serde::Serialize;

use super::super::failure::Failure;
use super::super::ui::Tone;
use super::super::words::{count, issue_in_words, named};
use super::{Exit, Global, Outcome, Ui};
use crate::collection::Currency;
use crate::list::{Choices, DayOrder, Field};
use crate::workflow::{ListReport, ListTaking, RowNew, RowOutcome, list_import, list_preset};

/// Takes a list of titles and issues into the catalogue: CSV, TSV, JSON lines or an .xlsx workbook
///
/// A list says what there is, owned or not: nothing becomes owned. It completes what is known; where the collection says
/// something else, that stays and is told, unless --replace takes the list's. A row that makes no sense is told with its line
/// and left out. The list's first row names its columns; a column whose name is a field's own word ('Cover date') needs no
/// --map. Fields: title, publisher, volume, year, layout, issue, cover, printing, code (with or without its add-on), add-on,
/// cover-date, on-sale, price, currency, pages, size, family, key. A row without an issue says what holds for the whole title.
/// Books whose 17 digits the list gives resolve with no question when they are scanned.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward catalogue import shop.csv --map title=Series --currency USD --dry-run")]
pub(super) struct Arguments {
    /// The list
    file: PathBuf,
    /// How such lists are read, as kept with --save-preset
    #[arg(long, value_name = "NAME")]
    preset: Option<String>,
    /// Which column says what, by its name or number; may be given several times
    #[arg(long, value_name = "FIELD=COLUMN", value_parser = field_and_column)]
    map: Vec<(Field, String)>,
    /// Keeps how this list is read under a name
    #[arg(long, value_name = "NAME")]
    save_preset: Option<String>,
    /// Which sheet of a workbook [default: its first]
    #[arg(long, value_name = "NAME")]
    sheet: Option<String>,
    /// How many rows stand above the columns' names
    #[arg(long, value_name = "N")]
    skip: Option<usize>,
    /// There is no row of names: columns are called 1, 2, 3
    #[arg(long)]
    unnamed: bool,
    /// How days are written where all is numbers: ymd, dmy or mdy [default: ymd]
    #[arg(long, value_name = "ORDER")]
    days: Option<DayOrder>,
    /// The currency of prices that have none
    #[arg(long, value_name = "CURRENCY")]
    currency: Option<Currency>,
    /// Takes the list's word where the collection says something else
    #[arg(long)]
    replace: bool,
    /// Shows what would change, and changes nothing
    #[arg(long)]
    dry_run: bool,
    /// One JSON object a line, one line a row, then a summary
    #[arg(long)]
    json: bool,
}

/// The last line; its fields are documented in the README and must stay.
#[derive(Debug, Serialize)]
struct SummaryLine<'a> {
    summary: &'a ListReport,
}

fn field_and_column(text: &str) -> Result<(Field, String), String> {
    let (field, column) = text.split_once('=').ok_or("write it as price='Cover price'")?;
    Ok((field.parse().map_err(|error| format!("{error}"))?, column.trim().to_owned()))
}

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    let store = if arguments.dry_run { global.existing_store()? } else { global.store()? };
    let mut choices = match &arguments.preset {
        Some(name) => list_preset(&store, name)?,
        None => Choices::default(),
    };
    choices.columns.extend(arguments.map.iter().cloned());
    choices.sheet = arguments.sheet.clone().or(choices.sheet);
    choices.skip = arguments.skip.unwrap_or(choices.skip);
    choices.unnamed |= arguments.unnamed;
    choices.days = arguments.days.unwrap_or(choices.days);
    choices.currency = arguments.currency.or(choices.currency);
    let (replace, dry_run) = (arguments.replace, arguments.dry_run);
    let taking = ListTaking { replace, dry_run, save_as: arguments.save_preset.clone() };
    let mut printed = Ok(());
    let report = list_import(&store, &arguments.file, &choices, &taking, global.now(), &mut |outcome| {
        if printed.is_ok() {
            printed = match arguments.json {
                true => ui.json(outcome).map_err(Failure::from),
                false => tell(&arguments.file, outcome, dry_run, ui),
            };
        }
    })?;
    printed?;
    if arguments.json {
        ui.json(&SummaryLine { summary: &report })?;
    } else {
        summarise(&report, arguments, ui)?;
    }
    Ok(match report.failed {
        0 => Exit::Done,
        failed if failed == report.rows => Exit::Data,
        _ => Exit::Partly,
    })
}

/// A row in words: what is wrong and what differs; in a dry run also what would be new.
fn tell(file: &Path, outcome: &RowOutcome, dry_run: bool, ui: &mut Ui) -> Result<(), Failure> {
    let place = format!("{}: line {}", file.display(), outcome.line);
    for problem in &outcome.problems {
        let column = problem.column.as_ref().map(|column| format!("column '{column}': ")).unwrap_or_default();
        ui.complain("error", format_args!("{place}: {column}{}", problem.problem));
    }
    let Some(title) = &outcome.title else { return Ok(()) };
    let printing = outcome.cover.as_ref().zip(outcome.printing);
    let issue =
        outcome.issue.as_deref().zip(printing).map(|(issue, (cover, printing))| issue_in_words(issue, cover, printing));
    let about = named(title, &issue.unwrap_or_default());
    if let (true, Some(new)) = (dry_run, outcome.new) {
        let word = match new {
            RowNew::Title => "new title",
            RowNew::Issue => "new issue",
            RowNew::Printing => "new cover or printing",
        };
        ui.line(format_args!("{place}: {}: {about}", ui.paint(word, Tone::Good)))?;
    }
    if dry_run && !outcome.completed.is_empty() {
        let completed: Vec<_> = outcome.completed.iter().map(|done| format!("{} {}", done.field, done.list)).collect();
        ui.line(format_args!("{place}: {}: {about}: {}", ui.paint("completes", Tone::Good), completed.join(", ")))?;
    }
    for differs in &outcome.differs {
        let which = if differs.taken { "the list's is taken" } else { "kept" };
        let word = ui.paint("differs", Tone::Doubt);
        let (field, here, list) = (differs.field, &differs.here, &differs.list);
        ui.line(format_args!("{place}: {word}: {about}: {field} is {here} here, {list} in the list; {which}"))?;
    }
    Ok(())
}

fn summarise(report: &ListReport, arguments: &Arguments, ui: &mut Ui) -> Result<(), Failure> {
    if !report.unused.is_empty() {
        let unused: Vec<_> = report.unused.iter().map(|column| format!("'{column}'")).collect();
        ui.note(format_args!("columns that say nothing that is kept: {}", unused.join(", ")));
    }
    if report.differing > 0 && !arguments.replace {
        ui.note("--replace takes the list's word where it differs");
    }
    let plural = |number: usize, one: &str, more: &str| format!("{number} {}", if number == 1 { one } else { more });
    let parts = [
        (report.titles, plural(report.titles, "new title", "new titles")),
        (report.issues, plural(report.issues, "new issue", "new issues")),
        (report.printings, plural(report.printings, "new cover or printing", "new covers and printings")),
        (report.completed, format!("{} completed", report.completed)),
        (report.differing, format!("{} that differ", report.differing)),
        (report.failed, format!("{} left out", report.failed)),
    ];
    let parts: Vec<_> = parts.into_iter().filter(|(number, _)| *number > 0).map(|(_, words)| words).collect();
    let parts = if parts.is_empty() { "nothing new".to_owned() } else { parts.join(", ") };
    let end = match report.run {
        Some(run) => format!(" (run {run})"),
        None if arguments.dry_run => "; nothing was changed".to_owned(),
        None => String::new(),
    };
    ui.line(format_args!("{}: {parts}{end}", count(report.rows, "row")))?;
    Ok(())
}
