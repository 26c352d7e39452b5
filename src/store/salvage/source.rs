//! The damaged file as rows: which pages are a table's, and what can be read on them.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::RangeInclusive;

use rusqlite::types::Value;

use super::layout::Layout;
use super::node::{Cell, Kind, Node};
use super::pages::{Pages, number32};
use super::record::values;
use super::walk::{ANY, Walked};
use crate::store::StoreError;

/// The tree of the schema itself, which is no table's of the layout.
const SCHEMA_TREE: usize = usize::MAX;

/// A row as it was found.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Found {
    pub(super) row: i64,
    /// Its values, `None` for each that can't be read; or nothing if all of it can't.
    pub(super) values: Option<Vec<Option<Value>>>,
}

/// What is done with the values of an index's entry and the row that it is of.
type EachEntry<'a> = dyn FnMut(&[Option<Value>], i64) -> Result<(), StoreError> + 'a;

/// What the schema's own table says: where each tree begins, and whether all of it could be read.
#[derive(Debug, Default)]
pub(super) struct Roots {
    pub(super) known: BTreeMap<String, u32>,
    pub(super) whole: bool,
}

/// The damaged file.
#[derive(Debug)]
pub(super) struct Source<'a> {
    pages: &'a Pages,
    layout: &'a Layout,
    pub(super) walked: Walked,
    /// Pages in no use, if that is known.
    free: Option<BTreeSet<u32>>,
    /// The row that each page of a long record belongs to.
    taken: BTreeMap<u32, (usize, i64)>,
    /// The leaves of each table, with the rows that may stand on them.
    leaves: BTreeMap<usize, Vec<(u32, RangeInclusive<i64>)>>,
    /// Leaves that may be several tables', and how many rows they hold.
    pub(super) unplaced: Vec<(u32, usize)>,
}

/// Reads the schema's own table.
pub(super) fn roots(pages: &Pages) -> Roots {
    let mut walked = Walked::default();
    walked.table(pages, SCHEMA_TREE, 1);
    let mut roots = Roots { known: BTreeMap::new(), whole: !walked.holes.contains_key(&SCHEMA_TREE) };
    let mut source = Source::bare(pages, walked);
    for page in source.walked.leaves.keys().copied().collect::<Vec<_>>() {
        for found in source.rows_of(page, None) {
            let Some(values) = found.values else {
                roots.whole = false;
                continue;
            };
            let [Some(Value::Text(kind)), Some(Value::Text(name)), _, Some(Value::Integer(root)), _] = &values[..]
            else {
                roots.whole = false;
                continue;
            };
            if matches!(kind.as_str(), "table" | "index")
                && let Ok(root) = u32::try_from(*root)
                && root > 0
            {
                roots.known.insert(name.clone(), root);
            }
        }
    }
    roots
}

const NO_LAYOUT: &Layout = &Layout { tables: Vec::new(), indexes: Vec::new(), roots: BTreeMap::new() };

impl<'a> Source<'a> {
    fn bare(pages: &'a Pages, walked: Walked) -> Self {
        Self {
            pages,
            layout: NO_LAYOUT,
            walked,
            free: None,
            taken: BTreeMap::new(),
            leaves: BTreeMap::new(),
            unplaced: Vec::new(),
        }
    }

    /// Walks every tree whose root is known, and gives leaves that no tree reaches to the table that they fit.
    pub(super) fn new(pages: &'a Pages, layout: &'a Layout, roots: &Roots) -> Self {
        // A file that was made with this very schema has its trees where any other such file has them.
        let as_made = roots.known.iter().all(|(name, root)| layout.roots.get(name) == Some(root));
        let root_of =
            |name: &str| roots.known.get(name).or_else(|| layout.roots.get(name).filter(|_| as_made)).copied();
        let mut walked = Walked::default();
        walked.table(pages, SCHEMA_TREE, 1);
        for (tree, table) in layout.tables.iter().enumerate() {
            match root_of(&table.name) {
                Some(root) => walked.table(pages, tree, root),
                None => walked.hole(tree, ANY),
            }
        }
        for (tree, index) in layout.indexes.iter().enumerate() {
            if let Some(root) = root_of(&index.name) {
                walked.index(pages, tree, root);
            }
        }
        walked.settle_indexes();
        let mut source = Self { layout, free: pages.free(), ..Self::bare(pages, walked) };
        source.settle();
        source.place_orphans();
        source
    }

    /// A leaf that several trees name, or one that can't be of its tree, goes to the only tree that it fits, or to none.
    fn settle(&mut self) {
        for (page, claims) in self.walked.leaves.clone() {
            let sole = claims.len() == 1;
            // A damaged page of the schema may name any other table's.
            let claims: Vec<_> = claims.into_iter().filter(|claim| claim.tree != SCHEMA_TREE).collect();
            if claims.is_empty() {
                continue;
            }
            let rows = self.rows_of(page, None);
            let fitting: Vec<_> =
                claims.iter().filter(|claim| self.fits(claim.tree, &rows, &claim.rows, sole)).collect();
            let owner = match fitting[..] {
                [only] => Some(only.clone()),
                _ => None,
            };
            for claim in claims.iter().filter(|claim| Some(*claim) != owner.as_ref()) {
                self.walked.hole(claim.tree, claim.rows.clone());
            }
            match owner {
                Some(claim) => self.leaves.entry(claim.tree).or_default().push((page, claim.rows)),
                None => {
                    self.walked.named.remove(&page);
                }
            }
        }
    }

    /// Whether most of a leaf's rows may be rows of a table. An empty leaf fits only the tree that alone names it.
    fn fits(&self, tree: usize, rows: &[Found], within: &RangeInclusive<i64>, sole: bool) -> bool {
        let Some(table) = self.layout.tables.get(tree) else { return false };
        let readable = rows.iter().filter_map(|found| Some((found.row, found.values.as_ref()?)));
        let (mut good, mut bad) = (0, 0);
        for (row, values) in readable {
            match within.contains(&row) && table.fits(values) {
                true => good += 1,
                false => bad += 1,
            }
        }
        good > bad || (sole && good == bad)
    }

    fn place_orphans(&mut self) {
        for page in 2..=self.pages.count {
            if self.walked.named.contains(&page) || self.free.as_ref().is_some_and(|free| free.contains(&page)) {
                continue;
            }
            let rows = match self.node(page) {
                Some((_, node)) if node.kind == Kind::TableLeaf => self.rows_of(page, None),
                _ => continue,
            };
            let hole = |tree: usize| {
                let fits = |hole: &&RangeInclusive<i64>| self.fits(tree, &rows, hole, false);
                self.walked.holes.get(&tree)?.iter().find(fits).map(|hole| (tree, hole.clone()))
            };
            let mut places: Vec<_> = (0..self.layout.tables.len()).filter_map(hole).collect();
            // Where the free pages are known, this one is in use, though no tree is known to miss it.
            if places.is_empty() && self.free.is_some() {
                let any = |tree: &usize| self.fits(*tree, &rows, &ANY, false);
                places = (0..self.layout.tables.len()).filter(any).map(|tree| (tree, ANY)).collect();
            }
            match &places[..] {
                [(tree, rows)] => {
                    self.walked.named.insert(page);
                    self.leaves.entry(*tree).or_default().push((page, rows.clone()));
                }
                [] => {}
                _ => self.unplaced.push((page, rows.len())),
            }
        }
    }

    fn node(&self, page: u32) -> Option<(Vec<u8>, Node)> {
        let bytes = self.pages.read(page)?;
        let node = Node::of(&bytes, page, self.pages.usable)?;
        Some((bytes, node))
    }

    /// The leaves of a table, by the rows that may stand on them.
    pub(super) fn leaves(&mut self, tree: usize) -> Vec<(u32, RangeInclusive<i64>)> {
        let mut leaves = self.leaves.remove(&tree).unwrap_or_default();
        leaves.sort_by_key(|(page, rows)| (*rows.start(), *page));
        leaves
    }

    /// Whether a page adds up.
    pub(super) fn is_whole(&self, page: u32) -> bool {
        self.node(page).is_some_and(|(_, node)| node.whole)
    }

    /// The rows of a leaf; with an owner, the pages on which they go on are theirs from now on.
    pub(super) fn rows_of(&mut self, page: u32, owner: Option<usize>) -> Vec<Found> {
        let Some((bytes, node)) = self.node(page) else { return Vec::new() };
        let row = |cell: &Cell, source: &mut Self| Found {
            row: cell.row,
            values: source.record(&bytes, cell, owner.map(|tree| (tree, cell.row))).and_then(|record| values(&record)),
        };
        node.cells.iter().flatten().map(|cell| row(cell, self)).collect()
    }

    /// The entries of an index: their values, and the row that each is of.
    pub(super) fn entries(&mut self, tree: usize, each: &mut EachEntry<'_>) -> Result<(), StoreError> {
        for page in self.walked.indexes.get(&tree).cloned().unwrap_or_default() {
            let Some((bytes, node)) = self.node(page) else { continue };
            for cell in node.cells.iter().flatten() {
                let record = self.record(&bytes, cell, None).and_then(|record| values(&record));
                if let Some((Some(Value::Integer(row)), rest)) = record.as_deref().and_then(<[_]>::split_last) {
                    each(rest, *row)?;
                }
            }
        }
        Ok(())
    }

    /// A whole record, put together from its pages.
    fn record(&mut self, bytes: &[u8], cell: &Cell, owner: Option<(usize, i64)>) -> Option<Vec<u8>> {
        if cell.length as u64 > u64::from(self.pages.count) * self.pages.usable as u64 {
            return None;
        }
        let mut record = bytes.get(cell.local.clone())?.to_vec();
        let mut next = cell.overflow;
        while record.len() < cell.length {
            if self.walked.named.contains(&next) || self.free.as_ref().is_some_and(|free| free.contains(&next)) {
                return None;
            }
            if let Some(owner) = owner
                && *self.taken.entry(next).or_insert(owner) != owner
            {
                return None;
            }
            let page = self.pages.read(next)?;
            let length = (cell.length - record.len()).min(self.pages.usable - 4);
            record.extend_from_slice(&page[4..4 + length]);
            next = number32(&page, 0);
        }
        (next == 0).then_some(record)
    }
}

/// Of a leaf's rows those whose numbers rise and lie within what its tree says, as many as possible; the others.
pub(super) fn in_order(rows: Vec<Found>, within: &RangeInclusive<i64>) -> (Vec<Found>, Vec<Found>) {
    let inside: Vec<bool> = rows.iter().map(|found| within.contains(&found.row)).collect();
    // The longest rising sequence: its length up to each row, and the row before.
    let mut best: Vec<(usize, Option<usize>)> = Vec::with_capacity(rows.len());
    for (at, found) in rows.iter().enumerate() {
        // Nearly always the row before is the one.
        let before = (0..at).rev().filter(|&other| inside[other] && rows[other].row < found.row);
        let rising = at > 0 && inside[at - 1] && rows[at - 1].row < found.row && best[at - 1].0 == at;
        let longest = if rising { Some(at - 1) } else { before.max_by_key(|&other| best[other].0) };
        best.push((longest.map_or(1, |other| best[other].0 + 1), longest));
    }
    let mut next = (0..rows.len()).filter(|&at| inside[at]).max_by_key(|&at| best[at].0);
    let mut kept = BTreeSet::new();
    while let Some(at) = next {
        kept.insert(at);
        next = best[at].1;
    }
    let (mut good, mut bad) = (Vec::new(), Vec::new());
    for (at, found) in rows.into_iter().enumerate() {
        if kept.contains(&at) { good.push(found) } else { bad.push(found) }
    }
    (good, bad)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_row_out_of_order_is_the_one_that_is_wrong() {
        let rows = |numbers: &[i64]| numbers.iter().map(|&row| Found { row, values: None }).collect::<Vec<_>>();
        let numbers = |found: Vec<Found>| found.into_iter().map(|found| found.row).collect::<Vec<_>>();
        for (all, within, good) in [
            (&[1, 2, 3, 4][..], ANY, &[1, 2, 3, 4][..]),
            (&[1, 200, 3, 4], ANY, &[1, 3, 4]),
            (&[1, 200, 3, 4], 1..=4, &[1, 3, 4]),
            (&[7, 8, 1, 9], 7..=20, &[7, 8, 9]),
            (&[5, 1, 2, 3], ANY, &[1, 2, 3]),
            (&[1, 1, 2], ANY, &[1, 2]),
            (&[], ANY, &[]),
        ] {
            let (kept, others) = in_order(rows(all), &within);
            assert_eq!(kept.len() + others.len(), all.len());
            assert_eq!(numbers(kept), good, "{all:?}");
        }
    }
}
