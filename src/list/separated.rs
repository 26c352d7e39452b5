//! Text with separated values: CSV, TSV, and what spreadsheets make of them.

use csv::{Reader, ReaderBuilder, StringRecord, Trim};

/// Separators that are met with, by how often they are meant where several stand in the first line.
const SEPARATORS: [u8; 4] = *b"\t;,|";

/// A text and its separator; a first line `sep=;`, which spreadsheets write for each other, says it. `skip` rows stand above
/// the columns' names.
pub(super) fn separator(text: &str, skip: usize) -> (u8, &str) {
    let first = text.lines().next().unwrap_or_default();
    if let Some(&[separator]) = first.trim_end().strip_prefix("sep=").map(str::as_bytes) {
        // The line stays as a blank one, so that lines keep their numbers.
        return (separator, &text[first.len()..]);
    }
    // The line of the columns' names: no text in it has more separators than there are columns.
    let line = text.lines().filter(|line| !line.trim().is_empty()).nth(skip).unwrap_or_default();
    let mut counts = SEPARATORS.map(|separator| (separator, outside_quotes(line, separator)));
    // Stable, so that of equally many the likelier stays first.
    counts.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
    (counts[0].0, text)
}

fn outside_quotes(line: &str, separator: u8) -> usize {
    line.split('"').step_by(2).flat_map(str::bytes).filter(|&byte| byte == separator).count()
}

/// Reads `text` row by row; rows may have any number of cells.
pub(super) fn reader(text: &str, separator: u8) -> Reader<&[u8]> {
    ReaderBuilder::new()
        .delimiter(separator)
        .has_headers(false)
        .flexible(true)
        .trim(Trim::All)
        .from_reader(text.as_bytes())
}

/// Gives each row that is not blank, with its line, to `each`, as long as that says so.
pub(super) fn rows(text: &str, separator: u8, mut each: impl FnMut(usize, Result<Vec<String>, String>) -> bool) {
    let mut reader = reader(text, separator);
    let mut record = StringRecord::new();
    let mut lines = Lines { text: text.as_bytes(), at: 0, line: 1 };
    loop {
        let begin = reader.position().byte();
        let row = match reader.read_record(&mut record) {
            Ok(false) => return,
            // A text in memory fails in no other way.
            Err(error) => Err(error.to_string()),
            Ok(true) if record.iter().all(str::is_empty) => continue,
            Ok(true) => Ok(record.iter().map(str::to_owned).collect()),
        };
        if !each(lines.of(begin), row) {
            return;
        }
    }
}

/// Counts lines up to where rows begin. csv's own count stands at the end of the row before, blank lines not counted.
struct Lines<'a> {
    text: &'a [u8],
    at: usize,
    line: usize,
}

impl Lines<'_> {
    /// The line of the first character at or behind this byte, which lies behind all that were asked for.
    fn of(&mut self, byte: u64) -> usize {
        let begin = usize::try_from(byte).unwrap_or(usize::MAX).min(self.text.len());
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
            assert_eq!(separator(text, 0), (expected, text), "{text}");
        }
        assert_eq!(separator("sep=|\r\na,b|c", 0), (b'|', "\r\na,b|c"));
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
}
