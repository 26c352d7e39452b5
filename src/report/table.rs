//! Tables as CSV, for any program that takes them. Source: RFC 4180; the program that opens it may be a spreadsheet.

use std::borrow::Cow;

/// One record of a table, its line's end included.
#[must_use]
pub fn csv_line<'a>(cells: impl IntoIterator<Item = Cow<'a, str>>) -> Vec<u8> {
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
    for cell in cells {
        // A record of one length in memory can't fail.
        let _ = writer.write_field(visible(&guarded(&cell)).as_bytes());
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

/// A text without control characters, which are no part of it and do harm in terminals and to readers of text; lines stay.
fn visible(cell: &str) -> Cow<'_, str> {
    let unruly = |c: char| c.is_control() && c != '\n';
    if !cell.contains(unruly) {
        return Cow::Borrowed(cell);
    }
    Cow::Owned(cell.replace("\r\n", "\n").replace(unruly, "\u{fffd}"))
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
        assert_eq!(line(&["aaa", "b,b", "c\"c", "d\nd", ""]), "aaa,\"b,b\",\"c\"\"c\",\"d\nd\",\r\n");
        assert_eq!(line(&[""]), "\"\"\r\n");
    }

    #[test]
    fn control_characters_are_shown_as_what_they_are() {
        assert_eq!(line(&["a\x1b[2J\u{9b}b", "a\r\nb", "a\0"]), "a\u{fffd}[2J\u{fffd}b,\"a\nb\",a\u{fffd}\r\n");
        // A formula stays guarded: what is shown begins with the apostrophe.
        assert_eq!(line(&["\r=1", "\t=1"]), "'\u{fffd}=1,'\u{fffd}=1\r\n");
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
