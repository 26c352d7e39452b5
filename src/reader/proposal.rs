//! Stage one's proposals: rxing on single rows of the picture, in several sizes, turns and both of its binarisers.
//!
//! rxing's own search stops at the first start guard of a row and at the first code of a picture. Here every guard of
//! every sampled row is tried, in both directions, so that several symbols and the agreement between rows come out of
//! one pass. What rxing proposes is not yet believed: see [`super::verdict`].

use rxing::common::{BitArray, GlobalHistogramBinarizer, HybridBinarizer};
use rxing::oned::{EAN8Reader, EAN13Reader, UPCEANReader, UPCEReader};
use rxing::{Binarizer, DecodeHints, Luma8Source};

use super::sample::{Point, Turned, length, mix, sub};
use crate::code::{Gtin, Symbology, upc_e_expand};
use crate::picture::Luma;

/// A code that at least one row gave.
#[derive(Debug, Clone)]
pub(super) struct Proposal {
    pub(super) gtin: Gtin,
    pub(super) symbology: Symbology,
    /// The rows that gave it: outer edges of the first and last bar, in picture px, in reading direction.
    pub(super) rows: Vec<[Point; 2]>,
}

/// Rows looked at in each copy: enough that a symbol a tenth of the picture high is crossed a dozen times.
const ROWS: usize = 120;

/// Every code that a row of `turned` gives, grouped by code and place.
pub(super) fn proposals(turned: &Turned) -> Vec<Proposal> {
    let luma = &turned.luma;
    let source = || Luma8Source::new_with_slice(luma.pixels(), luma.width() as u32, luma.height() as u32);
    let (Ok(global), Ok(hybrid)) = (source(), source()) else { return Vec::new() };
    let (global, hybrid) = (GlobalHistogramBinarizer::new(global), HybridBinarizer::new(hybrid));
    // The hybrid binariser thresholds rows through its matrix only; as a row reader it is the global one.
    let matrix = hybrid.get_black_matrix().ok();

    let mut found = Vec::new();
    let step = (luma.height() / ROWS).max(1);
    for y in (step / 2..luma.height()).step_by(step) {
        if let Ok(row) = global.get_black_row(y) {
            read_row(&row, y, turned, &mut found);
        }
        if let Some(matrix) = matrix {
            read_row(&matrix.getRow(y as u32), y, turned, &mut found);
        }
    }
    found
}

fn read_row(row: &BitArray, y: usize, turned: &Turned, found: &mut Vec<Proposal>) {
    let mut reversed = None;
    for backwards in [false, true] {
        let row = if backwards {
            reversed.get_or_insert_with(|| {
                let mut copy = row.clone();
                copy.reverse();
                copy
            })
        } else {
            row
        };
        let size = row.get_size() as f32;
        for hit in read_direction(row) {
            let place = |x: f32| {
                let x = if backwards { size - x } else { x };
                turned.to_picture([x, y as f32 + 0.5])
            };
            gather(found, &hit, [place(hit.left), place(hit.right)]);
        }
    }
}

struct Hit {
    gtin: Gtin,
    symbology: Symbology,
    /// Outer edges of the first and last bar, px along the row.
    left: f32,
    right: f32,
}

fn read_direction(row: &BitArray) -> Vec<Hit> {
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
            Some(hit) => hit.right as usize,
            None => row.getNextSet(row.getNextUnset(start)),
        };
        hits.extend(hit);
        if from >= row.get_size() {
            break;
        }
    }
    hits
}

fn read_at(row: &BitArray, guard: &[usize; 2], hints: &DecodeHints) -> Option<Hit> {
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
        Some(Hit { gtin, symbology, left: first.x - HEAD * module, right: last.x + tail * module })
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

/// Adds a row's code to the proposal that it belongs to: same code, place within half a symbol.
fn gather(found: &mut Vec<Proposal>, hit: &Hit, row: [Point; 2]) {
    let middle = mix(row[0], row[1], 0.5);
    let reach = length(sub(row[1], row[0])) / 2.0;
    let same = found.iter_mut().find(|p| {
        p.gtin == hit.gtin
            && p.symbology == hit.symbology
            && p.rows.iter().any(|r| length(sub(mix(r[0], r[1], 0.5), middle)) < reach)
    });
    match same {
        Some(proposal) => proposal.rows.push(row),
        None => found.push(Proposal { gtin: hit.gtin, symbology: hit.symbology, rows: vec![row] }),
    }
}

/// The turns that are looked at, in degrees: a symbol as high as the standard asks is crossed whole by a row up to 36°
/// off its own direction (22.85 mm of height over 31.35 mm of width, GS1 General Specifications, nominal EAN-13), the
/// truncated ones on covers by less; 30° steps leave at most 15°.
pub(super) const TURNS: [f32; 6] = [0.0, 90.0, 30.0, 60.0, 120.0, 150.0];

/// A size at which the picture is looked at.
pub(super) struct Level {
    pub(super) luma: Luma,
    /// Picture px that one px of the level means.
    pub(super) unit: f32,
    /// How much the level is enlarged when it is turned: small pictures hold modules of a px and less.
    pub(super) zoom: f32,
}

/// The sizes, small ones first because they are cheap and most photos show a large symbol; each is made when it is asked
/// for.
pub(super) fn levels(picture: &Luma) -> impl Iterator<Item = Level> {
    /// Longest side in px from which on nothing is enlarged.
    const SMALL: usize = 800;
    /// Longest sides aimed at.
    const SIDES: [usize; 3] = [800, 1600, 3200];
    let side = picture.width().max(picture.height());
    let mut factors: Vec<usize> = SIDES.iter().map(|&s| side.div_ceil(s).max(1)).collect();
    factors.dedup();
    let level = |factor: usize, zoom| Level { luma: picture.reduced(factor), unit: factor as f32, zoom };
    let enlarged = (side <= SMALL).then_some((1, 2.0));
    factors.into_iter().map(|factor| (factor, 1.0)).chain(enlarged).map(move |(factor, zoom)| level(factor, zoom))
}
