//! The wall of boxes, from rows.

use std::collections::HashMap;

use super::settings::{FilingSettings, filing_settings};
use crate::collection::{CopyId, CoverDate};
use crate::filing::{Annuals, Book, BoxId, FilingRule, Purpose, ShelfBox, ShelfTitle, Wall, is_numbered};
use crate::store::{ByRow, ShelfRow, Shelved, Store, StoreError};

/// The wall, and what is set about it.
pub(super) struct Known {
    /// In filing order.
    pub(super) wall: Wall,
    /// Where the walk puts copies, by places in [`Wall::boxes`].
    pub(super) goes_to: HashMap<CopyId, u32>,
    pub(super) settings: FilingSettings,
    /// Copies to be filed that a plan was asked to leave out.
    pub(super) left_out: Vec<Book>,
}

impl Known {
    /// The place of a box among those of the wall.
    pub(super) fn place_of(&self, id: BoxId) -> Option<u32> {
        self.wall.boxes.iter().position(|shelf| shelf.id == id).map(|at| at as u32)
    }
}

/// Everything that stands in a box, is on the walk, or is to be filed. Unread copies are filed where a box is for them.
pub(super) fn whole(store: &Store) -> Result<Known, StoreError> {
    whole_in_order(store, None)
}

/// As [`whole`], in another order.
pub(super) fn whole_in_order(store: &Store, rule: Option<&FilingRule>) -> Result<Known, StoreError> {
    let unread = store.boxes()?.iter().any(|shelf| shelf.purpose == Purpose::Unread);
    known(store, Shelved::All { unread }, rule)
}

/// The wall with what stands in one box, and more only if its dividers or its order depend on that.
pub(super) fn of_box(store: &Store, shelf: BoxId) -> Result<Known, StoreError> {
    let FilingSettings { options, rule, .. } = filing_settings(store)?;
    if options.families || rule.annuals() == Annuals::Dated {
        return whole(store);
    }
    known(store, Shelved::In(shelf), None)
}

pub(super) fn known(store: &Store, which: Shelved, rule: Option<&FilingRule>) -> Result<Known, StoreError> {
    let mut settings = filing_settings(store)?;
    if let Some(rule) = rule {
        settings.rule = rule.clone();
    }
    let boxes = store.boxes()?;
    let box_places = places(&boxes);
    let titles: Vec<ShelfTitle> = store
        .titles_with_families()?
        .into_iter()
        .map(|(title, family)| ShelfTitle { title: title.into(), family })
        .collect();
    let mut title_places = ByRow::new();
    titles.iter().enumerate().for_each(|(at, known)| title_places.set(known.title.id.number(), at as u32));
    let mut goes_to = HashMap::new();
    let mut annuals = Dated::default();
    let mut wall = Wall { titles, boxes, books: Vec::new() };
    store.shelf_rows(which, |row| {
        if let Some(to) = row.goes_to.and_then(|to| box_places.get(to.number())) {
            goes_to.insert(row.copy, to);
        }
        let Some(title) = title_places.get(row.title.number()) else { return };
        if settings.rule.annuals() == Annuals::Dated {
            annuals.note(&row, title, wall.books.len());
        }
        wall.books.push(book(&row, title, &box_places, &settings));
    })?;
    annuals.place(&mut wall, &settings.rule);
    wall.sort(&settings.rule);
    Ok(Known { wall, goes_to, settings, left_out: Vec::new() })
}

/// Each box's place in [`Wall::boxes`].
pub(super) fn places(boxes: &[ShelfBox]) -> ByRow<u32> {
    let mut places = ByRow::new();
    boxes.iter().enumerate().for_each(|(at, shelf)| places.set(shelf.id.number(), at as u32));
    places
}

/// Annuals that stand among the numbered issues by the dates on their covers.
#[derive(Default)]
struct Dated {
    /// The dates of each title's numbered issues, and their sort keys.
    numbered: HashMap<u32, Vec<(CoverDate, String)>>,
    /// Places of annuals among the books, their dates and what their keys are made of.
    annuals: Vec<(usize, CoverDate, String, String, u32)>,
}

impl Dated {
    fn note(&mut self, row: &ShelfRow<'_>, title: u32, at: usize) {
        let Some(date) = row.cover_date else { return };
        if is_numbered(row.issue_key) {
            self.numbered.entry(title).or_default().push((date, row.issue_key.to_owned()));
        } else {
            self.annuals.push((at, date, row.issue_key.to_owned(), row.cover.to_owned(), row.printing));
        }
    }

    fn place(self, wall: &mut Wall, rule: &FilingRule) {
        for (at, date, issue_key, cover, printing) in self.annuals {
            let known = self.numbered.get(&wall.books[at].title).into_iter().flatten();
            let behind = known.filter(|(before, _)| *before <= date).max();
            if let Some((_, behind)) = behind {
                wall.books[at].key = rule.copy_key_behind(Some(behind), &issue_key, &cover, printing);
            }
        }
    }
}

fn book(row: &ShelfRow<'_>, title: u32, box_places: &ByRow<u32>, settings: &FilingSettings) -> Book {
    Book {
        copy: row.copy,
        title,
        key: settings.rule.copy_key(row.issue_key, row.cover, row.printing),
        um: settings.calibration.apply(row.make.um()),
        mg: row.make.mg(),
        size: row.make.size,
        unread: row.unread,
        at: row.stands_in.and_then(|shelf| box_places.get(shelf.number())),
        expected: false,
    }
}
