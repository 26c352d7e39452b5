//! Sheets of .xlsx workbooks.

use std::io::{Cursor, Read};
use std::path::Path;

use calamine::{DataRef, Reader, Xlsx};
use zip::ZipArchive;

use super::ListError;

/// What a workbook may unpack to: a sheet of a million rows does, a bomb does not.
const UNPACKED_LIMIT_MIB: u64 = 768;

/// Cells beyond these are a slip of the mouse, not a list.
const MOST_COLUMNS: u32 = 1000;

/// From here on a spreadsheet's numbers, which are 64-bit floats, no longer hold every digit.
const EXACT: f64 = 9_007_199_254_740_992.0;

pub(super) struct Sheet {
    workbook: Xlsx<Cursor<Vec<u8>>>,
    name: String,
}

impl Sheet {
    /// A workbook's sheet of this name, or its first.
    pub(super) fn open(path: &Path, bytes: Vec<u8>, name: Option<&str>) -> Result<Self, ListError> {
        unpacks_within(path, &bytes, UNPACKED_LIMIT_MIB)?;
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
                Ok(_) if column >= MOST_COLUMNS => {
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

/// Unpacks everything once into nothing: declared sizes may lie.
fn unpacks_within(path: &Path, bytes: &[u8], limit_mib: u64) -> Result<(), ListError> {
    let limit = limit_mib * 1024 * 1024;
    let mut archive = ZipArchive::new(Cursor::new(bytes)).map_err(|error| damaged(path, error))?;
    let mut unpacked = 0;
    for index in 0..archive.len() {
        let part = archive.by_index(index).map_err(|error| damaged(path, error))?;
        let mut left = part.take(limit + 1 - unpacked);
        unpacked += std::io::copy(&mut left, &mut std::io::sink()).map_err(|error| damaged(path, error))?;
        if unpacked > limit {
            let of = "when it is unpacked";
            return Err(ListError::TooLarge { path: path.to_owned(), of, limit_mib });
        }
    }
    Ok(())
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

#[cfg(test)]
mod tests {
    use std::io::Write;

    use zip::ZipWriter;
    use zip::write::SimpleFileOptions;

    use super::*;

    #[test]
    fn what_unpacks_to_too_much_is_refused() {
        let mut archive = ZipWriter::new(Cursor::new(Vec::new()));
        for name in ["one", "two"] {
            archive.start_file(name, SimpleFileOptions::default()).unwrap();
            archive.write_all(&vec![0; 700 * 1024]).unwrap();
        }
        let bytes = archive.finish().unwrap().into_inner();
        assert!(bytes.len() < 10_000);
        let unpacks = |limit_mib| unpacks_within(Path::new("bomb.xlsx"), &bytes, limit_mib);
        assert!(matches!(unpacks(1), Err(ListError::TooLarge { limit_mib: 1, .. })));
        assert!(unpacks(2).is_ok());
    }
}
