//! The add-on that fits a profile of the zone best, and how far the next one is.

use super::decode::decode;
use super::fit::{Fitted, Prior, Theta, fit};
use super::places::{Places, Search};
use super::profile::Profile;
use crate::code::AddOn;

/// An add-on that fits, and how far the next one is.
#[derive(Debug, Clone, Copy)]
pub(super) struct Reading {
    pub(super) best: Fitted,
    /// Cost of the likeliest other one with as many digits, at its own best fit, over that of the best.
    pub(super) ratio: f32,
    /// How well the digit that is seen worst goes together with its bars: Pearson's correlation.
    pub(super) dimmest: f32,
}

/// Looks for add-ons in profiles of one zone.
pub(super) struct Scorer {
    prior: Prior,
    places: Places,
}

/// Steps of a fit, and of one that is near its end.
const ROUNDS: usize = 8;
const FEW_ROUNDS: usize = 4;

impl Scorer {
    pub(super) fn new(prior: Prior) -> Self {
        Self { prior, places: Places::new(prior) }
    }

    /// The best add-on with so many digits.
    pub(super) fn best<'a>(&self, zone: impl Into<Profile<'a>>, count: usize, search: Search) -> Option<Reading> {
        let zone = zone.into();
        // Places that are followed, and add-ons tried at each.
        let (places, tried) = match search {
            Search::FirstBar => (2, 1),
            Search::Everywhere => (10, 2),
        };
        /// Share of the variance left unexplained below which no other place is looked at.
        const ENOUGH: f32 = 0.02;
        let mut found = Found::default();
        for start in self.places.likeliest(zone.dark, count, search, places) {
            for add_on in decode(zone, count, &start).into_iter().flatten().take(tried) {
                self.refine(zone, add_on, start, &mut found);
            }
            if found.0.iter().any(|candidate| candidate.fitted.residual < ENOUGH) {
                break;
            }
        }
        self.compare(zone, found)
    }

    /// What the main symbol says.
    pub(super) fn prior(&self) -> &Prior {
        &self.prior
    }

    /// What another profile of the same zone says where `reading` lies.
    pub(super) fn again<'a>(&self, zone: impl Into<Profile<'a>>, reading: &Fitted) -> Option<Fitted> {
        let zone = zone.into();
        let count = reading.add_on.digits().len();
        let [first, _] = decode(zone, count, &reading.theta)?;
        let there = fit(zone, reading.add_on, reading.theta, &self.prior, FEW_ROUNDS)?;
        if first == reading.add_on {
            return Some(there);
        }
        // Its light is another: decoded anew where the bars lie.
        let [first, _] = decode(zone, count, &there.theta)?;
        if first == reading.add_on { Some(there) } else { fit(zone, first, there.theta, &self.prior, FEW_ROUNDS) }
    }

    /// Fits the bars of `add_on` from `start` on and decodes anew where they lie, until it stays the same.
    fn refine(&self, zone: Profile<'_>, mut add_on: AddOn, start: Theta, found: &mut Found) {
        const TURNS: usize = 4;
        /// Share of the variance left unexplained from which on a place holds no add-on.
        const HOPELESS: f32 = 0.6;
        let mut theta = start;
        for _ in 0..TURNS {
            let Some(candidate) = self.candidate(zone, add_on, theta) else { return };
            found.keep(candidate);
            if candidate.likeliest == add_on || candidate.fitted.residual >= HOPELESS {
                return;
            }
            (add_on, theta) = (candidate.likeliest, candidate.fitted.theta);
        }
    }

    fn candidate(&self, zone: Profile<'_>, add_on: AddOn, start: Theta) -> Option<Candidate> {
        let fitted = fit(zone, add_on, start, &self.prior, ROUNDS)?;
        let [likeliest, second] = decode(zone, add_on.digits().len(), &fitted.theta)?;
        Some(Candidate { fitted, likeliest, rival: if likeliest == add_on { second } else { likeliest } })
    }

    /// The best of what was found, and how far its likeliest rival is. A rival that fits better takes its place.
    fn compare(&self, zone: Profile<'_>, mut found: Found) -> Option<Reading> {
        const TURNS: usize = 4;
        for _ in 0..TURNS {
            let Candidate { fitted: best, rival, .. } = found.best()?;
            let rival = self.candidate(zone, rival, best.theta);
            rival.into_iter().for_each(|rival| found.keep(rival));
            let next = found.next_to(best.add_on);
            if next >= best.cost {
                return Some(Reading { best, ratio: next / best.cost.max(1e-6), dimmest: best.dimmest(zone) });
            }
        }
        None
    }
}

/// An add-on fitted, and which ones are likeliest where it lies.
#[derive(Debug, Clone, Copy)]
struct Candidate {
    fitted: Fitted,
    likeliest: AddOn,
    /// The likeliest other one.
    rival: AddOn,
}

/// The best fit of each add-on.
#[derive(Debug, Default)]
struct Found(Vec<Candidate>);

impl Found {
    fn keep(&mut self, candidate: Candidate) {
        match self.0.iter_mut().find(|known| known.fitted.add_on == candidate.fitted.add_on) {
            Some(known) if known.fitted.cost <= candidate.fitted.cost => {}
            Some(known) => *known = candidate,
            None => self.0.push(candidate),
        }
    }

    fn best(&self) -> Option<Candidate> {
        self.0.iter().copied().min_by(|a, b| a.fitted.cost.total_cmp(&b.fitted.cost))
    }

    /// Cost of the best other add-on.
    fn next_to(&self, add_on: AddOn) -> f32 {
        let others = self.0.iter().filter(|other| other.fitted.add_on != add_on);
        others.map(|other| other.fitted.cost).fold(f32::INFINITY, f32::min)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reader::add_on::zone::START;
    use crate::reader::model::Bars;

    const PRIOR: Prior = Prior { sigma: 0.6, gain: 0.03, module: 1.0 };

    /// A zone with these bars from `first` modules behind the symbol on, each module `wide`, blurred by `sigma`.
    fn zone(bits: &str, first: f32, wide: f32, sigma: f32) -> Vec<f32> {
        let modules: Vec<bool> = bits.chars().filter(|c| !c.is_whitespace()).map(|c| c == '1').collect();
        let bars = Bars::new(&modules, 0.0).moved(|m| first + m * wide);
        bars.wave(288, START, sigma, PRIOR.gain)
    }

    /// GS1 General Specifications, 'five-digit add-on symbol': 3·(8+1+4) + 9·(6+0) = 93 calls for the sets BAAAB; guard,
    /// digits from the table of number sets, separators.
    const FIVE: &str = "1011 0001001 01 0101111 01 0011001 01 0001101 01 0011101";
    /// The same, 'two-digit add-on symbol': 34 divided by 4 leaves 2, which calls for the sets BA.
    const TWO: &str = "1011 0100001 01 0100011";

    #[test]
    fn printed_add_ons_are_read_wherever_they_stand() {
        let scorer = Scorer::new(PRIOR);
        for (first, wide, sigma) in [(9.0, 1.0, 0.6), (7.0, 1.03, 0.5), (12.0, 0.98, 0.7), (16.5, 1.05, 0.6)] {
            for (bits, add_on) in [(FIVE, AddOn::Five([8, 6, 1, 0, 4])), (TWO, AddOn::Two([3, 4]))] {
                for search in [Search::FirstBar, Search::Everywhere] {
                    let reading = scorer.best(&zone(bits, first, wide, sigma), add_on.digits().len(), search).unwrap();
                    assert_eq!(reading.best.add_on, add_on, "{first} {wide} {sigma}");
                    assert!(reading.best.residual < 0.01 && reading.ratio > 10.0, "{reading:?}");
                    let start = START + reading.best.theta.first / 4.0;
                    assert!((start - first).abs() < 0.1, "begins at {start}, not {first}");
                }
            }
        }
    }

    /// Sets that no value calls for: AAAAA of five digits; AB where the value calls for BA.
    #[test]
    fn a_parity_that_the_digits_do_not_call_for_does_not_fit() {
        let scorer = Scorer::new(PRIOR);
        let five = "1011 0110111 01 0101111 01 0011001 01 0001101 01 0100011";
        let two = "1011 0111101 01 0011101";
        for (bits, count) in [(five, 5), (two, 2)] {
            let reading = scorer.best(&zone(bits, 9.0, 1.0, 0.6), count, Search::Everywhere);
            assert!(reading.is_none_or(|r| r.best.residual > 0.02 || r.ratio < 2.0), "{reading:?}");
        }
    }

    #[test]
    fn another_part_of_the_height_speaks_for_itself() {
        let scorer = Scorer::new(PRIOR);
        let five = zone(FIVE, 9.0, 1.0, 0.6);
        let reading = scorer.best(&five, 5, Search::FirstBar).unwrap().best;
        let shifted = zone(FIVE, 9.4, 1.0, 0.6).iter().map(|d| 0.1 + 0.5 * d).collect::<Vec<f32>>();
        assert_eq!(scorer.again(&shifted, &reading).unwrap().add_on, reading.add_on);
        // 86109: 3·(8+1+9) + 9·(6+0) = 108 calls for the sets ABAAB.
        let other = zone("1011 0110111 01 0000101 01 0011001 01 0001101 01 0010111", 9.0, 1.0, 0.6);
        assert_ne!(scorer.again(&other, &reading).unwrap().add_on, reading.add_on);
    }

    #[test]
    fn too_short_a_zone_holds_nothing() {
        let scorer = Scorer::new(PRIOR);
        for samples in [0, 1, 2, 60] {
            let zone = &zone(TWO, 9.0, 1.0, 0.6)[..samples];
            assert!(
                scorer.best(zone, 2, Search::Everywhere).is_none()
                    && scorer.best(zone, 5, Search::Everywhere).is_none()
            );
        }
    }
}
