//! Codes sought on a profile: at which places, from which codes on, and when to stop.

use super::fit::Theta;
use super::likelihood::{self, Reading};
use super::places::{Places, Start};
use super::stage::Effort;
use super::view::{Accepted, View};

/// What has been sought on a profile and found there.
pub(super) struct Sought<'a> {
    pub(super) views: [View<'a>; 2],
    places: [Places; 2],
    /// View and place, the likeliest first.
    order: Vec<(usize, usize)>,
    /// Each with its view, by residual.
    readings: Vec<(usize, Reading)>,
    /// How badly the likeliest place looks like a symbol, whatever its digits.
    pub(super) least_cost: f32,
}

impl<'a> Sought<'a> {
    /// The likeliest places, both directions together, at which nothing has been sought yet.
    pub(super) fn placed(views: [View<'a>; 2]) -> Self {
        /// How much more than the likeliest place another may cost. Of 106 readings that were accepted on photos and on
        /// simulated pictures none came from one that cost 0.18 more.
        const WORSE: f32 = 0.2;
        let places = [0, 1].map(|v: usize| {
            let View { strips, profile, edges, .. } = &views[v];
            Places::of(profile, edges, strips.inner_columns(), strips.column_px())
        });
        let mut costs: Vec<(f32, usize, usize)> =
            (0..2).flat_map(|v| places[v].costs().enumerate().map(move |(place, cost)| (cost, v, place))).collect();
        costs.sort_by(|a, b| a.0.total_cmp(&b.0));
        let least = costs.first().map_or(f32::INFINITY, |(cost, ..)| *cost);
        costs.retain(|(cost, ..)| *cost < least + WORSE);
        let order = costs.into_iter().map(|(_, v, place)| (v, place)).collect();
        Self { views, places, order, readings: Vec::new(), least_cost: least }
    }

    /// Seeks the likeliest codes there.
    pub(super) fn seek(&mut self, effort: Effort) {
        /// Places at which codes are sought; and those that are tried first.
        const PLACES: usize = 10;
        const FIRST: usize = 4;
        /// Residual from which on the first places were no symbol, nor are the others.
        const NO_SYMBOL: f32 = 0.25;
        let most = if effort == Effort::Glance { FIRST } else { PLACES };
        self.order.truncate(most);
        for i in 0..self.order.len() {
            if i == FIRST && self.least_residual() > NO_SYMBOL {
                break;
            }
            let (v, place) = self.order[i];
            let starts = self.places[v].likeliest(place);
            self.add(v, starts, |profile, start| likelihood::refined(profile, start.gtin, start.theta));
            if self.readings.first().is_some_and(|(_, reading)| reading.is_evident()) {
                return;
            }
        }
        if self.least_residual() < NO_SYMBOL {
            self.shake(1);
        }
    }

    /// Seeks once more, nearer to the best places and on both sides of them, among the codes that covers bear.
    pub(super) fn thorough(mut self) -> Option<Accepted> {
        /// Readings and places around which is sought.
        const READ: usize = 1;
        const PLACES: usize = 3;
        /// Residual up to which a symbol may be there.
        const SYMBOL: f32 = 0.07;
        /// Readings that are shaken.
        const SHAKEN: usize = 3;
        if self.least_residual() > SYMBOL {
            return None;
        }
        self.shake(SHAKEN);
        if let Some(accepted) = self.accept() {
            return Some(accepted);
        }
        let read = self.readings.iter().take(READ).map(|(v, reading)| (*v, reading.fit.theta()));
        let places = self.order.iter().take(PLACES).map(|&(v, place)| (v, self.places[v].theta(place)));
        let around: Vec<(usize, Theta)> = read.chain(places).collect();
        for (v, theta) in around {
            // A comic's UPC-A begins with 0, a book's or a magazine's EAN-13 with 9 (GS1 prefixes 977 to 979).
            for first in [0, 9] {
                let known = self.least_residual();
                let starts = self.places[v].around(theta, first);
                self.add(v, starts, likelihood::refined_within);
                if self.least_residual() < known
                    && let Some(accepted) = self.accept()
                {
                    return Some(accepted);
                }
            }
        }
        None
    }

    fn add(&mut self, v: usize, starts: Vec<Start>, refine: impl Fn(&[f32], Start) -> Option<Reading>) {
        let profile = &self.views[v].profile;
        self.readings.extend(starts.into_iter().filter_map(|start| Some((v, refine(profile, start)?))));
        by_residual(&mut self.readings);
    }

    /// Adds what comes of the best readings if they are shaken, each code once.
    fn shake(&mut self, count: usize) {
        let shaken: Vec<(usize, Reading)> = each_code(self.readings.iter(), count)
            .map(|(v, reading)| (v, likelihood::shaken(&self.views[v].profile, reading)))
            .collect();
        self.readings.extend(shaken);
        by_residual(&mut self.readings);
    }

    fn least_residual(&self) -> f32 {
        self.readings.first().map_or(f32::INFINITY, |(_, reading)| reading.fit.residual)
    }

    /// The best reading if paper may be creased, if it can be believed.
    pub(super) fn creased(&self) -> Option<Accepted> {
        /// Readings from which on creases are sought, each another code.
        const FROM: usize = 4;
        /// Residual up to which bars may be there; and blur, in modules, which hides creases as well as bars.
        const BARS: f32 = 0.25;
        const SHARP: f32 = 0.9;
        let worth = |(_, reading): &&(usize, Reading)| reading.fit.residual < BARS && reading.fit.sigma < SHARP;
        let mut readings: Vec<(usize, Reading)> = each_code(self.readings.iter().filter(worth), FROM)
            .filter_map(|(v, reading)| Some((v, likelihood::creased(&self.views[v].profile, &reading)?)))
            .collect();
        by_residual(&mut readings);
        self.accept_of(&readings)
    }

    /// The best reading, if it can be believed.
    pub(super) fn accept(&self) -> Option<Accepted> {
        self.accept_of(&self.readings)
    }

    fn accept_of(&self, readings: &[(usize, Reading)]) -> Option<Accepted> {
        let (v, reading) = readings.first()?.clone();
        let others =
            readings.iter().filter(|(w, other)| *w == v && other.gtin != reading.gtin && other.is_about(&reading));
        let other = others.map(|(_, other)| other.fit.residual).fold(f32::INFINITY, f32::min);
        self.views[v].accept("likelihood", reading, other)
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
