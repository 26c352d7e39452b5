//! What became of each photo, for the person who sent it.

use maud::{Markup, html};

use crate::desk::words;
use crate::intake::{ItemId, ItemState};
use crate::picture::{self, Limits};
use crate::report::data_url;
use crate::store::Store;
use crate::workflow::words::{Line, item_code_in_words};
use crate::workflow::{self, FileResult, WorkflowError};

/// A kept picture of more bytes is reduced before it is shown.
const SHOWN_BYTES: usize = 60_000;

/// The longer side of a reduced picture, in px.
const SHOWN_PX: usize = 320;

/// A photo and what became of it.
#[derive(Debug)]
pub(in crate::desk) struct Told {
    label: String,
    what: What,
}

#[derive(Debug)]
enum What {
    Items(Vec<ToldItem>),
    Known(String),
    Failed(String),
}

#[derive(Debug)]
struct ToldItem {
    item: ItemId,
    how: How,
    code: Line,
    /// Whether it is owned.
    have: Vec<Line>,
    picture: Option<String>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum How {
    New,
    Waits,
    NothingRead,
    ShowsAgain,
    Confirms,
}

impl Told {
    /// With what a person wants to know of each book.
    pub(super) fn of(store: &Store, label: String, result: FileResult) -> Result<Self, WorkflowError> {
        let items = |seen: Vec<(ItemId, How)>| {
            seen.into_iter().map(|(item, how)| ToldItem::of(store, item, how)).collect::<Result<Vec<_>, _>>()
        };
        let what = match result {
            FileResult::Staged { staged, seen_again } => {
                let new = staged
                    .into_iter()
                    .map(|new| (new.item, if new.state == ItemState::Incomplete { How::Waits } else { How::New }));
                let again = seen_again
                    .into_iter()
                    .map(|again| (again.item, if again.confirmed { How::Confirms } else { How::ShowsAgain }));
                What::Items(items(new.chain(again).collect())?)
            }
            FileResult::NothingRead { item } => What::Items(items(vec![(item, How::NothingRead)])?),
            FileResult::Known { as_path } => {
                let name = as_path.file_name().unwrap_or(as_path.as_os_str()).to_string_lossy().into_owned();
                What::Known(name)
            }
            FileResult::Failed { error } => What::Failed(error),
        };
        Ok(Self { label, what })
    }

    /// In a few words, to be heard.
    fn said(&self) -> String {
        match &self.what {
            What::Items(items) => items.iter().map(ToldItem::said).collect::<Vec<_>>().join(", "),
            What::Known(name) if *name == self.label => "imported before".to_owned(),
            What::Known(name) => format!("imported before as {name}"),
            What::Failed(error) => format!("failed: {error}"),
        }
    }

    fn line(&self) -> Markup {
        let tone = match &self.what {
            What::Items(items) if items.iter().any(|item| matches!(item.how, How::Waits | How::NothingRead)) => "doubt",
            What::Items(_) => "good",
            What::Known(_) => "",
            What::Failed(_) => "bad",
        };
        html! {
            li.told data-said=(format!("{}: {}", self.label, self.said())) data-tone=(tone) {
                p.label { (self.label) }
                @match &self.what {
                    What::Items(items) => { @for item in items { (item.shown()) } }
                    What::Known(_) => { p { (self.said()) } }
                    What::Failed(error) => { p { strong.bad { "failed" } ": " (error) } }
                }
            }
        }
    }
}

impl ToldItem {
    fn of(store: &Store, id: ItemId, how: How) -> Result<Self, WorkflowError> {
        let item = workflow::queue_show(store, id)?;
        let have = match item.code {
            Some(code) if how != How::Waits => {
                let add_on = code.add_on.read().map(|add_on| format!("+{add_on}")).unwrap_or_default();
                let mut answer = workflow::have(store, &format!("{}{add_on}", code.gtin))?;
                answer.waiting.retain(|waiting| *waiting != id);
                workflow::words::have_in_words(&answer)
            }
            _ => Vec::new(),
        };
        let picture = store.crop(id)?.map(|png| data_url("image/png", &small(png)));
        Ok(Self { item: id, how, code: item_code_in_words(&item), have, picture })
    }

    fn said(&self) -> String {
        let item = self.item;
        match self.how {
            How::New => format!("item {item} is new in the queue"),
            How::Waits => format!("item {item} waits for a person"),
            How::NothingRead => format!("no code read, item {item} waits for a person"),
            How::ShowsAgain => format!("shows again item {item}"),
            How::Confirms => format!("confirms item {item}"),
        }
    }

    fn shown(&self) -> Markup {
        let tone = match self.how {
            How::New | How::Confirms | How::ShowsAgain => "good",
            How::Waits | How::NothingRead => "doubt",
        };
        html! {
            div.item {
                @if let Some(picture) = &self.picture {
                    img src=(picture) alt={ "what was seen of item " (self.item) };
                }
                div {
                    p { strong class=(tone) { (self.said()) } }
                    @if self.how != How::NothingRead { p { (words::line(&self.code)) } }
                    @for line in &self.have { p.dim { (words::line(line)) } }
                }
            }
        }
    }
}

/// A kept picture made small enough for a phone. One that can't be reduced is shown as it is.
fn small(png: Vec<u8>) -> Vec<u8> {
    if png.len() <= SHOWN_BYTES {
        return png;
    }
    let reduced = picture::decode(&png, &Limits::default()).ok().and_then(|luma| {
        let factor = luma.width().max(luma.height()).div_ceil(SHOWN_PX).max(1);
        luma.reduced(factor).to_png().ok()
    });
    reduced.unwrap_or(png)
}

/// A line of the list for each photo.
pub(in crate::desk) fn list(told: &[Told]) -> Markup {
    html! { @for photo in told { (photo.line()) } }
}
