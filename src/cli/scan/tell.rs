//! What a person, or a program, is told while books are taken.

use std::collections::BTreeMap;
use std::time::Duration;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use serde::Serialize;

use crate::cli::failure::{Failure, one_line};
use crate::cli::ui::{self, Ui};
use crate::cli::words::{code_in_words, count, have_in_words, issue_in_words, printed, title_in_words};
use crate::code::{AddOn, AddOnState, Gtin, Symbology};
use crate::desk::{Line, Outline, Preview};
use crate::meaning::meaning;
use crate::picture::Luma;
use crate::source::camera::CameraError;
use crate::workflow::{HaveAnswer, Said, StageOutcome, Step, Taken, Tone, Totals, Voice};

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

/// How frames went.
#[derive(Debug, Default)]
pub(super) struct Frames {
    read_ms: Vec<f64>,
    most_behind_ms: Option<f64>,
    passed_over: u64,
    damaged: u64,
}

impl Frames {
    /// A frame was read.
    pub(super) fn read(&mut self, read_ms: f64) {
        self.read_ms.push(read_ms);
    }

    /// It came from a camera, so late and after so many others.
    pub(super) fn seen(&mut self, behind_ms: f64, passed_over: u64, damaged: u64) {
        self.most_behind_ms = Some(self.most_behind_ms.unwrap_or_default().max(behind_ms));
        self.passed_over += passed_over;
        self.damaged += damaged;
    }

    pub(super) fn is_empty(&self) -> bool {
        self.read_ms.is_empty()
    }

    /// For a camera's frames: whether reading kept up with them.
    fn in_words(&self) -> Option<String> {
        let behind = self.most_behind_ms?;
        let mut read_ms = self.read_ms.clone();
        read_ms.sort_by(f64::total_cmp);
        let (median, worst) = (read_ms.get(read_ms.len() / 2)?, read_ms.last()?);
        let mut words = format!(
            "frames: {} read, in {median:.1} ms in the median and {worst:.1} at worst; at most {behind:.0} ms behind",
            read_ms.len()
        );
        let further = [(self.passed_over, "passed over"), (self.damaged, "damaged")];
        words.extend(further.iter().filter(|(n, _)| *n > 0).map(|(n, what)| format!(", {n} {what}")));
        Some(words)
    }
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

    /// How many books there are by now.
    pub(super) fn count(&mut self, totals: &Totals) {
        self.counted = counts_in_words(totals, 0).join(", ");
        self.draw();
    }

    fn draw(&self) {
        let camera = self.trouble.as_ref().unwrap_or(&self.camera);
        let parts = [&self.counted, camera, &self.typing];
        let parts: Vec<&str> = parts.into_iter().map(String::as_str).filter(|part| !part.is_empty()).collect();
        self.status.set_message(parts.join(" | "));
        if let Some(preview) = &self.preview {
            preview.status(&self.counted, camera);
        }
    }

    pub(super) fn note(&self, text: &str, ui: &mut Ui) {
        self.status.suspend(|| ui.note(text));
    }

    pub(super) fn complain(&self, text: &str, ui: &mut Ui) {
        self.status.suspend(|| ui.complain("error", text));
    }

    /// A camera takes pictures.
    pub(super) fn camera(&mut self, what: &str, ui: &mut Ui) {
        what.clone_into(&mut self.camera);
        self.trouble = None;
        self.note(&format!("camera: {what}"), ui);
        self.draw();
    }

    /// Its pictures come.
    pub(super) fn camera_again(&mut self) {
        if self.trouble.take().is_some() {
            self.draw();
        }
    }

    /// It sends nothing, or nothing whole.
    pub(super) fn no_picture(&mut self, since: Duration, damaged: u64, ui: &mut Ui) {
        let seconds = since.as_secs();
        let words = if damaged > 0 {
            format!("only damaged pictures for {seconds} s; try another cable or socket")
        } else {
            format!("no picture for {seconds} s; unplug the camera and plug it in again")
        };
        self.in_trouble(words, ui);
    }

    /// It can't be used now.
    pub(super) fn camera_lost(&mut self, error: &CameraError, ui: &mut Ui) {
        self.in_trouble(one_line(error), ui);
    }

    fn in_trouble(&mut self, words: String, ui: &mut Ui) {
        ui.ring(ui::Tone::Bad);
        let go_on = "the session goes on: with the handheld, or when the camera is back";
        self.status.suspend(|| {
            ui.complain("camera", &words);
            ui.note(go_on);
        });
        if let Some(preview) = &self.preview {
            preview.say(Line { word: "camera", tone: Tone::Failed, text: words.clone() });
        }
        self.trouble = Some(words);
        self.draw();
    }

    /// Shows what the camera sees.
    pub(super) fn show(&self, frame: Luma, outlines: Vec<Outline>) {
        if let Some(preview) = &self.preview {
            preview.show(frame, outlines);
        }
    }

    /// Says what a book is.
    pub(super) fn say(&self, said: &Said, ui: &mut Ui) -> Result<(), Failure> {
        let tone = match said.voice().tone() {
            Tone::Good => ui::Tone::Good,
            Tone::Look => ui::Tone::Doubt,
            Tone::Failed => ui::Tone::Bad,
        };
        ui.ring(tone);
        if let Some(preview) = &self.preview {
            preview.say(Line { word: said.voice().words(), tone: said.voice().tone(), text: plain(said) });
        }
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
    pub(super) fn refuse(&self, why: &str, ui: &mut Ui) -> Result<(), Failure> {
        ui.ring(ui::Tone::Bad);
        if !self.json {
            self.complain(why, ui);
            return Ok(());
        }
        Ok(self.status.suspend(|| ui.json(&ScanLine { error: Some(why), ..ScanLine::default() }))?)
    }

    pub(super) fn taken_back(&self, step: Option<Step>, ui: &mut Ui) {
        let words = match step {
            Some(Step::Staged { outcome: StageOutcome::Staged(new), .. }) => format!("taken back: item {}", new.item),
            Some(Step::Staged { outcome: StageOutcome::SeenAgain(again), .. }) => {
                format!("taken back: item {} was not seen again", again.item)
            }
            Some(Step::Dropped { item, .. }) => format!("taken back: item {item} is not dropped"),
            None => "nothing is left to take back".to_owned(),
        };
        self.note(&words, ui);
    }

    pub(super) fn dropped(&self, step: Option<Step>, ui: &mut Ui) {
        match step {
            Some(Step::Dropped { item, .. }) => self.note(&format!("dropped: item {item}"), ui),
            _ => self.note("nothing is left to drop", ui),
        }
    }

    /// The last word.
    pub(super) fn summary(&self, totals: &Totals, wrong: usize, frames: &Frames, ui: &mut Ui) -> Result<(), Failure> {
        self.status.finish_and_clear();
        if let Some(words) = frames.in_words() {
            ui.note(words);
        }
        if self.json {
            return Ok(());
        }
        let looked_at =
            if frames.is_empty() { String::new() } else { format!("{}: ", count(frames.read_ms.len(), "frame")) };
        ui.line(format_args!("{looked_at}{}", counts_in_words(totals, wrong).join(", ")))?;
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

/// The book without colours: its title and issue if they are known, else its digits.
fn plain(said: &Said) -> String {
    let digits = |gtin: Gtin, add_on: Option<AddOn>, symbology| {
        let add_on = add_on.map(|add_on| format!(" {add_on}")).unwrap_or_default();
        format!("{}{add_on}", printed(gtin, symbology))
    };
    match said {
        Said::HoldStill { gtin } => digits(*gtin, None, Symbology::usual(*gtin)),
        Said::Taken(taken) => {
            let code = digits(taken.code.gtin, taken.code.add_on.read(), taken.symbology);
            let Some(known) = taken.have.titles.first() else { return code };
            let title = title_in_words(&known.title);
            match (&known.issue, &known.cover, known.printing) {
                (Some(issue), Some(cover), Some(printing)) => {
                    format!("{title}{}", issue_in_words(issue, cover, printing))
                }
                _ => title,
            }
        }
    }
}

fn counts_in_words(totals: &Totals, wrong: usize) -> Vec<String> {
    let mut parts = vec![format!("{} in the queue", count(totals.new, "new item"))];
    let further = [
        (totals.incomplete, "waiting for a person"),
        (totals.again.len(), "seen again"),
        (totals.dropped, "dropped"),
        (wrong, "not understood"),
    ];
    parts.extend(further.iter().filter(|(n, _)| *n > 0).map(|(n, what)| format!("{n} {what}")));
    parts
}
