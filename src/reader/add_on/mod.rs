//! The add-on right of a symbol: read, absent or unread.
//!
//! Its bars share the main symbol's blur, ink gain and light, so the waveform of every digit is known before it is
//! looked for. `zone` lays out what is behind the symbol; `places` says where an add-on may lie there, `decode` which one
//! it most likely is, `fit` how well it fits, `scorer` how far the next one is. `verdict` believes it or not; `blank` says
//! whether there is none.

mod blank;
mod decode;
mod fit;
mod parity;
mod places;
mod scorer;
mod verdict;
mod zone;

use blank::is_blank;
use fit::Prior;
use places::Search;
use scorer::Scorer;
use verdict::believed;
use zone::{Zone, even};

use super::fit::Fit;
use super::place::Place;
use super::surface::Surface;
use crate::code::{AddOn, AddOnState};

/// Looks for the add-on of the symbol at `place`, whose bars go together with the picture as `fit` says.
pub(super) fn look(surface: &Surface, place: &Place, fit: &Fit) -> AddOnState {
    let zone = Zone::new(surface, place, fit);
    let scorer = Scorer::new(Prior::of(fit));
    if let Some(add_on) = read(&scorer, &zone, &zone.mean(), Search::FirstBar) {
        return AddOnState::Read(add_on);
    }
    let zone = zone.in_line();
    if is_blank(&zone, scorer.prior()) {
        return AddOnState::Absent;
    }
    let whole = [Zone::mean, Zone::darkest, Zone::combined];
    let evened = [Zone::freed_of_glare, Zone::darkest];
    let read = whole
        .iter()
        .find_map(|profile| read(&scorer, &zone, &profile(&zone), Search::Everywhere))
        .or_else(|| evened.iter().find_map(|profile| five(&scorer, &zone, &even(&profile(&zone)))))
        .or_else(|| zone.bands().find_map(|profile| read(&scorer, &zone, &profile, Search::Everywhere)));
    read.map_or(AddOnState::Unread, AddOnState::Read)
}

/// The five digits that a profile of the zone shows, if they can be believed. Two are not looked for where contrast has been made
/// even: how bare it is behind them could no longer be told.
fn five(scorer: &Scorer, zone: &Zone, profile: &[f32]) -> Option<AddOn> {
    let five = scorer.best(profile, 5, Search::Everywhere)?;
    believed(&five, None, scorer, zone).then_some(five.best.add_on)
}

/// The add-on that one profile of the zone shows, if it can be believed. Five digits are looked for first: their first two
/// are a two-digit add-on to whoever looks no farther.
fn read(scorer: &Scorer, zone: &Zone, profile: &[f32], search: Search) -> Option<AddOn> {
    let five = scorer.best(profile, 5, search);
    if let Some(five) = five.filter(|five| believed(five, None, scorer, zone)) {
        return Some(five.best.add_on);
    }
    let two = scorer.best(profile, 2, search)?;
    believed(&two, five.as_ref(), scorer, zone).then_some(two.best.add_on)
}
