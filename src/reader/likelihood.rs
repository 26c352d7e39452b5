//! Stage two: the valid code whose bars are the likeliest to have given a profile, wherever it lies in it.
//!
//! From a place and a code to start from, code and geometry are refined in turn on the profile itself.

use super::align::Aligner;
use super::codebook::{Codebook, Costs};
use super::fit::{Fit, Theta, fit};
use super::model::Bars;
use super::trellis::Candidate;
use super::verdict::residual_limit;
use super::warp::Warp;
use crate::code::{Gtin, main_modules};

/// A code, where its bars lie, and the code that comes next.
#[derive(Debug, Clone)]
pub(super) struct Reading {
    pub(super) gtin: Gtin,
    pub(super) fit: Fit,
    /// The runner-up at the same place, and its sum of squares there over that of the code.
    pub(super) second: Gtin,
    pub(super) gap: f32,
    /// Its sum of squares there over that of the likeliest digits of all, whether or not they make a valid code.
    pub(super) over_any: f32,
}

impl Reading {
    /// Whether nothing more need be sought: it explains the profile and no other code comes near.
    pub(super) fn is_evident(&self) -> bool {
        /// Times the sum of squares that the next code leaves: three times what is needed of a clear picture.
        const FAR: f32 = 4.0;
        self.gap > FAR && self.fit.residual < 0.5 * residual_limit(self.fit.sigma)
    }

    /// Whether it covers much of what the other one does.
    pub(super) fn is_about(&self, other: &Self) -> bool {
        let ends = |reading: &Self| [0.0, reading.fit.warp.modules].map(|m| reading.fit.warp.column_at(m));
        let ([a, b], [c, d]) = (ends(self), ends(other));
        b.min(d) - a.max(c) > 0.5 * (d - c)
    }
}

/// Width of the narrowest module that can be read, in picture px.
pub(super) const SMALLEST_PX: f32 = 0.85;

/// By how much shift, stretch, bend and skew are changed when modules are moved about, in modules.
fn shakes() -> impl Iterator<Item = [f32; 4]> {
    const BY: [f32; 4] = [0.6, 0.8, 1.5, 1.2];
    let by = |i: usize| std::array::from_fn(|k| BY[k] * ((i / 3usize.pow(k as u32) % 3) as f32 - 1.0));
    (0..81).filter(|i| *i != 40).map(by)
}

/// `reading`, or what fits better with its modules moved about: a wrong code holds them where it fits.
pub(super) fn shaken(profile: &[f32], reading: Reading) -> Reading {
    /// Rounds, and places followed in each.
    const ROUNDS: usize = 3;
    const FOLLOWED: usize = 4;
    let mut best = reading;
    for _ in 0..ROUNDS {
        let book = Codebook::near(best.fit.sigma, best.fit.gain);
        let moved = shakes().map(|by| best.fit.moved(best.fit.warp.plus(by)));
        let better = by_bound(profile, book, moved)
            .take(FOLLOWED)
            .filter_map(|(costs, fit)| {
                let first = book.best(&costs)?;
                if first.gtin == best.gtin { None } else { refined(profile, first.gtin, fit.theta()) }
            })
            .min_by(|a, b| a.fit.residual.total_cmp(&b.fit.residual));
        match better {
            Some(better) if better.fit.residual < best.fit.residual => best = better,
            _ => break,
        }
    }
    best
}

/// Other codes that fit about where `reading` does, its modules moved about farther: where blur has merged narrow bars, the digits at an
/// end can be taken for others that lie closer together or wider apart.
pub(super) fn others(profile: &[f32], reading: &Reading) -> Vec<Reading> {
    /// Codes that are followed: of eight wrong ones that were believed without this, the right one was among the first four.
    const FOLLOWED: usize = 12;
    /// How far an end is moved, and what lies a third of the way from there with it, in modules; the rest stays.
    const END: [f32; 12] = [-6.0, -5.0, -4.0, -3.0, -2.0, -1.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0];
    const THIRD: [f32; 3] = [-0.75, 0.0, 0.75];
    let Reading { fit, gtin, .. } = reading;
    let shaken = shakes().map(|by| fit.moved(fit.warp.plus(by)));
    let ends = [false, true].map(|last| (fit.lit_as_far_from(last), last));
    let stretched = ends.iter().flat_map(|(fit, last)| {
        let by = |end, third| if *last { [0.0, 0.0, third, end] } else { [end, third, 0.0, 0.0] };
        let moves = END.iter().flat_map(move |end| THIRD.map(|third| by(*end, third)));
        moves.map(|by| fit.moved(fit.warp.plus(Warp::moving(by))))
    });
    let book = Codebook::near(fit.sigma, fit.gain);
    let mut followed = vec![*gtin];
    let mut others = Vec::new();
    for (costs, fit) in by_bound(profile, book, shaken.chain(stretched)) {
        if followed.len() > FOLLOWED {
            break;
        }
        if let Some(first) = book.best(&costs).filter(|first| !followed.contains(&first.gtin)) {
            followed.push(first.gtin);
            others.extend(refined(profile, first.gtin, fit.theta()));
        }
    }
    others
}

/// What digits cost at each place, those first where some digits, valid or not, cost the least.
fn by_bound(profile: &[f32], book: &Codebook, places: impl Iterator<Item = Fit>) -> impl Iterator<Item = (Costs, Fit)> {
    let scored = |fit: Fit| {
        let costs = book.costs(&fit.main_darkness_of(profile));
        (book.bound(&costs), costs, fit)
    };
    let mut scored: Vec<(f32, Costs, Fit)> = places.map(scored).collect();
    scored.sort_by(|a, b| a.0.total_cmp(&b.0));
    scored.into_iter().map(|(_, costs, fit)| (costs, fit))
}

/// The bars of `gtin` fitted from `start` on, and the code decoded anew where they lie, until it stays the same.
pub(super) fn refined(profile: &[f32], gtin: Gtin, start: Theta) -> Option<Reading> {
    let (gtin, fit) = settled(profile, gtin, start)?;
    evident(profile, gtin, fit)
}

/// A fit of `gtin` with what comes next, if it is the likeliest there.
fn evident(profile: &[f32], gtin: Gtin, fit: Fit) -> Option<Reading> {
    // What can't be believed anyway need not be told apart exactly.
    let exact;
    let book = if fit.residual > residual_limit(fit.sigma) {
        Codebook::near(fit.sigma, fit.gain)
    } else {
        exact = Codebook::new(fit.sigma, fit.gain);
        &exact
    };
    let costs = book.costs(&fit.main_darkness_of(profile));
    let [first, second] = book.best_two(&costs)?;
    let over_any = first.squares / book.bound(&costs).max(1e-3);
    let gap = second.squares / first.squares.max(1e-3);
    (first.gtin == gtin).then_some(Reading { gtin, fit, second: second.gtin, gap, over_any })
}

/// `reading` on paper that may be creased, the code decoded anew where its bars fit, until it stays the same.
pub(super) fn creased(profile: &[f32], reading: &Reading) -> Option<Reading> {
    const ROUNDS: usize = 4;
    /// Steps of a fit: twice as many as on smooth paper, for as many more unknowns.
    const STEPS: usize = 12;
    let mut gtin = reading.gtin;
    let mut start = Theta { warp: reading.fit.warp.creased(), ..reading.fit.theta() };
    for _ in 0..ROUNDS {
        let fit = fit(profile, &bars(gtin), start, STEPS)?;
        let best = decode(profile, &fit)?;
        if best.gtin == gtin {
            return evident(profile, gtin, fit);
        }
        gtin = best.gtin;
        start = fit.theta();
    }
    None
}

/// The code that stays the likeliest where its bars fit best.
fn settled(profile: &[f32], gtin: Gtin, start: Theta) -> Option<(Gtin, Fit)> {
    const ROUNDS: usize = 6;
    /// Steps of a fit.
    const STEPS: usize = 6;
    /// Residual from which on no code lies there, round by round: what is nearly right soon fits.
    const HOPELESS: [f32; ROUNDS] = [0.45, 0.3, 0.2, 0.2, 0.15, 0.15];
    let mut gtin = gtin;
    let mut start = start;
    for hopeless in HOPELESS {
        let fit = fit(profile, &bars(gtin), start, STEPS)?;
        if fit.residual > hopeless {
            return None;
        }
        let book = Codebook::near(fit.sigma, fit.gain);
        let seen = fit.main_darkness_of(profile);
        let best = book.best(&book.costs(&seen))?;
        if best.gtin == gtin {
            return Some((gtin, fit));
        }
        // A wrong code pulls the modules to where it fits: they are put back to where digits are seen, whatever they are.
        let moved = Aligner::near(fit.sigma).warp(&seen, &fit.warp).and_then(|warp| {
            let there = fit.moved(warp);
            let other = book.best(&book.costs(&there.main_darkness_of(profile)))?;
            (other.squares < best.squares).then_some((other.gtin, warp))
        });
        start = fit.theta();
        match moved {
            Some((other, warp)) => (gtin, start.warp) = (other, warp),
            None => gtin = best.gtin,
        }
    }
    None
}

/// The likeliest code where `fit` says that modules lie.
pub(super) fn decode(profile: &[f32], fit: &Fit) -> Option<Candidate> {
    let book = Codebook::near(fit.sigma, fit.gain);
    book.best(&book.costs(&fit.main_darkness_of(profile)))
}

/// The codes that come next where `fit` says that modules lie, one at least for each other digit.
pub(super) fn rivals(profile: &[f32], gtin: Gtin, fit: &Fit) -> Vec<Gtin> {
    let book = Codebook::near(fit.sigma, fit.gain);
    let mut rivals = book.rivals(&book.costs(&fit.main_darkness_of(profile)), gtin);
    rivals.sort_unstable();
    rivals.dedup();
    rivals
}

pub(super) fn bars(gtin: Gtin) -> Bars {
    Bars::new(&main_modules(gtin), 0.0)
}
