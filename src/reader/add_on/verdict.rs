//! Whether an add-on is believed: its bars must fit, no other digits may fit nearly as well, parts of the height must
//! agree, and behind two digits no third may stand.

use std::cell::RefCell;
use std::ops::Range;

use super::fit::Fitted;
use super::profile::Profile;
use super::scorer::{Reading, Scorer};
use super::zone::{Freed, Zone, darkest_of, mean_of};
use crate::code::AddOn;
use crate::reader::model::PER_MODULE;
use crate::reader::verdict::residual_limit;

/// What the ratio must be at least if the bars explain everything. Of simulated add-ons' readings the wrong ones
/// stayed below 2.5, the right ones were mostly 20 and more.
const RATIO: f32 = 2.5;
/// The same where blur makes rivals alike. Of 2,200 simulated pictures with blurred add-ons two gave wrong ones, at 3.1 and 3.3; of
/// 500 right ones 2 in a hundred stayed below 4.9.
const BLURRED_RATIO: f32 = 4.0;

/// How much farther for all of the variance that stays unexplained. Of 300 simulated add-ons of which a part was covered by
/// paper one was made up, sharp as it was, at a ratio of 3.2 with 0.09 unexplained.
const UNEXPLAINED: f32 = 10.0;
/// From so much blur on, in modules, rivals are alike.
const BLURRED: f32 = 0.7;

/// What profiles of one zone have said so far.
pub(super) struct Verdicts<'a> {
    scorer: &'a Scorer,
    zone: &'a Zone,
    /// Add-ons that stood out, whether or not they were believed.
    stood_out: RefCell<Vec<AddOn>>,
}

impl<'a> Verdicts<'a> {
    pub(super) fn new(scorer: &'a Scorer, zone: &'a Zone) -> Self {
        Self { scorer, zone, stood_out: RefCell::default() }
    }

    /// Whether `reading` is believed; `five` is the best that was found if five digits are assumed. What another profile shows as
    /// clearly with other digits stands against it: of 2,000 damaged simulated pictures one gave two digits of which a scratch had
    /// hidden a bar in two thirds of the height.
    pub(super) fn believe(&self, reading: &Reading, five: Option<&Reading>) -> bool {
        let add_on = reading.best.add_on;
        let other = |known: &AddOn| known.digits().len() == add_on.digits().len() && *known != add_on;
        if !stands_out(reading, self.scorer) {
            return false;
        }
        let contradicted = self.stood_out.borrow().iter().any(other);
        self.stood_out.borrow_mut().push(add_on);
        !contradicted
            && (add_on.digits().len() == 5 || is_alone(reading, five, self.zone))
            && parts_agree(votes(reading, self.scorer, self.zone), reading)
    }
}

/// Whether a reading fits, each of its digits is seen, its ink spreads as the symbol's does, and the next one is far.
fn stands_out(reading: &Reading, scorer: &Scorer) -> bool {
    /// Two digits have fewer bars: less of them may stay unexplained, and the next must be farther.
    const FEWER_BARS: f32 = 0.7;
    const FARTHER: f32 = 0.5;
    /// How far ink may spread otherwise than in the main symbol, in modules: both are of one print. Of 814 add-ons read right in
    /// simulated pictures and photos none came beyond 0.13; paper over a digit made one up with 0.42.
    const SPREAD: f32 = 0.2;
    /// How well each digit must go together with its bars. Of 1,638 add-ons read right in simulated pictures none stayed below 0.82;
    /// of 650 wrong ones that were the best on some profile six in seven stayed below 0.8. Where light may fade along the bars, a digit
    /// that paper covers costs next to nothing.
    const SEEN: f32 = 0.8;
    let Fitted { add_on, theta, residual, .. } = reading.best;
    let (share, farther) = match add_on {
        AddOn::Five(_) => (1.0, 0.0),
        AddOn::Two(_) => (FEWER_BARS, FARTHER),
    };
    let ratio = if theta.sigma >= BLURRED { BLURRED_RATIO } else { RATIO };
    let least = farther + ratio + UNEXPLAINED * residual;
    residual < share * residual_limit(theta.sigma)
        && (theta.gain - scorer.prior().gain).abs() <= SPREAD
        && reading.dimmest >= SEEN
        && (least..f32::INFINITY).contains(&reading.ratio)
}

/// Whether enough parts of the height read the same for this reading.
fn parts_agree([agreeing, against]: [usize; 2], reading: &Reading) -> bool {
    /// The ratio where only one part of the height speaks, or one speaks against it.
    const CLEAR: f32 = 4.0;
    /// By how much farther the next must be where none speaks, and what may stay unexplained. Glare hides other digits in each part
    /// of the height; all together they still tell five sharp ones from all others: of 190 wrong ones that were the best on profiles
    /// freed of glare, of 3,600 simulated pictures, none with less than 0.15 unexplained had a ratio beyond 1.9; of 1,200 others one had
    /// 3.4.
    const FARTHER: f32 = 2.5;
    const MUCH_FARTHER: f32 = 4.0;
    const CLOSE: f32 = 0.06;
    let Fitted { add_on, theta, residual, .. } = reading.best;
    let far = |farther: f32| {
        let far = farther + RATIO + UNEXPLAINED * residual;
        matches!(add_on, AddOn::Five(_)) && theta.sigma < BLURRED && reading.ratio >= far && residual <= CLOSE
    };
    match (agreeing, against) {
        (2.., 0) => true,
        (1, 0) | (2.., 1) => reading.ratio >= CLEAR,
        (0, 0) => far(FARTHER),
        (1, 1) => far(MUCH_FARTHER),
        _ => false,
    }
}

/// How many thirds of the height read the same, and how many read otherwise: by their mean, or by what is darkest there.
fn votes(reading: &Reading, scorer: &Scorer, zone: &Zone) -> [usize; 2] {
    let mut votes = [0; 2];
    for lines in zone.thirds() {
        let said = match agrees(&mean_of(lines), reading, scorer) {
            Some(true) => Some(true),
            mean => agrees(&darkest_of(lines), reading, scorer).or(mean),
        };
        match said {
            Some(true) => votes[0] += 1,
            Some(false) => votes[1] += 1,
            None => {}
        }
    }
    votes
}

/// Whether a profile of a part of the height reads the same. `None` if the bars do not fit well enough to say so.
fn agrees(profile: &[f32], reading: &Reading, scorer: &Scorer) -> Option<bool> {
    /// How much may stay unexplained of a part of the height, over what may of a whole profile, to agree and to contradict.
    const AGREES: f32 = 2.0;
    const CONTRADICTS: f32 = 0.5;
    let there = scorer.again(profile, &reading.best)?;
    let same = there.add_on == reading.best.add_on;
    let share = there.residual / residual_limit(there.theta.sigma);
    (share < if same { AGREES } else { CONTRADICTS }).then_some(same)
}

/// What is looked at behind two digits: modules behind the last bar, and mean darkness from which on something stands there. GS1
/// General Specifications ask for 5 light modules; a third digit's separator has its bar in the second.
struct Beyond {
    modules: [f32; 2],
    bare: f32,
}

/// Where bars stand apart, the line of a box may come next. The separator of a thin print leaves 0.28 at least.
const APART: Beyond = Beyond { modules: [0.5, 2.5], bare: 0.2 };
/// Separator and the third digit's first modules leave 0.14 at least.
const TOGETHER: Beyond = Beyond { modules: [0.5, 5.0], bare: 0.1 };

impl Beyond {
    fn of(fitted: &Fitted) -> Self {
        if fitted.theta.sigma < BLURRED { APART } else { TOGETHER }
    }
}

/// Whether two digits are not the first of five.
fn is_alone(reading: &Reading, five: Option<&Reading>, zone: &Zone) -> bool {
    /// Five digits leave so many times as much unexplained as two where only two are printed.
    const WORSE: f32 = 8.0;
    five.is_none_or(|five| five.best.residual > WORSE * reading.best.residual)
        && darkness_behind(&reading.best, zone).is_some_and(|dark| dark < Beyond::of(&reading.best).bare)
        && !goes_on_in_a_part(&reading.best, zone)
}

/// Whether ink stands behind two digits where some lines show them: torn paper may hide it on all others.
fn goes_on_in_a_part(fitted: &Fitted, zone: &Zone) -> bool {
    /// Lines that are looked at together; how well both digits must go together with their bars there; and the share of such
    /// parts on which ink must stand, so that a scratch is none.
    const LINES: usize = 3;
    const SHOWS: f32 = 0.7;
    const SHARE: f32 = 0.2;
    let beyond = Beyond::of(fitted);
    let [from, to] = beyond.modules.map(|modules| (fitted.theta.end + modules * PER_MODULE as f32) as usize);
    let [paper, ink] = fitted.theta.paper_and_ink(fitted.theta.end);
    let parts = zone.lines().chunks(LINES).map(mean_of);
    let shown: Vec<Vec<f32>> = parts.filter(|part| fitted.dimmest(Profile::from(part)) >= SHOWS).collect();
    let is_dark = |part: &&Vec<f32>| {
        let behind = part.get(from..to).unwrap_or_default();
        let dark = behind.iter().sum::<f32>() / behind.len().max(1) as f32;
        dark - paper >= beyond.bare * (ink - paper).max(0.1)
    };
    shown.iter().filter(is_dark).count() as f32 > SHARE * shown.len() as f32
}

/// Mean darkness of the modules behind an add-on beyond that of the lightest place beside it, as a share of its contrast.
///
/// Blur moves ink about but leaves its amount, so it holds however blurred the picture is. `None` if hardly any line is free of
/// glare there, or the picture ends.
fn darkness_behind(fitted: &Fitted, zone: &Zone) -> Option<f32> {
    /// Modules before the first bar in which paper is looked for.
    const BEFORE: f32 = 3.0;
    /// Share of the lines that must not be burnt out at each place.
    const FREE: f32 = 0.15;
    let sample = |x: f32, modules: f32| x + modules * PER_MODULE as f32;
    let [from, to] = Beyond::of(fitted).modules.map(|modules| sample(fitted.theta.end, modules) as usize);
    let first = fitted.theta.first.max(0.0);
    let before = sample(first, -BEFORE).max(0.0) as usize..first as usize;
    let Freed { dark, shown, .. } = zone.freed_of_glare();
    let seen = |range: Range<usize>| {
        let free = shown.get(range.clone())?.iter().all(|share| *share >= FREE);
        free.then(|| &dark[range])
    };
    let of = |part: &[f32]| part.iter().sum::<f32>() / part.len().max(1) as f32;
    let behind = seen(from..to)?;
    let before = (before.start..(before.end + 1).saturating_sub(PER_MODULE)).filter_map(|x| seen(x..x + PER_MODULE));
    let lightest = before.chain(behind.windows(PER_MODULE)).map(of).fold(f32::INFINITY, f32::min);
    let [paper, ink] = fitted.theta.paper_and_ink(fitted.theta.end);
    Some((of(behind) - lightest) / (ink - paper).max(0.1))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::code::add_on_modules;
    use crate::reader::add_on::fit::{Prior, Theta};
    use crate::reader::model::Bars;

    const FIRST: f32 = 10.0;

    /// Two digits where the bars of `modules` begin, and the zone that holds them.
    fn two(modules: &[bool], [sigma, gain]: [f32; 2]) -> (Fitted, Zone) {
        let line = Bars::new(modules, FIRST).wave(280, 0.0, sigma, gain);
        let ends = [FIRST, FIRST + 20.0].map(|modules| modules * PER_MODULE as f32);
        let theta = Theta::straight(ends[0], ends[1], &Prior { sigma, gain, module: 1.0 });
        let fitted = Fitted { add_on: AddOn::Two([0, 0]), theta, residual: 0.0, cost: 0.0 };
        (fitted, Zone::of_lines(vec![line; 24]))
    }

    /// However blurred and thin its bars, the third digit of five is seen behind the first two.
    #[test]
    fn two_of_five_digits_are_not_alone() {
        for value in (0..100_000u32).step_by(617) {
            let digits = [10_000, 1000, 100, 10, 1].map(|place| (value / place % 10) as u8);
            for [sigma, gain] in [[0.3, 0.0], [0.69, -0.2], [0.71, -0.2], [0.9, -0.1], [1.4, -0.2], [1.4, 0.1]] {
                let (five, zone) = two(&add_on_modules(AddOn::Five(digits)), [sigma, gain]);
                let bare = Beyond::of(&five).bare;
                assert!(
                    darkness_behind(&five, &zone).is_some_and(|dark| dark > 1.3 * bare),
                    "{digits:?} {sigma} {gain}"
                );
                let (alone, zone) = two(&add_on_modules(AddOn::Two([digits[0], digits[1]])), [sigma, gain]);
                assert!(
                    darkness_behind(&alone, &zone).is_some_and(|dark| dark < bare),
                    "two of {digits:?} {sigma} {gain}"
                );
            }
        }
    }

    /// Torn paper covers what comes behind the second digit on three quarters of the height.
    #[test]
    fn two_digits_are_not_alone_if_a_part_shows_more() {
        let [five, alone] = [AddOn::Five([4, 9, 0, 6, 7]), AddOn::Two([4, 9])].map(add_on_modules);
        let line = |modules: &[bool]| Bars::new(modules, FIRST).wave(280, 0.0, 0.4, 0.0);
        let (fitted, _) = two(&alone, [0.4, 0.0]);
        let best = Fitted { add_on: AddOn::Two([4, 9]), ..fitted };
        let is_alone = |shown: usize, scratched: usize| {
            let scratch = |x: usize| if (122..140).contains(&x) { 0.8 } else { 0.0 };
            let scratched_line = line(&alone).iter().enumerate().map(|(x, dark)| dark + scratch(x)).collect();
            let mut lines = vec![line(&alone); 24];
            lines[..shown].fill(line(&five));
            lines[24 - scratched..].fill(scratched_line);
            is_alone(&Reading { best, ratio: 99.0, dimmest: 1.0 }, None, &Zone::of_lines(lines))
        };
        assert!(is_alone(0, 0) && is_alone(0, 3), "a scratch is no digit");
        assert!(!is_alone(6, 0) && !is_alone(12, 0) && !is_alone(24, 0));
    }

    #[test]
    fn parts_of_the_height_must_agree() {
        let (fitted, _) = two(&[true], [0.4, 0.0]);
        let agree = |votes, ratio| parts_agree(votes, &Reading { best: fitted, ratio, dimmest: 1.0 });
        assert!(agree([2, 0], 2.6) && agree([1, 0], 4.0) && agree([2, 1], 4.0));
        assert!(!agree([1, 0], 3.9) && !agree([2, 1], 3.9), "one for it, or one against");
        assert!(!agree([0, 0], 99.0) && !agree([1, 1], 99.0) && !agree([1, 2], 99.0));
    }

    #[test]
    fn five_digits_that_fit_closely_need_no_part_of_the_height() {
        let (two, _) = two(&[true], [0.4, 0.0]);
        let agree = |residual, ratio| {
            let best = Fitted { add_on: AddOn::Five([0; 5]), residual, ..two };
            parts_agree([0, 0], &Reading { best, ratio, dimmest: 1.0 })
        };
        assert!(agree(0.06, 5.7) && agree(0.0, 5.1));
        assert!(!agree(0.07, 99.0) && !agree(0.06, 5.5) && !agree(0.0, 4.9));
    }

    #[test]
    fn what_glare_or_the_edge_hides_is_not_bare() {
        let modules = add_on_modules(AddOn::Two([5, 3]));
        let (two, _) = two(&modules, [0.4, 0.0]);
        let zone = |end: usize, glare: usize| {
            let line = Bars::new(&modules, FIRST).wave(end, 0.0, 0.4, 0.0);
            let burnt =
                |l: usize| line.iter().enumerate().map(|(x, d)| if l < glare && x > 122 { -0.5 } else { *d }).collect();
            Zone::of_lines((0..24).map(burnt).collect())
        };
        assert!(darkness_behind(&two, &zone(280, 0)).is_some());
        assert!(darkness_behind(&two, &zone(280, 16)).is_some_and(|dark| dark < APART.bare));
        assert_eq!(darkness_behind(&two, &zone(280, 21)), None);
        assert_eq!(darkness_behind(&two, &zone(128, 0)), None);
    }
}
