//! What a session's news are in words: the same in a terminal and on a page.

use std::fmt;
use std::time::Duration;

use super::words::{count, issue_in_words, printed, title_in_words};
use super::{News, Said, StageOutcome, Step, Tone, Totals, Voice, messages};
use crate::code::{AddOn, Gtin, Symbology};
use crate::collection::Purchase;
use crate::intake::ItemId;

/// News in words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Told {
    /// In a word or two.
    pub word: &'static str,
    /// The rest, if there is more to say.
    pub text: String,
    /// What a person hears, if anything.
    pub tone: Option<Tone>,
    /// The item that waits for something only a person knows.
    pub waits: Option<ItemId>,
}

impl Told {
    fn new(word: &'static str, text: impl Into<String>) -> Self {
        Self { word, text: text.into(), tone: None, waits: None }
    }

    fn with(self, tone: Tone) -> Self {
        Self { tone: Some(tone), ..self }
    }
}

impl fmt::Display for Told {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word)?;
        if self.text.is_empty() { Ok(()) } else { write!(f, ": {}", self.text) }
    }
}

impl<X> News<X> {
    /// In words; `None` for what is shown or done, not told.
    #[must_use]
    pub fn told(&self) -> Option<Told> {
        Some(match self {
            Self::Frame { .. } | Self::Given { .. } => return None,
            Self::Said(said) => told(said),
            Self::Refused(why) => Told::new("not understood", why).with(Tone::Failed),
            Self::Opened { name, format } => Told::new("camera", format!("{name}, {format}")),
            Self::NoPicture { since, damaged } => {
                Told::new("camera", no_picture_in_words(*since, *damaged)).with(Tone::Failed)
            }
            Self::Lost(error) => Told::new("camera", messages(error).join(": ")).with(Tone::Failed),
            Self::TakenBack(None) => Told::new("nothing is left to take back", ""),
            Self::TakenBack(Some(step)) => Told::new("taken back", taken_back_in_words(step)),
            Self::Dropped(Some(Step::Dropped { item, .. })) => Told::new("dropped", format!("item {item}")),
            Self::Dropped(_) => Told::new("nothing is left to drop", ""),
            Self::NotDone(why) => Told::new("not done", why).with(Tone::Failed),
            Self::Paused(true) => Told::new("paused", "p goes on"),
            Self::Paused(false) => Told::new("going on", ""),
            Self::Bought(purchase) => Told::new("from now on", purchase_in_words(purchase)),
        })
    }
}

fn told(said: &Said) -> Told {
    let voice = said.voice();
    let waits = match said {
        Said::Taken(taken) if matches!(voice, Voice::WaitsForTitle | Voice::WaitsForPerson) => {
            Some(taken.outcome.item())
        }
        _ => None,
    };
    Told { word: voice.words(), text: book_in_words(said), tone: Some(voice.tone()), waits }
}

/// A book: its title and issue if they are known, else its digits.
fn book_in_words(said: &Said) -> String {
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

fn no_picture_in_words(since: Duration, damaged: u64) -> String {
    let seconds = since.as_secs();
    if damaged > 0 {
        format!("only damaged pictures for {seconds} s; try another cable or socket")
    } else {
        format!("no picture for {seconds} s; unplug the camera and plug it in again")
    }
}

fn taken_back_in_words(step: &Step) -> String {
    match step {
        Step::Staged { outcome: StageOutcome::Staged(new), .. } => format!("item {}", new.item),
        Step::Staged { outcome: StageOutcome::SeenAgain(again), .. } => {
            format!("item {} was not seen again", again.item)
        }
        Step::Dropped { item, .. } => format!("item {item} is not dropped"),
    }
}

/// `Corner Comics, 2026-03-04, cover price 3.99 USD, less 10 %`.
#[must_use]
pub fn purchase_in_words(purchase: &Purchase) -> String {
    let parts = [
        purchase.shop.clone(),
        purchase.acquired.map(|date| date.to_string()),
        purchase.cover_price.map(|price| format!("cover price {price}")),
        purchase.discount.map(|discount| format!("less {discount}")),
    ];
    let parts: Vec<String> = parts.into_iter().flatten().collect();
    if parts.is_empty() { "no shop, no price".to_owned() } else { parts.join(", ") }
}

/// `3 new items in the queue, 1 seen again`; `wrong`: what was not understood.
#[must_use]
pub fn totals_in_words(totals: &Totals, wrong: usize) -> String {
    let mut parts = vec![format!("{} in the queue", count(totals.new, "new item"))];
    let further = [
        (totals.incomplete, "waiting for a person"),
        (totals.again.len(), "seen again"),
        (totals.dropped, "dropped"),
        (wrong, "not understood"),
    ];
    parts.extend(further.iter().filter(|(n, _)| *n > 0).map(|(n, what)| format!("{n} {what}")));
    parts.join(", ")
}
