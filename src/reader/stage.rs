//! The two stages: ways of reading a region, the second tried where the first read nothing.

use std::cell::Cell;

use super::edges::{FEWEST_EDGES, matched, reach};
use super::explain::Attempt;
use super::fit::Theta;
use super::likelihood;
use super::proposal::{Proposal, proposals};
use super::sought::Sought;
use super::strips::{Strip, Strips, without_light};
use super::verdict;
use super::view::{Accepted, Blend, View, combination_of, darkest_of, mean_of};
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
    /// Near the likeliest places once more.
    Search,
}

impl Effort {
    #[cfg(test)]
    pub(super) const ALL: [Self; 4] = [Self::Glance, Self::Look, Self::Parts, Self::Search];

    /// How many regions of a picture are looked at so, the most promising first.
    pub(super) fn most_regions(self) -> usize {
        match self {
            Self::Glance | Self::Look => 4,
            Self::Parts | Self::Search => 2,
        }
    }
}

/// How many profiles of a picture stage two may still be tried on: what is no symbol must come to an end.
pub(super) struct Budget(Cell<usize>);

impl Budget {
    pub(super) fn of_a_picture() -> Self {
        /// Half a second to a second on one core.
        const PROFILES: usize = 200;
        Self(Cell::new(PROFILES))
    }

    /// Takes one more, if there is any.
    fn take(&self) -> bool {
        let left = self.0.get();
        self.0.set(left.saturating_sub(1));
        left > 0
    }
}

/// Stage one: rxing proposes, the fit decides.
pub(super) fn general_purpose(strips: &Strips) -> Option<Accepted> {
    let seen: Vec<&Strip> = strips.seen().collect();
    std::iter::once(&seen[..]).chain(Bands::LOW.of(&seen)).find_map(|from| {
        View::both(strips, from, mean_of).into_iter().find_map(|view| {
            proposals(&view.profile, &view.edges, reach(strips.inner_columns()))
                .iter()
                .find_map(|proposal| confirm(&view, proposal))
        })
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
            let same = reading.filter(|reading| reading.gtin == proposal.gtin);
            if same.is_none() {
                let verdict = Err("at its best place the bars are not those of this code");
                view.strips.notes().add(|| Attempt::new(BY, proposal.gtin, proposal.symbology, verdict));
            }
            view.accept(BY, same?, f32::INFINITY)
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

/// Stage two: the likeliest code; or how badly the likeliest place looks like a symbol.
pub(super) fn likeliest(strips: &Strips, effort: Effort, budget: &Budget) -> Result<Accepted, f32> {
    let seen: Vec<&Strip> = strips.seen().collect();
    let whole = View::both(strips, &seen, mean_of);
    if whole[0].edges.len() < FEWEST_EDGES || !budget.take() {
        return Err(f32::INFINITY);
    }
    let mut sought = Sought::placed(whole);
    let unread = sought.least_cost;
    sought.seek(effort);
    if effort == Effort::Search {
        return sought.thorough().ok_or(unread);
    }
    let read = sought.accept();
    if read.is_some() || effort == Effort::Glance {
        return read.ok_or(unread);
    }
    if let Some(accepted) = sought.creased() {
        return Ok(accepted);
    }
    if !unevenly_lit(&seen, &sought.views[0].profile, reach(strips.inner_columns())) {
        return Err(unread);
    }
    let blends = [darkest_of, combination_of].into_iter().map(|blend: Blend| View::both(strips, &seen, blend));
    // A part of a region is low already, and its bands show few rows.
    let bands = if effort == Effort::Parts { &[Bands::LOW, Bands::HIGH][..] } else { &[Bands::LOW] };
    let bands = bands.iter().flat_map(|bands| bands.of(&seen)).map(|from| View::both(strips, from, mean_of));
    let mut variants: Vec<Sought<'_>> = blends.chain(bands).map(Sought::placed).collect();
    variants.sort_by(|a, b| a.least_cost.total_cmp(&b.least_cost));
    variants
        .into_iter()
        .take_while(|_| budget.take())
        .find_map(|mut sought| {
            sought.seek(effort);
            sought.accept().or_else(|| sought.creased())
        })
        .ok_or(unread)
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

    fn of<'a, 'b>(self, seen: &'b [&'a Strip]) -> impl Iterator<Item = &'b [&'a Strip]> {
        let (n, height) = (seen.len(), (seen.len() * self.tenths).div_ceil(10).max(2));
        (0..self.count).filter_map(move |i| seen.get(i * n.saturating_sub(height) / (self.count - 1)..)?.get(..height))
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
