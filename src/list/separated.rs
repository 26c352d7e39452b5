//! Text with separated values: CSV, TSV, and what spreadsheets make of them.

use csv_core::{ReadFieldResult, Reader, ReaderBuilder};

use super::limits::{MOST_CELL_BYTES, MOST_COLUMNS};

/// Separators that are met with, by how often they are meant where several stand in the first line.
const SEPARATORS: [u8; 4] = *b"\t;,|";

/// A text's separator, and where the text begins: behind a first line `sep=;`, which spreadsheets write for each other. `skip`
/// rows stand above the columns' names.
pub(super) fn separator(text: &str, skip: usize) -> (u8, usize) {
    let first = text.lines().next().unwrap_or_default();
    if let Some(&[separator]) = first.trim_end().strip_prefix("sep=").map(str::as_bytes) {
        // The line stays as a blank one, so that lines keep their numbers.
        return (separator, first.len());
    }
    // The line of the columns' names: no text in it has more separators than there are columns.
    let line = text.lines().filter(|line| !line.trim().is_empty()).nth(skip).unwrap_or_default();
    let mut counts = SEPARATORS.map(|separator| (separator, outside_quotes(line, separator)));
    // Stable, so that of equally many the likelier stays first.
    counts.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
    (counts[0].0, 0)
}

fn outside_quotes(line: &str, separator: u8) -> usize {
    line.split('"').step_by(2).flat_map(str::bytes).filter(|&byte| byte == separator).count()
}

/// Gives each row that is not blank, with its line, to `each`, as long as that says so. Rows may have any number of cells up to
/// what a list has; a row beyond that is taken in no further than there.
pub(super) fn rows(text: &str, separator: u8, mut each: impl FnMut(usize, Result<Vec<String>, String>) -> bool) {
    let mut cells = Cells { reader: ReaderBuilder::new().delimiter(separator).build(), text: text.as_bytes(), at: 0 };
    let mut lines = Lines { text: text.as_bytes(), at: 0, line: 1 };
    loop {
        let begin = cells.at;
        let Some(row) = cells.row() else { return };
        if matches!(&row, Ok(cells) if cells.iter().all(String::is_empty)) {
            continue;
        }
        if !each(lines.of(begin), row) {
            return;
        }
    }
}

/// A text cell by cell.
struct Cells<'a> {
    reader: Reader,
    text: &'a [u8],
    at: usize,
}

impl Cells<'_> {
    /// The next row; `None` behind the last.
    fn row(&mut self) -> Option<Result<Vec<String>, String>> {
        let mut row = Ok(Vec::new());
        loop {
            let (cell, last) = self.cell()?;
            row = row.and_then(|mut cells: Vec<String>| {
                if cells.len() == MOST_COLUMNS {
                    return Err(format!("it has more than {MOST_COLUMNS} cells"));
                }
                cells.push(cell?);
                Ok(cells)
            });
            if last {
                return Some(row);
            }
        }
    }

    /// The next cell, and whether its row ends with it.
    fn cell(&mut self) -> Option<(Result<String, String>, bool)> {
        let mut cell = Vec::new();
        let mut is_long = false;
        let mut part = [0; 1024];
        loop {
            let (result, read, written) = self.reader.read_field(&self.text[self.at..], &mut part);
            self.at += read;
            is_long |= cell.len() + written > MOST_CELL_BYTES;
            if !is_long {
                cell.extend_from_slice(&part[..written]);
            }
            match result {
                // What is left is nothing, which tells the reader that the text ends here.
                ReadFieldResult::InputEmpty | ReadFieldResult::OutputFull => {}
                ReadFieldResult::End => return None,
                ReadFieldResult::Field { record_end } => {
                    let kib = MOST_CELL_BYTES / 1024;
                    let whole = match is_long {
                        true => Err(format!("a cell has more than {kib} KiB; is a quote not closed?")),
                        // Separators and quotes are ASCII, so no character is cut.
                        false => Ok(String::from_utf8_lossy(&cell).trim().to_owned()),
                    };
                    return Some((whole, record_end));
                }
            }
        }
    }
}

/// Counts lines up to where rows begin.
struct Lines<'a> {
    text: &'a [u8],
    at: usize,
    line: usize,
}

impl Lines<'_> {
    /// The line of the first character at or behind this byte, which lies behind all that were asked for.
    fn of(&mut self, begin: usize) -> usize {
        let breaks = self.text[begin..].iter().take_while(|byte| matches!(byte, b'\r' | b'\n')).count();
        let passed = &self.text[self.at..begin + breaks];
        let ends =
            |&(at, byte): &(usize, &u8)| *byte == b'\n' || (*byte == b'\r' && passed.get(at + 1) != Some(&b'\n'));
        self.line += passed.iter().enumerate().filter(ends).count();
        self.at = begin + breaks;
        self.line
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_separator_is_the_one_that_parts_the_columns() {
        for (text, expected) in [
            ("title,issue\nA, B;1", b','),
            ("title;price;pages\nA;3,99;32", b';'),
            ("title\tprice, if known", b'\t'),
            ("\"a, b, c\";d;e", b';'),
            ("title", b'\t'),
            ("title|issue", b'|'),
        ] {
            assert_eq!(separator(text, 0), (expected, 0), "{text}");
        }
        assert_eq!(separator("sep=|\r\na,b|c", 0), (b'|', "sep=|".len()));
        assert_eq!(separator("A, B, C\n\na;b", 1).0, b';');
    }

    #[test]
    fn rows_have_the_line_on_which_they_begin() {
        // RFC 4180, section 2: quotes, doubled quotes, line breaks within quotes.
        for end in ["\r\n", "\n", "\r"] {
            let mut lines = Vec::new();
            rows(&["a", "b", "", "\"c", "d\"", "e"].join(end), b',', |line, _| {
                lines.push(line);
                true
            });
            assert_eq!(lines, [1, 2, 4, 6], "{end:?}");
        }
        let text = "a,b\r\n\r\n\"x \"\"y\"\"\",\"two\nlines\"\n , \nlast,1,2\n";
        let mut found = Vec::new();
        rows(text, b',', |line, row| {
            found.push((line, row.unwrap()));
            true
        });
        let expected: [(usize, Vec<&str>); 3] =
            [(1, vec!["a", "b"]), (3, vec!["x \"y\"", "two\nlines"]), (6, vec!["last", "1", "2"])];
        assert_eq!(found, expected.map(|(line, cells)| (line, cells.into_iter().map(str::to_owned).collect())));
    }

    #[test]
    fn rows_without_end_are_cut_off() {
        let read = |text: &str| {
            let mut found = Vec::new();
            rows(text, b',', |line, row| {
                found.push((line, row));
                true
            });
            found
        };
        let wide = |cells: usize| format!("{}a\nb", "a,".repeat(cells - 1));
        assert_eq!(read(&wide(MOST_COLUMNS))[0].1.as_ref().map(Vec::len), Ok(MOST_COLUMNS));
        let found = read(&wide(MOST_COLUMNS + 1));
        assert_eq!(found[0], (1, Err("it has more than 1000 cells".to_owned())));
        assert_eq!(found[1], (2, Ok(vec!["b".to_owned()])));
        let long = |bytes: usize| format!("\"{}\",x\nb", "\n".repeat(bytes - 1) + "a");
        assert_eq!(read(&long(MOST_CELL_BYTES))[0].1, Ok(vec!["a".to_owned(), "x".to_owned()]));
        let found = read(&long(MOST_CELL_BYTES + 1));
        assert_eq!(found[0], (1, Err("a cell has more than 1024 KiB; is a quote not closed?".to_owned())));
        assert_eq!((found.len(), &found[1].1), (2, &Ok(vec!["b".to_owned()])));
    }
}
