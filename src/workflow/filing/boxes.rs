//! The boxes of the wall: added, changed, retired, and what stands in them.

use std::str::FromStr;

use jiff::Timestamp;
use serde::Serialize;

use super::names::Naming;
use super::wall;
use crate::collection::{TitleId, search_key};
use crate::filing::{BoxId, BoxKind, NamedCopy, Place, Plan, Purpose, ShelfBox, WallBox};
use crate::intake::RunId;
use crate::store::{RunKind, Store, StoreError};
use crate::workflow::titles::titles_like;
use crate::workflow::words::title_in_words;
use crate::workflow::{WorkflowError, title_show};

/// What a box is for, as a person says it: a title by its name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum PurposeAsked {
    /// A purpose that needs no look-up.
    Known(Purpose),
    /// The title of this name, typed loosely, or number.
    TitleNamed(String),
}

impl FromStr for PurposeAsked {
    type Err = String;

    /// Reads `unread`, `title=NAME`, `family=NAME`, `publisher=NAME`, `size=SIZE`, `rest` or `spare`.
    fn from_str(text: &str) -> Result<Self, String> {
        let (word, of) = text.split_once('=').map_or((text.trim(), ""), |(word, of)| (word.trim(), of.trim()));
        let known = |purpose| Ok(Self::Known(purpose));
        match (word, of) {
            ("unread", "") => known(Purpose::Unread),
            ("rest", "") => known(Purpose::Rest),
            ("spare", "") => known(Purpose::Spare),
            ("title", name) if !name.is_empty() => Ok(Self::TitleNamed(name.to_owned())),
            ("family", name) if !name.is_empty() => known(Purpose::Family(name.to_owned())),
            ("publisher", name) if !name.is_empty() => known(Purpose::Publisher(name.to_owned())),
            ("size", size) if !size.is_empty() => {
                size.parse().map_err(|error| format!("{error}")).and_then(|size| known(Purpose::Size(size)))
            }
            _ => {
                Err("a box is for unread, title=NAME, family=NAME, publisher=NAME, size=SIZE, rest, or spare"
                    .to_owned())
            }
        }
    }
}

/// What a box is for, with a title's name.
///
/// # Errors
/// If the collection can't be read.
pub fn purpose_in_words(store: &Store, purpose: &Purpose) -> Result<String, WorkflowError> {
    Ok(match purpose {
        Purpose::Unread => "unread".to_owned(),
        Purpose::Title(title) => format!("title {}", title_in_words(&title_show(store, *title)?.title)),
        Purpose::Family(name) => format!("family {name}"),
        Purpose::Publisher(name) => format!("publisher {name}"),
        Purpose::Size(size) => format!("size {size}"),
        Purpose::Rest => "the rest".to_owned(),
        Purpose::Spare => "spare".to_owned(),
    })
}

/// What to say of a box; `None` leaves a thing as it is, or as usual.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct BoxChange {
    /// What is written on it.
    pub label: Option<String>,
    /// Its kind.
    pub kind: Option<BoxKind>,
    /// Its inner length.
    pub inner_mm: Option<u32>,
    /// Whether magazines fit in.
    pub magazines: Option<bool>,
    /// What it is for.
    pub purpose: Option<PurposeAsked>,
    /// The row it stands in.
    pub row: Option<u32>,
    /// The column.
    pub column: Option<u32>,
    /// What to recognise it by.
    pub note: Option<String>,
}

/// A box and how full it is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct BoxFill {
    /// The box.
    #[serde(flatten)]
    pub shelf: ShelfBox,
    /// How many copies stand in it.
    pub copies: u32,
    /// How many dividers.
    pub dividers: u32,
    /// How much of its length is taken, in hundredths.
    pub percent: u32,
    /// How heavy its copies are, by their pages.
    pub grams: u32,
}

/// How heavy a full box is that is better lifted by two (common practice: 15 kg and more).
const HEAVY_GRAMS: u32 = 15_000;

impl BoxFill {
    /// Whether it is to be lifted with care.
    #[must_use]
    pub fn is_heavy(&self) -> bool {
        self.grams >= HEAVY_GRAMS
    }

    /// As it stands in a picture of the wall, with nothing to do there.
    #[must_use]
    pub fn at_rest(&self) -> WallBox {
        WallBox {
            label: self.shelf.label.clone(),
            place: self.shelf.place,
            inner_mm: self.shelf.inner_mm,
            purpose: self.shelf.purpose.clone(),
            percent_before: self.percent,
            percent_after: self.percent,
            put_in: 0,
            take_out: 0,
            new_box: self.shelf.planned,
        }
    }
}

/// What stands in a box, from front to back.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct BoxContent {
    /// The box.
    #[serde(flatten)]
    pub fill: BoxFill,
    /// Its copies.
    pub content: Vec<ContentLine>,
}

/// A copy in a box.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ContentLine {
    /// The copy.
    #[serde(flatten)]
    pub copy: NamedCopy,
    /// Behind which divider it stands.
    pub divider: String,
    /// How far from the front.
    pub mm: u32,
}

/// Adds a box. Without a place it stands behind the last one.
///
/// # Errors
/// If its label is empty or taken, its length is missing or can't be, or the collection fails.
pub fn box_add(store: &Store, new: &BoxChange, now: Timestamp) -> Result<(BoxFill, Option<RunId>), WorkflowError> {
    let mut run = None;
    let shelf = store.write(&mut run, RunKind::Box, now, |writer| {
        let kind = new.kind.unwrap_or(BoxKind::Short);
        if kind == BoxKind::Own && new.inner_mm.is_none() {
            return Err(WorkflowError::NoLength);
        }
        let last = writer.boxes()?.last().map(|shelf| shelf.place);
        let place =
            Place { row: last.map_or(1, |last| last.row), column: last.map_or(1, |last| last.column + 1), turn: 0 };
        let mut shelf = ShelfBox {
            id: BoxId::new(0),
            label: String::new(),
            kind,
            inner_mm: kind.inner_mm(),
            magazines: kind == BoxKind::Magazine,
            purpose: Purpose::Rest,
            place,
            note: String::new(),
            planned: false,
        };
        change(writer, &mut shelf, new)?;
        shelf.id = writer.insert_box(&shelf)?;
        Ok(shelf)
    })?;
    Ok((BoxFill { shelf, copies: 0, dividers: 0, percent: 0, grams: 0 }, run))
}

/// Changes a box.
///
/// # Errors
/// If there is none of that label, the change can't be, or the collection fails.
pub fn box_set(
    store: &Store,
    label: &str,
    what: &BoxChange,
    now: Timestamp,
) -> Result<(BoxFill, Option<RunId>), WorkflowError> {
    let mut run = None;
    let label = store.write(&mut run, RunKind::Box, now, |writer| {
        let mut shelf = writer.box_labelled(label)?;
        change(writer, &mut shelf, what)?;
        if shelf.purpose == Purpose::Spare && writer.copies_in_box(shelf.id)? > 0 {
            return Err(WorkflowError::SpareNotEmpty(shelf.label));
        }
        writer.update_box(&shelf)?;
        Ok(shelf.label)
    })?;
    Ok((box_show(store, &label)?.fill, run))
}

fn change(store: &Store, shelf: &mut ShelfBox, what: &BoxChange) -> Result<(), WorkflowError> {
    if let Some(kind) = what.kind {
        (shelf.kind, shelf.magazines) = (kind, kind == BoxKind::Magazine);
        shelf.inner_mm = if kind == BoxKind::Own { shelf.inner_mm } else { kind.inner_mm() };
    }
    if let Some(label) = &what.label {
        shelf.label = label.trim().to_owned();
    }
    if search_key(&shelf.label).is_empty() {
        return Err(WorkflowError::NoLabel);
    }
    shelf.inner_mm = what.inner_mm.unwrap_or(shelf.inner_mm);
    shelf.magazines = what.magazines.unwrap_or(shelf.magazines);
    shelf.place.row = what.row.unwrap_or(shelf.place.row);
    shelf.place.column = what.column.unwrap_or(shelf.place.column);
    if what.row.is_some() || what.column.is_some() {
        let same = |other: &&ShelfBox| {
            other.id != shelf.id && (other.place.row, other.place.column) == (shelf.place.row, shelf.place.column)
        };
        shelf.place.turn = store.boxes()?.iter().filter(same).map(|other| other.place.turn + 1).max().unwrap_or(0);
    }
    if let Some(note) = &what.note {
        shelf.note = note.trim().to_owned();
    }
    match &what.purpose {
        None => {}
        Some(PurposeAsked::Known(purpose)) => shelf.purpose = purpose.clone(),
        Some(PurposeAsked::TitleNamed(name)) => shelf.purpose = Purpose::Title(title_named(store, name)?),
    }
    Ok(())
}

fn title_named(store: &Store, name: &str) -> Result<TitleId, WorkflowError> {
    if let Ok(number) = name.trim().parse::<TitleId>()
        && let Ok(title) = store.title(number)
    {
        return Ok(title.id);
    }
    match titles_like(store, name)?.titles.as_slice() {
        [] => Err(WorkflowError::NoTitleFits(name.trim().to_owned())),
        [title] => Ok(title.id),
        several => Err(WorkflowError::SeveralTitles { query: name.trim().to_owned(), titles: several.len() }),
    }
}

/// Takes an empty box out of use.
///
/// # Errors
/// If there is none of that label, copies stand in it, or the collection fails.
pub fn box_retire(store: &Store, label: &str, now: Timestamp) -> Result<(ShelfBox, Option<RunId>), WorkflowError> {
    let mut run = None;
    let shelf = store.write(&mut run, RunKind::Box, now, |writer| {
        let shelf = writer.box_labelled(label)?;
        writer.retire_box(&shelf)?;
        Ok::<_, StoreError>(shelf)
    })?;
    Ok((shelf, run))
}

/// All boxes in walking order, and how full each is.
///
/// # Errors
/// If the collection can't be read.
pub fn box_list(store: &Store) -> Result<Vec<BoxFill>, WorkflowError> {
    store.read(|store| {
        let known = wall::whole(store)?;
        let plan = Plan::resumed(&known.wall, &known.settings.options, |book| book.at);
        let fill = |(at, shelf): (usize, &ShelfBox)| fill_of(&known.wall, &plan, at, shelf.clone());
        Ok(known.wall.boxes.iter().enumerate().map(fill).collect())
    })
}

fn fill_of(wall: &crate::filing::Wall, plan: &Plan, at: usize, shelf: ShelfBox) -> BoxFill {
    let planned = &plan.boxes[at];
    let content = &plan.order[planned.from..planned.to];
    let mg: u64 = content.iter().map(|&book| u64::from(wall.books[book as usize].mg)).sum();
    let dividers = content.chunk_by(|&a, &b| plan.dividers[a as usize] == plan.dividers[b as usize]).count();
    BoxFill {
        copies: content.len() as u32,
        dividers: dividers as u32,
        percent: (planned.um_after / (u64::from(shelf.inner_mm) * 10)) as u32,
        grams: (mg / 1000) as u32,
        shelf,
    }
}

/// What stands in a box.
///
/// # Errors
/// If there is none of that label, or the collection can't be read.
pub fn box_show(store: &Store, label: &str) -> Result<BoxContent, WorkflowError> {
    store.read(|store| {
        let shelf = store.box_labelled(label)?;
        let known = wall::of_box(store, shelf.id)?;
        let plan = Plan::resumed(&known.wall, &known.settings.options, |book| book.at);
        let at = known.place_of(shelf.id).unwrap_or_default() as usize;
        let planned = &plan.boxes[at];
        let naming = Naming::new(store, &known, (planned.to - planned.from) as u32)?;
        let (mut content, mut um, mut last) = (Vec::new(), 0_u64, None);
        for &book in &plan.order[planned.from..planned.to] {
            let divider = plan.dividers[book as usize];
            if last.replace(divider) != Some(divider) {
                um += u64::from(known.settings.options.divider_um);
            }
            content.push(ContentLine {
                copy: naming.named(book)?,
                divider: known.wall.divider_words(divider),
                mm: (um / 1000) as u32,
            });
            um += u64::from(known.wall.books[book as usize].um);
        }
        Ok(BoxContent { fill: fill_of(&known.wall, &plan, at, shelf), content })
    })
}
