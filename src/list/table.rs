//! A list as rows under named columns, whatever its form.

use std::collections::HashSet;
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

use serde::de::IgnoredAny;
use serde_json::{Map, Value};

use super::limits::{FILE_MIB, MOST_CELL_BYTES, MOST_COLUMNS, bytes as bytes_of};
use super::{ListError, separated, sheet::Sheet, text};

/// How to read a list.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ListOptions {
    /// Which sheet of a workbook; the first if none is named.
    pub sheet: Option<String>,
    /// How many rows stand above the columns' names.
    pub skip: usize,
    /// Whether there is no row of names: columns are called 1, 2, 3 then.
    pub unnamed: bool,
}

/// A list.
pub struct Table {
    path: PathBuf,
    content: Content,
    columns: Vec<String>,
    /// Rows before the first that is data.
    above: usize,
}

enum Content {
    Separated(String, u8),
    Json(String),
    Workbook(Box<Sheet>),
}

/// A row of a list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row {
    /// The line or row on which it begins, from 1.
    pub line: usize,
    /// Its cells under the table's columns; or why it has none.
    pub cells: Result<Vec<String>, String>,
}

impl Table {
    /// Opens a list and reads its columns' names.
    ///
    /// # Errors
    /// If the file can't be read, is too large, or is no list.
    pub fn open(path: &Path, options: &ListOptions) -> Result<Self, ListError> {
        let content = content(path, options)?;
        let mut table = Self { path: path.to_owned(), content, columns: Vec::new(), above: options.skip };
        if let Content::Json(text) = &table.content {
            table.columns = keys(text).ok_or_else(|| ListError::Columns {
                path: path.to_owned(),
                problem: format!("there are more than {MOST_COLUMNS} fields"),
            })?;
            table.above = 0;
        } else {
            let mut first = None;
            let mut above = options.skip;
            table.each(|_, row| {
                let found = above == 0;
                above = above.saturating_sub(1);
                if found {
                    first = Some(row);
                }
                !found
            })?;
            let columns = |problem| ListError::Columns { path: path.to_owned(), problem };
            let first = first.transpose().map_err(columns)?.unwrap_or_default();
            table.columns = match options.unnamed {
                true => (1..=first.len()).map(|number| number.to_string()).collect(),
                false => first,
            };
            table.above += usize::from(!options.unnamed);
        }
        if table.columns.is_empty() {
            return Err(ListError::Empty { path: path.to_owned() });
        }
        Ok(table)
    }

    /// The columns' names.
    #[must_use]
    pub fn columns(&self) -> &[String] {
        &self.columns
    }

    /// Gives each row to `each`, in order, until that fails.
    ///
    /// # Errors
    /// As `each`, or if the list breaks off.
    pub fn rows<E: From<ListError>>(&mut self, mut each: impl FnMut(Row) -> Result<(), E>) -> Result<(), E> {
        let (mut above, columns) = (self.above, self.columns.len());
        let mut outcome = Ok(());
        self.each(|line, cells| {
            if above > 0 {
                above -= 1;
                return true;
            }
            let cells = cells.and_then(|mut cells| match cells.len() {
                // Cells without a column that are blank say nothing.
                more if more > columns && cells[columns..].iter().any(|cell| !cell.is_empty()) => {
                    Err(format!("it has {more} cells, but there are {columns} columns; is a text with a separator in it not in quotes?"))
                }
                _ => {
                    cells.resize(columns, String::new());
                    Ok(cells)
                }
            });
            outcome = each(Row { line, cells });
            outcome.is_ok()
        })?;
        outcome
    }

    fn each(&mut self, mut each: impl FnMut(usize, Result<Vec<String>, String>) -> bool) -> Result<(), ListError> {
        match &mut self.content {
            Content::Separated(text, separator) => separated::rows(text, *separator, each),
            Content::Workbook(sheet) => sheet.rows(&self.path, each)?,
            Content::Json(text) => {
                for (at, line) in text.lines().enumerate().filter(|(_, line)| !line.trim().is_empty()) {
                    if !each(at + 1, json_cells(line, &self.columns)) {
                        break;
                    }
                }
            }
        }
        Ok(())
    }
}

fn content(path: &Path, options: &ListOptions) -> Result<Content, ListError> {
    let unreadable = |source| ListError::Unreadable { path: path.to_owned(), source };
    let too_large = |of| ListError::TooLarge { path: path.to_owned(), of, limit_mib: FILE_MIB };
    let mut bytes = Vec::new();
    let limit = bytes_of(FILE_MIB);
    File::open(path).map_err(unreadable)?.take(limit as u64 + 1).read_to_end(&mut bytes).map_err(unreadable)?;
    if bytes.len() > limit {
        return Err(too_large("in all"));
    }
    // Every zip archive begins with its first part's header (PKWARE's APPNOTE.TXT, 4.3.7), every old binary workbook with the
    // compound file's signature ([MS-CFB], 2.2).
    if bytes.starts_with(b"PK\x03\x04") {
        return Ok(Content::Workbook(Box::new(Sheet::open(path, bytes, options.sheet.as_deref())?)));
    }
    if options.sheet.is_some() {
        return Err(ListError::NotAWorkbook { path: path.to_owned() });
    }
    let form = |what| ListError::Form { path: path.to_owned(), what };
    if bytes.starts_with(b"\xd0\xcf\x11\xe0") {
        return Err(form("a workbook of an older kind"));
    }
    let mut text = text::decoded(&bytes).ok_or_else(|| form("no text and no workbook"))?;
    drop(bytes);
    if text.len() > limit {
        return Err(too_large("as UTF-8"));
    }
    match text.trim_start().chars().next() {
        Some('{') => Ok(Content::Json(text)),
        Some('[') if serde_json::from_str::<IgnoredAny>(&text).is_ok() => {
            Err(form("one JSON array, where JSON lines have one object a line"))
        }
        _ => {
            let (separator, begin) = separated::separator(&text, options.skip);
            text.drain(..begin);
            Ok(Content::Separated(text, separator))
        }
    }
}

/// The names of all objects' fields, in the order in which they first come; `None` if there are too many.
fn keys(text: &str) -> Option<Vec<String>> {
    let mut keys: Vec<String> = Vec::new();
    let mut seen: HashSet<String> = HashSet::new();
    for line in text.lines() {
        for key in object(line).unwrap_or_default().into_iter().map(|(key, _)| key) {
            if !seen.contains(&key) {
                seen.insert(key.clone());
                keys.push(key);
            }
        }
        if keys.len() > MOST_COLUMNS {
            return None;
        }
    }
    Some(keys)
}

/// A line's object, if the line is short enough to be one of a list.
fn object(line: &str) -> Result<Map<String, Value>, String> {
    if line.len() > MOST_CELL_BYTES {
        return Err(format!("the line has more than {} KiB", MOST_CELL_BYTES / 1024));
    }
    serde_json::from_str(line).map_err(|error| format!("this is no JSON object: {error}"))
}

fn json_cells(line: &str, columns: &[String]) -> Result<Vec<String>, String> {
    let object = object(line)?;
    columns
        .iter()
        .map(|column| match object.get(column) {
            None | Some(Value::Null) => Ok(String::new()),
            Some(Value::String(text)) => Ok(text.trim().to_owned()),
            Some(value @ (Value::Number(_) | Value::Bool(_))) => Ok(value.to_string()),
            Some(Value::Array(_) | Value::Object(_)) => Err(format!("'{column}' is no single value")),
        })
        .collect()
}
