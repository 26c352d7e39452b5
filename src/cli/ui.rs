//! The terminal: where answers and notes go, in which colours, how loudly.

use std::fmt;
use std::io::{self, IsTerminal, Write};

use serde::Serialize;

use super::plain;
pub(super) use crate::workflow::words::Tone;

/// The program's two outputs.
pub(super) struct Ui {
    out: Box<dyn Write>,
    err: Box<dyn Write>,
    out_colour: bool,
    err_colour: bool,
    quiet: bool,
}

impl Ui {
    pub(super) fn new(quiet: bool) -> Self {
        let wanted = std::env::var_os("NO_COLOR").is_none_or(|v| v.is_empty())
            && std::env::var_os("TERM").is_none_or(|v| v != "dumb");
        Self {
            out_colour: wanted && io::stdout().is_terminal(),
            err_colour: wanted && io::stderr().is_terminal(),
            // Each line leaves at once: whoever reads along may rely on what was reported as done.
            out: Box::new(io::stdout()),
            err: Box::new(io::stderr()),
            quiet,
        }
    }

    /// The answer, on one line: always printed.
    pub(super) fn line(&mut self, text: impl fmt::Display) -> io::Result<()> {
        writeln!(self.out, "{}", plain::line(&text.to_string(), self.out_colour))
    }

    /// Without a line's end, for prompts.
    pub(super) fn text(&mut self, text: impl fmt::Display) -> io::Result<()> {
        write!(self.out, "{}", plain::line(&text.to_string(), self.out_colour))?;
        self.out.flush()
    }

    /// One JSON object on one line.
    pub(super) fn json(&mut self, value: &impl Serialize) -> io::Result<()> {
        // At once, so that lines of several programs don't mix.
        self.out.write_all(format!("{}\n", plain::json(&serde_json::to_string(value)?)).as_bytes())
    }

    pub(super) fn bytes(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.out.write_all(bytes)
    }

    /// Something beside the answer; nothing with `--quiet`.
    pub(super) fn note(&mut self, text: impl fmt::Display) {
        if !self.quiet {
            // Nobody can be told that standard error is gone.
            let _ = writeln!(self.err, "{}", plain::line(&text.to_string(), self.err_colour));
        }
    }

    /// A thing that went wrong: printed also with `--quiet`.
    pub(super) fn complain(&mut self, word: &str, text: impl fmt::Display) {
        let word = painted(word, Tone::Bad, self.err_colour);
        let _ = writeln!(self.err, "{word}: {}", plain::line(&text.to_string(), self.err_colour));
    }

    /// Whether a bar on standard error is seen and wanted.
    pub(super) fn shows_progress(&self) -> bool {
        !self.quiet && io::stderr().is_terminal()
    }

    /// Whether the answer is coloured.
    pub(super) fn is_coloured(&self) -> bool {
        self.out_colour
    }

    /// Rings the terminal's bell, so often that ears tell what it says.
    pub(super) fn ring(&self, tone: Tone) {
        if !self.shows_progress() {
            return;
        }
        let times = match tone {
            Tone::Good | Tone::Strong => 1,
            Tone::Doubt => 2,
            Tone::Bad => 3,
        };
        // Rung apart, because terminals take bells at once for one; and on the side, because the next book comes.
        std::thread::spawn(move || {
            for _ in 0..times {
                let _ = io::stderr().write_all(b"\x07");
                std::thread::sleep(std::time::Duration::from_millis(180));
            }
        });
    }

    /// `text` for the answer, in the colour of `tone`.
    pub(super) fn paint(&self, text: &str, tone: Tone) -> String {
        painted(text, tone, self.out_colour)
    }
}

fn painted(text: &str, tone: Tone, colour: bool) -> String {
    let code = match tone {
        Tone::Good => "32",
        Tone::Doubt => "33",
        Tone::Bad => "31",
        Tone::Strong => "1",
    };
    if colour { format!("\x1b[{code}m{text}\x1b[0m") } else { text.to_owned() }
}
