//! Lists into the catalogue. What a list says completes what is known; what the collection says otherwise stays, unless the
//! list's is wanted. Nothing becomes owned.

mod outcome;
mod presets;
mod row;
mod titles;

pub use outcome::{Completed, Differs, ListReport, RowNew, RowOutcome};
pub use presets::{list_preset, list_presets, remove_list_preset};

use std::path::Path;

use jiff::Timestamp;

use super::WorkflowError;
use crate::list::{Choices, Mapping, Table, entry};
use crate::store::{RunKind, Store, Writer};
use row::Taking;

/// What to do with a list.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ListTaking {
    /// Whether the list's word counts where the collection says otherwise.
    pub replace: bool,
    /// Whether nothing is kept: only what would change is told.
    pub dry_run: bool,
    /// The name under which the choices are kept for further lists.
    pub save_as: Option<String>,
}

/// Takes a list into the catalogue, in one run. Each row is told as it is understood, before anything is kept for good.
///
/// # Errors
/// If the list can't be read, no column says the title, or the collection fails; then nothing is kept.
pub fn list_import(
    store: &Store,
    path: &Path,
    choices: &Choices,
    taking: &ListTaking,
    now: Timestamp,
    tell: &mut dyn FnMut(&RowOutcome),
) -> Result<ListReport, WorkflowError> {
    let mut table = Table::open(path, &choices.options())?;
    let mapping = Mapping::new(&choices.columns, table.columns())?;
    let unused = mapping.unused(table.columns()).into_iter().map(str::to_owned).collect();
    let mut report = ListReport { unused, ..ListReport::default() };
    let mut work = |writer: &Writer<'_>| take(writer, &mut table, &mapping, choices, taking, &mut report, tell);
    let mut run = None;
    if taking.dry_run {
        store.rehearse(RunKind::Catalogue, now, &mut work)?;
    } else {
        store.write(&mut run, RunKind::Catalogue, now, &mut work)?;
    }
    report.run = run;
    Ok(report)
}

fn take(
    writer: &Writer<'_>,
    table: &mut Table,
    mapping: &Mapping,
    choices: &Choices,
    taking: &ListTaking,
    report: &mut ListReport,
    tell: &mut dyn FnMut(&RowOutcome),
) -> Result<(), WorkflowError> {
    let columns = table.columns().to_vec();
    let mut takes = Taking::new(writer, taking.replace);
    table.rows(|row| {
        let outcome = match entry(&row, mapping, &columns, choices.spelling()) {
            Ok(entry) => takes.row(row.line, &entry, mapping, &columns)?,
            Err(problems) => RowOutcome { problems, ..RowOutcome::of_line(row.line) },
        };
        report.count(&outcome);
        tell(&outcome);
        Ok::<_, WorkflowError>(())
    })?;
    takes.keep_layouts()?;
    match taking.save_as.as_deref().map(str::trim) {
        Some("") => Err(WorkflowError::NoPresetName),
        Some(name) => Ok(writer.set_list_preset(name, choices)?),
        None => Ok(()),
    }
}
