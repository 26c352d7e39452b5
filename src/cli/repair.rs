use std::collections::BTreeMap;
use std::path::PathBuf;

use clap::Args;
use serde::Serialize;

use super::failure::{Failure, Outcome};
use super::ui::{Tone, Ui};
use super::words::count;
use super::{Exit, Global};
use crate::store::{Lost, TableSalvaged};
use crate::workflow::{self, Repaired};

/// Rows that are named one by one in words; JSON names all.
const MOST_ROWS: usize = 12;

/// Saves what can be read of a damaged collection into a new file
///
/// The damaged file is only read and stays as it is. What is saved is a whole collection; what could not be saved is listed, record
/// by record (DEVELOPERS.md tells what each is). End other commands before, and try a backup first: it holds everything up to its
/// day.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward repair collection.sqlite --to saved.sqlite")]
pub(super) struct Arguments {
    /// The damaged file [default: the collection's]
    file: Option<PathBuf>,
    /// The new file
    #[arg(long, value_name = "NEW")]
    to: PathBuf,
    /// One JSON object a line: one for each kind of record, then the whole
    #[arg(long)]
    json: bool,
}

/// What became of records in JSON; the fields are documented in the README and must stay.
#[derive(Debug, Serialize)]
struct KindLine<'a> {
    record: &'a str,
    saved: u64,
    in_part: Vec<InPart<'a>>,
    in_doubt: Vec<InDoubt<'a>>,
    lost: Vec<LostRows>,
    perhaps: Vec<Between>,
}

#[derive(Debug, Serialize)]
struct InPart<'a> {
    id: i64,
    without: &'a [String],
}

#[derive(Debug, Serialize)]
struct InDoubt<'a> {
    id: i64,
    field: &'a str,
}

#[derive(Debug, Serialize)]
struct LostRows {
    from: i64,
    to: i64,
    why: String,
}

#[derive(Debug, Serialize)]
struct Between {
    from: Option<i64>,
    to: Option<i64>,
}

#[derive(Debug, Serialize)]
struct SummaryLine {
    summary: Summary,
}

#[derive(Debug, Serialize)]
struct Summary {
    repaired: String,
    saved_in: String,
    titles: u32,
    copies: u32,
    saved: u64,
    in_part: usize,
    in_doubt: usize,
    lost: usize,
    unplaced: u64,
    undo_kept: bool,
    waiting_again: u64,
    to_file_again: u64,
    log_lost: bool,
    unreadable_bytes: u64,
}

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    let file = match &arguments.file {
        Some(file) => file.clone(),
        None => global.collection()?,
    };
    if !file.exists() {
        return Err(Failure::call(format!("there is no file {}", file.display())));
    }
    let repaired = workflow::repair(&file, &arguments.to).map_err(|error| {
        let failure = Failure::from(error);
        match failure.exit {
            Exit::Data => failure.hint("a backup may hold it: boxward backup list"),
            _ => failure,
        }
    })?;
    let tables = &repaired.salvaged.tables;
    let sum = |of: fn(&TableSalvaged) -> usize| tables.values().map(of).sum::<usize>();
    let summary = Summary {
        repaired: file.display().to_string(),
        saved_in: arguments.to.display().to_string(),
        titles: repaired.summary.titles,
        copies: repaired.summary.copies,
        saved: tables.values().map(|table| table.saved).sum(),
        in_part: sum(|table| table.in_part.len()),
        in_doubt: sum(|table| table.in_doubt.len()),
        lost: sum(|table| table.lost.len()),
        unplaced: repaired.salvaged.unplaced,
        undo_kept: repaired.salvaged.journal,
        waiting_again: repaired.salvaged.waiting_again,
        to_file_again: repaired.salvaged.to_file_again,
        log_lost: repaired.log_lost,
        unreadable_bytes: repaired.unreadable_bytes,
    };
    let whole = repaired.salvaged.whole() && !repaired.log_lost && repaired.unreadable_bytes == 0;
    if arguments.json {
        for (name, table) in tables {
            ui.json(&kind_line(name, table))?;
        }
        ui.json(&SummaryLine { summary })?;
    } else {
        let (gone, amiss): (Vec<_>, Vec<_>) =
            tables.iter().filter(|(_, table)| !table.whole()).partition(|(_, table)| gone(table));
        for (name, table) in amiss {
            tell_kind(name, table, ui)?;
        }
        if !gone.is_empty() {
            let names: Vec<&str> = gone.iter().map(|(name, _)| name.as_str()).collect();
            ui.line(format_args!("nothing could be read of, if there was anything: {}", names.join(", ")))?;
        }
        tell(&summary, &repaired, whole, ui)?;
    }
    Ok(if whole { Exit::Done } else { Exit::Partly })
}

/// Whether not even how many there were is known.
fn gone(table: &TableSalvaged) -> bool {
    table.saved == 0 && table.lost.is_empty() && table.perhaps == [(None, None)]
}

fn kind_line<'a>(name: &'a str, table: &'a TableSalvaged) -> KindLine<'a> {
    KindLine {
        record: name,
        saved: table.saved,
        in_part: table.in_part.iter().map(|(&id, without)| InPart { id, without }).collect(),
        in_doubt: table.in_doubt.iter().map(|(&id, field)| InDoubt { id, field }).collect(),
        lost: lost_rows(&table.lost),
        perhaps: table.perhaps.iter().map(|&(from, to)| Between { from, to }).collect(),
    }
}

/// Lost rows that follow on each other for the same reason, as one.
fn lost_rows(lost: &BTreeMap<i64, Lost>) -> Vec<LostRows> {
    let mut rows: Vec<LostRows> = Vec::new();
    for (&row, why) in lost {
        let why = reason(why);
        match rows.last_mut() {
            Some(last) if last.why == why && last.to + 1 == row => last.to = row,
            _ => rows.push(LostRows { from: row, to: row, why }),
        }
    }
    rows
}

fn reason(why: &Lost) -> String {
    match why {
        Lost::Unreadable => "can't be read".to_owned(),
        Lost::Column(column) => format!("its {column} can't be read"),
        Lost::Contradicts => "its values contradict each other".to_owned(),
        Lost::Twice => "another one has what only one may have".to_owned(),
        Lost::Refers { to, row } => format!("its {to} {row} is lost"),
    }
}

fn tell_kind(name: &str, table: &TableSalvaged, ui: &mut Ui) -> Result<(), Failure> {
    let mut parts = vec![format!("{} saved", table.saved)];
    let further = [(table.in_part.len(), "in part"), (table.in_doubt.len(), "in doubt"), (table.lost.len(), "lost")];
    parts.extend(further.iter().filter(|(n, _)| *n > 0).map(|(n, what)| format!("{n} {what}")));
    ui.line(format_args!("{name}: {}", parts.join(", ")))?;
    let lost = lost_rows(&table.lost);
    for rows in lost.iter().take(MOST_ROWS) {
        let which = if rows.from == rows.to { rows.from.to_string() } else { format!("{}-{}", rows.from, rows.to) };
        let word = ui.paint("lost", Tone::Bad);
        ui.line(format_args!("  {word}: {which}: {}", rows.why))?;
    }
    more(lost.len(), ui)?;
    for (row, columns) in table.in_part.iter().take(MOST_ROWS) {
        let word = ui.paint("in part", Tone::Doubt);
        ui.line(format_args!("  {word}: {row}: without {}", columns.join(", ")))?;
    }
    more(table.in_part.len(), ui)?;
    for (row, column) in table.in_doubt.iter().take(MOST_ROWS) {
        let word = ui.paint("in doubt", Tone::Doubt);
        ui.line(format_args!("  {word}: {row}: the file says two things of its {column}"))?;
    }
    more(table.in_doubt.len(), ui)?;
    for between in &table.perhaps {
        let between = match between {
            (Some(from), Some(to)) => format!("between {from} and {to}"),
            (Some(from), None) => format!("from {from} on"),
            (None, Some(to)) => format!("up to {to}"),
            (None, None) => "anywhere".to_owned(),
        };
        ui.line(format_args!("  others may have been there: {between}"))?;
    }
    Ok(())
}

fn more(rows: usize, ui: &mut Ui) -> Result<(), Failure> {
    if rows > MOST_ROWS {
        ui.line(format_args!("  and {} more; --json names all", rows - MOST_ROWS))?;
    }
    Ok(())
}

fn tell(summary: &Summary, repaired: &Repaired, whole: bool, ui: &mut Ui) -> Result<(), Failure> {
    let holds = format!("{}, {}", count(summary.titles, "title"), count(summary.copies, "copy"));
    let verdict = match whole {
        true => ui.paint("nothing is known to be lost", Tone::Good),
        false => format!(
            "{} saved, {} in part, {} in doubt, {} known to be lost",
            count(summary.saved, "record"),
            summary.in_part,
            summary.in_doubt,
            summary.lost
        ),
    };
    ui.line(format_args!("{}: {holds}; {verdict}", summary.saved_in))?;
    if summary.unplaced > 0 {
        let rows = count(summary.unplaced, "record");
        ui.line(format_args!("{rows} could be of several kinds and were left behind"))?;
    }
    if repaired.log_lost {
        ui.line(format_args!("what was written last, in {}-wal, can't be read", summary.repaired))?;
    }
    if summary.unreadable_bytes > 0 {
        ui.line(format_args!(
            "the disk did not give {} bytes: copy what is on it elsewhere soon",
            summary.unreadable_bytes
        ))?;
    }
    if !summary.undo_kept {
        ui.note("what was done before can't be undone any more: the journal is of use only as a whole");
    }
    if summary.waiting_again > 0 {
        let items = count(summary.waiting_again, "item");
        ui.note(format_args!("{items} whose copies are lost are in the queue again: boxward resolve"));
    }
    if summary.to_file_again > 0 {
        let copies = count(summary.to_file_again, "copy");
        ui.note(format_args!("{copies} whose boxes are lost are to be filed again: boxward file plan"));
    }
    ui.note(format_args!("look at it with --collection {}, then put it in the damaged one's place", summary.saved_in));
    Ok(())
}
