//! The stages: ways of reading a region, each tried where those before it read nothing.

use super::edges::{Edge, edges, matched};
use super::explain::{Attempt, Sight};
use super::fit::{Fit, Theta, Warp};
use super::likelihood::{self, Reading};
use super::model::correlation;
use super::place::Place;
use super::places::{Places, Start};
use super::proposal::{Proposal, proposals};
use super::strips::{Strip, Strips, combined, mean, without_light};
use super::verdict::{self, Evidence};
use crate::code::{Certainty, Gtin, Symbology};

/// A symbol whose main code is believed.
pub(super) struct Accepted {
    pub(super) gtin: Gtin,
    pub(super) symbology: Symbology,
    pub(super) certainty: Certainty,
    pub(super) by: &'static str,
    pub(super) fit: Fit,
    pub(super) place: Place,
}

/// A way of reading a region.
pub(super) trait Stage: Sync {
    /// The symbol in the region, if there is one that can be believed. `alone`: nothing else has been read in the picture,
    /// so that more time may be spent.
    fn read(&self, strips: &Strips, alone: bool) -> Option<Accepted>;
}

/// The stages in their order.
pub(super) const STAGES: [&dyn Stage; 2] = [&GeneralPurpose, &Likelihood];

/// A profile as it is read in one of the two directions.
struct View<'a> {
    strips: &'a Strips,
    /// The strips that it is the mean of.
    from: Vec<&'a Strip>,
    backwards: bool,
    profile: Vec<f32>,
    edges: Vec<Edge>,
}

impl<'a> View<'a> {
    /// Both directions of one profile of `from`.
    fn both(strips: &'a Strips, from: &[&'a Strip], profile: Vec<f32>) -> [Self; 2] {
        let reach = reach(strips);
        [false, true].map(|backwards| {
            let profile = turned(&profile, backwards);
            let edges = edges(&profile, reach);
            Self { strips, from: from.to_vec(), backwards, profile, edges }
        })
    }

    /// Profiles of thirds of the height.
    fn bands(&self) -> Vec<Vec<f32>> {
        const BANDS: usize = 3;
        let n = self.from.len();
        let bands = BANDS.min(n);
        let part = |i: usize| &self.from[i * n / bands..(i + 1) * n / bands];
        (0..bands).map(|i| turned(&mean(part(i).iter().copied()), self.backwards)).collect()
    }

    fn weigh(&self, reading: &Reading, other: f32) -> Evidence {
        Evidence::of(reading, other, &self.profile, &self.bands(), self.strips.column_px())
    }

    /// The reading if it is believed; `other` is the least residual that any other code was found to leave about there.
    fn accept(&self, by: &'static str, reading: Reading, other: f32) -> Option<Accepted> {
        let evidence = self.weigh(&reading, other);
        let upc_a = reading.gtin.digits()[0] == 0;
        let symbology = if upc_a { Symbology::UpcA } else { Symbology::Ean13 };
        let judged = evidence.verdict().and_then(|certainty| Ok((certainty, self.place(&reading.fit).ok_or(TOO_LOW)?)));
        self.strips.notes().add(|| {
            let verdict = judged.as_ref().map(|(certainty, _)| *certainty).map_err(|why| *why);
            let attempt = Attempt::new(by, reading.gtin, symbology, verdict);
            attempt.fitted(&reading.fit, &self.sight()).weighed(reading.second, &evidence)
        });
        let (certainty, place) = judged.ok()?;
        Some(Accepted { gtin: reading.gtin, symbology, certainty, by, fit: reading.fit, place })
    }

    fn sight(&self) -> Sight<'_> {
        Sight { strips: self.strips, from: self.from.len(), backwards: self.backwards, profile: &self.profile }
    }

    /// Where the bars are; none if they are hardly higher than a line of print.
    fn place(&self, fit: &Fit) -> Option<Place> {
        /// Modules.
        const LOWEST: f32 = 6.0;
        /// Correlation with the bars from which on a strip shows them.
        const SHOWS: f32 = 0.6;
        let ends = [fit.warp.column_at(0.0), fit.warp.column_at(fit.warp.modules)].map(|c| c as usize);
        let bars = &self.profile[ends[0]..ends[1].min(self.profile.len())];
        let shows = |strip: &Strip| {
            let profile = turned(&strip.profile, self.backwards);
            strip.seen && correlation(&profile[ends[0]..ends[0] + bars.len()], bars) > SHOWS
        };
        let place = Place::new(self.strips, &fit.warp, self.backwards, shows)?;
        (place.height_modules() >= LOWEST).then_some(place)
    }
}

/// Why bars are not believed that are hardly higher than a line of print.
const TOO_LOW: &str = "hardly higher than a line of print";

fn turned(profile: &[f32], backwards: bool) -> Vec<f32> {
    if backwards { profile.iter().rev().copied().collect() } else { profile.to_vec() }
}

/// Columns within which a symbol's edges are alike.
fn reach(strips: &Strips) -> usize {
    (strips.inner_columns() / 10).max(4)
}

/// Stage one: rxing proposes, the fit decides.
struct GeneralPurpose;

impl Stage for GeneralPurpose {
    fn read(&self, strips: &Strips, _alone: bool) -> Option<Accepted> {
        let seen: Vec<&Strip> = strips.seen().collect();
        std::iter::once(&seen[..]).chain(bands(&seen)).find_map(|from| {
            View::both(strips, from, mean(from.iter().copied())).into_iter().find_map(|view| {
                proposals(&view.profile, &view.edges, reach(strips))
                    .iter()
                    .find_map(|proposal| confirm(&view, proposal))
            })
        })
    }
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
struct Likelihood;

impl Stage for Likelihood {
    fn read(&self, strips: &Strips, alone: bool) -> Option<Accepted> {
        /// Edges that a symbol shows at least, however blurred: two bars a digit run into one.
        const FEWEST_EDGES: usize = 24;
        let seen: Vec<&Strip> = strips.seen().collect();
        let whole = View::both(strips, &seen, mean(seen.iter().copied()));
        if whole[0].edges.len() < FEWEST_EDGES {
            return None;
        }
        let mut most_promising = Sought::likeliest(whole);
        if let Some(accepted) = most_promising.accept() {
            return Some(accepted);
        }
        if unevenly_lit(&seen, &most_promising.views[0].profile, reach(strips)) {
            let views = std::iter::once(View::both(strips, &seen, combined(&seen, reach(strips))))
                .chain(bands(&seen).map(|from| View::both(strips, from, mean(from.iter().copied()))));
            for views in views {
                let sought = Sought::likeliest(views);
                if let Some(accepted) = sought.accept() {
                    return Some(accepted);
                }
                if sought.least_residual() < 0.5 * most_promising.least_residual() {
                    most_promising = sought;
                }
            }
        }
        if alone { most_promising.thorough() } else { None }
    }
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

/// What has been sought on a profile and found there.
struct Sought<'a> {
    views: [View<'a>; 2],
    places: [Places; 2],
    /// View and place, the likeliest first.
    order: Vec<(usize, usize)>,
    /// Each with its view, by residual.
    readings: Vec<(usize, Reading)>,
}

impl<'a> Sought<'a> {
    /// Seeks the likeliest codes at the likeliest places, both directions together.
    fn likeliest(views: [View<'a>; 2]) -> Self {
        /// Places at which codes are sought; and those that are tried first.
        const PLACES: usize = 10;
        const FIRST: usize = 4;
        /// Residual from which on the first places were no symbol, nor are the others.
        const NO_SYMBOL: f32 = 0.25;
        let places = [0, 1].map(|v: usize| {
            let View { strips, profile, edges, .. } = &views[v];
            Places::of(profile, edges, strips.inner_columns(), strips.column_px())
        });
        let mut costs: Vec<(f32, usize, usize)> =
            (0..2).flat_map(|v| places[v].costs().enumerate().map(move |(place, cost)| (cost, v, place))).collect();
        costs.sort_by(|a, b| a.0.total_cmp(&b.0));
        let order = costs.into_iter().take(PLACES).map(|(_, v, place)| (v, place)).collect();
        let mut sought = Self { views, places, order, readings: Vec::new() };
        for i in 0..sought.order.len() {
            if i == FIRST && sought.least_residual() > NO_SYMBOL {
                break;
            }
            let (v, place) = sought.order[i];
            let starts = sought.places[v].likeliest(place);
            sought.add(v, starts, |profile, start| likelihood::refined(profile, start.gtin, start.theta));
            if sought.readings.first().is_some_and(|(_, reading)| reading.is_evident()) {
                return sought;
            }
        }
        sought.shake(1);
        sought
    }

    /// Seeks once more, nearer to the best places and on both sides of them, among the codes that covers bear.
    fn thorough(mut self) -> Option<Accepted> {
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
        self.sort();
    }

    /// Adds what comes of the best readings if they are shaken, each code once.
    fn shake(&mut self, count: usize) {
        let mut best: Vec<(usize, Reading)> = Vec::new();
        for (v, reading) in &self.readings {
            if best.len() < count && !best.iter().any(|(_, known)| known.gtin == reading.gtin) {
                best.push((*v, reading.clone()));
            }
        }
        let shaken = best.into_iter().map(|(v, reading)| (v, likelihood::shaken(&self.views[v].profile, reading)));
        self.readings.extend(shaken);
        self.sort();
    }

    fn sort(&mut self) {
        self.readings.sort_by(|a, b| a.1.fit.residual.total_cmp(&b.1.fit.residual));
    }

    fn least_residual(&self) -> f32 {
        self.readings.first().map_or(f32::INFINITY, |(_, reading)| reading.fit.residual)
    }

    /// The best reading, if it can be believed.
    fn accept(&self) -> Option<Accepted> {
        let (v, reading) = self.readings.first()?.clone();
        let others =
            self.readings.iter().filter(|(w, other)| *w == v && other.gtin != reading.gtin && other.is_about(&reading));
        let other = others.map(|(_, other)| other.fit.residual).fold(f32::INFINITY, f32::min);
        self.views[v].accept("likelihood", reading, other)
    }
}
