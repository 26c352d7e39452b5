//! Codes sought on a profile: at which places, from which codes on, and when to stop.

use super::likelihood::{self, Reading};
use super::places::{Glanced, Places, Start};
use super::stage::Effort;
use super::verdict::{self, Evidence};
use super::view::{Accepted, View};
use crate::code::Gtin;

/// A profile on which codes are sought.
pub(super) struct Sought<'a> {
    pub(super) views: [View<'a>; 2],
    pub(super) trail: Trail,
}

/// What has been sought on a profile and found there.
pub(super) struct Trail {
    places: [Places; 2],
    /// View and place, the likeliest first.
    order: Vec<(usize, usize)>,
    /// How many of them have been tried.
    tried: usize,
    /// Each with its view, by residual.
    readings: Vec<(usize, Reading)>,
    /// The code that was the best when it was shaken.
    shaken: Option<Gtin>,
    /// And when others were sought about it.
    doubted: Option<Gtin>,
    /// How badly the likeliest place looks like a symbol, whatever its digits.
    least_cost: f32,
}

/// A profile whose places have been glanced at, in both directions.
pub(super) struct Glance<'a> {
    views: [View<'a>; 2],
    places: [Glanced; 2],
}

impl<'a> Glance<'a> {
    pub(super) fn at(views: [View<'a>; 2]) -> Self {
        let places = [0, 1].map(|v: usize| {
            let View { strips, profile, edges, .. } = &views[v];
            Glanced::of(profile, edges, strips.inner_columns(), strips.column_px())
        });
        Self { views, places }
    }

    /// How badly the likeliest place looks like a symbol, whatever its digits.
    pub(super) fn least_cost(&self) -> f32 {
        self.places.iter().map(Glanced::least_cost).fold(f32::INFINITY, f32::min)
    }
}

impl<'a> Sought<'a> {
    /// The likeliest places, both directions together, at which nothing has been sought yet.
    pub(super) fn placed(Glance { views, places }: Glance<'a>) -> Self {
        /// How much more than the likeliest place another may cost. Of 106 readings that were accepted on photos and on
        /// simulated pictures none came from one that cost 0.18 more.
        const WORSE: f32 = 0.2;
        let places = places.map(Places::of);
        let mut costs: Vec<(f32, usize, usize)> =
            (0..2).flat_map(|v| places[v].costs().enumerate().map(move |(place, cost)| (cost, v, place))).collect();
        costs.sort_by(|a, b| a.0.total_cmp(&b.0));
        let least_cost = costs.first().map_or(f32::INFINITY, |(cost, ..)| *cost);
        costs.retain(|(cost, ..)| *cost < least_cost + WORSE);
        let order = costs.into_iter().map(|(_, v, place)| (v, place)).collect();
        let trail = Trail { places, order, tried: 0, readings: Vec::new(), shaken: None, doubted: None, least_cost };
        Self { views, trail }
    }

    /// How badly the likeliest place looks like a symbol, whatever its digits.
    pub(super) fn least_cost(&self) -> f32 {
        self.trail.least_cost
    }

    /// What the bars that were found to fit best leave unexplained.
    pub(super) fn least_residual(&self) -> f32 {
        self.trail.readings.first().map_or(f32::INFINITY, |(_, best)| best.fit.residual)
    }

    /// Seeks the likeliest codes at its places. Says what that has cost, in sharp places.
    pub(super) fn seek(&mut self, effort: Effort) -> f32 {
        let mut work = self.seek_at_places(effort);
        if !self.is_evident() {
            work += self.shake();
        }
        work + self.doubt()
    }

    fn seek_at_places(&mut self, effort: Effort) -> f32 {
        /// Places at which codes are sought; and those that are tried first.
        const PLACES: usize = 10;
        const FIRST: usize = 4;
        let most = if effort == Effort::Glance { FIRST } else { PLACES };
        let mut work = 0.0;
        while self.trail.tried < most.min(self.trail.order.len()) {
            if self.trail.tried == FIRST && !self.shows_bars() {
                break;
            }
            let (v, place) = self.trail.order[self.trail.tried];
            self.trail.tried += 1;
            work += self.trail.places[v].work(place);
            let starts = self.trail.places[v].likeliest(place);
            let profile = &self.views[v].profile;
            let refined = |start: Start| Some((v, likelihood::refined(profile, start.gtin, start.theta)?));
            self.trail.readings.extend(starts.into_iter().filter_map(refined));
            by_residual(&mut self.trail.readings);
            if self.is_evident() {
                break;
            }
        }
        work
    }

    fn is_evident(&self) -> bool {
        self.trail.readings.first().is_some_and(|(_, reading)| reading.is_evident())
    }

    /// Adds what comes of the best reading if it is shaken. Says what that has cost.
    fn shake(&mut self) -> f32 {
        /// In sharp places: 2 to 6 on photos.
        const WORK: f32 = 4.0;
        /// Residual up to which that may lead to a code: of 15 that were accepted so, on photos and on simulated pictures, 13
        /// began below 0.1, and two at 0.16 and 0.21.
        const NEAR: f32 = 0.1;
        let Trail { readings, shaken, .. } = &mut self.trail;
        let best = readings.first().filter(|(_, best)| best.fit.residual < NEAR && *shaken != Some(best.gtin));
        let Some((v, best)) = best else { return 0.0 };
        *shaken = Some(best.gtin);
        let moved = (*v, likelihood::shaken(&self.views[*v].profile, best.clone()));
        readings.push(moved);
        by_residual(readings);
        WORK
    }

    /// Adds what else may fit about the best reading if blur has merged narrow bars and it would be believed by itself.
    /// Says what that has cost.
    fn doubt(&mut self) -> f32 {
        /// In sharp places: 6 to 15 on photos.
        const WORK: f32 = 11.0;
        /// Times that another code may turn out to be the best.
        const ROUNDS: usize = 3;
        let Trail { readings, doubted, .. } = &mut self.trail;
        let mut work = 0.0;
        for _ in 0..ROUNDS {
            let Some((v, best)) = readings.first().cloned() else { break };
            let View { strips, profile, .. } = &self.views[v];
            let evidence = Evidence::alone(&best, strips.column_px());
            if *doubted == Some(best.gtin) || !evidence.is_merged() || evidence.verdict().is_err() {
                break;
            }
            work += WORK;
            *doubted = Some(best.gtin);
            readings.extend(likelihood::others(profile, &best).into_iter().map(|other| (v, other)));
            by_residual(readings);
        }
        work
    }

    /// Whether something was found that may be a symbol's bars.
    fn shows_bars(&self) -> bool {
        /// Residual up to which they may be: of 173 symbols on photos and changed ones that were not read at the first places, these
        /// gave bars that leave 0.185 at most.
        const BARS: f32 = 0.2;
        self.least_residual() < BARS
    }

    /// Whether bars fit that make no valid code.
    pub(super) fn shows_no_code(&self) -> bool {
        self.trail.readings.first().is_some_and(|(_, best)| verdict::shows_no_code(best))
    }

    /// Whether they are all seen plainly, so that no part of the height can show other ones.
    pub(super) fn plainly_shows_no_code(&self) -> bool {
        /// Blur, in modules, that leaves bars apart.
        const SHARP: f32 = 0.7;
        let plain = |best: &Reading| best.fit.sigma < SHARP && verdict::plainly_shows_no_code(best);
        self.trail.readings.first().is_some_and(|(_, best)| plain(best))
    }

    /// The best reading if paper may be creased, if it can be believed.
    pub(super) fn creased(&self) -> Option<Accepted> {
        /// Readings from which on creases are sought, each another code.
        const FROM: usize = 4;
        /// Residual up to which bars may be there.
        const BARS: f32 = 0.25;
        if self.shows_no_code() {
            return None;
        }
        let worth =
            |(_, reading): &&(usize, Reading)| reading.fit.residual < BARS && reading.fit.sigma < verdict::MERGED;
        let mut readings: Vec<(usize, Reading)> = each_code(self.trail.readings.iter().filter(worth), FROM)
            .filter_map(|(v, reading)| Some((v, likelihood::creased(&self.views[v].profile, &reading)?)))
            .collect();
        by_residual(&mut readings);
        self.accept_of(&readings)
    }

    /// The best reading, if it can be believed.
    pub(super) fn accept(&self) -> Option<Accepted> {
        self.accept_of(&self.trail.readings)
    }

    fn accept_of(&self, readings: &[(usize, Reading)]) -> Option<Accepted> {
        let (v, reading) = readings.first()?.clone();
        let about = |(w, other): &&(usize, Reading)| *w == v && other.gtin != reading.gtin && other.is_about(&reading);
        let others: Vec<&Reading> = readings.iter().filter(about).map(|(_, other)| other).collect();
        self.views[v].accept("likelihood", &reading, &others)
    }
}

/// The first `count` of `readings` that differ in their code.
fn each_code<'a>(
    readings: impl Iterator<Item = &'a (usize, Reading)>,
    count: usize,
) -> impl Iterator<Item = (usize, Reading)> {
    let mut first: Vec<(usize, Reading)> = Vec::new();
    for (v, reading) in readings {
        if first.len() < count && !first.iter().any(|(_, known)| known.gtin == reading.gtin) {
            first.push((*v, reading.clone()));
        }
    }
    first.into_iter()
}

fn by_residual(readings: &mut [(usize, Reading)]) {
    readings.sort_by(|a, b| a.1.fit.residual.total_cmp(&b.1.fit.residual));
}
