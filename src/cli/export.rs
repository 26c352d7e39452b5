use std::fs::File;
use std::io::{self, BufReader};
use std::path::{Path, PathBuf};

use clap::Args;
use serde::Serialize;

use super::failure::{Failure, Outcome};
use super::plain::JsonLines;
use super::ui::Ui;
use super::words::count;
use super::{Exit, Global};
use crate::workflow::{export_to, import_data};

/// Writes the whole record as lines of JSON, for other programs and other times
///
/// One line a record; DEVELOPERS.md tells what each holds. boxward import --collection-data reads it back into an empty
/// collection. The journal of undo stays behind: what came with an export is not taken back run by run.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward export comics.jsonl")]
pub(super) struct Arguments {
    /// The new file [default: standard output]
    file: Option<PathBuf>,
    /// What was written as a JSON object
    #[arg(long, requires = "file")]
    json: bool,
}

/// A whole record in JSON; the fields are documented in the README and must stay.
#[derive(Debug, Serialize)]
struct RecordLine {
    collection_data: String,
    records: u64,
}

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    let store = global.existing_store()?;
    let Some(file) = arguments.file.as_deref().filter(|file| *file != Path::new("-")) else {
        let records = store.export(&mut JsonLines::new(io::BufWriter::new(io::stdout().lock())))?;
        ui.note(count(records, "record"));
        return Ok(Exit::Done);
    };
    tell(file, export_to(&store, file)?, "in", arguments.json, ui)
}

/// `import --collection-data`.
pub(super) fn read_back(file: &Path, json: bool, global: &Global, ui: &mut Ui) -> Outcome {
    global.make_folder()?;
    let collection = global.collection()?;
    let records = if file == Path::new("-") {
        import_data(&collection, &mut io::stdin().lock())?
    } else {
        let input = File::open(file).map_err(|error| {
            let mut failure = Failure::new(Exit::Machine, &error);
            failure.messages.insert(0, format!("{} can't be read", file.display()));
            failure
        })?;
        import_data(&collection, &mut BufReader::new(input))?
    };
    tell(file, records, "read from", json, ui)
}

fn tell(file: &Path, records: u64, where_: &str, json: bool, ui: &mut Ui) -> Outcome {
    let file = file.display().to_string();
    if json {
        ui.json(&RecordLine { collection_data: file, records })?;
    } else {
        let records = count(records, "record");
        ui.line(format_args!("{records} {where_} {file}"))?;
    }
    Ok(Exit::Done)
}
