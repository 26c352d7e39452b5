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
use super::view::{Accepted, Blend, TOO_LOW, View, combination_of, darkest_of, mean_of};
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
        /// A second or two on one core.
        const PROFILES: usize = 150;
        Self(Cell::new(PROFILES))
    }

    /// One more, if there is any.
    fn take(&self) -> Option<()> {
        self.0.set(self.0.get().checked_sub(1)?);
        Some(())
    }
}

/// Stage one: rxing proposes, the fit decides.
pub(super) fn general_purpose(strips: &Strips) -> Option<Accepted> {
    let seen: Vec<&Strip> = strips.seen().collect();
    std::iter::once(&seen[..]).chain(bands(&seen)).find_map(|from| {
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
                .and_then(|fit| Ok((view.place(&fit).ok_or(TOO_LOW)?, fit)));
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

/// Stage two: the likeliest code.
pub(super) fn likeliest(strips: &Strips, effort: Effort, budget: &Budget) -> Option<Accepted> {
    let seen: Vec<&Strip> = strips.seen().collect();
    let whole = View::both(strips, &seen, mean_of);
    if whole[0].edges.len() < FEWEST_EDGES {
        return None;
    }
    budget.take()?;
    let sought = Sought::likeliest(whole, effort);
    if effort == Effort::Search {
        return sought.thorough();
    }
    if let Some(accepted) = sought.accept() {
        return Some(accepted);
    }
    if effort == Effort::Glance {
        return None;
    }
    if let Some(accepted) = sought.creased() {
        return Some(accepted);
    }
    if !unevenly_lit(&seen, &sought.views[0].profile, reach(strips.inner_columns())) {
        return None;
    }
    [darkest_of, combination_of]
        .into_iter()
        .map(|blend: Blend| View::both(strips, &seen, blend))
        .chain(bands(&seen).map(|from| View::both(strips, from, mean_of)))
        .map_while(|views| budget.take().map(|()| views))
        .find_map(|views| {
            let sought = Sought::likeliest(views, effort);
            sought.accept().or_else(|| sought.creased())
        })
}

/// Overlapping bands of three tenths of the height each.
fn bands<'a, 'b>(seen: &'b [&'a Strip]) -> impl Iterator<Item = &'b [&'a Strip]> {
    const BANDS: usize = 5;
    let (n, height) = (seen.len(), (seen.len() * 3).div_ceil(10).max(2));
    (0..BANDS).filter_map(move |i| seen.get(i * n.saturating_sub(height) / (BANDS - 1)..)?.get(..height))
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
