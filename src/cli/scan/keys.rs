//! What is typed while scanning: lines of a handheld scanner, and keys, which a terminal gives without Enter.

use std::io::{self, IsTerminal, Read};

use super::super::lines::Lines;

/// A key of the session.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Key {
    Undo,
    Drop,
    Pause,
    Next,
    End,
}

/// What was typed.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Typed {
    Line(String),
    Key(Key),
    /// What stands in the line so far, for the eyes.
    Sofar(String),
}

/// The keys, for the person at them.
pub(super) const HELP: &str = "keys: u undo last, d drop last, p pause, n next shop or price, q end";

const CTRL_C: char = '\x03';
const CTRL_D: char = '\x04';
const ESCAPE: char = '\x1b';

impl Key {
    fn of(c: char) -> Option<Self> {
        match c {
            'u' => Some(Self::Undo),
            'd' => Some(Self::Drop),
            'p' => Some(Self::Pause),
            'n' => Some(Self::Next),
            'q' => Some(Self::End),
            _ => None,
        }
    }

    /// A line that is nothing but a key.
    fn of_line(line: &str) -> Option<Self> {
        let mut signs = line.trim().chars();
        signs.next().filter(|_| signs.as_str().is_empty()).and_then(Self::of)
    }
}

/// A piece of the input: a line where lines come, a character where a terminal gives each.
#[derive(Debug)]
pub(super) enum Piece {
    Line(String),
    Char(char),
}

/// Makes lines and keys of pieces. No scanner's packet begins with a key's letter.
#[derive(Debug, Default)]
pub(super) struct Typing {
    line: String,
}

impl Typing {
    /// Takes a piece; `asking`: a person was asked for a line, so that its letters are no keys.
    pub(super) fn take(&mut self, piece: Piece, asking: bool) -> Typed {
        match piece {
            Piece::Line(line) => match Key::of_line(&line) {
                Some(key) if !asking => Typed::Key(key),
                _ => Typed::Line(line),
            },
            Piece::Char(c) => self.character(c, asking),
        }
    }

    fn character(&mut self, c: char, asking: bool) -> Typed {
        match c {
            CTRL_C | CTRL_D => return Typed::Key(Key::End),
            '\r' | '\n' => return Typed::Line(std::mem::take(&mut self.line)),
            ESCAPE => self.line.clear(),
            '\x08' | '\x7f' => drop(self.line.pop()),
            c => match Key::of(c) {
                Some(key) if self.line.is_empty() && !asking => return Typed::Key(key),
                // A group separator or a prefix of the scanner's is for the code's parser to judge.
                _ => self.line.push(c),
            },
        }
        Typed::Sofar(self.line.clone())
    }
}

/// Reads standard input to its end, or until nobody takes it. On a terminal keys need no Enter.
pub(super) fn read(mut give: impl FnMut(Piece) -> bool) -> io::Result<()> {
    let input = io::stdin().lock();
    if !io::stdin().is_terminal() || !raw::is_possible() {
        for line in Lines(input) {
            if !give(Piece::Line(line?)) {
                break;
            }
        }
        return Ok(());
    }
    let mut bytes = input.bytes();
    while let Some(c) = next_char(&mut bytes)? {
        if !give(Piece::Char(c)) {
            break;
        }
    }
    Ok(())
}

/// The next character; bytes that are none are passed over.
fn next_char(bytes: &mut impl Iterator<Item = io::Result<u8>>) -> io::Result<Option<char>> {
    let mut sofar = Vec::new();
    for byte in bytes {
        sofar.push(byte?);
        match std::str::from_utf8(&sofar) {
            Ok(text) => return Ok(text.chars().next()),
            Err(error) if error.error_len().is_some() => sofar.clear(),
            Err(_) => {}
        }
    }
    Ok(None)
}

pub(super) use raw::Raw;

#[cfg(unix)]
mod raw {
    use std::io;

    use rustix::termios::{LocalModes, OptionalActions, Termios, tcgetattr, tcsetattr};

    /// A terminal that gives each key as it is pressed and shows none; as it was before, when this is dropped.
    pub(in super::super) struct Raw(Termios);

    pub(super) fn is_possible() -> bool {
        true
    }

    impl Raw {
        /// `None` where standard input is no terminal.
        pub(in super::super) fn new() -> Option<Self> {
            let before = tcgetattr(io::stdin()).ok()?;
            let mut modes = before.clone();
            // Without signals, too: Ctrl-C ends the session, which then leaves the terminal as it was.
            modes.local_modes.remove(LocalModes::ICANON | LocalModes::ECHO | LocalModes::ISIG);
            tcsetattr(io::stdin(), OptionalActions::Now, &modes).ok()?;
            Some(Self(before))
        }
    }

    impl Drop for Raw {
        fn drop(&mut self) {
            // Nobody can be told.
            let _ = tcsetattr(io::stdin(), OptionalActions::Now, &self.0);
        }
    }
}

#[cfg(not(unix))]
mod raw {
    /// Elsewhere a key needs Enter.
    pub(in super::super) struct Raw;

    pub(super) fn is_possible() -> bool {
        false
    }

    impl Raw {
        pub(in super::super) fn new() -> Option<Self> {
            None
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn typed(text: &str, asking: bool) -> Vec<Typed> {
        let mut typing = Typing::default();
        let all = text.chars().map(|c| typing.take(Piece::Char(c), asking));
        all.filter(|typed| !matches!(typed, Typed::Sofar(_))).collect()
    }

    fn line(text: &str) -> Typed {
        Typed::Line(text.to_owned())
    }

    #[test]
    fn a_letter_alone_is_a_key_and_a_packet_is_a_line() {
        let expected = [Typed::Key(Key::Undo), line("614141000418"), Typed::Key(Key::Drop), line("]E00614141000418")];
        assert_eq!(typed("u614141000418\rd]E00614141000418\n", false), expected);
        assert_eq!(typed("12\x7f3\r", false), [line("13")]);
        assert_eq!(typed("12\x1bp", false), [Typed::Key(Key::Pause)]);
        assert_eq!(typed("1\x04", false), [Typed::Key(Key::End)]);
    }

    #[test]
    fn what_a_person_was_asked_for_holds_no_keys() {
        assert_eq!(typed("Queen Street, 1 USD\r", true), [line("Queen Street, 1 USD")]);
        assert_eq!(typed("\x03", true), [Typed::Key(Key::End)]);
    }

    #[test]
    fn lines_of_one_letter_are_keys() {
        let take = |text: &str, asking| Typing::default().take(Piece::Line(text.to_owned()), asking);
        assert_eq!(
            (take(" q\r", false), take("qq", false), take("", false)),
            (Typed::Key(Key::End), line("qq"), line(""))
        );
        assert_eq!(take("q", true), line("q"));
    }

    #[test]
    fn characters_come_out_of_bytes() {
        let mut bytes = b"\xc3\xa9\xff1".iter().map(|&b| Ok(b));
        let mut next = || next_char(&mut bytes).unwrap();
        assert_eq!((next(), next(), next()), (Some('é'), Some('1'), None));
    }
}
