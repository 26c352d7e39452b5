//! The add-on right of a symbol: read, absent or unread.
//!
//! Its bars share the main symbol's blur, ink gain and light, so the waveform of every digit is known before it is
//! looked for. `zone` lays out what is behind the symbol; `places` says where an add-on may lie there, `decode` which one
//! it most likely is, `fit` how well it fits, `scorer` how far the next one is. `verdict` believes it or not; `blank` says
//! whether there is none, by lines that show the symbol's own `end`.

mod blank;
mod decode;
mod end;
mod fit;
mod light;
mod parity;
mod places;
mod profile;
mod scorer;
mod verdict;
mod zone;

use blank::{Ground, ground};
use end::End;
use fit::Prior;
use places::Search;
use profile::Profile;
use scorer::Scorer;
use verdict::Verdicts;
use zone::{Zone, even};

use super::fit::Fit;
use super::place::Place;
use super::surface::Surface;
use crate::code::{AddOn, AddOnState};

/// What is seen behind a symbol.
#[derive(Debug, Clone, Copy)]
pub(super) struct Behind {
    pub(super) state: AddOnState,
    /// Whether something dark is seen that may be one.
    pub(super) marked: bool,
}

impl Behind {
    /// Nothing, as none goes with the symbol.
    pub(super) const NONE: Self = Self { state: AddOnState::Absent, marked: false };

    /// Whether it says less than another look at the same symbol: too little to tell, nothing there, something, its digits.
    pub(super) fn says_less_than(self, other: Self) -> bool {
        let rank = |behind: Self| match behind.state {
            AddOnState::Unread if !behind.marked => 0,
            AddOnState::Absent => 1,
            AddOnState::Unread => 2,
            AddOnState::Read(_) => 3,
        };
        rank(self) < rank(other)
    }
}

/// Looks for the add-on of the symbol of these modules at `place`, which go together with the picture as `fit` says.
pub(super) fn look(surface: &Surface, place: &Place, fit: &Fit, modules: &[bool]) -> Behind {
    let zone = Zone::new(surface, place, fit, modules);
    let scorer = Scorer::new(Prior::of(fit));
    if let Some(add_on) = read(&scorer, &Verdicts::new(&scorer, &zone), &zone.mean(), Search::FirstBar) {
        return Behind { state: AddOnState::Read(add_on), marked: true };
    }
    let zone = zone.in_line();
    let end = End::of(surface, place, fit, modules, zone.heights());
    let ground = ground(&zone, Some(&end), scorer.prior());
    if ground == Ground::Blank {
        return Behind::NONE;
    }
    let verdicts = Verdicts::new(&scorer, &zone);
    let whole = [Zone::mean, Zone::darkest, Zone::combined];
    let under_glare = || {
        let freed = zone.freed_of_glare();
        let even = even(&freed.dark);
        let [even, freed] = [&even, &freed.dark].map(|dark| Profile { dark, weights: Some(&freed.weights) });
        five(&scorer, &verdicts, even).or_else(|| read(&scorer, &verdicts, freed, Search::Everywhere))
    };
    let read = whole
        .iter()
        .find_map(|profile| read(&scorer, &verdicts, &profile(&zone), Search::Everywhere))
        .or_else(under_glare)
        .or_else(|| five(&scorer, &verdicts, Profile::from(&even(&zone.darkest()))))
        .or_else(|| zone.bands().find_map(|profile| read(&scorer, &verdicts, &profile, Search::Everywhere)));
    Behind { state: read.map_or(AddOnState::Unread, AddOnState::Read), marked: ground == Ground::Marked }
}

/// The five digits that a profile of the zone shows, if they can be believed. Two are not looked for where contrast has been made
/// even: how bare it is behind them could no longer be told.
fn five(scorer: &Scorer, verdicts: &Verdicts<'_>, profile: Profile<'_>) -> Option<AddOn> {
    let five = scorer.best(profile, 5, Search::Everywhere)?;
    verdicts.believe(&five, None).then_some(five.best.add_on)
}

/// The add-on that one profile of the zone shows, if it can be believed. Five digits are looked for first: their first two
/// are a two-digit add-on to whoever looks no farther.
fn read<'a>(
    scorer: &Scorer,
    verdicts: &Verdicts<'_>,
    profile: impl Into<Profile<'a>>,
    search: Search,
) -> Option<AddOn> {
    let profile = profile.into();
    let five = scorer.best(profile, 5, search);
    if let Some(five) = five.filter(|five| verdicts.believe(five, None)) {
        return Some(five.best.add_on);
    }
    let two = scorer.best(profile, 2, search)?;
    verdicts.believe(&two, five.as_ref()).then_some(two.best.add_on)
}
