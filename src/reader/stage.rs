//! The two stages: ways of reading a region, the second tried where the first read nothing.

use std::cell::Cell;

use super::edges::{FEWEST_EDGES, matched, reach};
use super::explain::Attempt;
use super::fit::Theta;
use super::likelihood::{self, Reading};
use super::proposal::{Proposal, proposals};
use super::sought::{Glance, Sought, Trail};
use super::strips::{Strip, Strips, without_light};
use super::verdict::{self, Evidence};
use super::view::{Accepted, Blend, View, combination_of, darkest_of, freed_of, mean_of};
use super::warp::Warp;
use crate::code::{Certainty, Symbology};

/// How a region is looked at, each in its turn if the one before gave nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Effort {
    /// At the likeliest places, over the whole height.
    Glance,
    /// At more places, and where light or damage differ over parts of the height, too.
    Look,
    /// So in each part of the height by itself.
    Parts,
}

impl Effort {
    /// How many regions of a picture are looked at so, the most promising first.
    pub(super) fn most_regions(self) -> usize {
        match self {
            Self::Glance | Self::Look => 4,
            Self::Parts => 2,
        }
    }
}

/// How much work stage two may still do on a picture: what is no symbol must come to an end.
pub(super) struct Budget(Cell<f32>);

impl Budget {
    pub(super) fn of_a_picture() -> Self {
        /// Sharp places: a fifth of a second on one core. A sixth more reads four of 1,683 photos more.
        const PLACES: f32 = 480.0;
        Self(Cell::new(PLACES))
    }

    fn is_spent(&self) -> bool {
        self.0.get() <= 0.0
    }

    /// Takes what seeking on a profile has cost, in sharp places.
    fn take(&self, work: f32) {
        self.0.set(self.0.get() - work);
    }
}

/// Stage one: rxing proposes, the fit decides.
pub(super) fn general_purpose(strips: &Strips) -> Option<Accepted> {
    let seen: Vec<&Strip> = strips.seen().collect();
    proposed(&View::both(strips, &seen, mean_of)).or_else(|| proposed_in(strips, &seen, Bands::LOW))
}

/// What rxing proposes on any of these bands, if it fits.
fn proposed_in(strips: &Strips, seen: &[&Strip], bands: Bands) -> Option<Accepted> {
    bands.of(seen).find_map(|from| proposed(&View::both(strips, from, mean_of)))
}

/// What rxing proposes on a profile, if it fits.
fn proposed(views: &[View<'_>; 2]) -> Option<Accepted> {
    views.iter().find_map(|view| {
        proposals(&view.profile, &view.edges, reach(view.strips.inner_columns()))
            .iter()
            .find_map(|proposal| confirm(view, proposal))
    })
}

fn confirm(view: &View<'_>, proposal: &Proposal) -> Option<Accepted> {
    const BY: &str = "rxing";
    let modules = verdict::modules(proposal.gtin, proposal.symbology)?;
    let warp = matched(&view.edges, &modules, proposal.left, proposal.right).unwrap_or(Warp::straight(
        proposal.left,
        proposal.right,
        modules.len() as f32,
    ));
    match proposal.symbology {
        Symbology::UpcA | Symbology::Ean13 => {
            let start = Theta { warp, sigma: 0.6, gain: 0.0 };
            let reading = likelihood::refined(&view.profile, proposal.gtin, start);
            let merged = |reading: &Reading| Evidence::alone(reading, view.strips.column_px()).is_merged();
            let judged = match reading.filter(|reading| reading.gtin == proposal.gtin) {
                None => Err("at its best place the bars are not those of this code"),
                Some(reading) if merged(&reading) => {
                    Err("blur has merged narrow bars: what else they may be must be sought")
                }
                Some(reading) => Ok(reading),
            };
            match judged {
                Ok(reading) => {
                    let others = others(view, &reading);
                    view.accept(BY, &reading, &others.iter().collect::<Vec<_>>())
                }
                Err(why) => {
                    view.strips.notes().add(|| Attempt::new(BY, proposal.gtin, proposal.symbology, Err(why)));
                    None
                }
            }
        }
        Symbology::UpcE | Symbology::Ean8 => {
            let judged = verdict::short_symbol(&view.profile, proposal.gtin, proposal.symbology, warp)
                .ok_or("the bars do not fit as well as so short a code must")
                .and_then(|fit| Ok((view.place(&fit)?, fit)));
            view.strips.notes().add(|| {
                let verdict = judged.as_ref().map(|_| Certainty::Confirm).map_err(|why| *why);
                let attempt = Attempt::new(BY, proposal.gtin, proposal.symbology, verdict);
                match &judged {
                    Ok((_, fit)) => attempt.fitted(fit, &view.sight()),
                    Err(_) => attempt,
                }
            });
            let (place, fit) = judged.ok()?;
            Some(Accepted {
                gtin: proposal.gtin,
                symbology: proposal.symbology,
                certainty: Certainty::Confirm,
                by: BY,
                fit,
                place,
            })
        }
    }
}

/// What else fits about a proposed reading, the best first, if another code is near there and it would be believed by itself: 1 and 7
/// differ in how wide their bars are alone, and so do 2 and 8.
fn others(view: &View<'_>, reading: &Reading) -> Vec<Reading> {
    /// How much farther than needed the next code there must be for it to be left alone.
    const FARTHER: f32 = 1.0;
    let alone = Evidence::alone(reading, view.strips.column_px());
    if reading.gap >= alone.needed_ratio() + FARTHER || alone.verdict().is_err() {
        return Vec::new();
    }
    let mut others = likelihood::others(&view.profile, reading);
    others.retain(|other| other.gtin != reading.gtin);
    others.sort_by(|a, b| a.fit.residual.total_cmp(&b.fit.residual));
    others
}

/// A region in which stage two read nothing.
pub(super) struct Unread {
    /// How badly the likeliest place of all profiles looks like a symbol, whatever its digits.
    pub(super) cost: f32,
    /// What the bars that fit best leave unexplained.
    pub(super) residual: f32,
    /// How far a glance has come, for a longer look to go on from there.
    pub(super) glanced: Option<Box<Trail>>,
}

impl Unread {
    /// Nothing was sought, or nothing can be there.
    const NOTHING: Self = Self { cost: f32::INFINITY, residual: f32::INFINITY, glanced: None };
}

/// Stage two: the likeliest code of a region, sought from where a glance has come to.
pub(super) fn likeliest(
    strips: &Strips,
    glanced: Option<Box<Trail>>,
    effort: Effort,
    budget: &Budget,
) -> Result<Accepted, Unread> {
    let seen: Vec<&Strip> = strips.seen().collect();
    let whole = View::both(strips, &seen, mean_of);
    if whole[0].edges.len() < FEWEST_EDGES || budget.is_spent() {
        return Err(Unread::NOTHING);
    }
    let mut sought = match glanced {
        Some(trail) => Sought { views: whole, trail: *trail },
        None => Sought::placed(Glance::at(whole)),
    };
    budget.take(sought.seek(effort));
    if let Some(accepted) = sought.accept() {
        return Ok(accepted);
    }
    let (cost, residual) = (sought.least_cost(), sought.least_residual());
    if effort == Effort::Glance {
        return Err(Unread { cost, residual, glanced: Some(Box::new(sought.trail)) });
    }
    // What the whole height shows, no part of it can change: of 23 profiles of a symbol with a wrong check digit one seemed valid.
    if sought.plainly_shows_no_code() {
        return Err(Unread::NOTHING);
    }
    if let Some(accepted) = proposed_in(strips, &seen, Bands::NARROW).or_else(|| sought.creased()) {
        return Ok(accepted);
    }
    let lit_unevenly = unevenly_lit(&seen, &sought.views[0].profile, reach(strips.inner_columns()));
    let profiles = if lit_unevenly { uneven(strips, &seen, &[Bands::LOW]) } else { Vec::new() };
    likeliest_of(profiles, usize::MAX, budget).map_err(|of_profiles| Unread {
        cost: cost.min(of_profiles.cost),
        residual: residual.min(of_profiles.residual),
        glanced: None,
    })
}

/// The likeliest code in any of these parts of the height of a region of which the bars that fit best left `residual` unexplained.
pub(super) fn likeliest_in_parts(parts: &[Strips], residual: f32, budget: &Budget) -> Option<Accepted> {
    /// Profiles that are sought on: with 20 or 39 the same photos are read.
    const MOST: usize = 24;
    let seen: Vec<Vec<&Strip>> = parts.iter().map(|strips| strips.seen().collect()).collect();
    let parts = || parts.iter().zip(&seen);
    if let Some(accepted) = parts().find_map(|(strips, seen)| proposed_in(strips, seen, Bands::NARROW)) {
        return Some(accepted);
    }
    let mut profiles = Vec::new();
    for (strips, seen) in parts().filter(|_| !budget.is_spent()) {
        let whole = View::both(strips, seen, mean_of);
        if whole[0].edges.len() < FEWEST_EDGES {
            continue;
        }
        if unevenly_lit(seen, &whole[0].profile, reach(strips.inner_columns())) {
            // A part is low already, and its bands show few rows.
            profiles.extend(uneven(strips, seen, &[Bands::LOW, Bands::HIGH]));
        }
        profiles.push(whole);
    }
    if residual >= NEARLY {
        return profiles.iter().find_map(proposed);
    }
    likeliest_of(profiles, MOST, budget).ok()
}

/// What bars may leave unexplained for more profiles of a region to be worth their time: print and drawn lines leave more. Of 11 symbols
/// that were sought in parts of the height, on photos and on changed ones, the whole and its other profiles had left 0.066 at most; of
/// 185 that were sought on other profiles of the whole, the first three had left more than this in four.
const NEARLY: f32 = 0.1;

/// The first code that can be believed: what rxing proposes on any profile, or what is sought on those that look most like a
/// symbol, so many at most.
fn likeliest_of(profiles: Vec<[View<'_>; 2]>, most: usize, budget: &Budget) -> Result<Accepted, Unread> {
    /// Profiles in one of which bars must nearly fit.
    const FIRST: usize = 3;
    if let Some(accepted) = profiles.iter().find_map(proposed) {
        return Ok(accepted);
    }
    let mut profiles: Vec<Glance<'_>> = profiles.into_iter().map(Glance::at).collect();
    profiles.sort_by(|a, b| a.least_cost().total_cmp(&b.least_cost()));
    let mut unread = Unread::NOTHING;
    for (i, glance) in profiles.into_iter().enumerate().take(most) {
        if (i == FIRST && unread.residual >= NEARLY) || budget.is_spent() {
            break;
        }
        let mut sought = Sought::placed(glance);
        unread.cost = unread.cost.min(sought.least_cost());
        budget.take(sought.seek(Effort::Look));
        unread.residual = unread.residual.min(sought.least_residual());
        if let Some(accepted) = sought.accept().or_else(|| sought.creased()) {
            return Ok(accepted);
        }
    }
    Err(unread)
}

/// Other profiles of the same strips: where light or damage differ over the height, some of them may show what their mean hides.
fn uneven<'a>(strips: &'a Strips, seen: &[&'a Strip], bands: &[Bands]) -> Vec<[View<'a>; 2]> {
    let blends = [freed_of, darkest_of, combination_of].into_iter().map(|blend: Blend| View::both(strips, seen, blend));
    let bands = bands.iter().flat_map(|bands| bands.of(seen)).map(|from| View::both(strips, from, mean_of));
    blends.chain(bands).collect()
}

/// Overlapping bands of the height: so many, of so many tenths each.
#[derive(Clone, Copy)]
struct Bands {
    count: usize,
    tenths: usize,
}

impl Bands {
    const LOW: Self = Self { count: 5, tenths: 3 };
    /// Fewer, in which more of what noise hides is seen.
    const HIGH: Self = Self { count: 4, tenths: 4 };
    /// Many, too low for the likelihood's search: where bars are sharp and hardly a row is clean, rxing proposes what is there.
    const NARROW: Self = Self { count: 10, tenths: 2 };

    fn of<'a, 'b>(self, seen: &'b [&'a Strip]) -> impl Iterator<Item = &'b [&'a Strip]> {
        let (n, height) = (seen.len(), (seen.len() * self.tenths).div_ceil(10).max(2));
        let from = move |i: usize| i * n.saturating_sub(height) / (self.count - 1);
        // Where few strips are seen, some bands would be the same.
        let starts = (0..self.count).filter(move |i| *i == 0 || from(*i) > from(*i - 1));
        starts.filter_map(move |i| seen.get(from(i)..)?.get(..height))
    }
}

/// Whether some strips show the bars much more clearly than the mean of all: glare, scratches, or bars out of line.
fn unevenly_lit(seen: &[&Strip], mean: &[f32], reach: usize) -> bool {
    const CLEARER: f32 = 1.1;
    let energy = |profile: &[f32]| {
        let bars = without_light(profile, reach);
        bars.iter().map(|b| b * b).sum::<f32>()
    };
    let clearest = seen.iter().map(|s| energy(&s.profile)).fold(0.0, f32::max);
    clearest > CLEARER * CLEARER * energy(mean)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reader::model::{Bars, PER_MODULE};

    const BESIDE: usize = 12;
    const MODULES: usize = 150;

    /// Strips of bars at random, which make no symbol; each strip darker than the one before.
    fn drawn_lines(strips: usize) -> Strips {
        let mut state = 7u64;
        let lines: Vec<bool> = (0..MODULES)
            .map(|_| {
                // Knuth's 64-bit linear congruence.
                state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                state >> 63 == 1
            })
            .collect();
        let samples = (MODULES + 2 * BESIDE) * PER_MODULE;
        let wave = Bars::new(&lines, BESIDE as f32).wave(samples, 0.0, 0.5, 0.0);
        let profile =
            |k: usize| wave.iter().map(|dark| 200.0 - (20.0 + 130.0 * k as f32 / strips as f32) * dark).collect();
        Strips::of_profiles((0..strips).map(profile).collect(), [BESIDE * PER_MODULE, samples - BESIDE * PER_MODULE])
    }

    /// The look itself, its other profiles, and its parts would take some 300 places.
    #[test]
    fn drawn_lines_leave_most_of_the_budget() {
        let strips = drawn_lines(30);
        let seen: Vec<&Strip> = strips.seen().collect();
        let mean = View::both(&strips, &seen, mean_of);
        assert!(unevenly_lit(&seen, &mean[0].profile, reach(strips.inner_columns())), "other profiles are made");
        let budget = Budget::of_a_picture();
        let whole = budget.0.get();
        let unread = likeliest(&strips, None, Effort::Look, &budget).err().unwrap();
        assert!(unread.residual > NEARLY && unread.residual.is_finite(), "{}", unread.residual);
        let spent = whole - budget.0.get();
        assert!(spent > 10.0 && spent < 80.0, "{spent}");
        assert!(likeliest_in_parts(&[drawn_lines(10), drawn_lines(12)], unread.residual, &budget).is_none());
        assert_eq!(whole - budget.0.get(), spent);
    }

    #[test]
    fn no_two_bands_are_the_same() {
        for count in 1..40 {
            let strips = drawn_lines(count);
            let seen: Vec<&Strip> = strips.seen().collect();
            for bands in [Bands::LOW, Bands::HIGH, Bands::NARROW] {
                let firsts: Vec<*const &Strip> = bands.of(&seen).map(<[&Strip]>::as_ptr).collect();
                assert!(firsts.is_sorted_by(|a, b| a < b), "{count} strips");
                assert!(bands.of(&seen).all(|band| band.len() >= 2) && (firsts.is_empty() == (count < 2)));
            }
        }
    }
}
