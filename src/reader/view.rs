//! A profile and what is read on it: weighed, judged, and laid back into the picture.

use super::blend::{combined, darkest, freed_of_glare, mean};
use super::edges::{Edge, edges, reach};
use super::explain::{Attempt, Sight};
use super::fit::Fit;
use super::likelihood::Reading;
use super::model::correlation;
use super::place::Place;
use super::strips::{Strip, Strips, without_light};
use super::tone::BURNT;
use super::verdict::{Evidence, shows_no_code};
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

/// A profile as it is read in one of the two directions.
pub(super) struct View<'a> {
    pub(super) strips: &'a Strips,
    /// The strips that it is the mean of.
    from: Vec<&'a Strip>,
    blend: Blend,
    backwards: bool,
    pub(super) profile: Vec<f32>,
    pub(super) edges: Vec<Edge>,
}

/// How one profile is made of several strips.
pub(super) type Blend = fn(&Strips, &[&Strip]) -> Vec<f32>;

/// Their mean.
pub(super) fn mean_of(_: &Strips, from: &[&Strip]) -> Vec<f32> {
    mean(from.iter().copied())
}

/// Each place counts by the contrast that it has there.
pub(super) fn combination_of(strips: &Strips, from: &[&Strip]) -> Vec<f32> {
    combined(from, reach(strips.inner_columns()))
}

/// Freed of the light that glare adds.
pub(super) fn freed_of(strips: &Strips, from: &[&Strip]) -> Vec<f32> {
    /// Bars of a symbol, four modules wide at most, as a share of the region: it may reach over the add-on.
    const BARS: usize = 40;
    freed_of_glare(from, (strips.inner_columns() / BARS).max(2))
}

/// What is darkest at each place.
pub(super) fn darkest_of(_: &Strips, from: &[&Strip]) -> Vec<f32> {
    darkest(from)
}

impl<'a> View<'a> {
    /// Both directions of one profile of `from`.
    pub(super) fn both(strips: &'a Strips, from: &[&'a Strip], blend: Blend) -> [Self; 2] {
        let profile = blend(strips, from);
        let reach = reach(strips.inner_columns());
        [false, true].map(|backwards| {
            let profile = turned(&profile, backwards);
            let edges = edges(&profile, reach);
            Self { strips, from: from.to_vec(), blend, backwards, profile, edges }
        })
    }

    /// Profiles of thirds of the height.
    fn bands(&self) -> Vec<Vec<f32>> {
        const BANDS: usize = 3;
        let n = self.from.len();
        let bands = BANDS.min(n);
        let part = |i: usize| &self.from[i * n / bands..(i + 1) * n / bands];
        (0..bands).map(|i| turned(&(self.blend)(self.strips, part(i)), self.backwards)).collect()
    }

    fn weigh(&self, reading: &Reading, others: &[&Reading]) -> Evidence {
        Evidence::of(reading, others, &self.profile, &self.bands(), self.strips.column_px())
    }

    /// The reading if it is believed; `others` are what else was found to fit about there, the best first.
    pub(super) fn accept(&self, by: &'static str, reading: &Reading, others: &[&Reading]) -> Option<Accepted> {
        if shows_no_code(reading) {
            self.strips.rumours().deny(reading.gtin);
        }
        // What can't be believed by itself needs no rivals, unless somebody asked to see them.
        if !self.strips.notes().are_kept() && Evidence::alone(reading, self.strips.column_px()).verdict().is_err() {
            return None;
        }
        let evidence = self.weigh(reading, others);
        let upc_a = reading.gtin.digits()[0] == 0;
        let symbology = if upc_a { Symbology::UpcA } else { Symbology::Ean13 };
        let judged = self.judge(&evidence, reading);
        self.strips.notes().add(|| {
            let verdict = judged.as_ref().map(|(certainty, _)| *certainty).map_err(|why| *why);
            let attempt = Attempt::new(by, reading.gtin, symbology, verdict);
            attempt.fitted(&reading.fit, &self.sight()).weighed(reading.second, &evidence)
        });
        let (certainty, place) = judged.ok()?;
        Some(Accepted { gtin: reading.gtin, symbology, certainty, by, fit: reading.fit.clone(), place })
    }

    /// What another profile of the region shows as clearly, though its parts do not agree, stands against a reading: of 1,200 simulated
    /// pictures under glare one band gave a wrong code by a hair's breadth where the whole had shown the right one. And blur makes a valid
    /// code of one that is none, now and then: of 3,000 simulated pictures without a code one gave one on one of five profiles.
    fn judge(&self, evidence: &Evidence, reading: &Reading) -> Result<(Certainty, Place), &'static str> {
        let place = self.place(&reading.fit);
        let rumours = self.strips.rumours();
        let contradicted =
            place.as_ref().is_ok_and(|place| rumours.contradict(reading.gtin, place.middle(), place.width_px()));
        if let Some(place) = place.as_ref().ok().filter(|_| evidence.stands_out()) {
            rumours.add(reading.gtin, place.middle());
        }
        match evidence.verdict() {
            Ok(_) if contradicted => Err("another profile shows another code as clearly"),
            Ok(Certainty::Confirm) if evidence.is_blurred() && rumours.denies(reading.gtin) => {
                Err("another profile shows digits that make no valid code")
            }
            verdict => Ok((verdict?, place?)),
        }
    }

    pub(super) fn sight(&self) -> Sight<'_> {
        Sight { strips: self.strips, from: self.from.len(), backwards: self.backwards, profile: &self.profile }
    }

    /// Where the bars are; or why they are not believed to be there.
    pub(super) fn place(&self, fit: &Fit) -> Result<Place, &'static str> {
        /// Rows one of which must show all bars.
        const ROWS: u8 = 8;
        /// Modules that the first bar and the last may lie beyond the picture's edge, for rounding.
        const BEYOND: f32 = 0.5;
        /// Modules.
        const LOWEST: f32 = 6.0;
        let ends = [fit.warp.column_at(0.0), fit.warp.column_at(fit.warp.modules)].map(|c| c as usize);
        let bars = &self.profile[ends[0]..ends[1].min(self.profile.len())];
        let shows = |strip: &Strip| {
            strip.seen && {
                let profile = turned(&strip.profile, self.backwards);
                shows(&profile[ends[0]..ends[0] + bars.len()], bars, reach(self.strips.inner_columns()))
            }
        };
        let place = Place::new(self.strips, &fit.warp, self.backwards, shows)
            .filter(|place| place.height_modules() >= LOWEST)
            .ok_or("hardly higher than a line of print")?;
        let beyond_px = BEYOND * place.module_px();
        // Beyond its edge a picture shows nothing: what is read there has been made up from the check digit.
        let whole = |i: u8| {
            let line = place.line(f32::from(i) / f32::from(ROWS));
            [line.left, line.right].iter().all(|end| self.strips.show(*end, beyond_px))
        };
        if (0..=ROWS).any(whole) { Ok(place) } else { Err("cut off by the picture's edge") }
    }
}

/// Whether a part of a strip shows these `bars` where it is not burnt out. Light may change beyond so many columns.
fn shows(part: &[f32], bars: &[f32], reach: usize) -> bool {
    /// Share of the columns that must not be burnt out, and correlation from which on they show the bars.
    const FREE: f32 = 0.25;
    const SHOWS: f32 = 0.6;
    let free: Vec<usize> = (0..part.len()).filter(|x| part[*x] < BURNT).collect();
    let [seen, expected] = [part, bars].map(|profile| {
        let bars = without_light(profile, reach);
        free.iter().map(|x| bars[*x]).collect::<Vec<f32>>()
    });
    free.len() as f32 >= FREE * part.len() as f32 && correlation(&seen, &expected) > SHOWS
}

fn turned(profile: &[f32], backwards: bool) -> Vec<f32> {
    if backwards { profile.iter().rev().copied().collect() } else { profile.to_vec() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reader::model::{Bars, PER_MODULE};

    const REACH: usize = 7 * PER_MODULE;

    fn bars(seed: u32) -> Vec<f32> {
        let modules: Vec<bool> = (0..95u32).map(|i| seed.rotate_left(7 * i % 31) & 1 == 1).collect();
        Bars::new(&modules, 0.0).wave(95 * PER_MODULE, 0.0, 0.4, 0.0).iter().map(|dark| 200.0 - 140.0 * dark).collect()
    }

    /// Glare burns out a part, and falls off on both sides of it.
    #[test]
    fn bars_are_shown_where_a_strip_is_not_burnt_out() {
        let lit = |middle: f32, half: f32| -> Vec<f32> {
            let light = |x: usize| 400.0 * (-0.5 * ((x as f32 - middle) / half).powi(2)).exp();
            bars(0x00B5_9A6D).iter().enumerate().map(|(x, grey)| (grey + light(x)).min(255.0)).collect()
        };
        let expected = bars(0x00B5_9A6D);
        assert!(shows(&expected, &expected, REACH) && shows(&lit(120.0, 50.0), &expected, REACH));
        assert!(correlation(&lit(120.0, 50.0), &expected) < 0.6, "glare hides them from a plain comparison");
        assert!(!shows(&lit(120.0, 50.0), &bars(0x5A3C_96E1), REACH), "other bars");
        assert!(!shows(&lit(190.0, 400.0), &expected, REACH), "burnt out nearly all over");
    }
}
