//! A box gone through with a camera or a scanner: `import --audit`.

use std::io::stdin;
use std::num::NonZeroUsize;
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

use super::failure::{Failure, Outcome, one_line};
use super::lines::Lines;
use super::read::jobs;
use super::ui::{Tone, Ui};
use super::words::{count, issue_in_words, named};
use super::{Exit, Global};
use crate::code::{AddOnState, Certainty, Code};
use crate::filing::NamedCopy;
use crate::picture::Limits;
use crate::source::handheld::{ADD_ON_WAIT, Handheld};
use crate::source::{in_order, pictures, read_photo};
use crate::workflow::{self, Audit};

/// Compares what is seen in a box with what should stand in it. Nothing is imported.
pub(super) fn run(
    label: &str,
    paths: &[PathBuf],
    asked_jobs: Option<NonZeroUsize>,
    json: bool,
    global: &Global,
    ui: &mut Ui,
) -> Outcome {
    let store = global.existing_store()?;
    let (seen, mut exit) = match paths {
        [path] if path == Path::new("-") => scanned(global, ui)?,
        paths => photographed(paths, asked_jobs, ui),
    };
    let audit = workflow::audit(&store, label, &seen)?;
    if json {
        ui.json(&audit)?;
    } else {
        tell(&audit, ui)?;
    }
    if !(audit.missing.is_empty() && audit.misplaced.is_empty() && audit.unknown.is_empty()) {
        exit = exit.max(Exit::Partly);
    }
    Ok(exit)
}

fn photographed(paths: &[PathBuf], asked_jobs: Option<NonZeroUsize>, ui: &mut Ui) -> (Vec<Code>, Exit) {
    let (files, limits) = (pictures(paths), Limits::default());
    let (mut seen, mut exit) = (Vec::new(), Exit::Done);
    in_order(
        &files,
        jobs(asked_jobs),
        |file| match file {
            Ok(path) => {
                (path.display().to_string(), read_photo(path, &limits).outcome.map_err(|error| one_line(&error)))
            }
            Err(error) => (error.path().display().to_string(), Err(one_line(error))),
        },
        |(path, outcome)| {
            match outcome {
                Ok(symbols) => {
                    let sure = |code: &Code| code.add_on != AddOnState::Unread;
                    let codes = symbols.iter().filter(|s| s.certainty == Certainty::Sure).map(|s| s.code).filter(sure);
                    let before = seen.len();
                    seen.extend(codes);
                    if seen.len() - before < symbols.len().max(1) {
                        ui.note(format_args!("{path}: not every code was read for certain"));
                        exit = exit.max(Exit::Partly);
                    }
                }
                Err(error) => {
                    ui.complain("error", format_args!("{path}: {error}"));
                    exit = exit.max(Exit::Partly);
                }
            }
            ControlFlow::Continue(())
        },
    );
    (seen, exit)
}

fn scanned(global: &Global, ui: &mut Ui) -> Result<(Vec<Code>, Exit), Failure> {
    let mut scanner = Handheld::new(ADD_ON_WAIT);
    let (mut seen, mut exit) = (Vec::new(), Exit::Done);
    for line in Lines(stdin().lock()) {
        for heard in scanner.line(global.now(), &line?) {
            match heard {
                Ok(heard) => seen.push(heard.code),
                Err(error) => {
                    ui.complain("error", &error);
                    exit = Exit::Partly;
                }
            }
        }
    }
    seen.extend(scanner.finish().map(|heard| heard.code));
    Ok((seen, exit))
}

fn in_words(copy: &NamedCopy) -> String {
    format!("{}: {}", copy.copy, named(&copy.title, &issue_in_words(&copy.issue, &copy.cover, copy.printing)))
}

fn tell(audit: &Audit, ui: &mut Ui) -> Result<(), Failure> {
    for missing in &audit.missing {
        let word = ui.paint("missing", Tone::Bad);
        let code = if missing.has_code { "" } else { "; it has no code, look for it by hand" };
        ui.line(format_args!("{word}: {}, about {} mm from the front{code}", in_words(&missing.copy), missing.mm))?;
    }
    for misplaced in &audit.misplaced {
        let word = ui.paint("misplaced", Tone::Doubt);
        let belongs =
            misplaced.belongs_to.as_ref().map_or("belongs to no box yet".to_owned(), |to| format!("belongs to {to}"));
        ui.line(format_args!("{word}: {}, {belongs}", in_words(&misplaced.copy)))?;
    }
    for unknown in &audit.unknown {
        let word = ui.paint("unknown", Tone::Doubt);
        let add_on = unknown.add_on.map(|add_on| format!(" with add-on {add_on}")).unwrap_or_default();
        ui.line(format_args!("{word}: {}{add_on}, of which nothing is owned", unknown.code.printed()))?;
    }
    let right = count(audit.right, "copy");
    ui.line(format_args!(
        "{}: {right} as they should be, {} missing, {} misplaced, {} unknown",
        audit.label,
        audit.missing.len(),
        audit.misplaced.len(),
        audit.unknown.len()
    ))?;
    Ok(())
}
