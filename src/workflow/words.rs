//! Answers in words, the same at the command line and on pages; each decides for itself how a tone looks.

use std::fmt::Display;

use crate::code::{AddOn, AddOnState, Code, Gtin, Symbology};
use crate::collection::{Departure, Title, Want};
use crate::intake::Item;

use super::{Have, HaveAnswer, HaveTitle};

/// What a word's colour says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tone {
    /// All is well.
    Good,
    /// Look here.
    Doubt,
    /// That did not work.
    Bad,
    /// The word that counts.
    Strong,
}

/// A part of a line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Piece {
    /// Its text.
    pub text: String,
    /// How it stands out, if it does.
    pub tone: Option<Tone>,
}

/// One line, in parts. It begins with two blanks if it is about the line before it.
pub type Line = Vec<Piece>;

/// A part that stands out.
fn toned(text: impl Into<String>, tone: Tone) -> Piece {
    Piece { text: text.into(), tone: Some(tone) }
}

fn plain(text: impl Into<String>) -> Piece {
    Piece { text: text.into(), tone: None }
}

/// `1 file`, `2 files`, `2 copies`, `2 boxes`, of any type of whole numbers: `true` is 1 in all of them.
#[must_use]
pub fn count<N: Display + PartialEq + From<bool>>(number: N, thing: &str) -> String {
    let plural = match thing.strip_suffix('y') {
        _ if number == N::from(true) => thing.to_owned(),
        Some(stem) => format!("{stem}ies"),
        None if thing.ends_with('x') => format!("{thing}es"),
        None => format!("{thing}s"),
    };
    format!("{number} {plural}")
}

/// The digits as they stand under the bars; a UPC-E's expanded, as lists hold it.
#[must_use]
pub fn printed(gtin: Gtin, symbology: Symbology) -> String {
    let all = gtin.to_string();
    let leading_zeros = match symbology {
        Symbology::UpcA | Symbology::UpcE => 1,
        Symbology::Ean13 => 0,
        Symbology::Ean8 => 5,
    };
    all[leading_zeros..].to_owned()
}

/// `UPC-A 614141000418 with add-on 00411`.
#[must_use]
pub fn code_in_words(gtin: Gtin, add_on: Option<AddOn>, symbology: Symbology) -> Line {
    let mut line = vec![plain(format!("{} ", symbology.word())), toned(printed(gtin, symbology), Tone::Strong)];
    if let Some(add_on) = add_on {
        line.extend([plain(" with add-on "), toned(add_on.to_string(), Tone::Strong)]);
    }
    line
}

/// An item's code as [`code_in_words`], or that there is none.
#[must_use]
pub fn item_code_in_words(item: &Item) -> Line {
    let Some(Code { gtin, add_on }) = item.code else { return vec![plain("no code")] };
    let symbology = item.symbology.unwrap_or_else(|| Symbology::usual(gtin));
    let mut line = code_in_words(gtin, add_on.read(), symbology);
    if add_on == AddOnState::Unread {
        line.push(plain(", add-on not read"));
    }
    line
}

/// `Tide Wardens (2023, Lantern Row)`.
#[must_use]
pub fn title_in_words(title: &Title) -> String {
    named(title, "")
}

/// The title with `issue` behind its name, and what tells it from others of the same name.
#[must_use]
pub fn named(title: &Title, issue: &str) -> String {
    let volume = if title.volume.is_empty() { None } else { Some(format!("volume {}", title.volume)) };
    let year = title.year.map(|year| year.to_string());
    let apart: Vec<_> = [volume, year, title.publisher.clone()].into_iter().flatten().collect();
    let apart = if apart.is_empty() { String::new() } else { format!(" ({})", apart.join(", ")) };
    format!("{}{issue}{apart}", title.name)
}

/// ` 12, cover 1, printing 2`, to stand behind a title's name.
#[must_use]
pub fn issue_in_words(issue: &str, cover: &str, printing: u32) -> String {
    let issue = if issue.is_empty() { String::new() } else { format!(" {issue}") };
    format!("{issue}, cover {cover}, printing {printing}")
}

/// `sold on 2026-03-04 to Ada Quill for 12.00 USD`.
#[must_use]
pub fn departure_in_words(gone: &Departure) -> String {
    let to = gone.to.as_ref().map(|to| format!(" to {to}")).unwrap_or_default();
    let price = gone.price.map(|price| format!(" for {price}")).unwrap_or_default();
    format!("{} on {}{to}{price}", gone.how, gone.on)
}

/// `wanted, up to 5.00 USD: the one with the lighthouse`.
#[must_use]
pub fn want_in_words(want: &Want) -> Line {
    let up_to = want.up_to.map(|money| format!(", up to {money}")).unwrap_or_default();
    let note = if want.note.is_empty() { String::new() } else { format!(": {}", want.note) };
    vec![toned("wanted", Tone::Good), plain(format!("{up_to}{note}"))]
}

/// The short answer for a title.
#[must_use]
pub fn verdict_in_words(known: &HaveTitle) -> (&'static str, Tone) {
    match known.answer {
        Have::NotOwned if !known.gone.is_empty() => ("owned no more", Tone::Strong),
        Have::NotOwned => ("not owned", Tone::Strong),
        Have::AnotherCover => ("another cover of it is owned", Tone::Doubt),
        Have::AnotherPrinting => ("another printing of it is owned", Tone::Doubt),
        Have::Owned => ("owned", Tone::Good),
    }
}

/// What is asked for of a title: `The Night Ferry 4, cover 1, printing 1 (2019, Lantern Street)`.
#[must_use]
pub fn asked_in_words(known: &HaveTitle) -> String {
    let mut issue = known.issue.as_deref().filter(|i| !i.is_empty()).map(|i| format!(" {i}")).unwrap_or_default();
    issue.extend(known.cover.iter().map(|cover| format!(", cover {cover}")));
    issue.extend(known.printing.iter().map(|printing| format!(", printing {printing}")));
    named(&known.title, &issue)
}

/// The answer to 'do I own this?', a line for each title and printing, and one for what waits.
#[must_use]
pub fn have_in_words(answer: &HaveAnswer) -> Vec<Line> {
    let mut lines = Vec::new();
    for known in &answer.titles {
        let (word, tone) = verdict_in_words(known);
        let title = asked_in_words(known);
        let much = match known.issues {
            Some(issues) => {
                format!(": {}, {}", count(issues, "issue"), count(known.copies, "copy"))
            }
            None => String::new(),
        };
        lines.push(vec![toned(word, tone), plain(format!(": {title}{much}"))]);
        lines.extend(known.wanted.iter().map(|want| [vec![plain("  ")], want_in_words(want)].concat()));
        lines.extend(known.owned.iter().map(|owned| {
            let copies = count(owned.copies, "copy");
            vec![plain(format!("  cover {}, printing {}: {copies}", owned.cover, owned.printing))]
        }));
        lines.extend(known.gone.iter().map(|copy| {
            let gone = departure_in_words(&copy.gone);
            vec![plain(format!("  cover {}, printing {}: {gone}", copy.cover, copy.printing))]
        }));
    }
    if answer.more_titles {
        lines.push(vec![plain("further titles fit: type more of the name")]);
    }
    if !answer.waiting.is_empty() {
        let items = answer.waiting.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ");
        lines.push(vec![plain(format!("waiting in the queue: item {items}"))]);
    }
    lines
}
