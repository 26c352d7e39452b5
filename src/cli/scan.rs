use std::io::{self, BufRead};
use std::sync::mpsc::{self, RecvTimeoutError};
use std::time::Duration;

use clap::Args;
use jiff::Timestamp;
use serde::Serialize;

use super::failure::{Failure, Outcome, one_line};
use super::ui::{Tone, Ui};
use super::words::{code_in_words, count, have_code, have_in_words, meaning_in_words};
use super::{Exit, Global};
use crate::code::{AddOn, AddOnState, Gtin, Symbology};
use crate::intake::ItemState;
use crate::meaning::meaning;
use crate::source::handheld::{ADD_ON_WAIT, Handheld, HandheldError, Heard};
use crate::source::{Origin, Sighting};
use crate::store::Store;
use crate::workflow::{HaveAnswer, Session, StageOutcome};

/// Takes codes from a handheld scanner into the queue
///
/// Each line on standard input is what the scanner sent: a code, or a code and its add-on one after the other. What it is
/// is told at once. Main codes whose add-on does not come wait for a person. End with Ctrl-D.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward scan --handheld")]
pub(super) struct Arguments {
    /// Reads what a handheld scanner types, one code a line
    #[arg(long, required = true)]
    handheld: bool,
    /// One JSON object a line, one line a code
    #[arg(long)]
    json: bool,
}

/// A scanned code in JSON; its fields are documented in the README and must stay.
#[derive(Debug, Serialize)]
struct ScanLine<'a> {
    gtin: Option<Gtin>,
    symbology: Option<Symbology>,
    add_on: Option<AddOn>,
    add_on_state: Option<&'static str>,
    #[serde(flatten)]
    outcome: Option<StageOutcome>,
    have: Option<&'a HaveAnswer>,
    error: Option<String>,
}

#[derive(Debug, Default)]
struct Counts {
    new: usize,
    incomplete: usize,
    again: usize,
    wrong: usize,
}

struct Desk<'a> {
    store: Store,
    session: Session,
    counts: Counts,
    json: bool,
    global: &'a Global,
}

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    let (sender, lines) = mpsc::channel();
    let mut desk = Desk {
        store: global.store()?,
        session: Session::new(),
        counts: Counts::default(),
        json: arguments.json,
        global,
    };
    // A thread of its own reads, because a code is complete when its add-on has not come in time: no line says so.
    std::thread::spawn(move || {
        for line in io::stdin().lock().lines() {
            let failed = line.is_err();
            if sender.send((Timestamp::now(), line)).is_err() || failed {
                return;
            }
        }
    });
    let mut scanner = Handheld::new(ADD_ON_WAIT);
    loop {
        let next = match scanner.due() {
            Some(due) => {
                let wait = Duration::try_from(due.duration_since(Timestamp::now())).unwrap_or_default();
                // A millisecond more, so that the time is over when the wait is.
                lines.recv_timeout(wait + Duration::from_millis(1))
            }
            None => lines.recv().map_err(|_| RecvTimeoutError::Disconnected),
        };
        match next {
            Ok((at, line)) => {
                for heard in scanner.line(at, &line?) {
                    desk.take(heard, ui)?;
                }
            }
            Err(RecvTimeoutError::Timeout) => {
                if let Some(heard) = scanner.tick(Timestamp::now()) {
                    desk.take(Ok(heard), ui)?;
                }
            }
            Err(RecvTimeoutError::Disconnected) => break,
        }
    }
    if let Some(heard) = scanner.finish() {
        desk.take(Ok(heard), ui)?;
    }
    desk.finish(ui)
}

impl Desk<'_> {
    fn take(&mut self, heard: Result<Heard, HandheldError>, ui: &mut Ui) -> Result<(), Failure> {
        let heard = match heard {
            Ok(heard) => heard,
            Err(error) => return self.refuse(&error, ui),
        };
        let Heard { code, symbology, certainty, .. } = heard;
        // Asked before it is staged: the queue is to tell of other items.
        let add_on = code.add_on.read();
        let known = have_code(&self.store, code.gtin, add_on)?;
        let now = self.global.now();
        let sighting = Sighting {
            code: Some(code),
            symbology: Some(symbology),
            certainty,
            origin: Origin::Device { name: "handheld".to_owned() },
            seen_at: now,
            evidence: None,
        };
        let outcome = self.session.stage(&self.store, &sighting, now)?;
        let said = match outcome {
            StageOutcome::Staged(new) if new.state == ItemState::Incomplete => {
                self.counts.new += 1;
                self.counts.incomplete += 1;
                format!("item {}, {}", new.item, ui.paint("waits for a person", Tone::Doubt))
            }
            StageOutcome::Staged(new) => {
                self.counts.new += 1;
                format!("item {}", new.item)
            }
            StageOutcome::SeenAgain(again) => {
                self.counts.again += 1;
                format!("item {} again", again.item)
            }
        };
        if self.json {
            let line = ScanLine {
                gtin: Some(code.gtin),
                symbology: Some(symbology),
                add_on,
                add_on_state: Some(code.add_on.word()),
                outcome: Some(outcome),
                have: Some(&known),
                error: None,
            };
            return Ok(ui.json(&line)?);
        }
        let words = code_in_words(code.gtin, add_on, symbology, ui);
        let unread = if code.add_on == AddOnState::Unread { ", its add-on did not come" } else { "" };
        ui.line(format_args!("{words}{unread}: {said}"))?;
        if known.titles.is_empty() {
            ui.line(format_args!("  unknown title: {}", meaning_in_words(&meaning(code.gtin, add_on, None))))?;
        }
        for line in have_in_words(&known, ui) {
            ui.line(format_args!("  {line}"))?;
        }
        Ok(())
    }

    fn refuse(&mut self, error: &HandheldError, ui: &mut Ui) -> Result<(), Failure> {
        self.counts.wrong += 1;
        if !self.json {
            ui.complain("error", one_line(error));
            return Ok(());
        }
        let line = ScanLine {
            gtin: None,
            symbology: None,
            add_on: None,
            add_on_state: None,
            outcome: None,
            have: None,
            error: Some(one_line(error)),
        };
        Ok(ui.json(&line)?)
    }

    fn finish(self, ui: &mut Ui) -> Outcome {
        let Counts { new, incomplete, again, wrong } = self.counts;
        if !self.json {
            let mut parts = vec![format!("{} in the queue", count(new, "new item"))];
            let further = [(incomplete, "waiting for a person"), (again, "seen again"), (wrong, "not understood")];
            parts.extend(further.iter().filter(|(n, _)| *n > 0).map(|(n, what)| format!("{n} {what}")));
            ui.line(parts.join(", "))?;
        }
        Ok(match (wrong, new + again) {
            (0, _) => Exit::Done,
            (_, 0) => Exit::Data,
            _ => Exit::Partly,
        })
    }
}
