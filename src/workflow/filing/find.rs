//! Where a copy stands: its box, its divider, its neighbours, and how far from the front.

use std::collections::HashMap;
use std::collections::hash_map::Entry;

use serde::Serialize;

use super::names::Naming;
use super::wall::{self, Known};
use crate::collection::{CopyId, CopyRecord};
use crate::filing::{BoxId, NamedCopy, Place, Plan};
use crate::store::{CopyOrder, Store, StoreError};
use crate::workflow::selection::{Selection, each_selected, scopes};
use crate::workflow::{WorkflowError, have};

/// A copy and where it is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FoundCopy {
    /// The copy.
    #[serde(flatten)]
    pub copy: NamedCopy,
    /// Whether it was read.
    pub read: bool,
    /// To whom it is lent.
    pub lent_to: Option<String>,
    /// Where it stands; `None` if it stands in no box.
    pub stands: Option<Spot>,
    /// The label of the box that the walk puts it in.
    pub goes_to: Option<String>,
}

/// A copy's place in a box.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Spot {
    /// What is written on the box.
    pub label: String,
    /// Where the box stands.
    #[serde(flatten)]
    pub place: Place,
    /// What to recognise it by.
    pub note: String,
    /// What is written on the divider.
    pub divider: String,
    /// Behind which copy of the box; `None` at its front.
    pub after: Option<NamedCopy>,
    /// Before which; `None` at its end.
    pub before: Option<NamedCopy>,
    /// How far from the front, in millimetres.
    pub mm: u32,
}

/// A box with its copies from front to back, looked at once for all that are asked for in it.
struct Content {
    known: Known,
    plan: Plan,
    at: usize,
    /// Each copy's place in the box, and how far from the front it begins.
    spots: HashMap<CopyId, (usize, u64)>,
}

/// The copies that a code, a title and its issues, or a title stands for, and where each is.
///
/// # Errors
/// If nothing is named, no title fits, or the collection can't be read.
pub fn find(store: &Store, words: &str) -> Result<Vec<FoundCopy>, WorkflowError> {
    // It says what is wrong with a code, too.
    have(store, words)?;
    let selection = Selection { words: words.to_owned(), ..Selection::default() };
    let scopes = scopes(store, &selection)?;
    store.read(|store| {
        let mut records = Vec::new();
        each_selected(store, &scopes, &selection.filter, CopyOrder::Title, &mut |copy| {
            records.push(copy);
            Ok::<_, WorkflowError>(())
        })?;
        records.retain(|copy| copy.gone.is_none());
        located(store, records)
    })
}

/// Where one copy is; `None` if it left.
///
/// # Errors
/// If there is none of that number, or the collection can't be read.
pub fn find_copy(store: &Store, copy: CopyId) -> Result<Option<FoundCopy>, WorkflowError> {
    store.read(|store| {
        let record = store.copy_record(copy)?;
        let held = if record.gone.is_none() { vec![record] } else { Vec::new() };
        Ok(located(store, held)?.pop())
    })
}

fn located(store: &Store, records: Vec<CopyRecord>) -> Result<Vec<FoundCopy>, WorkflowError> {
    let mut contents: HashMap<BoxId, Content> = HashMap::new();
    let mut found = Vec::with_capacity(records.len());
    for record in records {
        let (stands_in, goes_to) = store.boxes_of_copy(record.copy)?;
        let stands = match stands_in {
            None => None,
            Some(shelf) => {
                let content = match contents.entry(shelf) {
                    Entry::Occupied(known) => known.into_mut(),
                    Entry::Vacant(new) => new.insert(Content::of(store, shelf)?),
                };
                content.spot(store, record.copy)?
            }
        };
        found.push(FoundCopy {
            copy: NamedCopy {
                copy: record.copy,
                title: record.title.into(),
                issue: record.issue,
                cover: record.cover,
                printing: record.printing,
            },
            read: record.read,
            lent_to: record.lent.map(|loan| loan.to),
            stands,
            goes_to: goes_to.map(|shelf| store.box_of_number(shelf)).transpose()?.map(|shelf| shelf.label),
        });
    }
    Ok(found)
}

impl Content {
    fn of(store: &Store, shelf: BoxId) -> Result<Self, WorkflowError> {
        let known = wall::of_box(store, shelf)?;
        let plan = Plan::resumed(&known.wall, &known.settings.options, |book| book.at);
        let at = known.place_of(shelf).unwrap_or_default() as usize;
        let divider_um = known.settings.options.divider_um;
        let (mut um, mut last, mut spots) = (0_u64, None, HashMap::new());
        for (place, &book) in plan.order[plan.boxes[at].from..plan.boxes[at].to].iter().enumerate() {
            let divider = plan.dividers[book as usize];
            um += if last.replace(divider) == Some(divider) { 0 } else { u64::from(divider_um) };
            spots.insert(known.wall.books[book as usize].copy, (place, um));
            um += u64::from(known.wall.books[book as usize].um);
        }
        Ok(Self { known, plan, at, spots })
    }

    fn spot(&self, store: &Store, copy: CopyId) -> Result<Option<Spot>, StoreError> {
        let Some(&(place, um)) = self.spots.get(&copy) else { return Ok(None) };
        let planned = &self.plan.boxes[self.at];
        let content = &self.plan.order[planned.from..planned.to];
        let naming = Naming::new(store, &self.known, 2)?;
        let named = |at: Option<usize>| at.and_then(|at| content.get(at)).map(|&book| naming.named(book)).transpose();
        let shelf = &self.known.wall.boxes[self.at];
        Ok(Some(Spot {
            label: shelf.label.clone(),
            place: shelf.place,
            note: shelf.note.clone(),
            divider: self.known.wall.divider_words(self.plan.dividers[content[place] as usize]),
            after: named(place.checked_sub(1))?,
            before: named(Some(place + 1))?,
            mm: (um / 1000) as u32,
        }))
    }
}
