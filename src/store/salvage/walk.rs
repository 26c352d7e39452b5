//! Which page belongs to which tree, and where trees have holes.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::RangeInclusive;

use super::node::{Kind, Node};
use super::pages::Pages;

/// No tree of SQLite's is deeper (sqlite.org, btreeInt.h: BTCURSOR_MAX_DEPTH).
const DEEPEST: u32 = 20;

/// Trees that may lay claim to one page before it is no one's.
const MOST_CLAIMS: usize = 4;

/// Every number that a row may have.
pub(super) const ANY: RangeInclusive<i64> = i64::MIN..=i64::MAX;

/// A leaf of a table as its tree sees it: the rows that may stand on it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Claim {
    pub(super) tree: usize,
    pub(super) rows: RangeInclusive<i64>,
}

/// All trees, walked from their roots.
#[derive(Debug, Default)]
pub(super) struct Walked {
    /// The tables' leaves, each with the trees that name it.
    pub(super) leaves: BTreeMap<u32, Vec<Claim>>,
    /// The pages of indexes that one tree alone names, by tree.
    pub(super) indexes: BTreeMap<usize, Vec<u32>>,
    /// The numbers of rows that may be missing, by tree.
    pub(super) holes: BTreeMap<usize, Vec<RangeInclusive<i64>>>,
    /// Every page that a tree names.
    pub(super) named: BTreeSet<u32>,
}

impl Walked {
    pub(super) fn hole(&mut self, tree: usize, rows: RangeInclusive<i64>) {
        self.holes.entry(tree).or_default().push(rows);
    }

    /// Walks a table's tree.
    pub(super) fn table(&mut self, pages: &Pages, tree: usize, root: u32) {
        let mut visits: BTreeMap<u32, usize> = BTreeMap::new();
        let mut next = vec![(root, ANY, 0)];
        while let Some((page, rows, depth)) = next.pop() {
            let node = pages.read(page).and_then(|bytes| Node::of(&bytes, page, pages.usable));
            let visit = visits.entry(page).or_default();
            *visit += 1;
            let Some(node) = node.filter(|_| depth <= DEEPEST && *visit <= MOST_CLAIMS) else {
                self.hole(tree, rows);
                continue;
            };
            match node.kind {
                Kind::TableLeaf => {
                    self.named.insert(page);
                    let claims = self.leaves.entry(page).or_default();
                    let claimed = claims.len() < MOST_CLAIMS;
                    if claimed {
                        claims.push(Claim { tree, rows: rows.clone() });
                    }
                    // Only a whole table is an empty leaf; within a tree none stays.
                    let emptied = node.cells.is_empty() && rows != ANY;
                    if !node.whole || !claimed || emptied {
                        self.hole(tree, rows);
                    }
                }
                Kind::TableInterior => {
                    self.named.insert(page);
                    if !node.whole {
                        self.hole(tree, rows.clone());
                    }
                    let (mut first, last) = (*rows.start(), *rows.end());
                    for cell in node.cells.iter().flatten() {
                        // Numbers rise along the page; one that does not is damaged.
                        if cell.row < first || cell.row > last {
                            self.hole(tree, rows.clone());
                            continue;
                        }
                        next.push((cell.child, first..=cell.row, depth + 1));
                        first = cell.row.saturating_add(1);
                    }
                    next.push((node.right, first..=last, depth + 1));
                }
                Kind::IndexLeaf | Kind::IndexInterior => self.hole(tree, rows),
            }
        }
    }

    /// Walks an index's tree.
    pub(super) fn index(&mut self, pages: &Pages, tree: usize, root: u32) {
        let mut seen = BTreeSet::new();
        let mut next = vec![root];
        while let Some(page) = next.pop() {
            let Some(node) = pages.read(page).and_then(|bytes| Node::of(&bytes, page, pages.usable)) else { continue };
            if !matches!(node.kind, Kind::IndexLeaf | Kind::IndexInterior) || !seen.insert(page) {
                continue;
            }
            if node.kind == Kind::IndexInterior {
                next.extend(node.cells.iter().flatten().map(|cell| cell.child));
                next.push(node.right);
            }
        }
        self.indexes.insert(tree, seen.into_iter().collect());
    }

    /// Takes away pages of indexes that several trees name: whose they are can't be told.
    pub(super) fn settle_indexes(&mut self) {
        let mut times: BTreeMap<u32, usize> = BTreeMap::new();
        self.indexes.values().flatten().for_each(|page| *times.entry(*page).or_default() += 1);
        for pages in self.indexes.values_mut() {
            pages.retain(|page| times[page] == 1);
        }
        self.named.extend(times.into_keys());
    }
}
