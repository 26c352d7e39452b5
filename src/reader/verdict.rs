//! Whether a reading is believed: its bars must fit the picture, and no other digits may fit nearly as well.

use super::codebook::MARGIN;
use super::fit::{Fit, Theta, fit};
use super::likelihood::{self, Reading};
use super::limp;
use super::model::{Bars, DIGIT_REACH, DIGIT_SAMPLES, DigitWaves, PER_MODULE, correlation};
use super::warp::Warp;
use crate::code::{Certainty, Gtin, NumberSet, Symbology, ean_8_modules, main_modules, main_sets};
use crate::code::{upc_e_compress, upc_e_modules, upc_e_sets};

/// How much of a profile's variance may stay unexplained. Blur takes the contrast between rivals, so it must fit better.
pub(super) fn residual_limit(sigma: f32) -> f32 {
    if sigma < 0.7 {
        0.15
    } else if sigma < 1.0 {
        0.08
    } else {
        0.05
    }
}

/// Whether a valid code leaves no more than the likeliest digits of all, whether or not they make one. Of 418 right readings of
/// blurred, dim and damaged simulated symbols that were accepted none exceeded 1.0001; symbols with a wrong check digit gave 6 and
/// more.
fn is_of_any(over_any: f32) -> bool {
    /// What the rounding of a fit makes.
    const ANY: f32 = 1.02;
    over_any <= ANY
}

/// Whether bars fit that make no valid code: what is printed there is none, however paper may be creased.
pub(super) fn shows_no_code(reading: &Reading) -> bool {
    reading.fit.residual <= residual_limit(reading.fit.sigma) && !is_of_any(reading.over_any)
}

/// Whether that is so and nothing hides any of its bars: whatever their digits, they explain the profile.
pub(super) fn plainly_shows_no_code(reading: &Reading) -> bool {
    /// Share of the variance that stays unexplained. 21 simulated symbols with a wrong check digit left 0.009 at most, right ones of
    /// which glare hides some 0.023 and more.
    const PLAIN: f32 = 0.02;
    shows_no_code(reading) && reading.fit.residual <= PLAIN * reading.over_any
}

/// From so much blur on, in modules, rivals are alike.
const BLURRED: f32 = 0.7;

/// From so much on, bars and spaces of one module have merged, and creases can't be seen.
pub(super) const MERGED: f32 = 0.9;

/// How well each digit must go together with its bars: of 6,800 right codes on simulated pictures and on photos one stayed below 0.75,
/// of the wrong ones that were weighed four in five.
const SEEN: f32 = 0.75;

/// What speaks for a reading of a UPC-A or EAN-13, and against it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Evidence {
    /// Share of the profile's variance that its bars leave unexplained.
    pub(super) residual: f32,
    /// Blur in modules.
    pub(super) sigma: f32,
    /// Sum of squares of the likeliest rival, at its own best fit, over that of the reading.
    pub(super) ratio: f32,
    /// The same if paper is taken to be creased though the reading needs no creases, where blur would hide them.
    pub(super) ratio_if_creased: f32,
    /// Its sum of squares over that of the likeliest digits, valid code or not: 1 if they are its own.
    pub(super) over_any: f32,
    /// How well the digit that is seen worst goes together with its bars: Pearson's correlation.
    pub(super) dimmest: f32,
    /// Of the bands of the height that show the bars, those that gave the same code, and all.
    pub(super) votes: [usize; 2],
    /// Width of its narrowest module, in modules of mean width.
    pub(super) narrowest: f32,
    /// Picture px a module.
    pub(super) module_px: f32,
    /// Whether its paper is taken to be creased, or seems to be.
    pub(super) creased: bool,
}

impl Evidence {
    /// What the reading says by itself, as if no rival were near, every digit were seen, and every part of the height agreed.
    pub(super) fn alone(reading: &Reading, column_px: f32) -> Self {
        let Reading { fit, over_any, .. } = reading;
        let (narrowest, _) = fit.warp.narrowest_and_last();
        Self {
            residual: fit.residual,
            sigma: fit.sigma,
            ratio: f32::INFINITY,
            ratio_if_creased: f32::INFINITY,
            over_any: *over_any,
            dimmest: 1.0,
            votes: [1, 1],
            narrowest,
            module_px: fit.warp.module_columns() * column_px,
            creased: fit.warp.is_creased(),
        }
    }

    /// Weighs a reading of `profile`; `bands` are profiles of parts of the height, `others` are what else was found to fit about there,
    /// the best first.
    pub(super) fn of(
        reading: &Reading,
        others: &[&Reading],
        profile: &[f32],
        bands: &[Vec<f32>],
        column_px: f32,
    ) -> Self {
        /// Times the most that may stay unexplained, from which on a part of the height shows something else.
        const HIDDEN: f32 = 2.0;
        /// What must stay unexplained, as a share, if creases explain no more than they do of any profile: of 272 readings of photos
        /// 268 left more, of 3,600 right ones of smooth profiles drawn at random 99 in a hundred; two wrong ones 0.53 and 0.63.
        const SHOWN: f32 = 0.7;
        let Reading { gtin, fit: best, second, gap, .. } = reading;
        // Creases give every code more room, so more of them are tried.
        let mut rivals = if best.warp.is_creased() { likelihood::rivals(profile, *gtin, best) } else { vec![*second] };
        let mut votes = [0, 0];
        for band in bands {
            let Some(there) = fit(band, &likelihood::bars(*gtin), best.theta(), 4) else { continue };
            let Some(first) = likelihood::decode(band, &there) else { continue };
            // A part where the bars are hidden says nothing.
            if there.residual < HIDDEN * residual_limit(there.sigma) {
                votes[1] += 1;
                votes[0] += usize::from(first.gtin == *gtin);
            }
            if first.gtin != *gtin && !rivals.contains(&first.gtin) {
                rivals.push(first.gtin);
            }
        }
        let squares = rivals
            .iter()
            .filter_map(|rival| fit(profile, &likelihood::bars(*rival), best.theta(), 8))
            .map(|rival| rival.squares)
            .fold(f32::INFINITY, f32::min);
        let other = others.first().map_or(f32::INFINITY, |other| other.fit.residual / best.residual.max(1e-6));
        let ratio = (squares / best.squares.max(1e-3)).min(*gap).min(other);
        let alone = Self { votes, dimmest: dimmest(best, profile, *gtin), ..Self::alone(reading, column_px) };
        let smooth = Self { ratio, ..alone };
        if smooth.is_merged() && !smooth.creased && ratio >= smooth.needed_ratio() {
            let limp = limp::weigh(reading, others, profile);
            Self { ratio_if_creased: limp.ratio, creased: limp.share < SHOWN, ..smooth }
        } else {
            smooth
        }
    }

    /// What the ratio must be at least.
    pub(super) fn needed_ratio(&self) -> f32 {
        /// How far the next code must be from one that explains all.
        const RATIO: f32 = 1.4;
        /// How much farther where paper may be creased, which gives every code more room: of 21,000 simulated pictures one was
        /// read wrong so, that far beyond what is needed of smooth paper, and of 5,000 damaged files one by 0.36.
        const CREASED: f32 = 0.25;
        RATIO + self.residual * if self.is_blurred() { 12.0 } else { 4.0 } + if self.creased { CREASED } else { 0.0 }
    }

    /// Whether the whole height says more than its parts, which read otherwise: glare hides other digits in each of them, and all
    /// together still tell one code from all others.
    fn outweighs_its_parts(&self) -> bool {
        /// What may stay unexplained at most, and how far the next code must be.
        const CLOSE: f32 = 0.03;
        const FAR: f32 = 3.0;
        /// How much farther than needed where bars stand apart on smooth paper: of 38,000 codes that were weighed on 6,300 simulated
        /// pictures of all kinds no wrong one left so little unexplained there, but those that made no valid code.
        const FARTHER: f32 = 0.5;
        let plain = !self.is_blurred() && !self.creased;
        self.residual <= CLOSE && self.ratio >= if plain { self.needed_ratio() + FARTHER } else { FAR }
    }

    /// Whether blur makes rivals alike.
    pub(super) fn is_blurred(&self) -> bool {
        self.sigma >= BLURRED
    }

    /// Whether blur has merged the narrowest bars and spaces: digits can be told by their wider ones alone, wherever these lie.
    pub(super) fn is_merged(&self) -> bool {
        self.sigma >= MERGED
    }

    /// Whether it would be believed if every part of the height agreed.
    pub(super) fn stands_out(&self) -> bool {
        Self { votes: [1, 1], ..*self }.verdict().is_ok()
    }

    /// How far the reading can be trusted; or why it can't.
    ///
    /// Right codes and wrong ones were compared on simulated pictures and on the test photos. A wrong code that
    /// fits as well as a right one has not been seen: it leaves more unexplained, and its rivals come nearer. So the more
    /// is left unexplained, the farther the next code must be; blur makes rivals alike, so there it counts more.
    pub(super) fn verdict(&self) -> Result<Certainty, &'static str> {
        /// How much farther than needed the next code must be to be sure.
        const SURER: f32 = 0.25;
        /// What the ratio must be at least if paper is creased. Of 7,069 right codes on blurred profiles drawn at random none had less
        /// than 1.36, of 272 profiles of photos, most of them made worse, one; of 289 wrong codes that would be believed by
        /// themselves one in twenty had more.
        const IF_CREASED: f32 = 1.1;
        if self.sigma > 1.8 {
            return Err("too blurred");
        }
        if self.module_px < likelihood::SMALLEST_PX {
            return Err("too small");
        }
        if self.narrowest < 0.4 {
            return Err("squeezed as no cover is");
        }
        if self.residual > residual_limit(self.sigma) {
            return Err("the bars do not fit");
        }
        if !is_of_any(self.over_any) {
            return Err("the digits that fit best make no valid code");
        }
        if self.dimmest < SEEN {
            return Err("a digit's bars are hardly there");
        }
        let needed = self.needed_ratio();
        if self.ratio < needed {
            return Err("another code fits nearly as well");
        }
        if self.ratio_if_creased < IF_CREASED {
            return Err("if paper is creased, another code fits as well");
        }
        let [agreeing, bands] = self.votes;
        let together = agreeing > 0 && 3 * agreeing >= 2 * bands && (agreeing == bands || self.ratio >= 2.0);
        if !together && !self.outweighs_its_parts() {
            return Err("parts of the height read otherwise");
        }
        let far = self.ratio >= needed + SURER && self.ratio_if_creased >= IF_CREASED + SURER;
        Ok(if together && far { Certainty::Sure } else { Certainty::Confirm })
    }
}

/// The fit of a UPC-E's or EAN-8's bars, if it is believed: half the bars of the others, and a check that a tenth of all
/// patterns passes, so it must fit better, and a second look is always asked for.
pub(super) fn short_symbol(profile: &[f32], gtin: Gtin, symbology: Symbology, warp: Warp) -> Option<Fit> {
    let modules = modules(gtin, symbology)?;
    let fit = fit(profile, &Bars::new(&modules, 0.0), Theta { warp, sigma: 0.6, gain: 0.0 }, 10)?;
    let mut growths: Vec<f32> = margins(&fit, profile, gtin, symbology)?.iter().map(|m| m.growth).collect();
    growths.sort_by(f32::total_cmp);
    // The two cheapest replacements together: one alone breaks a check digit or a parity.
    let ratio = 1.0 + growths.iter().take(2).sum::<f32>();
    let (narrowest, _) = fit.warp.narrowest_and_last();
    let believed = fit.residual < 0.5 * residual_limit(fit.sigma) && ratio >= 1.5 && narrowest >= 0.4;
    (believed && is_quiet(&fit, profile, modules.len())).then_some(fit)
}

/// Whether paper is bare on both sides of a symbol of so many modules: half of a UPC-A has the guards and nearly the bars of a UPC-E.
fn is_quiet(fit: &Fit, profile: &[f32], modules: usize) -> bool {
    /// Modules that must be bare, the nearest ones left out for blur: more than the four of the widest space within a symbol. GS1 General
    /// Specifications ask for 7 and more.
    const FROM: f32 = 2.0;
    const TO: f32 = 6.5;
    /// Darkness that is none of a bar.
    const BARE: f32 = 0.3;
    let samples = ((TO - FROM) * PER_MODULE as f32) as usize;
    let bare = |first: f32| fit.darkness_of(profile, first, samples).iter().all(|dark| *dark < BARE);
    bare(-TO) && bare(modules as f32 + FROM)
}

/// A symbol's modules, true for dark.
pub(super) fn modules(gtin: Gtin, symbology: Symbology) -> Option<Vec<bool>> {
    match symbology {
        Symbology::UpcA | Symbology::Ean13 => Some(main_modules(gtin).to_vec()),
        Symbology::Ean8 => Some(ean_8_modules(gtin)?.to_vec()),
        Symbology::UpcE => Some(upc_e_modules(gtin)?.to_vec()),
    }
}

/// A digit in its place.
#[derive(Debug, Clone, Copy)]
struct PlacedDigit {
    digit: u8,
    set: NumberSet,
    /// Its first module.
    at: usize,
}

/// The digits that a symbol's bars carry.
fn placed_digits(gtin: Gtin, symbology: Symbology) -> Option<Vec<PlacedDigit>> {
    let place = |digits: &[u8], sets: &[NumberSet], half: usize| {
        let at = |i: usize| 3 + 7 * i + if i >= half { 5 } else { 0 };
        digits.iter().zip(sets).enumerate().map(|(i, (&digit, &set))| PlacedDigit { digit, set, at: at(i) }).collect()
    };
    match symbology {
        Symbology::UpcA | Symbology::Ean13 => {
            let [first, rest @ ..] = gtin.digits();
            Some(place(&rest, &[&main_sets(first)[..], &[NumberSet::C; 6]].concat(), 6))
        }
        Symbology::Ean8 => Some(place(&gtin.gtin8()?, &[[NumberSet::A; 4], [NumberSet::C; 4]].concat(), 4)),
        Symbology::UpcE => {
            let [system, body @ .., check] = upc_e_compress(gtin)?;
            Some(place(&body, &upc_e_sets(system, check)?, 6))
        }
    }
}

/// A digit that a symbol's bars carry, and the one that comes next in its place.
#[derive(Debug, Clone, Copy)]
pub(super) struct Margin {
    pub(super) digit: u8,
    pub(super) set: NumberSet,
    /// The other digit, and the set that its bars are of.
    pub(super) rival: (u8, NumberSet),
    /// By how much the sum of squares grows with the rival in its place, as a share of it. Below 0 the rival fits better.
    pub(super) growth: f32,
}

/// How much worse the profile fits if each digit in turn is replaced by its best rival, all else as it is.
pub(super) fn margins(fit: &Fit, profile: &[f32], gtin: Gtin, symbology: Symbology) -> Option<Vec<Margin>> {
    let modules = modules(gtin, symbology)?;
    let samples = (modules.len() + 2 * MARGIN as usize) * PER_MODULE;
    let seen = fit.darkness_of(profile, -MARGIN, samples);
    let model = Bars::new(&modules, 0.0).wave(samples, -MARGIN, fit.sigma, fit.gain);
    let rest: Vec<f32> = seen.iter().zip(&model).map(|(s, m)| s - m).collect();
    let squares: f32 = rest.iter().map(|r| r * r).sum::<f32>().max(1e-3);
    let waves = DigitWaves::new(fit.sigma, fit.gain);
    let margin = |placed: PlacedDigit| {
        let from = (placed.at + (MARGIN - DIGIT_REACH) as usize) * PER_MODULE;
        let rest = &rest[from..from + DIGIT_SAMPLES];
        let claimed = waves.of(placed.set, placed.digit);
        let growth = |rival: &[f32; DIGIT_SAMPLES]| {
            let changed = |(e, (c, r)): (&f32, (&f32, &f32))| (e + c - r) * (e + c - r) - e * e;
            rest.iter().zip(claimed.iter().zip(rival)).map(changed).sum::<f32>()
        };
        let sets: &[NumberSet] = match placed.set {
            NumberSet::C => &[NumberSet::C],
            NumberSet::A | NumberSet::B => &[NumberSet::A, NumberSet::B],
        };
        let (growth, rival) = sets
            .iter()
            .flat_map(|&set| (0..10).map(move |digit| (digit, set)))
            .filter(|&rival| rival != (placed.digit, placed.set))
            .map(|(digit, set)| (growth(waves.of(set, digit)), (digit, set)))
            .min_by(|a, b| a.0.total_cmp(&b.0))?;
        Some(Margin { digit: placed.digit, set: placed.set, rival, growth: growth / squares })
    };
    placed_digits(gtin, symbology)?.into_iter().map(margin).collect()
}

/// How well the digit that is seen worst goes together with its bars: Pearson's correlation over its seven modules.
fn dimmest(fit: &Fit, profile: &[f32], gtin: Gtin) -> f32 {
    let seen = fit.main_darkness_of(profile);
    let expected = likelihood::bars(gtin).wave(seen.len(), -MARGIN, fit.sigma, fit.gain);
    let of = |placed: PlacedDigit| {
        let from = (placed.at + MARGIN as usize) * PER_MODULE;
        let digit = from..from + 7 * PER_MODULE;
        correlation(&seen[digit.clone()], &expected[digit])
    };
    placed_digits(gtin, Symbology::Ean13).into_iter().flatten().map(of).fold(1.0, f32::min)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reader::codebook::MODULES;

    const COLUMNS: usize = 4;
    const QUIET: usize = 14;

    /// A symbol's modules seen sharply, 4 columns each, with `behind` from its last one on.
    fn profile(symbol: &[bool], behind: &[bool]) -> Vec<f32> {
        let modules = [symbol, behind].concat();
        let samples = (modules.len() + 2 * QUIET) * COLUMNS;
        let wave = Bars::new(&modules, 0.0).wave(samples, -(QUIET as f32), 0.4, 0.0);
        wave.iter().map(|dark| 210.0 - 150.0 * dark).collect()
    }

    /// 04252614 stands for 042100005264 (from memory of the standard's example; `code_check_digits` holds it).
    #[test]
    fn a_short_symbol_needs_quiet_on_both_sides() {
        let gtin = Gtin::from_digits(&[0, 0, 4, 2, 1, 0, 0, 0, 0, 5, 2, 6, 4]).unwrap();
        let modules = upc_e_modules(gtin).unwrap();
        let believed = |profile: &[f32]| {
            let ends = [QUIET, QUIET + modules.len()].map(|m| (m * COLUMNS) as f32);
            let warp = Warp::straight(ends[0], ends[1], modules.len() as f32);
            short_symbol(profile, gtin, Symbology::UpcE, warp).is_some()
        };
        assert!(believed(&profile(&modules, &[])));
        // What follows the middle of a UPC-A: a digit of set C.
        let digit = NumberSet::C.modules(5);
        assert!(!believed(&profile(&modules, &digit)));
        assert!(!believed(&profile(&modules, &[&[false; 2][..], &digit].concat())));
    }

    /// 036000291452 is a UPC-A whose check digit is right (from memory of the standard's explanations).
    #[test]
    fn a_covered_digit_is_hardly_there() {
        let gtin = Gtin::from_digits(&[0, 0, 3, 6, 0, 0, 0, 2, 9, 1, 4, 5, 2]).unwrap();
        let printed = profile(&modules(gtin, Symbology::UpcA).unwrap(), &[]);
        let ends = [QUIET, QUIET + MODULES].map(|m| (m * COLUMNS) as f32);
        let theta = Theta { warp: Warp::straight(ends[0], ends[1], MODULES as f32), sigma: 0.4, gain: 0.0 };
        let dimmest =
            |profile: &[f32]| dimmest(&fit(profile, &likelihood::bars(gtin), theta, 6).unwrap(), profile, gtin);
        assert!(dimmest(&printed) > 0.99);
        // The digits of the left half begin 3, 10, 17, 24, 31 and 38 modules behind the first bar. Two are covered.
        for digit in [3, 10, 17, 24, 31] {
            let covered = (QUIET + digit) * COLUMNS..(QUIET + digit + 14) * COLUMNS;
            let seen: Vec<f32> =
                printed.iter().enumerate().map(|(x, v)| if covered.contains(&x) { 130.0 } else { *v }).collect();
            assert!(dimmest(&seen) < SEEN, "{digit}: {}", dimmest(&seen));
        }
    }
}
