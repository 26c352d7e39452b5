//! The add-on right of a symbol: read, absent or unread.
//!
//! Its bars share the main symbol's blur, ink gain and light, so the waveform of every digit is known before it is
//! looked for. The best and the second best add-on with a valid parity come from dynamic programming.

mod parity;
mod scorer;

use scorer::{Best, Scorer};

use super::fit::Fit;
use super::model::PER_MODULE;
use super::place::Place;
use super::sample::{Point, add, scale, sub};
use super::surface::Surface;
use crate::code::AddOnState;

/// Modules that are looked at behind the main symbol: the farthest offset, 47 modules of bars, the quiet zone.
const ZONE_MODULES: f32 = 76.0;
/// The first of them.
const ZONE_START: f32 = 2.0;

/// Looks for the add-on of the symbol at `place`, whose bars go together with the picture as `fit` says.
pub(super) fn look(surface: &Surface, place: &Place, fit: &Fit) -> AddOnState {
    /// Parts of the main symbol's height; the add-on's bars begin lower, below its digits.
    const WHOLE: [f32; 2] = [0.3, 0.92];
    const PARTS: [[f32; 2]; 3] = [[0.25, 0.55], [0.4, 0.75], [0.6, 0.95]];
    let scorer = Scorer::new(fit);
    let zone = |band: [f32; 2]| darkness(surface, place, fit, band);
    if let Some(best) = scorer.best(&zone(WHOLE)).filter(Best::is_certain) {
        let agrees = |part| scorer.again(&zone(part), &best) == Some(best.add_on);
        if PARTS.into_iter().filter(|&part| agrees(part)).count() >= 2 {
            return AddOnState::Read(best.add_on);
        }
    }
    if is_blank(surface, place, fit) { AddOnState::Absent } else { AddOnState::Unread }
}

/// Mean darkness of the zone behind the symbol, over a part of the symbol's height.
fn darkness(surface: &Surface, place: &Place, fit: &Fit, band: [f32; 2]) -> Vec<f32> {
    const LINES: usize = 12;
    let samples = (ZONE_MODULES - ZONE_START) as usize * PER_MODULE;
    let mut mean = vec![0.0; samples];
    for i in 0..LINES {
        let t = band[0] + (band[1] - band[0]) * (i as f32 + 0.5) / LINES as f32;
        let profile = place.line(t).profile(surface, place.modules, place.modules + ZONE_START, samples);
        mean.iter_mut().zip(profile).for_each(|(m, grey)| *m += fit.darkness(place.modules, grey));
    }
    mean.iter_mut().for_each(|m| *m /= LINES as f32);
    mean
}

/// Whether nothing like bars stands right of the symbol, as far as an add-on could stand there.
fn is_blank(surface: &Surface, place: &Place, fit: &Fit) -> bool {
    /// Modules looked at: the usual offset and enough of an add-on for several bars.
    const LOOK: f32 = 30.0;
    /// A dark run this long is the edge of a label or of the paper, not a bar (the widest has four modules).
    const EDGE: usize = 7 * PER_MODULE;
    const LINES: usize = 9;
    /// Lines on which a bar, a letter or a picture's detail must show, so that a speck is not taken for one.
    const MARKED: usize = 2;
    /// Grey values from here on are burnt out, where paper elsewhere in the symbol is not.
    const BURNT: f32 = 252.0;
    const BURNT_SHARE: f32 = 0.2;
    let mut marked = 0;
    let mut burnt = 0;
    let samples = (LOOK - ZONE_START) as usize * PER_MODULE;
    for i in 0..LINES {
        let t = 0.15 + 0.7 * i as f32 / (LINES - 1) as f32;
        let line = place.line(t);
        let step = scale(sub(line.right, line.left), 1.0 / place.modules);
        let end: Point = add(line.right, scale(step, LOOK));
        if !surface.shows(end) {
            // The picture ends where an add-on could begin: nobody can say that there is none.
            return false;
        }
        let profile = line.profile(surface, place.modules, place.modules + ZONE_START, samples);
        burnt += profile.iter().filter(|&&grey| grey >= BURNT).count();
        let dark: Vec<f32> = profile.iter().map(|&grey| fit.darkness(place.modules, grey)).collect();
        if has_mark(&dark, EDGE) {
            marked += 1;
        }
    }
    let glare = fit.paper() < BURNT - 8.0 && burnt as f32 > BURNT_SHARE * (LINES * samples) as f32;
    marked < MARKED && !glare
}

/// Whether a dark run shorter than `edge` samples, with light on both sides of it, is in the profile.
fn has_mark(dark: &[f32], edge: usize) -> bool {
    /// Darkness from which on something is there, and below which it has ended: blur of a module's sigma still lets
    /// single bars stand out by 0.3.
    const THERE: f32 = 0.3;
    const GONE: f32 = 0.15;
    let mut from = None;
    let mut lightest = 0.0f32;
    for (i, &d) in dark.iter().enumerate() {
        match from {
            None if d - lightest.max(0.0) > THERE => from = Some(i),
            None => lightest = lightest.min(d).max(-0.3),
            Some(f) if d < GONE.max(lightest + GONE) => {
                if i - f < edge {
                    return true;
                }
                from = None;
            }
            Some(_) => {}
        }
    }
    false
}
