//! Items in words.

use std::fmt::Display;

use maud::{Markup, html};

use crate::code::{AddOnState, Certainty, Code, Symbology};
use crate::intake::{Item, ItemState};
use crate::source::Origin;
use crate::workflow::words::{Line, Tone, issue_in_words};
use crate::workflow::{Decided, Need};

pub(super) use crate::workflow::words::count;

/// The digits as they stand under the bars and beside them.
pub(super) fn code_in_words(code: Code) -> String {
    let name = Symbology::usual(code.gtin).word();
    let digits = code.gtin.printed();
    match code.add_on {
        AddOnState::Read(add_on) => format!("{name} {digits} with add-on {add_on}"),
        AddOnState::Absent => format!("{name} {digits} without add-on"),
        AddOnState::Unread => format!("{name} {digits}, add-on not read"),
    }
}

/// What an item's picture shows, for whoever does not see it.
pub(super) fn picture_in_words(item: &Item) -> String {
    match item.code {
        Some(code) if item.certainty == Certainty::Sure => code_in_words(code),
        Some(code) => format!("{}, to be confirmed", code_in_words(code)),
        None => format!("picture of item {}, no code read", item.id),
    }
}

/// Where it came from.
pub(super) fn origin_in_words(item: &Item) -> String {
    match &item.origin {
        Origin::Photo { path, .. } => path.file_name().unwrap_or_default().to_string_lossy().into_owned(),
        Origin::Device { name } => name.clone(),
        Origin::Typed => "typed".to_owned(),
    }
}

pub(super) fn need_in_words(need: Need) -> &'static str {
    match need {
        Need::Code => "no code read",
        Need::AddOn => "add-on unread",
        Need::Confirm => "to be confirmed",
        Need::Title => "title unknown",
        Need::Answer => "asks a question",
        Need::Nothing => "needs nothing",
    }
}

/// The word of a kind of items in an address.
pub(super) fn need_word(need: Need) -> &'static str {
    match need {
        Need::Code => "code",
        Need::AddOn => "add-on",
        Need::Confirm => "confirm",
        Need::Title => "title",
        Need::Answer => "answer",
        Need::Nothing => "nothing",
    }
}

/// What an item is about to become.
pub(super) fn decided_in_words(decided: &Decided) -> String {
    if let Some(why) = decided.dropped {
        return format!("to be dropped: {why}");
    }
    let title = decided.title.as_deref().unwrap_or_default();
    let issue = match (&decided.issue, &decided.cover, decided.printing) {
        (Some(issue), Some(cover), Some(printing)) => issue_in_words(issue, cover, printing),
        _ => String::new(),
    };
    format!("{}: {title}{issue}", decided.verdict.words())
}

/// What became of a settled item.
pub(super) fn state_in_words(state: ItemState) -> &'static str {
    match state {
        ItemState::Waiting | ItemState::Incomplete => "it waits",
        ItemState::Accepted => "it is in the collection",
        ItemState::Dropped => "it was dropped",
    }
}

pub(super) fn listed<T: Display>(values: impl IntoIterator<Item = T>) -> String {
    values.into_iter().map(|value| value.to_string()).collect::<Vec<_>>().join(", ")
}

/// Numbers as a hidden field holds them.
pub(super) fn joined<T: Display>(values: impl IntoIterator<Item = T>) -> String {
    values.into_iter().map(|value| value.to_string()).collect::<Vec<_>>().join(",")
}

/// A line as a page shows it.
pub(super) fn line(line: &Line) -> Markup {
    html! {
        @for piece in line {
            @match piece.tone {
                Some(Tone::Good) => span.good { (piece.text) },
                Some(Tone::Doubt) => span.doubt { (piece.text) },
                Some(Tone::Bad) => span.bad { (piece.text) },
                Some(Tone::Strong) => strong { (piece.text) },
                None => (piece.text),
            }
        }
    }
}
