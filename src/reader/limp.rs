//! What else blurred bars may be if paper is creased at hardly any cost.

use super::codebook::Codebook;
use super::fit::{Fit, Theta, fit_on_limp_paper};
use super::likelihood::{self, Reading};
use super::warp::{CREASES, Warp};
use crate::code::Gtin;

/// What a reading and others leave there.
#[derive(Debug, Clone, Copy)]
pub(super) struct Limp {
    /// The least sum of squares that another code leaves, over that of the reading: what no creases explain of blurred bars may be
    /// another code's.
    pub(super) ratio: f32,
    /// What the reading leaves, as a share of what it leaves where nothing is creased.
    pub(super) share: f32,
}

/// Weighs `reading` there. Other codes are sought from `others` on, and from where waves of paper would have other digits.
pub(super) fn weigh(reading: &Reading, others: &[&Reading], profile: &[f32]) -> Limp {
    let start = |reading: &Reading| (reading.gtin, reading.fit.theta());
    let mut found = Found::default();
    found.follow(profile, start(reading));
    for (gtin, theta) in each_code(others.iter().map(|other| start(other))).chain(each_code(on_waves(profile, reading)))
    {
        found.follow(profile, (gtin, theta));
    }
    found.beside(reading)
}

/// Codes that are followed of each kind.
const MOST: usize = 8;

/// The first ones, each another code.
fn each_code(starts: impl Iterator<Item = (Gtin, Theta)>) -> impl Iterator<Item = (Gtin, Theta)> {
    let mut first: Vec<(Gtin, Theta)> = Vec::new();
    for (gtin, theta) in starts {
        if first.len() < MOST && !first.iter().any(|(known, _)| *known == gtin) {
            first.push((gtin, theta));
        }
    }
    first.into_iter()
}

/// Other codes than that of `reading` that are the likeliest where paper lies in waves, the likeliest first.
fn on_waves(profile: &[f32], reading: &Reading) -> impl Iterator<Item = (Gtin, Theta)> {
    let book = Codebook::near(reading.fit.sigma, reading.fit.gain);
    let likeliest = |fit: Fit| {
        let first = book.best(&book.costs(&fit.main_darkness_of(profile)))?;
        (first.gtin != reading.gtin).then_some((first.squares, first.gtin, fit.theta()))
    };
    let mut starts: Vec<(f32, Gtin, Theta)> =
        waves(reading.fit.warp).filter_map(|warp| likeliest(reading.fit.moved(warp))).collect();
    starts.sort_by(|a, b| a.0.total_cmp(&b.0));
    starts.into_iter().map(|(_, gtin, theta)| (gtin, theta))
}

/// `warp` on paper that lies in waves.
fn waves(warp: Warp) -> impl Iterator<Item = Warp> {
    /// Waves over the symbol: creases can't follow more than five.
    const COUNTS: [f32; 8] = [1.0, 1.5, 2.0, 2.5, 3.0, 3.5, 4.0, 4.5];
    /// Where they begin, in parts of one.
    const PHASES: u8 = 8;
    /// How far modules are off at most, in modules.
    const HEIGHTS: [f32; 2] = [0.35, 0.7];
    let each = COUNTS.into_iter().flat_map(|count| (0..PHASES).map(move |phase| (count, phase)));
    each.flat_map(|(count, phase)| HEIGHTS.map(|height| (count, f32::from(phase) / f32::from(PHASES), height))).map(
        move |(count, phase, height)| {
            let off = |i: usize| {
                let at = (i + 1) as f32 / (CREASES + 1) as f32;
                height * (std::f32::consts::TAU * (count * at + phase)).sin()
            };
            warp.creased_by(std::array::from_fn(off))
        },
    )
}

/// Codes that have been fitted, each with the least sum of squares that it leaves.
#[derive(Default)]
struct Found(Vec<(Gtin, f32)>);

impl Found {
    /// Fits a code, and what is decoded where it fits, until that is known.
    fn follow(&mut self, profile: &[f32], (mut gtin, mut start): (Gtin, Theta)) {
        const ROUNDS: usize = 4;
        /// Steps of a fit.
        const STEPS: usize = 12;
        for _ in 0..ROUNDS {
            let Some(fit) = fit_on_limp_paper(profile, &likelihood::bars(gtin), start, STEPS) else { break };
            match self.0.iter_mut().find(|(known, _)| *known == gtin) {
                Some((_, least)) => *least = least.min(fit.squares),
                None => self.0.push((gtin, fit.squares)),
            }
            match likelihood::decode(profile, &fit) {
                Some(next) if !self.0.iter().any(|(known, _)| *known == next.gtin) => gtin = next.gtin,
                _ => break,
            }
            start = fit.theta();
        }
    }

    fn beside(&self, reading: &Reading) -> Limp {
        let mut own = reading.fit.squares;
        let mut least = f32::INFINITY;
        for (gtin, squares) in &self.0 {
            let of = if *gtin == reading.gtin { &mut own } else { &mut least };
            *of = of.min(*squares);
        }
        Limp { ratio: least / own.max(1e-3), share: own / reading.fit.squares.max(1e-3) }
    }
}
