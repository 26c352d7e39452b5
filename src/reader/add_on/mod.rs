//! The add-on right of a symbol: read, absent or unread.
//!
//! Its bars share the main symbol's blur, ink gain and light, so the waveform of every digit is known before it is
//! looked for. The best and the second best add-on with a valid parity come from dynamic programming.

mod parity;
mod scorer;
mod stretch;

use scorer::{Best, Scorer};
use stretch::Stretch;

use super::fit::Fit;
use super::model::PER_MODULE;
use super::place::Place;
use super::surface::Surface;
use crate::code::{AddOn, AddOnState};

/// Modules that are looked at behind the main symbol: the farthest offset, 47 modules of bars, the quiet zone.
const ZONE_MODULES: f32 = 76.0;
/// The first of them.
const ZONE_START: f32 = 2.0;

/// Modules that must be blank for there to be no add-on: the usual offset and enough of one for several bars.
const BLANK_MODULES: f32 = 30.0;
/// Modules that must be bare behind two digits, or they may be the first of five: a separator and the third digit's first
/// bar would stand there. GS1 General Specifications ask for a quiet zone of 5; readers usually ask for 7, from which half
/// a module is left to the last bar's blurred edge.
const QUIET_MODULES: f32 = 6.5;
/// Modules that the last three of five digits take, which glare may hide.
const REST_MODULES: f32 = 27.0;

/// Looks for the add-on of the symbol at `place`, whose bars go together with the picture as `fit` says.
pub(super) fn look(surface: &Surface, place: &Place, fit: &Fit) -> AddOnState {
    /// Parts of the main symbol's height; the add-on's bars begin lower, below its digits.
    const WHOLE: [f32; 2] = [0.3, 0.92];
    const PARTS: [[f32; 2]; 3] = [[0.25, 0.55], [0.4, 0.75], [0.6, 0.95]];
    let scorer = Scorer::new(fit);
    let zone = |band: [f32; 2]| darkness(surface, place, fit, band);
    if let Some(best) = scorer.best(&zone(WHOLE)).filter(Best::is_certain) {
        let agrees = |part| scorer.again(&zone(part), &best) == Some(best.add_on);
        let ends = match best.add_on {
            AddOn::Five(_) => true,
            AddOn::Two(_) => {
                let stretch = |width| Stretch::new(surface, place, fit, best.end(), width);
                stretch(QUIET_MODULES).is_bare() && !stretch(REST_MODULES).has_glare()
            }
        };
        if ends && PARTS.into_iter().filter(|&part| agrees(part)).count() >= 2 {
            return AddOnState::Read(best.add_on);
        }
    }
    let blank = Stretch::new(surface, place, fit, ZONE_START, BLANK_MODULES - ZONE_START).is_blank();
    if blank { AddOnState::Absent } else { AddOnState::Unread }
}

/// Mean darkness of the zone behind the symbol, over a part of the symbol's height.
fn darkness(surface: &Surface, place: &Place, fit: &Fit, band: [f32; 2]) -> Vec<f32> {
    const LINES: usize = 12;
    let samples = (ZONE_MODULES - ZONE_START) as usize * PER_MODULE;
    let mut mean = vec![0.0; samples];
    for i in 0..LINES {
        let t = band[0] + (band[1] - band[0]) * (i as f32 + 0.5) / LINES as f32;
        let profile = place.line(t).profile(surface, place.modules, place.modules + ZONE_START, PER_MODULE, samples);
        mean.iter_mut().zip(profile).for_each(|(m, grey)| *m += fit.darkness(place.modules, grey));
    }
    mean.iter_mut().for_each(|m| *m /= LINES as f32);
    mean
}
