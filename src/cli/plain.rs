//! Texts of strangers, as files' names and lists bring them, made harmless for a terminal: none moves the cursor, sets a
//! window's title, rings, turns the direction of writing or looks like a line of the program's own.

use std::borrow::Cow;
use std::io::{self, Write};

/// The only sequences that the program itself writes: SGR colours (ECMA-48, 8.3.117). At worst a text colours itself.
const COLOURS: [&str; 5] = ["\x1b[0m", "\x1b[1m", "\x1b[31m", "\x1b[32m", "\x1b[33m"];

/// Control characters (Unicode's category Cc; C1 works like an escape sequence in some terminals), line and paragraph
/// separators, and the formatting characters that turn the direction of what follows (Unicode Standard Annex 9, table 1;
/// CVE-2021-42574 shows the harm).
fn is_unruly(c: char) -> bool {
    c.is_control() || matches!(c, '\u{2028}' | '\u{2029}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// The text on one line, what is unruly in it written out, as `\n` or `\u{1b}`. Line ends before its first character stay:
/// they are blank lines. Colours stay where they are wanted.
pub(super) fn line(text: &str, coloured: bool) -> Cow<'_, str> {
    let begin = text.len() - text.trim_start_matches('\n').len();
    if !text[begin..].contains(is_unruly) {
        return Cow::Borrowed(text);
    }
    Cow::Owned(text[..begin].to_owned() + &escaped(&text[begin..], coloured))
}

/// A single word, whatever it begins with.
pub(super) fn word(text: &str) -> String {
    escaped(text, false)
}

fn escaped(mut rest: &str, coloured: bool) -> String {
    let mut plain = String::with_capacity(rest.len());
    while let Some(c) = rest.chars().next() {
        if coloured && let Some(colour) = COLOURS.iter().find(|colour| rest.starts_with(**colour)) {
            plain.push_str(colour);
            rest = &rest[colour.len()..];
            continue;
        }
        if is_unruly(c) {
            plain.extend(c.escape_default())
        } else {
            plain.push(c)
        }
        rest = &rest[c.len_utf8()..];
    }
    plain
}

/// JSON that means the same with nothing unruly in it. JSON's own rule leaves all but C0 as it is (RFC 8259, section 7).
pub(super) fn json(text: &str) -> Cow<'_, str> {
    if !text.contains(is_unruly) {
        return Cow::Borrowed(text);
    }
    let mut plain = String::with_capacity(text.len());
    for c in text.chars() {
        // Unruly characters stand within texts alone, and all of them lie in the basic plane.
        if is_unruly(c) { plain.push_str(&format!("\\u{:04x}", u32::from(c))) } else { plain.push(c) }
    }
    Cow::Owned(plain)
}

/// Lines of JSON on their way out, each as [`json`] has it.
pub(super) struct JsonLines<W> {
    out: W,
    line: Vec<u8>,
}

impl<W: Write> JsonLines<W> {
    pub(super) fn new(out: W) -> Self {
        Self { out, line: Vec::new() }
    }
}

impl<W: Write> Write for JsonLines<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        for part in bytes.split_inclusive(|&byte| byte == b'\n') {
            self.line.extend_from_slice(part);
            if part.ends_with(b"\n") {
                let line = std::mem::take(&mut self.line);
                let text = String::from_utf8_lossy(&line);
                self.out.write_all(json(text.trim_end_matches('\n')).as_bytes())?;
                self.out.write_all(b"\n")?;
            }
        }
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        self.out.flush()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_unruly_is_left() {
        for (text, shown) in [
            ("Tide Wardens 13, ½ – 夜の船", "Tide Wardens 13, ½ – 夜の船"),
            ("a\nowned: all", "a\\nowned: all"),
            ("a\r\tb\x07", "a\\r\\tb\\u{7}"),
            ("\x1b]0;title\x07\x1b[2J", "\\u{1b}]0;title\\u{7}\\u{1b}[2J"),
            ("\u{9b}2J\x7f", "\\u{9b}2J\\u{7f}"),
            ("exe.\u{202e}gpj", "exe.\\u{202e}gpj"),
            ("\n$ words", "\n$ words"),
        ] {
            assert_eq!(line(text, false), shown);
            assert_eq!(line(text, true), shown);
        }
        assert_eq!(line("\x1b[31mred\x1b[0m \x1b[5mno", true), "\x1b[31mred\x1b[0m \\u{1b}[5mno");
        assert_eq!(line("\x1b[31mred", false), "\\u{1b}[31mred");
    }

    #[test]
    fn lines_pass_however_they_are_cut() {
        let whole = "{\"a\":\"½\u{9b}\"}\n{\"b\":1}\n";
        for size in 1..whole.len() {
            let mut lines = JsonLines::new(Vec::new());
            whole.as_bytes().chunks(size).for_each(|part| lines.write_all(part).unwrap());
            assert_eq!(String::from_utf8(lines.out).unwrap(), "{\"a\":\"½\\u009b\"}\n{\"b\":1}\n", "{size}");
        }
    }

    #[test]
    fn json_means_the_same() {
        let text = "a\u{9b}2J\u{7f}\u{202e}\u{2028} ½\n\x1b";
        let written = serde_json::to_string(text).unwrap();
        assert!(written.contains('\u{9b}'), "or nothing is tested");
        let plain = json(&written);
        assert!(!plain.contains(is_unruly));
        assert_eq!(serde_json::from_str::<String>(&plain).unwrap(), text);
    }
}
