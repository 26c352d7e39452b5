//! One page of a tree: its cells, and whether all of it adds up (sqlite.org/fileformat2.html, section 1.6).

use std::ops::Range;

use super::pages::{HEADER, number16, number32};

/// What a page is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    TableInterior,
    TableLeaf,
    IndexInterior,
    IndexLeaf,
}

/// An entry of a page.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Cell {
    /// The page below it; 0 on a leaf.
    pub(super) child: u32,
    /// The row's number; 0 in an index.
    pub(super) row: i64,
    /// How long the record is.
    pub(super) length: usize,
    /// Where its beginning lies in the page.
    pub(super) local: Range<usize>,
    /// The page on which it goes on; 0 if it does not.
    pub(super) overflow: u32,
}

/// A page of a tree.
#[derive(Debug)]
pub(super) struct Node {
    pub(super) kind: Kind,
    /// In their order; `None` where there should be one.
    pub(super) cells: Vec<Option<Cell>>,
    /// The page behind all cells; 0 on a leaf.
    pub(super) right: u32,
    /// Whether its cells, its free room and what its header says add up to the page.
    pub(super) whole: bool,
}

/// A number of SQLite's variable length, and how many bytes it takes.
pub(super) fn varint(bytes: &[u8]) -> Option<(u64, usize)> {
    let mut value = 0_u64;
    for (at, &byte) in bytes.iter().take(8).enumerate() {
        value = value << 7 | u64::from(byte & 0x7f);
        if byte < 0x80 {
            return Some((value, at + 1));
        }
    }
    bytes.get(8).map(|&last| (value << 8 | u64::from(last), 9))
}

impl Node {
    /// `None` if the page is of no tree.
    pub(super) fn of(page: &[u8], number: u32, usable: usize) -> Option<Self> {
        let start = if number == 1 { HEADER } else { 0 };
        let kind = match page.get(start)? {
            5 => Kind::TableInterior,
            13 => Kind::TableLeaf,
            2 => Kind::IndexInterior,
            10 => Kind::IndexLeaf,
            _ => return None,
        };
        let interior = matches!(kind, Kind::TableInterior | Kind::IndexInterior);
        let count = usize::from(number16(page, start + 3));
        let pointers = start + if interior { 12 } else { 8 };
        let first = pointers + 2 * count;
        if first > usable {
            return None;
        }
        let mut cells: Vec<Option<(Cell, Range<usize>)>> = (0..count)
            .map(|n| {
                let at = usize::from(number16(page, pointers + 2 * n));
                (at >= first).then(|| cell(&page[..usable], kind, at)).flatten()
            })
            .collect();
        // Of two that lie over each other neither can be believed.
        let mut spans: Vec<(usize, usize, usize)> =
            cells.iter().enumerate().filter_map(|(n, c)| c.as_ref().map(|(_, s)| (s.start, s.end, n))).collect();
        spans.sort_unstable();
        for two in spans.windows(2) {
            if two[0].1 > two[1].0 {
                (cells[two[0].2], cells[two[1].2]) = (None, None);
            }
        }
        let used: usize = cells.iter().flatten().map(|(_, span)| span.len()).sum();
        let begin = match number16(page, start + 5) {
            0 => 65536,
            begin => usize::from(begin),
        };
        let free = free_blocks(page, start, usable).map(|free| free + usize::from(page[start + 7]));
        let whole = cells.iter().all(Option::is_some)
            && begin >= first
            && free.is_some_and(|free| usable.checked_sub(begin) == Some(used + free));
        let right = if interior { number32(page, start + 8) } else { 0 };
        Some(Self { kind, cells: cells.into_iter().map(|c| c.map(|(cell, _)| cell)).collect(), right, whole })
    }
}

/// The bytes of the page's list of free blocks.
fn free_blocks(page: &[u8], start: usize, usable: usize) -> Option<usize> {
    let (mut at, mut free) = (usize::from(number16(page, start + 1)), 0);
    while at != 0 {
        let (next, size) = (usize::from(number16(page, at)), usize::from(number16(page, at + 2)));
        if at + 4 > usable || size < 4 || at + size > usable || (next != 0 && next < at + size) {
            return None;
        }
        free += size;
        at = next;
    }
    Some(free)
}

/// A cell and the bytes that it takes.
fn cell(page: &[u8], kind: Kind, at: usize) -> Option<(Cell, Range<usize>)> {
    let mut next = at;
    let mut child = 0;
    if matches!(kind, Kind::TableInterior | Kind::IndexInterior) {
        child = page.get(at..at + 4).map(|four| number32(four, 0))?;
        next += 4;
    }
    let number = |next: &mut usize| {
        let (value, size) = varint(page.get(*next..)?)?;
        *next += size;
        Some(value)
    };
    if kind == Kind::TableInterior {
        let row = number(&mut next)?.cast_signed();
        return Some((Cell { child, row, length: 0, local: next..next, overflow: 0 }, at..next));
    }
    let length = usize::try_from(number(&mut next)?).ok()?;
    let row = if kind == Kind::TableLeaf { number(&mut next)?.cast_signed() } else { 0 };
    let kept = local_length(page.len(), length, kind == Kind::TableLeaf);
    let local = next..next.checked_add(kept)?;
    let (overflow, end) = match length > kept {
        true => (page.get(local.end..local.end + 4).map(|four| number32(four, 0))?, local.end + 4),
        false => (0, local.end),
    };
    // Room for less than four bytes is never given.
    let end = end.max(at + 4);
    (end <= page.len()).then_some((Cell { child, row, length, local, overflow }, at..end))
}

/// How much of a record is kept in the page itself.
fn local_length(usable: usize, length: usize, leaf_of_table: bool) -> usize {
    let most = if leaf_of_table { usable - 35 } else { (usable - 12) * 64 / 255 - 23 };
    if length <= most {
        return length;
    }
    let least = (usable - 12) * 32 / 255 - 23;
    let kept = least + (length - least) % (usable - 4);
    if kept <= most { kept } else { least }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_of_variable_length_are_read() {
        // sqlite.org/fileformat2.html, 'varint': seven bits a byte, all eight of a ninth.
        for (bytes, value) in [
            (&[0x00][..], Some((0, 1))),
            (&[0x7f], Some((127, 1))),
            (&[0x81, 0x00], Some((128, 2))),
            (&[0xff; 9], Some((u64::MAX, 9))),
            (&[0x81], None),
            (&[], None),
        ] {
            assert_eq!(varint(bytes), value, "{bytes:?}");
        }
    }

    #[test]
    fn no_bytes_make_it_panic() {
        let mut state = 7_u64;
        for round in 0..3000_u32 {
            let mut page: Vec<u8> = (0..512)
                .map(|_| {
                    state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
                    (state >> 56) as u8
                })
                .collect();
            page[0] = [2, 5, 10, 13][round as usize % 4];
            page[3] = 0;
            Node::of(&page, 2, 512);
        }
    }
}
