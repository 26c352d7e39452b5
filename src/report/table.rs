//! Tables as CSV, for any program that takes them. Source: RFC 4180; the program that opens it may be a spreadsheet.

use std::borrow::Cow;

/// One record of a table, its line's end included.
#[must_use]
pub fn csv_line<'a>(cells: impl IntoIterator<Item = Cow<'a, str>>) -> Vec<u8> {
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
    for cell in cells {
        // A record of one length in memory can't fail.
        let _ = writer.write_field(guarded(&cell).as_bytes());
    }
    let _ = writer.write_record(None::<&[u8]>);
    writer.into_inner().unwrap_or_default()
}

/// A text that a spreadsheet would take for a formula, behind an apostrophe; a number stays one.
///
/// Source: OWASP, 'CSV Injection', and Application Security Verification Standard 5.0, 1.2.10.
fn guarded(cell: &str) -> Cow<'_, str> {
    let risky = cell.starts_with(['=', '+', '-', '@', '\t', '\r', '\n', '\0', '＝', '＋', '－', '＠']);
    let number = cell.strip_prefix('-').unwrap_or(cell);
    let is_number = number.starts_with(|c: char| c.is_ascii_digit())
        && number.bytes().all(|c| c.is_ascii_digit() || c == b'.')
        && number.matches('.').count() <= 1;
    if risky && !is_number { Cow::Owned(format!("'{cell}")) } else { Cow::Borrowed(cell) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(cells: &[&str]) -> String {
        String::from_utf8(csv_line(cells.iter().map(|cell| Cow::Borrowed(*cell)))).unwrap()
    }

    #[test]
    fn cells_are_quoted_as_the_standard_says() {
        // RFC 4180, 2.5 to 2.7.
        assert_eq!(line(&["aaa", "b,b", "c\"c", "d\r\nd", ""]), "aaa,\"b,b\",\"c\"\"c\",\"d\r\nd\",\r\n");
        assert_eq!(line(&[""]), "\"\"\r\n");
    }

    #[test]
    fn no_cell_is_a_formula() {
        for cell in [
            "=1+2\";=1+2",
            "=cmd|'/c calc'!A1",
            "@SUM(1)",
            "+1+1",
            "-1+1",
            "-2+3+cmd",
            "\t=1",
            "\r=1",
            "\0=1",
            "-",
            "-1.2.3",
            "＝1",
        ] {
            assert_eq!(guarded(cell), format!("'{cell}"), "{cell:?}");
        }
        for cell in ["", "Tide Wardens", "-1", "-0.5", "12", "1=2", "a-b", " =1"] {
            assert_eq!(guarded(cell), cell);
        }
    }
}
