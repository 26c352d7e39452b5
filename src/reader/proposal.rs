//! Stage one: rxing on profiles across the bars, with two ways of telling dark from light.
//!
//! rxing's own search stops at the first start guard of a row and at the first code of a picture. Here every guard of
//! a profile is tried. What rxing proposes is not yet believed: see [`super::verdict`].

use rxing::DecodeHints;
use rxing::common::BitArray;
use rxing::oned::{EAN8Reader, EAN13Reader, UPCEANReader, UPCEReader};

use super::edges::Edge;
use crate::code::{Gtin, Symbology, upc_e_expand};

/// A code that a profile gave, and the columns between which its bars lie.
#[derive(Debug, Clone, Copy)]
pub(super) struct Proposal {
    pub(super) gtin: Gtin,
    pub(super) symbology: Symbology,
    pub(super) left: f32,
    pub(super) right: f32,
}

/// Bits a column: rxing measures widths in whole bits.
const FINE: usize = 4;

/// Every code that rxing finds in `profile` between its `edges`, read from left to right.
pub(super) fn proposals(profile: &[f32], edges: &[Edge], reach: usize) -> Vec<Proposal> {
    let mut found: Vec<Proposal> = Vec::new();
    for row in [by_edges(edges, profile.len()), by_level(profile, reach)] {
        for hit in read(&row) {
            if !found.iter().any(|f| f.gtin == hit.gtin && (f.left - hit.left).abs() < reach as f32) {
                found.push(hit);
            }
        }
    }
    found
}

/// Dark from each edge that gets darker to the next that gets lighter.
fn by_edges(edges: &[Edge], columns: usize) -> BitArray {
    let mut row = BitArray::with_size(columns * FINE);
    let bit = |at: f32| ((at * FINE as f32 + 0.5) as usize).min(columns * FINE);
    for pair in edges.windows(2) {
        if pair[0].darker {
            (bit(pair[0].at)..bit(pair[1].at)).for_each(|i| row.set(i));
        }
    }
    row
}

/// Dark where the profile is below the middle between the lightest and the darkest within `reach` columns.
fn by_level(profile: &[f32], reach: usize) -> BitArray {
    /// Share of the whole contrast below which a place is plain paper or plain ink.
    const PLAIN: f32 = 0.25;
    let block = (reach / 2).max(1);
    let ends = |values: &[f32]| values.iter().fold([f32::MAX, f32::MIN], |[l, h], &v| [l.min(v), h.max(v)]);
    let blocks: Vec<[f32; 2]> = profile.chunks(block).map(ends).collect();
    let [low, high] = ends(profile);
    let threshold = |x: usize| {
        let b = x / block;
        let near = &blocks[b.saturating_sub(2)..(b + 3).min(blocks.len())];
        let [l, h] = near.iter().fold([f32::MAX, f32::MIN], |[l, h], n| [l.min(n[0]), h.max(n[1])]);
        if h - l < PLAIN * (high - low) { (low + high) / 2.0 } else { (l + h) / 2.0 }
    };
    let mut row = BitArray::with_size(profile.len() * FINE);
    for x in 0..profile.len() - 1 {
        let (threshold, a, b) = (threshold(x), profile[x], profile[x + 1]);
        for i in 0..FINE {
            if a + (b - a) * i as f32 / FINE as f32 <= threshold {
                row.set(x * FINE + i);
            }
        }
    }
    row
}

fn read(row: &BitArray) -> Vec<Proposal> {
    const GUARD: [u32; 3] = [1, 1, 1];
    let hints = DecodeHints::default();
    let mut hits = Vec::new();
    let mut from = 0;
    while let Ok(guard) = EAN13Reader.findGuardPattern(row, from, false, &GUARD) {
        let [start, end] = guard;
        // rxing asks for white as wide as the guard before it; without that, any stripe would start a code.
        let quiet = start.checked_sub(end - start).is_some_and(|q| row.isRange(q, start, false).unwrap_or(false));
        let hit = if quiet { read_at(row, &guard, &hints) } else { None };
        from = match &hit {
            Some(hit) => (hit.right * FINE as f32) as usize,
            None => row.getNextSet(row.getNextUnset(start)),
        };
        hits.extend(hit);
        if from >= row.get_size() {
            break;
        }
    }
    hits
}

fn read_at(row: &BitArray, guard: &[usize; 2], hints: &DecodeHints) -> Option<Proposal> {
    /// rxing reports the middles of the guards; from the first bar's outer edge to the first middle are so many modules.
    const HEAD: f32 = 1.5;
    // And from the last middle to the last bar's outer edge: half of three modules, and half of a UPC-E's six.
    let read = |reader: Found, symbology, modules: f32, tail: f32| {
        let result = reader.ok()?;
        let gtin = gtin(result.getText(), symbology)?;
        let [first, last, ..] = result.getPoints() else { return None };
        let module = (last.x - first.x) / (modules - HEAD - tail);
        let upc_a = symbology == Symbology::Ean13 && gtin.digits()[0] == 0;
        let symbology = if upc_a { Symbology::UpcA } else { symbology };
        let [left, right] = [first.x - HEAD * module, last.x + tail * module].map(|bit| bit / FINE as f32);
        Some(Proposal { gtin, symbology, left, right })
    };
    read(EAN13Reader.decodeRowWithGuardRange(0, row, guard, hints), Symbology::Ean13, 95.0, 1.5)
        .or_else(|| read(EAN8Reader.decodeRowWithGuardRange(0, row, guard, hints), Symbology::Ean8, 67.0, 1.5))
        .or_else(|| read(UPCEReader.decodeRowWithGuardRange(0, row, guard, hints), Symbology::UpcE, 51.0, 3.0))
}

type Found = rxing::common::Result<rxing::RXingResult>;

/// rxing gives a UPC-E as printed, everything else in full.
fn gtin(text: &str, symbology: Symbology) -> Option<Gtin> {
    if symbology != Symbology::UpcE {
        return text.parse().ok();
    }
    let digits: Vec<u8> = text.bytes().map(|b| b.wrapping_sub(b'0')).collect();
    upc_e_expand(digits.as_slice().try_into().ok()?).ok()
}
