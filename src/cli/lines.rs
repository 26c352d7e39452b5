//! Lines of standard input. One without an end takes no memory: what comes through a pipe may be anybody's.

use std::io::{self, BufRead, Read};

/// Many times what a code has, or a word that is typed at a question.
const MOST_BYTES: u64 = 1000;

/// What stands in the place of all that a line has beyond that: no code has it, so that what is left is none.
const CUT: char = '…';

/// Whether more stood in this line.
pub(super) fn is_cut(line: &str) -> bool {
    line.ends_with(CUT)
}

/// The lines, without their ends. What is no text in UTF-8 is shown as such, and judged as a line like any other.
#[derive(Debug)]
pub(super) struct Lines<R>(pub(super) R);

impl<R: BufRead> Iterator for Lines<R> {
    type Item = io::Result<String>;

    fn next(&mut self) -> Option<Self::Item> {
        self.line().transpose()
    }
}

impl<R: BufRead> Lines<R> {
    fn line(&mut self) -> io::Result<Option<String>> {
        let mut bytes = Vec::new();
        if self.0.by_ref().take(MOST_BYTES).read_until(b'\n', &mut bytes)? == 0 {
            return Ok(None);
        }
        let is_cut = bytes.len() as u64 == MOST_BYTES && bytes.last() != Some(&b'\n') && self.0.skip_until(b'\n')? > 0;
        let mut line = String::from_utf8_lossy(&bytes).trim_end_matches(['\r', '\n']).to_owned();
        if is_cut {
            line.push(CUT);
        }
        Ok(Some(line))
    }
}

#[cfg(test)]
mod tests {
    use std::io::BufReader;

    use super::*;
    use crate::code::{TypedError, parse_typed};

    fn lines(input: &[u8]) -> Vec<String> {
        Lines(input).map(Result::unwrap).collect()
    }

    #[test]
    fn lines_come_as_they_are() {
        assert_eq!(lines(b""), [""; 0]);
        assert_eq!(lines(b"one\r\n\n two\nthree"), ["one", "", " two", "three"]);
        assert_eq!(lines(b"\xff1\n2\n"), ["\u{fffd}1", "2"]);
    }

    #[test]
    fn a_line_that_is_cut_is_no_code() {
        assert!(!is_cut("614141000418"));
        // What is left would be a code, if nothing told that more stood there.
        let long = [&b"614141000418"[..], &[b' '; 5000], b"9\n614141000418\n"].concat();
        let read = lines(&long);
        assert!(matches!(parse_typed(&read[0]), Err(TypedError::TooLong | TypedError::NotADigit('…'))), "{read:?}");
        assert!(is_cut(&read[0]) && !is_cut(&read[1]));
        assert_eq!(read[1..], ["614141000418"]);
    }

    #[test]
    fn a_line_without_an_end_takes_no_memory() {
        // 64 MiB, of which a thousand bytes are kept.
        let read: Vec<String> = Lines(BufReader::new(io::repeat(b'1').take(64 << 20))).map(Result::unwrap).collect();
        assert_eq!(read.len(), 1);
        assert!(read[0].capacity() < 3 * MOST_BYTES as usize, "{} bytes", read[0].capacity());
    }
}
