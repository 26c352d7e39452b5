//! What a person, or a program, is told while books are taken.

use std::collections::BTreeMap;
use std::sync::Arc;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use serde::Serialize;

use crate::cli::failure::Failure;
use crate::cli::plain;
use crate::cli::ui::{self, Ui};
use crate::cli::words::{code_in_words, count, have_in_words};
use crate::code::{AddOn, AddOnState, Gtin, Symbology};
use crate::desk::{Board, Desk};
use crate::meaning::meaning;
use crate::workflow::{Frames, HaveAnswer, News, Said, StageOutcome, Taken, Tone, Totals, Voice, totals_in_words};

/// A scanned code in JSON; its fields are documented in the README and must stay.
#[derive(Debug, Default, Serialize)]
struct ScanLine<'a> {
    gtin: Option<Gtin>,
    symbology: Option<Symbology>,
    add_on: Option<AddOn>,
    add_on_state: Option<&'static str>,
    said: Option<Voice>,
    #[serde(flatten)]
    outcome: Option<&'a StageOutcome>,
    have: Option<&'a HaveAnswer>,
    error: Option<&'a str>,
}

/// How a camera's frames went: whether reading kept up with them.
fn frames_in_words(frames: &Frames) -> Option<String> {
    let (behind, (median, worst)) = (frames.most_behind_ms?, frames.median_and_worst_ms()?);
    let mut words = format!(
        "frames: {} read, in {median:.1} ms in the median and {worst:.1} at worst; at most {behind:.0} ms behind",
        frames.len()
    );
    let further = [(frames.passed_over, "passed over"), (frames.damaged, "damaged")];
    words.extend(further.iter().filter(|(n, _)| *n > 0).map(|(n, what)| format!(", {n} {what}")));
    Some(words)
}

/// The page beside the terminal.
pub(super) struct Preview {
    pub(super) board: Arc<Board>,
    // Held to be dropped: the page ends with it.
    pub(super) _desk: Desk,
}

/// The way to a person's eyes and ears.
pub(super) struct Teller {
    json: bool,
    preview: Option<Preview>,
    /// The line below the feed.
    status: ProgressBar,
    counted: String,
    camera: String,
    /// What stands there instead while the camera gives nothing.
    trouble: Option<String>,
    typing: String,
}

impl Teller {
    pub(super) fn new(json: bool, preview: Option<Preview>, ui: &Ui) -> Self {
        let status = if ui.shows_progress() {
            let style = ProgressStyle::with_template("{msg}").unwrap_or_else(|_| ProgressStyle::default_spinner());
            ProgressBar::new_spinner().with_style(style)
        } else {
            ProgressBar::with_draw_target(None, ProgressDrawTarget::hidden())
        };
        let (counted, camera, typing) = Default::default();
        Self { json, preview, status, counted, camera, trouble: None, typing }
    }

    /// What stands in the line that is being typed.
    pub(super) fn typing(&mut self, line: &str) {
        line.clone_into(&mut self.typing);
        self.draw();
    }

    fn draw(&self) {
        let camera = self.trouble.as_ref().unwrap_or(&self.camera);
        let parts = [&self.counted, camera, &self.typing];
        let parts: Vec<&str> = parts.into_iter().map(String::as_str).filter(|part| !part.is_empty()).collect();
        self.status.set_message(plain::line(&parts.join(" | "), false).into_owned());
    }

    /// Tells what there is to tell; `counted`: how many books there are by now.
    pub(super) fn tell<X>(&mut self, news: News<X>, counted: String, ui: &mut Ui) -> Result<(), Failure> {
        self.counted = counted;
        let told = news.told();
        match (&news, &told) {
            (News::Said(said), _) => self.say(said, ui)?,
            (News::Refused(why), _) => self.refuse(why, ui)?,
            (News::NotDone(why), _) => self.complain(why, ui),
            (News::Frame { .. }, _) => self.trouble = None,
            (News::NoPicture { .. } | News::Lost(_), Some(told)) => self.in_trouble(&told.text, ui),
            (_, Some(told)) => {
                if let News::Opened { .. } = news {
                    (self.camera, self.trouble) = (told.text.clone(), None);
                }
                self.note(&told.to_string(), ui);
            }
            (_, None) => {}
        }
        self.draw();
        if let Some(preview) = &self.preview {
            preview.board.tell(news, &self.counted);
        }
        Ok(())
    }

    pub(super) fn note(&self, text: &str, ui: &mut Ui) {
        self.status.suspend(|| ui.note(text));
    }

    pub(super) fn complain(&self, text: &str, ui: &mut Ui) {
        self.status.suspend(|| ui.complain("error", text));
    }

    /// The camera gives nothing.
    fn in_trouble(&mut self, words: &str, ui: &mut Ui) {
        ui.ring(ui::Tone::Bad);
        self.status.suspend(|| {
            ui.complain("camera", words);
            ui.note("the session goes on: with the handheld, or when the camera is back");
        });
        self.trouble = Some(words.to_owned());
    }

    /// Says what a book is.
    fn say(&self, said: &Said, ui: &mut Ui) -> Result<(), Failure> {
        let tone = match said.voice().tone() {
            Tone::Good => ui::Tone::Good,
            Tone::Look => ui::Tone::Doubt,
            Tone::Failed => ui::Tone::Bad,
        };
        ui.ring(tone);
        if self.json {
            return self.json(said, ui);
        }
        let word = ui.paint(said.voice().words(), tone);
        self.status.suspend(|| match said {
            Said::HoldStill { gtin } => {
                let code = code_in_words(*gtin, None, Symbology::usual(*gtin), ui);
                ui.line(format_args!("{word}: {code}, its add-on is not certain"))
            }
            Said::Taken(taken) => {
                let Taken { code, symbology, outcome, have, .. } = &**taken;
                let add_on = code.add_on.read();
                let words = code_in_words(code.gtin, add_on, *symbology, ui);
                let unread = if code.add_on == AddOnState::Unread { ", its add-on did not come" } else { "" };
                let again = if matches!(outcome, StageOutcome::SeenAgain(_)) { " again" } else { "" };
                ui.line(format_args!("{word}: {words}{unread}, item {}{again}", outcome.item()))?;
                if have.titles.is_empty() {
                    let digits = meaning(code.gtin, add_on, None).to_string();
                    ui.line(format_args!("  unknown title: {digits}"))?;
                }
                have_in_words(have, ui).iter().try_for_each(|line| ui.line(format_args!("  {line}")))
            }
        })?;
        Ok(())
    }

    fn json(&self, said: &Said, ui: &mut Ui) -> Result<(), Failure> {
        let line = match said {
            Said::HoldStill { gtin } => {
                let add_on_state = Some(AddOnState::Unread.word());
                ScanLine { gtin: Some(*gtin), add_on_state, said: Some(said.voice()), ..ScanLine::default() }
            }
            Said::Taken(taken) => ScanLine {
                gtin: Some(taken.code.gtin),
                symbology: Some(taken.symbology),
                add_on: taken.code.add_on.read(),
                add_on_state: Some(taken.code.add_on.word()),
                said: Some(said.voice()),
                outcome: Some(&taken.outcome),
                have: Some(&taken.have),
                error: None,
            },
        };
        Ok(self.status.suspend(|| ui.json(&line))?)
    }

    /// Tells of a line that is no code, or a file that is no frame.
    fn refuse(&self, why: &str, ui: &mut Ui) -> Result<(), Failure> {
        ui.ring(ui::Tone::Bad);
        if !self.json {
            self.complain(why, ui);
            return Ok(());
        }
        Ok(self.status.suspend(|| ui.json(&ScanLine { error: Some(why), ..ScanLine::default() }))?)
    }

    /// The last word.
    pub(super) fn summary(&self, totals: &Totals, wrong: usize, frames: &Frames, ui: &mut Ui) -> Result<(), Failure> {
        self.status.finish_and_clear();
        if let Some(preview) = &self.preview {
            preview.board.end("ended in its terminal");
        }
        if let Some(words) = frames_in_words(frames) {
            ui.note(words);
        }
        if self.json {
            return Ok(());
        }
        let looked_at = if frames.is_empty() { String::new() } else { format!("{}: ", count(frames.len(), "frame")) };
        ui.line(format_args!("{looked_at}{}", totals_in_words(totals, wrong)))?;
        let mut again: BTreeMap<_, usize> = BTreeMap::new();
        for item in &totals.again {
            *again.entry(*item).or_default() += 1;
        }
        for (item, times) in again {
            let times = if times == 1 { "once more".to_owned() } else { format!("{times} times more") };
            ui.line(format_args!("  item {item} was seen {times}: resolve asks how many copies there are"))?;
        }
        Ok(())
    }
}
