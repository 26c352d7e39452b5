//! The titles that one resolving knows: the collection's, and those that its answers make.

use std::collections::HashMap;

use super::answers::Fault;
use super::plan::{Lookup, Plan, ResolveError, Resolved, TitleRef};
use super::question::KnownTitle;
use crate::code::Gtin;
use crate::collection::{Edit, NewTitle, Title, TitleChange, TitleId, search_key};
use crate::meaning::Layout;

pub(super) struct Titles<'a, L> {
    lookup: &'a L,
    known: HashMap<TitleId, NewTitle>,
    made: Vec<NewTitle>,
    by_code: HashMap<Gtin, Vec<TitleRef>>,
    codes: Vec<(Gtin, TitleRef)>,
    changes: Vec<(TitleId, TitleChange)>,
    highest: HashMap<TitleId, Option<u32>>,
    books: HashMap<Gtin, (TitleRef, String)>,
}

impl<'a, L: Lookup> Titles<'a, L> {
    pub(super) fn new(lookup: &'a L) -> Self {
        Self {
            lookup,
            known: HashMap::new(),
            made: Vec::new(),
            by_code: HashMap::new(),
            codes: Vec::new(),
            changes: Vec::new(),
            highest: HashMap::new(),
            books: HashMap::new(),
        }
    }

    pub(super) fn into_plan(self, plan: &mut Plan) {
        plan.titles = self.made;
        plan.codes = self.codes;
        plan.changes = self.changes;
    }

    /// Remembers a title of the collection; changes made meanwhile stand.
    pub(super) fn known(&mut self, title: Title) -> TitleRef {
        let id = title.id;
        self.known.entry(id).or_insert(NewTitle {
            publisher: title.publisher,
            name: title.name,
            volume: title.volume,
            year: title.year,
            layout: title.layout,
            issue_base: title.issue_base,
        });
        TitleRef::Known(id)
    }

    pub(super) fn get(&self, title: TitleRef) -> &NewTitle {
        match title {
            TitleRef::Known(id) => &self.known[&id],
            TitleRef::New(index) => &self.made[index],
        }
    }

    /// The titles that a code stands for, those of this resolving included.
    pub(super) fn of_code(&mut self, gtin: Gtin) -> Resolved<&[TitleRef], L::Error> {
        if !self.by_code.contains_key(&gtin) {
            let found = self.lookup.titles_of_code(gtin).map_err(ResolveError::Lookup)?;
            let refs = found.into_iter().map(|title| self.known(title)).collect();
            self.by_code.insert(gtin, refs);
        }
        Ok(&self.by_code[&gtin])
    }

    /// Lets a code stand for a title from now on.
    pub(super) fn stands_for(&mut self, gtin: Gtin, title: TitleRef) -> Resolved<(), L::Error> {
        if !self.of_code(gtin)?.contains(&title) {
            self.by_code.entry(gtin).or_default().push(title);
            self.codes.push((gtin, title));
        }
        Ok(())
    }

    /// Lets a code stand for a title once this resolving is done. Until then it asks and answers as before, so that
    /// what becomes of an item does not depend on which item came first.
    pub(super) fn will_stand_for(&mut self, gtin: Gtin, title: TitleRef) {
        if !self.codes.contains(&(gtin, title)) {
            self.codes.push((gtin, title));
        }
    }

    /// The title that `new` describes, among the collection's and those made before it; else it is made.
    ///
    /// What either side leaves open fits anything; a layout that contradicts the title's is an error.
    pub(super) fn find_or_make(&mut self, new: NewTitle, line: usize) -> Resolved<TitleRef, L::Error> {
        let publisher = new.publisher.as_deref().map(search_key).filter(|key| !key.is_empty());
        let mut fitting = self.candidates(&new.name)?;
        fitting.retain(|&title| {
            let title = self.get(title);
            let other = title.publisher.as_deref().map(search_key);
            agree(publisher.as_ref(), other.as_ref())
                && agree(new.year, title.year)
                && search_key(&title.volume) == search_key(&new.volume)
        });
        let exact: Vec<_> = fitting.iter().copied().filter(|&t| self.get(t).year == new.year).collect();
        let title = match (exact.as_slice(), fitting.as_slice()) {
            (&[title], _) | (_, &[title]) => title,
            ([], []) => {
                self.made.push(new);
                return Ok(TitleRef::New(self.made.len() - 1));
            }
            _ => {
                let problem = format!("several titles are called '{}'; give the volume or year", new.name);
                return Err(Fault::new("title", problem).at(line).into());
            }
        };
        match (self.get(title).layout, new.layout) {
            (Some(has), Some(told)) if has != told => {
                let problem = format!("'{}' has layout {has}; 'title set' changes it", new.name);
                Err(Fault::new("layout", problem).at(line).into())
            }
            (None, Some(told)) => {
                self.set_layout(title, told);
                Ok(title)
            }
            _ => Ok(title),
        }
    }

    /// A new volume of a title, under the same name, publisher and layout.
    pub(super) fn new_volume(
        &mut self,
        like: TitleRef,
        volume: Option<&str>,
        year: Option<i16>,
        line: usize,
    ) -> Resolved<TitleRef, L::Error> {
        let old = self.get(like);
        let volume = volume.unwrap_or_default().to_owned();
        let new = NewTitle { volume, year, issue_base: 0, ..old.clone() };
        self.find_or_make(new, line)
    }

    fn candidates(&mut self, name: &str) -> Resolved<Vec<TitleRef>, L::Error> {
        let key = search_key(name);
        let found = self.lookup.titles_named(&key).map_err(ResolveError::Lookup)?;
        let mut all: Vec<_> = found.into_iter().map(|title| self.known(title)).collect();
        let made = self.made.iter().enumerate().filter(|(_, title)| search_key(&title.name) == key);
        all.extend(made.map(|(index, _)| TitleRef::New(index)));
        Ok(all)
    }

    pub(super) fn set_layout(&mut self, title: TitleRef, layout: Layout) {
        match title {
            TitleRef::New(index) => self.made[index].layout = Some(layout),
            TitleRef::Known(id) => {
                if let Some(known) = self.known.get_mut(&id) {
                    known.layout = Some(layout);
                }
                self.changes.push((id, TitleChange { layout: Edit::To(layout), ..TitleChange::default() }));
            }
        }
    }

    /// Raises a title's base once this resolving is done, for the same reason.
    pub(super) fn will_count_from(&mut self, title: TitleRef, base: u32) {
        // A title that is only being made owns nothing yet, so its numbers are never unclear.
        let TitleRef::Known(id) = title else { return };
        let change = (id, TitleChange { issue_base: Some(base), ..TitleChange::default() });
        if !self.changes.contains(&change) {
            self.changes.push(change);
        }
    }

    /// The highest issue owned before this resolving: what its own stack adds must not depend on the items' order.
    pub(super) fn highest(&mut self, title: TitleRef) -> Resolved<Option<u32>, L::Error> {
        let TitleRef::Known(id) = title else { return Ok(None) };
        if let Some(&highest) = self.highest.get(&id) {
            return Ok(highest);
        }
        let highest = self.lookup.highest_number(id).map_err(ResolveError::Lookup)?;
        self.highest.insert(id, highest);
        Ok(highest)
    }

    /// A title as a question shows it; one that is only being made has no number to be shown by.
    pub(super) fn shown(&mut self, title: TitleRef) -> Resolved<Option<KnownTitle>, L::Error> {
        let TitleRef::Known(id) = title else { return Ok(None) };
        let highest = self.highest(title)?;
        let title = self.get(title).clone();
        let NewTitle { publisher, name, volume, year, layout, .. } = title;
        Ok(Some(KnownTitle { id, title: name, publisher, volume, year, layout, highest }))
    }

    /// Titles of the same company, looked up once for each code that is asked about.
    pub(super) fn neighbours(
        &mut self,
        gtin: Gtin,
        asked: &HashMap<(&'static str, u64), usize>,
    ) -> Resolved<Vec<KnownTitle>, L::Error> {
        if asked.contains_key(&("title", gtin.number())) {
            return Ok(Vec::new());
        }
        let found = self.lookup.neighbours(gtin).map_err(ResolveError::Lookup)?;
        let mut shown = Vec::new();
        for title in found {
            let title = self.known(title);
            shown.extend(self.shown(title)?);
        }
        Ok(shown)
    }

    pub(super) fn keep_book(&mut self, gtin: Gtin, title: TitleRef, issue: String) {
        self.books.insert(gtin, (title, issue));
    }

    pub(super) fn book(&self, gtin: Gtin) -> Option<(TitleRef, String)> {
        self.books.get(&gtin).cloned()
    }
}

fn agree<T: PartialEq>(a: Option<T>, b: Option<T>) -> bool {
    match (a, b) {
        (Some(a), Some(b)) => a == b,
        _ => true,
    }
}
