//! Luma to codes: finding bars, sampling, decoding, deciding. The only user of rxing.
//!
//! Reading goes in two stages (`stage`): each proposes and confirms codes in the picture, and the second looks only where
//! the first left something open. What a code means is left to [`crate::meaning`].
//! [`Symbol::by`]'s words are printed as JSON: they must stay.

mod add_on;
mod align;
mod crop;
mod edges;
mod explain;
mod find;
mod fit;
mod likelihood;
mod model;
mod place;
mod places;
#[cfg(test)]
mod profiles;
mod proposal;
mod sample;
mod sought;
mod stage;
mod strips;
mod surface;
mod table;
mod trellis;
mod verdict;
mod vet;
mod view;
mod warp;

pub use explain::{Attempt, DigitReport, Explanation, Fate, Fitted, RegionReport, Weighed, explain};

use explain::Log;
use find::Region;
use place::Place;
use stage::Effort;
use strips::Strips;
use surface::Surfaces;
use view::Accepted;

use crate::code::{AddOnState, Certainty, Code, Symbology};
use crate::picture::Luma;

/// One symbol read from a picture.
#[derive(Debug, Clone)]
pub struct Symbol {
    /// Main code and add-on.
    pub code: Code,
    /// The kind of the main symbol.
    pub symbology: Symbology,
    /// The corners of the main symbol's bars in picture px: top left, top right, bottom right, bottom left, as seen
    /// with the symbol upright.
    pub corners: [[f32; 2]; 4],
    /// The stage that read it, as printed in JSON.
    pub by: &'static str,
    /// Width of a module in picture px.
    pub module_px: f32,
    /// How far the code can be trusted.
    pub certainty: Certainty,
    /// The symbol with its add-on's place, upright and tightly cropped: evidence for the queue.
    pub crop: Luma,
}

/// What has been read of one picture so far.
#[derive(Default)]
struct Found(Vec<(Symbol, Place)>);

impl Found {
    /// Adds a symbol, or completes it if it is there already: a row along its edge may lead to it again, and glare may
    /// part it in two. The same code less than a symbol's width away is the same symbol, unless their add-ons differ.
    fn add(&mut self, symbol: Symbol, place: Place) {
        let add_on = symbol.code.add_on;
        let covered = self.covers(place.middle());
        let same = self.0.iter_mut().find(|(known, there)| {
            let near = sample::length(sample::sub(there.middle(), place.middle())) < there.width_px();
            let differ = known.code.add_on.read().zip(add_on.read()).is_some_and(|(a, b)| a != b);
            known.code.gtin == symbol.code.gtin && near && !differ
        });
        match same {
            // What one part shows beside it is not blank because the other part sees nothing.
            Some(known) if known_less(known.0.code.add_on, add_on) => *known = (symbol, place),
            Some(_) => {}
            None if covered => {}
            None => self.0.push((symbol, place)),
        }
    }

    fn covers(&self, p: sample::Point) -> bool {
        self.0.iter().any(|(_, place)| place.holds(p))
    }

    /// Whether what `region` shows is a symbol that was read: its middle lies in the bars, or this `share` of it in them,
    /// their quiet zones and the add-on's place.
    fn explains(&self, region: &Region, share: f32) -> bool {
        self.covers(region.middle)
            || self.0.iter().any(|(symbol, place)| {
                let surroundings = place.with_surroundings(symbol.code.add_on != AddOnState::Absent);
                region.share(|p| surroundings.holds(p)) > share
            })
    }

    /// Whether `region` is about as wide as a symbol read for certain, if there is one: comics in one picture are about as
    /// far away, and their symbols are printed in much the same size.
    fn sizes_up(&self, region: &Region) -> bool {
        /// Widths of the region over that of the bars. A symbol may be farther away and partly under glare; or nearer, and
        /// its patch reaches over its add-on, 1.75 times as wide. Patches that gave one more symbol had 1.0 to 1.75.
        const ALIKE: std::ops::RangeInclusive<f32> = 0.4..=2.5;
        let mut certain = self.0.iter().filter(|(symbol, _)| symbol.certainty == Certainty::Sure).peekable();
        certain.peek().is_none() || certain.any(|(_, place)| ALIKE.contains(&(2.0 * region.half[0] / place.width_px())))
    }
}

/// Whether `a` says less of an add-on than `b`: nothing, something, or its digits.
fn known_less(a: AddOnState, b: AddOnState) -> bool {
    let rank = |state| match state {
        AddOnState::Absent => 0,
        AddOnState::Unread => 1,
        AddOnState::Read(_) => 2,
    };
    rank(a) < rank(b)
}

/// Patches of a picture that are looked at, the most promising first.
const MOST_REGIONS: usize = 12;
/// Shares of a region that a symbol read must cover for it to be worth no look, and no long one: in no patch
/// that gave the second stage one more symbol, simulated or real, did it cover more than a third.
const MOSTLY_READ: f32 = 0.5;
const PART_READ: f32 = 0.35;

/// Reads every UPC-A, EAN-13, UPC-E and EAN-8 in `picture`: from the top down, then from left to right.
#[must_use]
pub fn read(picture: &Luma) -> Vec<Symbol> {
    look(picture, Effort::Search, &mut Log::default())
}

/// The same for a frame of a film: what costs long is left to the next frame, which may show more.
#[must_use]
pub fn read_frame(frame: &Luma) -> Vec<Symbol> {
    look(frame, Effort::Glance, &mut Log::default())
}

/// The same, with a word on each region for the log. What may hold bars and gave nothing is looked at as a negative, too:
/// foil and bare metal between bars of paint are lighter than paper in one light and darker in another.
fn look(picture: &Luma, most: Effort, log: &mut Log) -> Vec<Symbol> {
    let (symbols, left_open) = search(picture, &Effort::ALL[..=most as usize], log);
    if !symbols.is_empty() || !left_open || most == Effort::Glance {
        return symbols;
    }
    let mut log_of_negative = log.of_negative();
    let (mut symbols, _) =
        search(&picture.negative(), &[Effort::Glance, Effort::Look, Effort::Parts], &mut log_of_negative);
    if !symbols.is_empty() {
        *log = log_of_negative;
    }
    for symbol in &mut symbols {
        symbol.crop = symbol.crop.negative();
    }
    symbols
}

/// Looks at the picture's regions, and tells whether one that may be a symbol gave nothing.
fn search(picture: &Luma, efforts: &[Effort], log: &mut Log) -> (Vec<Symbol>, bool) {
    let mut left_open = false;
    let mut found = Found::default();
    if picture.width() > 0 && picture.height() > 0 {
        let mut surfaces = Surfaces::new(picture);
        let regions = find::regions(&mut surfaces, MOST_REGIONS);
        let mut laid_out: Vec<(&Region, Option<Strips>)> = Vec::new();
        for region in &regions {
            if found.explains(region, MOSTLY_READ) {
                log.add(region, None, Fate::Covered);
                continue;
            }
            let strips = if vet::is_busy(&surfaces, region) { Strips::of(&surfaces, region) } else { None };
            let strips = strips.map(|strips| strips.noting(log.notes()));
            if let Some(accepted) = strips.as_ref().and_then(stage::general_purpose) {
                let (symbol, place) = complete(&surfaces, accepted);
                found.add(symbol, place);
                log.add(region, strips, Fate::Read);
            } else {
                laid_out.push((region, strips));
            }
        }
        let mut waiting: Vec<Waiting<'_>> = Vec::new();
        for (region, strips) in laid_out {
            match strips {
                None => log.add(region, None, Fate::NoBars),
                Some(strips) if found.explains(region, PART_READ) => log.add(region, Some(strips), Fate::Covered),
                Some(strips) if !vet::may_be_symbol(region, &strips) => log.add(region, Some(strips), Fate::NoSymbol),
                Some(strips) => waiting.push(Waiting { region, strips, fate: Fate::LeftOut }),
            }
        }
        // What is read at a glance in one region saves a long look at all others.
        for &effort in efforts {
            if effort >= Effort::Parts && !found.0.is_empty() {
                break;
            }
            let mut slow = 0;
            for Waiting { region, strips, fate } in std::mem::take(&mut waiting) {
                if found.explains(region, PART_READ) {
                    log.add(region, Some(strips), Fate::Covered);
                } else if slow == effort.most_regions() || !found.sizes_up(region) {
                    waiting.push(Waiting { region, strips, fate });
                } else {
                    slow += 1;
                    let accepted = match effort {
                        Effort::Parts => in_parts(&surfaces, region, &strips),
                        _ => stage::likeliest(&strips, effort),
                    };
                    if let Some(accepted) = accepted {
                        let (symbol, place) = complete(&surfaces, accepted);
                        found.add(symbol, place);
                        log.add(region, Some(strips), Fate::Read);
                    } else {
                        waiting.push(Waiting { region, strips, fate: Fate::Unread });
                    }
                }
            }
        }
        left_open = !waiting.is_empty();
        for Waiting { region, strips, fate } in waiting {
            log.add(region, Some(strips), fate);
        }
    }
    let mut symbols: Vec<Symbol> = found.0.into_iter().map(|(symbol, _)| symbol).collect();
    let top_left = |s: &Symbol| s.corners.iter().fold([f32::MAX; 2], |m, c| [m[0].min(c[0]), m[1].min(c[1])]);
    symbols.sort_by(|a, b| {
        let ([ax, ay], [bx, by]) = (top_left(a), top_left(b));
        ay.total_cmp(&by).then(ax.total_cmp(&bx))
    });
    (symbols, left_open)
}

/// A region that may be a symbol and has not been read.
struct Waiting<'a> {
    region: &'a Region,
    strips: Strips,
    /// What has come of it so far.
    fate: Fate,
}

/// What one part of the region's height shows by itself, laid back into the whole; noted with the whole's strips.
fn in_parts(surfaces: &Surfaces<'_>, region: &Region, whole: &Strips) -> Option<Accepted> {
    region.parts().iter().filter_map(|part| Strips::of(surfaces, part)).find_map(|strips| {
        let strips = strips.noting(whole.notes().clone());
        let accepted = stage::likeliest(&strips, Effort::Look)?;
        Some(Accepted { place: accepted.place.reaching(region), ..accepted })
    })
}

/// The symbol whose main code was accepted, with its add-on.
fn complete(surfaces: &Surfaces<'_>, accepted: Accepted) -> (Symbol, Place) {
    let place = accepted.place;
    let surface = surfaces.for_px_of(place.module_px() / 3.0);
    let add_on = match accepted.symbology {
        // GS1 General Specifications: add-ons go with UPC-A, UPC-E and EAN-13 only.
        Symbology::Ean8 => AddOnState::Absent,
        Symbology::UpcA | Symbology::UpcE | Symbology::Ean13 => add_on::look(&surface, &place, &accepted.fit),
    };
    let symbol = Symbol {
        code: Code { gtin: accepted.gtin, add_on },
        symbology: accepted.symbology,
        corners: place.corners,
        by: accepted.by,
        module_px: place.module_px(),
        certainty: accepted.certainty,
        crop: crop::cut(&surface, &place, add_on != AddOnState::Absent),
    };
    (symbol, place)
}
