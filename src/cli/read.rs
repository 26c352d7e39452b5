use std::io;
use std::num::NonZeroUsize;
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

use clap::Args;
use serde::Serialize;

use super::failure::{Failure, Outcome, one_line};
use super::ui::{Tone, Ui};
use super::words::{ReadSymbol, symbol_in_words, tenth};
use super::{Exit, explain, page_file};
use crate::picture::Limits;
use crate::source::{FolderError, PhotoReading, explain_photo, in_order, pictures, read_photo};

/// Reads the bar codes in photos, and touches no collection
///
/// Folders are searched at all levels. Results come in the order given. A file that is no picture is reported, and the
/// others are read all the same.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward read photos/ cover.jpg --json\n  \
                        boxward read cover.jpg --explain cover.html")]
pub(super) struct Arguments {
    /// Photos, and folders of photos
    #[arg(required = true, value_name = "PHOTO")]
    photos: Vec<PathBuf>,
    /// Shows what the reader saw in one photo, as a page for the browser
    #[arg(long, value_name = "OUT.html")]
    explain: Option<PathBuf>,
    /// One JSON object a line, one line a file
    #[arg(long)]
    json: bool,
    /// How many photos are read at once [default: one a core]
    #[arg(long, value_name = "N")]
    jobs: Option<NonZeroUsize>,
}

/// One file's line in JSON; its fields are documented in the README and must stay.
#[derive(Debug, Serialize)]
struct FileLine {
    path: String,
    symbols: Vec<ReadSymbol>,
    error: Option<String>,
    ms: Ms,
}

#[derive(Debug, Default, Serialize)]
struct Ms {
    load: f64,
    read: f64,
}

impl FileLine {
    fn new(reading: Result<PhotoReading, &FolderError>) -> Self {
        match reading {
            Ok(PhotoReading { path, outcome, load_ms, read_ms }) => {
                let path = path.to_string_lossy().into_owned();
                let ms = Ms { load: tenth(load_ms), read: tenth(read_ms) };
                match outcome {
                    Ok(read) => Self { path, symbols: read.iter().map(ReadSymbol::new).collect(), error: None, ms },
                    Err(error) => Self { path, symbols: Vec::new(), error: Some(one_line(&error)), ms },
                }
            }
            Err(error) => Self {
                path: error.path().to_string_lossy().into_owned(),
                symbols: Vec::new(),
                error: Some(one_line(error)),
                ms: Ms::default(),
            },
        }
    }
}

#[derive(Debug, Default)]
struct Counts {
    read: usize,
    in_part: usize,
    without: usize,
    failed: usize,
}

pub(super) fn run(arguments: &Arguments, ui: &mut Ui) -> Outcome {
    let files = pictures(&arguments.photos);
    let explained = match &arguments.explain {
        Some(out) => Some((out, one_photo(&files)?)),
        None => None,
    };
    if let Some((out, _)) = explained {
        page_file::may_be_written(out)?;
    }
    let limits = Limits::default();
    let mut counts = Counts::default();
    let mut printed: io::Result<()> = Ok(());
    in_order(
        &files,
        jobs(arguments.jobs),
        |file| FileLine::new(file.as_ref().map(|path| read_photo(path, &limits))),
        |line| {
            match (&line.error, line.symbols.is_empty()) {
                (Some(_), _) => counts.failed += 1,
                (None, true) => counts.without += 1,
                (None, false) if line.symbols.iter().all(ReadSymbol::is_certain) => counts.read += 1,
                (None, false) => counts.in_part += 1,
            }
            printed = if arguments.json { ui.json(&line) } else { tell(&line, ui) };
            if printed.is_ok() { ControlFlow::Continue(()) } else { ControlFlow::Break(()) }
        },
    );
    printed.map_err(Failure::from)?;
    let Counts { read, in_part, without, failed } = counts;
    if let Some((out, photo)) = explained
        && failed == 0
    {
        write_page(photo, &limits, out)?;
        ui.note(format_args!("what the reader saw is in {}", out.display()));
    }
    if files.len() > 1 && !arguments.json {
        let all = files.len();
        ui.note(format_args!("{all} files: {read} read, {in_part} in part, {without} without a code, {failed} failed"));
    }
    Ok(if failed == files.len() {
        Exit::Data
    } else if read == files.len() {
        Exit::Done
    } else {
        Exit::Partly
    })
}

/// The only photo, which can be explained.
fn one_photo(files: &[Result<PathBuf, FolderError>]) -> Result<&Path, Failure> {
    match files {
        [Ok(photo)] => Ok(photo),
        [Err(error)] => Err(Failure::data(one_line(error))),
        _ => Err(Failure::call(format!("--explain shows one photo, and {} were named", files.len()))
            .hint("name the photo: boxward read PHOTO --explain OUT.html")),
    }
}

fn write_page(photo: &Path, limits: &Limits, out: &Path) -> Result<(), Failure> {
    let (picture, explanation) = explain_photo(photo, limits).map_err(|error| Failure::new(Exit::Data, &error))?;
    let name = photo.file_name().unwrap_or_default().to_string_lossy();
    let page = explain::page(&name, &picture, &explanation).map_err(|error| Failure::new(Exit::Machine, &error))?;
    page_file::write(out, &page)
}

fn tell(line: &FileLine, ui: &mut Ui) -> io::Result<()> {
    let path = &line.path;
    if let Some(error) = &line.error {
        // Errors of the machine name the file themselves.
        if error.starts_with(path.as_str()) {
            ui.complain("error", error);
        } else {
            ui.complain("error", format_args!("{path}: {error}"));
        }
        return Ok(());
    }
    if line.symbols.is_empty() {
        let nothing = ui.paint("no code read", Tone::Doubt);
        return ui.line(format_args!("{path}: {nothing}"));
    }
    for symbol in &line.symbols {
        let words = symbol_in_words(symbol, ui);
        ui.line(format_args!("{path}: {words}"))?;
    }
    Ok(())
}

/// As many as asked for, or one a core.
pub(super) fn jobs(asked: Option<NonZeroUsize>) -> NonZeroUsize {
    asked.or_else(|| std::thread::available_parallelism().ok()).unwrap_or(NonZeroUsize::MIN)
}
