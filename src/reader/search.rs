//! The search of a picture: which of its regions are looked at, in which order, how long, and what has been read of it so far.

use super::add_on::Behind;
use super::explain::{Fate, Log};
use super::find::{self, Region};
use super::place::Place;
use super::sample::{self, Point};
use super::sought::Trail;
use super::stage::{self, Budget, Effort, Unread};
use super::strips::Strips;
use super::surface::Surfaces;
use super::view::Accepted;
use super::{Symbol, add_on, crop, verdict, vet};
use crate::code::{AddOnState, Certainty, Code, Symbology};
use crate::picture::Luma;

/// The symbols of `picture`, from the top down, then from left to right; with a word on each region for the log.
pub(super) fn symbols(picture: &Luma, most: Effort, log: &mut Log) -> Vec<Symbol> {
    let empty = picture.width() == 0 || picture.height() == 0;
    let mut symbols = if empty { Vec::new() } else { searched(picture, most, log) };
    let top_left = |s: &Symbol| s.corners.iter().fold([f32::MAX; 2], |m, c| [m[0].min(c[0]), m[1].min(c[1])]);
    symbols.sort_by(|a, b| {
        let ([ax, ay], [bx, by]) = (top_left(a), top_left(b));
        ay.total_cmp(&by).then(ax.total_cmp(&bx))
    });
    symbols
}

/// What is quick comes first, and what is likely. What may hold bars and gave nothing is looked at as a negative, too: foil and
/// bare metal are lighter than paint in one light and darker in another.
fn searched(picture: &Luma, most: Effort, log: &mut Log) -> Vec<Symbol> {
    let budget = Budget::of_a_picture();
    let mut positive = Search::of(picture, log);
    positive.look(Effort::Glance, &budget, log);
    // Where a glance has read something, longer looks gave none of 1,500 more symbols in 500 simulated pictures of several.
    if most > Effort::Glance && !positive.has_read() && positive.is_promising() {
        positive.look(Effort::Look, &budget, log);
    }
    if most == Effort::Glance || positive.is_over() {
        return positive.end(log);
    }
    let picture = picture.negative();
    let mut log_of_negative = log.of_negative();
    let mut negative = Search::of(&picture, &mut log_of_negative);
    negative.look(Effort::Glance, &budget, &mut log_of_negative);
    let negative_first = negative.least_cost() < positive.least_cost();
    for effort in [Effort::Look, Effort::Parts].into_iter().filter(|effort| *effort <= most) {
        for is_negative in [negative_first, !negative_first] {
            if is_negative {
                negative.look(effort, &budget, &mut log_of_negative);
            } else if !negative.has_read() {
                positive.look(effort, &budget, log);
            }
            if positive.has_read() {
                return positive.end(log);
            }
        }
        if negative.has_read() {
            break;
        }
    }
    let of_negative = negative.end(&mut log_of_negative);
    let of_positive = positive.end(log);
    if of_negative.is_empty() {
        return of_positive;
    }
    *log = log_of_negative;
    of_negative.into_iter().map(|symbol| Symbol { crop: symbol.crop.negative(), ..symbol }).collect()
}

/// Patches of a picture that are looked at, the most promising first.
const MOST_REGIONS: usize = 12;
/// Shares of a region that a symbol read must cover for it to be worth no look, and no long one: in no patch
/// that gave the second stage one more symbol, simulated or real, did it cover more than a third.
const MOSTLY_READ: f32 = 0.5;
const PART_READ: f32 = 0.35;

/// The search of a picture, or of its negative.
struct Search<'a> {
    surfaces: Surfaces<'a>,
    found: Found,
    waiting: Vec<Waiting>,
    /// How long it has been looked at.
    looked: Option<Effort>,
}

/// A region that may be a symbol and has not been read.
struct Waiting {
    region: Region,
    strips: Strips,
    /// What has come of it so far.
    fate: Fate,
    /// How badly its likeliest place looks like a symbol, whatever its digits.
    cost: f32,
    /// What the bars that fit best there leave unexplained.
    residual: f32,
    /// What a glance has found there.
    glanced: Option<Box<Trail>>,
}

impl<'a> Search<'a> {
    /// Finds regions and reads what stage one reads.
    fn of(picture: &'a Luma, log: &mut Log) -> Self {
        let mut surfaces = Surfaces::new(picture);
        let regions = find::regions(&mut surfaces, MOST_REGIONS);
        let mut search = Self { surfaces, found: Found::default(), waiting: Vec::new(), looked: None };
        let mut laid_out: Vec<(Region, Option<Strips>)> = Vec::new();
        for region in regions {
            if search.found.explains(&region, MOSTLY_READ) {
                log.add(&region, None, Fate::Covered);
                continue;
            }
            let surfaces = &search.surfaces;
            let strips = if vet::is_busy(surfaces, &region) { Strips::of(surfaces, &region) } else { None };
            let strips = strips.map(|strips| strips.noting(log.notes()));
            if let Some(accepted) = strips.as_ref().and_then(stage::general_purpose) {
                search.add(accepted);
                log.add(&region, strips, Fate::Read);
            } else {
                laid_out.push((region, strips));
            }
        }
        for (region, strips) in laid_out {
            match strips {
                None => log.add(&region, None, Fate::NoBars),
                Some(strips) if search.found.explains(&region, PART_READ) => {
                    log.add(&region, Some(strips), Fate::Covered);
                }
                Some(strips) if !vet::may_be_symbol(&strips) => {
                    log.add(&region, Some(strips), Fate::NoSymbol);
                }
                Some(strips) => {
                    let fate = Fate::LeftOut;
                    let [cost, residual] = [f32::INFINITY; 2];
                    search.waiting.push(Waiting { region, strips, fate, cost, residual, glanced: None });
                }
            }
        }
        search
    }

    /// Looks at what is left, so long, if it has not been done. What is read at a glance in one region saves a long look at
    /// all others.
    fn look(&mut self, effort: Effort, budget: &Budget, log: &mut Log) {
        if self.looked >= Some(effort) {
            return;
        }
        self.looked = Some(effort);
        let mut slow = 0;
        let mut all = std::mem::take(&mut self.waiting);
        // Once their places have been scored, that says more than how strong their edges are.
        if effort == Effort::Parts {
            all.sort_by(|a, b| a.cost.total_cmp(&b.cost));
        }
        for waiting in all {
            if self.found.explains(&waiting.region, PART_READ) {
                log.add(&waiting.region, Some(waiting.strips), Fate::Covered);
                continue;
            }
            if slow == effort.most_regions() || !self.found.sizes_up(&waiting.region) {
                self.waiting.push(waiting);
                continue;
            }
            slow += 1;
            if !self.is_worth(&waiting, effort) {
                self.waiting.push(waiting);
                continue;
            }
            let Waiting { region, strips, cost, residual, glanced, .. } = waiting;
            let looked = match effort {
                Effort::Parts => {
                    let parts = self.in_parts(&region, &strips, residual, budget);
                    parts.ok_or(Unread { cost, residual, glanced: None })
                }
                Effort::Glance | Effort::Look => stage::likeliest(&strips, glanced, effort, budget),
            };
            match looked {
                Ok(accepted) => {
                    self.add(accepted);
                    log.add(&region, Some(strips), Fate::Read);
                }
                Err(Unread { cost, residual, glanced }) => {
                    self.waiting.push(Waiting { region, strips, fate: Fate::Unread, cost, residual, glanced });
                }
            }
        }
    }

    /// Whether a region is worth a look as long as that.
    fn is_worth(&self, waiting: &Waiting, effort: Effort) -> bool {
        /// Cost from which on nothing more is sought beside a symbol that was read: others are printed and lit alike. Of 96 such
        /// looks on simulated pictures of one symbol or several none gave one.
        const ALIKE: f32 = 0.2;
        /// And in parts of the height: of 13 symbols that these gave, on photos and on simulated pictures, the whole had cost more
        /// in one.
        const LIKELY: f32 = 0.3;
        match effort {
            Effort::Glance => true,
            Effort::Look => !self.has_read() || waiting.cost < ALIKE,
            Effort::Parts => waiting.cost < LIKELY,
        }
    }

    /// Whether no longer look is worth while: something was read, or nothing is left.
    fn is_over(&self) -> bool {
        self.has_read() || self.waiting.is_empty()
    }

    fn has_read(&self) -> bool {
        !self.found.0.is_empty()
    }

    /// How badly the likeliest place of all regions looks like a symbol, whatever its digits.
    fn least_cost(&self) -> f32 {
        self.waiting.iter().map(|waiting| waiting.cost).fold(f32::INFINITY, f32::min)
    }

    /// Whether a place looks so much like a symbol that a longer look comes before one at the negative.
    fn is_promising(&self) -> bool {
        /// The median of the readings that took a longer look.
        const PROMISING: f32 = 0.16;
        self.least_cost() < PROMISING
    }

    fn end(self, log: &mut Log) -> Vec<Symbol> {
        for Waiting { region, strips, fate, .. } in self.waiting {
            log.add(&region, Some(strips), fate);
        }
        self.found.0.into_iter().map(|known| known.symbol).collect()
    }

    /// What one part of the region's height shows by itself, laid back into the whole, of which bars left `residual` unexplained;
    /// noted with the whole's strips.
    fn in_parts(&self, region: &Region, whole: &Strips, residual: f32, budget: &Budget) -> Option<Accepted> {
        let parts = region.parts().into_iter().filter_map(|part| Strips::of(&self.surfaces, &part));
        let parts: Vec<Strips> = parts.map(|strips| strips.part_of(whole)).collect();
        let accepted = stage::likeliest_in_parts(&parts, residual, budget)?;
        Some(Accepted { place: accepted.place.reaching(region), ..accepted })
    }

    /// Adds the symbol whose main code was accepted, with its add-on.
    fn add(&mut self, accepted: Accepted) {
        let place = accepted.place;
        let surface = self.surfaces.for_px_of(place.module_px() / 3.0);
        let evidence = self.surfaces.for_px_of(place.module_px() / 2.0);
        let behind = match (accepted.symbology, verdict::modules(accepted.gtin, accepted.symbology)) {
            (Symbology::UpcA | Symbology::UpcE | Symbology::Ean13, Some(modules)) => {
                add_on::look(&surface, &place, &accepted.fit, &modules)
            }
            // GS1 General Specifications: add-ons go with UPC-A, UPC-E and EAN-13 only.
            _ => Behind::NONE,
        };
        let add_on = behind.state;
        let symbol = Symbol {
            code: Code { gtin: accepted.gtin, add_on },
            symbology: accepted.symbology,
            corners: place.corners,
            by: accepted.by,
            module_px: place.module_px(),
            certainty: accepted.certainty,
            crop: crop::cut(&evidence, &place, add_on != AddOnState::Absent),
        };
        self.found.add(Known { symbol, place, behind });
    }
}

/// What has been read of one picture so far.
#[derive(Default)]
struct Found(Vec<Known>);

struct Known {
    symbol: Symbol,
    place: Place,
    behind: Behind,
}

impl Found {
    /// Adds a symbol, or completes it if it is there already: a row along its edge may lead to it again, and glare may
    /// part it in two. The same code less than a symbol's width away is the same symbol, unless their add-ons differ.
    fn add(&mut self, new: Known) {
        let covered = self.covers(new.place.middle());
        let same = self.0.iter_mut().find(|known| {
            let (there, code) = (&known.place, &known.symbol.code);
            let near = sample::length(sample::sub(there.middle(), new.place.middle())) < there.width_px();
            let differ = code.add_on.read().zip(new.behind.state.read()).is_some_and(|(a, b)| a != b);
            code.gtin == new.symbol.code.gtin && near && !differ
        });
        match same {
            // What one part shows beside it is not blank because the other part sees nothing.
            Some(known) if known.behind.says_less_than(new.behind) => {
                let certainty = known.symbol.certainty.max(new.symbol.certainty);
                *known = new;
                known.symbol.certainty = certainty;
            }
            Some(_) => {}
            None if covered => {}
            None => self.0.push(new),
        }
    }

    fn covers(&self, p: Point) -> bool {
        self.0.iter().any(|known| known.place.holds(p))
    }

    /// Whether what `region` shows is a symbol that was read: its middle lies in the bars, or this `share` of it in them,
    /// their quiet zones and the add-on's place; or it is those bars grown together with what is beside them.
    fn explains(&self, region: &Region, share: f32) -> bool {
        /// Share of the bars that it then holds.
        const GROWN_TOGETHER: f32 = 0.8;
        self.covers(region.middle)
            || self.0.iter().any(|Known { symbol, place, .. }| {
                let surroundings = place.with_surroundings(symbol.code.add_on != AddOnState::Absent);
                region.share(|p| surroundings.holds(p)) > share || place.share(|p| region.holds(p)) > GROWN_TOGETHER
            })
    }

    /// Whether `region` is about as wide as a symbol read for certain, if there is one: comics in one picture are about as
    /// far away, and their symbols are printed in much the same size.
    fn sizes_up(&self, region: &Region) -> bool {
        /// Widths of the region over that of the bars. A symbol may be farther away and partly under glare; or nearer, and
        /// its patch reaches over its add-on, 1.75 times as wide. Patches that gave one more symbol had 1.0 to 1.75.
        const ALIKE: std::ops::RangeInclusive<f32> = 0.4..=2.5;
        let mut certain = self.0.iter().filter(|known| known.symbol.certainty == Certainty::Sure).peekable();
        certain.peek().is_none()
            || certain.any(|known| ALIKE.contains(&(2.0 * region.half[0] / known.place.width_px())))
    }
}
