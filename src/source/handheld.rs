//! A handheld scanner: one line for each packet it sends, joined to codes. No device, no clock: lines and times come in.
//!
//! Scanners send a symbol with an add-on in one of two ways: in one packet, or main symbol and add-on in two packets a
//! few milliseconds apart. What one packet is, with or without a symbology identifier, is [`parse_typed`]'s to say.
//!
//! A main code whose add-on does not come ends as [`AddOnState::Unread`], never as absent: `]E0` is also what a scanner
//! sends when it is set to ignore add-ons, or saw one and failed. Only a picture or a person can say that none is there.

use jiff::{SignedDuration, Timestamp};

use crate::code::{AddOn, AddOnState, Certainty, Code, Symbology, Typed, TypedError, parse_typed};

/// How long an add-on may come after its main code. Two packets of one scan are milliseconds apart, also over a slow
/// serial line (18 digits at 300 baud take 600 ms); nobody aims at the next book within this time.
pub const ADD_ON_WAIT: SignedDuration = SignedDuration::from_millis(700);

/// A code as the scanner sent it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Heard {
    /// Main code and add-on.
    pub code: Code,
    /// The kind of the main symbol, as far as the packet tells it.
    pub symbology: Symbology,
    /// `Confirm` if digits had to be repaired.
    pub certainty: Certainty,
    /// When the main code came.
    pub at: Timestamp,
}

/// Why a line is no code.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum HandheldError {
    /// Not understood.
    #[error("scan it again, or type its digits: {0}")]
    NotACode(#[from] TypedError),
    /// An add-on with no main code before it, or too long after it.
    #[error("add-on {0} came without a main code: scan both again")]
    StrayAddOn(AddOn),
}

/// Whether a line is what a scanner sends: it may do so while a person is asked for something else.
#[must_use]
pub fn is_packet(line: &str) -> bool {
    matches!(parse_typed(line), Ok(Typed::Code { .. } | Typed::AddOn(_)))
}

/// Joins the lines of one scanner to codes.
#[derive(Debug, Clone)]
pub struct Handheld {
    wait: SignedDuration,
    pending: Option<Heard>,
}

impl Handheld {
    /// A scanner whose add-ons come at most `wait` after their main codes (see [`ADD_ON_WAIT`]).
    #[must_use]
    pub fn new(wait: SignedDuration) -> Self {
        Self { wait, pending: None }
    }

    /// When [`Handheld::tick`] will complete a code that waits for its add-on.
    #[must_use]
    pub fn due(&self) -> Option<Timestamp> {
        self.pending.map(|heard| heard.at.saturating_add(self.wait).unwrap_or(Timestamp::MAX))
    }

    /// Completes the code that waits for an add-on, if the time for that is over.
    pub fn tick(&mut self, now: Timestamp) -> Option<Heard> {
        if self.due()? < now { self.pending.take() } else { None }
    }

    /// Completes the code that waits for an add-on: nothing more will come.
    pub fn finish(&mut self) -> Option<Heard> {
        self.pending.take()
    }

    /// Takes a line that came at `at`; gives what it completes, in order. Blank lines are nothing.
    pub fn line(&mut self, at: Timestamp, line: &str) -> Vec<Result<Heard, HandheldError>> {
        let line = line.trim();
        if line.is_empty() {
            return Vec::new();
        }
        let mut done: Vec<_> = self.tick(at).map(Ok).into_iter().collect();
        match parse_typed(line) {
            Ok(Typed::AddOn(add_on)) => done.push(match self.pending.take() {
                Some(heard) => Ok(with_add_on(heard, AddOnState::Read(add_on))),
                None => Err(HandheldError::StrayAddOn(add_on)),
            }),
            Ok(Typed::Code { gtin, add_on, symbology, certainty, .. }) => {
                done.extend(self.pending.take().map(Ok));
                let code = Code { gtin, add_on: add_on.map_or(AddOnState::Unread, AddOnState::Read) };
                let heard = Heard { code, symbology, certainty, at };
                match add_on {
                    Some(_) => done.push(Ok(heard)),
                    // The standard has no add-on beside an EAN-8, so there is nothing to wait for.
                    None if symbology == Symbology::Ean8 => done.push(Ok(with_add_on(heard, AddOnState::Absent))),
                    None => self.pending = Some(heard),
                }
            }
            // What follows a line that was not understood may belong to that line.
            Err(error) => {
                done.extend(self.pending.take().map(Ok));
                done.push(Err(error.into()));
            }
        }
        done
    }
}

fn with_add_on(heard: Heard, add_on: AddOnState) -> Heard {
    Heard { code: Code { add_on, ..heard.code }, ..heard }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_scanners_packet_is_no_shop() {
        assert!(is_packet("614141000418") && is_packet("00411") && !is_packet("Corner Comics"));
    }
}
