//! Sheets of .xlsx workbooks.

use std::io::Cursor;
use std::path::Path;

use calamine::{DataRef, Reader, Xlsx};

use super::limits::MOST_COLUMNS;
use super::{ListError, parts};

/// From here on a spreadsheet's numbers, which are 64-bit floats, no longer hold every digit.
const EXACT: f64 = 9_007_199_254_740_992.0;

pub(super) struct Sheet {
    workbook: Xlsx<Cursor<Vec<u8>>>,
    name: String,
}

impl Sheet {
    /// A workbook's sheet of this name, or its first.
    pub(super) fn open(path: &Path, bytes: Vec<u8>, name: Option<&str>) -> Result<Self, ListError> {
        parts::check(path, &bytes)?;
        let workbook: Xlsx<_> = Xlsx::new(Cursor::new(bytes)).map_err(|error| damaged(path, error))?;
        let sheets = workbook.sheet_names();
        let found = match name {
            None => sheets.first(),
            Some(name) => sheets.iter().find(|sheet| sheet.trim().eq_ignore_ascii_case(name.trim())),
        };
        match found {
            Some(found) => Ok(Self { name: found.clone(), workbook }),
            None if sheets.is_empty() => Err(ListError::Empty { path: path.to_owned() }),
            None => {
                let sheet = name.unwrap_or_default().to_owned();
                Err(ListError::NoSheet { path: path.to_owned(), sheet, sheets })
            }
        }
    }

    /// Gives each row that is not blank, with its number, to `each`, as long as that says so.
    ///
    /// Cell by cell, never as a whole area: two cells far apart would make a small file a large one.
    pub(super) fn rows(
        &mut self,
        path: &Path,
        mut each: impl FnMut(usize, Result<Vec<String>, String>) -> bool,
    ) -> Result<(), ListError> {
        let mut cells = self.workbook.worksheet_cells_reader(&self.name).map_err(|error| damaged(path, error))?;
        let mut row: (u32, Result<Vec<String>, String>) = (0, Ok(Vec::new()));
        while let Some(cell) = cells.next_cell().map_err(|error| damaged(path, error))? {
            let (number, column) = cell.get_position();
            if number != row.0 {
                let (done, whole) = std::mem::replace(&mut row, (number, Ok(Vec::new())));
                if !is_blank(&whole) && !each(done as usize + 1, whole) {
                    return Ok(());
                }
            }
            match written(cell.get_value()) {
                Ok(text) if text.is_empty() => {}
                Ok(_) if column as usize >= MOST_COLUMNS => {
                    row.1 = Err(format!("a cell stands in column {}; at most {MOST_COLUMNS} are read", column + 1));
                }
                Ok(text) => {
                    if let Ok(cells) = &mut row.1 {
                        let column = column as usize;
                        cells.resize(cells.len().max(column + 1), String::new());
                        cells[column] = text;
                    }
                }
                Err(problem) => row.1 = row.1.and(Err(problem)),
            }
        }
        if !is_blank(&row.1) {
            each(row.0 as usize + 1, row.1);
        }
        Ok(())
    }
}

fn is_blank(row: &Result<Vec<String>, String>) -> bool {
    matches!(row, Ok(cells) if cells.iter().all(String::is_empty))
}

fn damaged(path: &Path, error: impl std::error::Error + Send + Sync + 'static) -> ListError {
    ListError::Workbook { path: path.to_owned(), source: Box::new(error) }
}

/// A cell as it would stand in a text.
fn written(value: &DataRef<'_>) -> Result<String, String> {
    Ok(match value {
        DataRef::Empty => String::new(),
        DataRef::Int(number) => number.to_string(),
        DataRef::Float(number) if number.abs() >= EXACT => {
            let problem = "a number too long for a spreadsheet, whose last digits are lost; format codes as text";
            return Err(format!("{number:.0}: {problem}"));
        }
        DataRef::Float(number) => number.to_string(),
        DataRef::String(text) => text.trim().to_owned(),
        DataRef::SharedString(text) => text.trim().to_owned(),
        DataRef::Bool(yes) => yes.to_string(),
        DataRef::DateTime(time) => {
            let (year, month, day, ..) = time.to_ymd_hms_milli();
            format!("{year:04}-{month:02}-{day:02}")
        }
        DataRef::DateTimeIso(text) | DataRef::DurationIso(text) => text.trim().to_owned(),
        DataRef::Error(error) => return Err(format!("a cell holds the error {error}")),
    })
}
