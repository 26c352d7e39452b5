//! What the copies of a wall are called: looked up one by one where a few are named, read all at once where a sheet names a
//! million.

use std::sync::Arc;

use super::wall::Known;
use crate::collection::CopyId;
use crate::filing::{Book, NamedCopy};
use crate::store::{Store, StoreError};

/// How many copies are named one by one: about as many lookups take as long as reading all of a large collection.
const FEW: u32 = 10_000;

/// Issues, covers and printings of copies.
#[derive(Default)]
struct Names {
    /// All texts, one behind the other.
    texts: String,
    of: Vec<Name>,
}

/// A copy's issue stands at `from..cover` of the texts, its cover at `cover..to`.
struct Name {
    copy: CopyId,
    from: u32,
    cover: u32,
    to: u32,
    printing: u32,
}

/// Names the copies of a wall.
pub(super) struct Naming<'a> {
    store: &'a Store,
    known: &'a Known,
    all: Option<Names>,
}

impl<'a> Naming<'a> {
    /// For about so many copies.
    pub(super) fn new(store: &'a Store, known: &'a Known, copies: u32) -> Result<Self, StoreError> {
        let all = (copies > FEW).then(|| Names::read(store)).transpose()?;
        Ok(Self { store, known, all })
    }

    /// A copy by its place in the wall's books, as a person names it.
    pub(super) fn named(&self, book: u32) -> Result<NamedCopy, StoreError> {
        let Book { copy, title, .. } = self.known.wall.books[book as usize];
        let title = Arc::clone(&self.known.wall.titles[title as usize].title);
        let (issue, cover, printing) = match &self.all {
            Some(all) => all.of(copy).ok_or(StoreError::NoCopy(copy))?,
            None => self.store.issue_of_copy(copy)?,
        };
        Ok(NamedCopy { copy, title, issue, cover, printing })
    }
}

impl Names {
    fn read(store: &Store) -> Result<Self, StoreError> {
        let mut names = Self::default();
        store.issues_of_copies(|copy, issue, cover, printing| {
            let from = names.texts.len() as u32;
            names.texts.push_str(issue);
            let before_cover = names.texts.len() as u32;
            names.texts.push_str(cover);
            names.of.push(Name { copy, from, cover: before_cover, to: names.texts.len() as u32, printing });
        })?;
        names.of.sort_unstable_by_key(|name| name.copy);
        Ok(names)
    }

    fn of(&self, copy: CopyId) -> Option<(String, String, u32)> {
        let at = self.of.binary_search_by_key(&copy, |name| name.copy).ok()?;
        let Name { from, cover, to, printing, .. } = self.of[at];
        let text = |from: u32, to: u32| self.texts[from as usize..to as usize].to_owned();
        Some((text(from, cover), text(cover, to), printing))
    }
}
