//! What the copies of a wall are called, read with it: a sheet may name a million, too many to look up one by one.

use crate::collection::CopyId;
use crate::store::ShelfRow;

/// Issues, covers and printings of copies.
#[derive(Default)]
pub(super) struct Names {
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

impl Names {
    pub(super) fn note(&mut self, row: &ShelfRow<'_>) {
        let from = self.texts.len() as u32;
        self.texts.push_str(row.issue);
        let cover = self.texts.len() as u32;
        self.texts.push_str(row.cover);
        self.of.push(Name { copy: row.copy, from, cover, to: self.texts.len() as u32, printing: row.printing });
    }

    /// To be called once all are noted.
    pub(super) fn sort(&mut self) {
        self.of.sort_unstable_by_key(|name| name.copy);
    }

    /// A copy's issue, cover and printing; nothing of one that was not noted.
    pub(super) fn of(&self, copy: CopyId) -> (&str, &str, u32) {
        let at = self.of.binary_search_by_key(&copy, |name| name.copy);
        let text = |from: u32, to: u32| &self.texts[from as usize..to as usize];
        at.map(|at| &self.of[at])
            .map(|name| (text(name.from, name.cover), text(name.cover, name.to), name.printing))
            .unwrap_or_default()
    }
}
