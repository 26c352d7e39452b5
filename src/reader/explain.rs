//! What the reader saw in a picture, for a person who asks why a code was read or not.
//!
//! [`explain`] runs the very search that [`super::read`] runs, with its notes kept. How they are shown is left to others.

use std::cell::RefCell;
use std::rc::Rc;

use super::Symbol;
use super::find::Region;
use super::fit::Fit;
use super::model::{Bars, PER_MODULE};
use super::stage::Effort;
use super::strips::Strips;
use super::verdict::{self, Evidence};
use crate::code::{Certainty, Gtin, NumberSet, Symbology};
use crate::picture::Luma;

/// What the reader saw in a picture.
#[derive(Debug, Clone)]
pub struct Explanation {
    /// The patches of parallel edges that were looked at, the most promising first.
    pub regions: Vec<RegionReport>,
    /// What was read, as [`super::read`] gives it.
    pub symbols: Vec<Symbol>,
    /// Whether that was read in the negative, so that the regions show it.
    pub negative: bool,
}

/// A patch of parallel edges, and what became of it.
#[derive(Debug, Clone)]
pub struct RegionReport {
    /// Its corners in picture px, one after the other.
    pub corners: [[f32; 2]; 4],
    /// What became of it.
    pub fate: Fate,
    /// Its bars put in line: a row for each strip of the picture, the region's own sides and quiet zones included.
    pub strips: Option<Luma>,
    /// For each row of `strips` whether it shows the bars that the rows around it show.
    pub in_line: Vec<bool>,
    /// The codes that were weighed, in the order in which they were tried.
    pub attempts: Vec<Attempt>,
}

/// What became of a region.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fate {
    /// A code was read in it.
    Read,
    /// It lies in a symbol that was read already.
    Covered,
    /// It holds too few edges, or no bars that go on from strip to strip.
    NoBars,
    /// The first stage read nothing, and its bars are none that a symbol could have.
    NoSymbol,
    /// Both stages looked, and neither believed a code.
    Unread,
    /// The first stage read nothing, and the second only looks at more promising regions.
    LeftOut,
}

/// A code that was tried on a region.
#[derive(Debug, Clone)]
pub struct Attempt {
    /// The stage that tried it.
    pub by: &'static str,
    /// The code.
    pub gtin: Gtin,
    /// The kind of its symbol.
    pub symbology: Symbology,
    /// How far it is trusted, or why not.
    pub verdict: Result<Certainty, &'static str>,
    /// How its bars lie in the picture; none if they could not be laid there.
    pub fitted: Option<Fitted>,
    /// What speaks for it and against it; none for the short symbols, which are judged by their digits alone.
    pub weighed: Option<Weighed>,
}

/// A code's bars as they fit the picture best.
#[derive(Debug, Clone)]
pub struct Fitted {
    /// How many of the strips that are in line its profile is the mean of.
    pub strips: usize,
    /// Whether it is read against the direction of the strips' rows.
    pub backwards: bool,
    /// The columns of the strips at which its first bar begins and its last one ends, in reading direction: from the right
    /// if it is read backwards.
    pub columns: [f32; 2],
    /// Share of the profile's variance that the bars leave unexplained.
    pub residual: f32,
    /// What that share may be at most.
    pub residual_limit: f32,
    /// Blur, as a Gaussian's standard deviation in modules.
    pub blur_modules: f32,
    /// How far ink spreads at each edge, in modules.
    pub ink_gain_modules: f32,
    /// Mean width of a module in picture px.
    pub module_px: f32,
    /// Width of the narrowest module, in modules of mean width.
    pub narrowest: f32,
    /// The symbol's modules, true for dark.
    pub modules: Vec<bool>,
    /// How dark the picture is along the symbol, 0 for paper and 1 for ink: [`Fitted::PER_MODULE`] samples a module, from
    /// [`Fitted::BESIDE_MODULES`] before the first bar on.
    pub seen: Vec<f32>,
    /// How dark it would be if the code is right, sample by sample.
    pub model: Vec<f32>,
    /// The digits that its bars carry.
    pub digits: Vec<DigitReport>,
}

/// A digit that was read, and its best rival.
#[derive(Debug, Clone, Copy)]
pub struct DigitReport {
    /// The digit.
    pub digit: u8,
    /// The number set that its bars are of.
    pub set: NumberSet,
    /// The other digit, and its set, that fits best in its place.
    pub rival: (u8, NumberSet),
    /// The sum of squares with the rival in its place over that of the code. Below 1 the rival alone would fit better, but
    /// the check digit or the other digits' sets forbid it.
    pub ratio: f32,
}

/// What speaks for a code as a whole, and against it.
#[derive(Debug, Clone, Copy)]
pub struct Weighed {
    /// The code that comes next.
    pub runner_up: Gtin,
    /// The least sum of squares of any rival over that of the code.
    pub ratio: f32,
    /// What that ratio must be at least.
    pub needed_ratio: f32,
    /// Bands of the height, each decoded for itself, that gave the same code, and all.
    pub votes: [usize; 2],
}

/// Reads `picture` as [`super::read`] does, and tells what was seen on the way.
#[must_use]
pub fn explain(picture: &Luma) -> Explanation {
    let mut log = Log { reports: Some(Vec::new()), negative: false };
    let symbols = super::search::symbols(picture, Effort::Parts, &mut log);
    let mut regions = log.reports.unwrap_or_default();
    regions.sort_by(|a, b| b.0.total_cmp(&a.0));
    let regions = regions.into_iter().map(|(_, report)| report).collect();
    Explanation { regions, symbols, negative: log.negative }
}

/// Reports of regions, each with its strength; none are kept unless somebody asked.
#[derive(Default)]
pub(super) struct Log {
    reports: Option<Vec<(f32, RegionReport)>>,
    negative: bool,
}

impl Log {
    /// An empty one for the negative, kept if this one is.
    pub(super) fn of_negative(&self) -> Self {
        Self { reports: self.reports.as_ref().map(|_| Vec::new()), negative: true }
    }

    /// Paper for the notes on one region.
    pub(super) fn notes(&self) -> Notes {
        Notes(self.reports.as_ref().map(|_| Rc::default()))
    }

    pub(super) fn add(&mut self, region: &Region, strips: Option<Strips>, fate: Fate) {
        if let Some(reports) = &mut self.reports {
            let (picture, in_line) = strips.as_ref().map(strips_picture).unzip();
            let attempts = strips.map(|strips| strips.into_notes().taken()).unwrap_or_default();
            let in_line = in_line.unwrap_or_default();
            let corners = region.corners();
            reports.push((
                region.strength(),
                RegionReport { corners, fate, strips: picture.flatten(), in_line, attempts },
            ));
        }
    }
}

/// The strips' profiles one below the other, and whether each is in line.
fn strips_picture(strips: &Strips) -> (Option<Luma>, Vec<bool>) {
    let pixels = strips.all().iter().flat_map(|s| s.profile.iter().map(|grey| grey.round() as u8)).collect();
    let in_line = strips.all().iter().map(|s| s.seen).collect();
    (Luma::new(strips.columns(), strips.all().len(), pixels), in_line)
}

/// What was tried on a region; nothing is kept unless somebody asked.
#[derive(Default, Clone)]
pub(super) struct Notes(Option<Rc<RefCell<Vec<Attempt>>>>);

impl Notes {
    pub(super) fn add(&self, attempt: impl FnOnce() -> Attempt) {
        if let Some(attempts) = &self.0 {
            attempts.borrow_mut().push(attempt());
        }
    }

    pub(super) fn are_kept(&self) -> bool {
        self.0.is_some()
    }

    fn taken(self) -> Vec<Attempt> {
        self.0.map(|notes| notes.take()).unwrap_or_default()
    }
}

/// The profile that a code was tried on.
pub(super) struct Sight<'a> {
    pub(super) strips: &'a Strips,
    /// Strips that it is the mean of.
    pub(super) from: usize,
    pub(super) backwards: bool,
    pub(super) profile: &'a [f32],
}

impl Fitted {
    /// Samples a module of [`Fitted::seen`] and [`Fitted::model`].
    pub const PER_MODULE: usize = PER_MODULE;
    /// Modules beside the symbol that they show on each side.
    pub const BESIDE_MODULES: usize = 5;

    fn new(gtin: Gtin, symbology: Symbology, fit: &Fit, sight: &Sight<'_>) -> Option<Self> {
        let modules = verdict::modules(gtin, symbology)?;
        let first = -(Self::BESIDE_MODULES as f32);
        let samples = (modules.len() + 2 * Self::BESIDE_MODULES) * PER_MODULE;
        let digits = verdict::margins(fit, sight.profile, gtin, symbology)?;
        let (narrowest, _) = fit.warp.narrowest_and_last();
        Some(Self {
            strips: sight.from,
            backwards: sight.backwards,
            columns: [fit.warp.column_at(0.0), fit.warp.column_at(fit.warp.modules)],
            residual: fit.residual,
            residual_limit: verdict::residual_limit(fit.sigma),
            blur_modules: fit.sigma,
            ink_gain_modules: fit.gain,
            module_px: fit.warp.module_columns() * sight.strips.column_px(),
            narrowest,
            seen: fit.darkness_of(sight.profile, first, samples),
            model: Bars::new(&modules, 0.0).wave(samples, first, fit.sigma, fit.gain),
            modules,
            digits: digits
                .into_iter()
                .map(|m| DigitReport { digit: m.digit, set: m.set, rival: m.rival, ratio: 1.0 + m.growth })
                .collect(),
        })
    }
}

impl Attempt {
    pub(super) fn new(
        by: &'static str,
        gtin: Gtin,
        symbology: Symbology,
        verdict: Result<Certainty, &'static str>,
    ) -> Self {
        Self { by, gtin, symbology, verdict, fitted: None, weighed: None }
    }

    pub(super) fn fitted(self, fit: &Fit, sight: &Sight<'_>) -> Self {
        Self { fitted: Fitted::new(self.gtin, self.symbology, fit, sight), ..self }
    }

    pub(super) fn weighed(self, runner_up: Gtin, evidence: &Evidence) -> Self {
        let Evidence { ratio, votes, .. } = *evidence;
        Self { weighed: Some(Weighed { runner_up, ratio, needed_ratio: evidence.needed_ratio(), votes }), ..self }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Notes cost nothing unless they are asked for.
    #[test]
    fn nothing_is_noted_for_nobody() {
        let notes = Log::default().notes();
        notes.add(|| unreachable!("nobody asked"));
        assert!(notes.taken().is_empty());
    }

    #[test]
    fn a_picture_without_pixels_is_explained() {
        let explanation = explain(&Luma::from_fn(0, 0, |_, _| 0));
        assert!(explanation.regions.is_empty() && explanation.symbols.is_empty());
    }
}
