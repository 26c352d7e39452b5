//! Whether the place of an add-on is blank, so that there is none for certain.

use super::end::End;
use super::fit::Prior;
use super::zone::{PAPER_WITHIN, START, Zone, mean_of};
use crate::reader::model::{Bars, PER_MODULE, correlation};

/// Modules behind the symbol that must be seen and bare to say that there is no add-on. GS1 General Specifications: one
/// begins 9 to 12 behind a UPC-A, with a guard of 4 modules; its place is known to the half module.
const LEAST: f32 = 17.5;
/// Modules that must be bare as far as the picture shows them: some printers put add-ons up to 19 modules behind.
const MOST: f32 = 20.0;
/// Modules behind the symbol into which its last digit, below the bars, may reach.
const FROM: f32 = 4.5;

/// What is seen where an add-on would begin.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Ground {
    /// No add-on: bare paper where its guard would stand, or the line of a box with no guard there.
    Blank,
    /// Something dark, which may be one.
    Marked,
    /// Too little to tell.
    Hidden,
}

/// Looks where the guard of an add-on would stand; `end` is the symbol's own end on the same lines, if it is known.
pub(super) fn ground(zone: &Zone, end: Option<&End>, prior: &Prior) -> Ground {
    /// Lines that are looked at together, so that noise is not taken for ink.
    const LINES: usize = 3;
    /// Blur in modules below which a guard's two bars stand apart.
    const SHARP: f32 = 0.6;
    /// Share of the height on which each module must be bare and free of glare, and that specks may take: what glare leaves of
    /// an add-on looks like them, where it can't be told from paper.
    const BARE: f32 = 0.2;
    const SPECKS: f32 = 0.25;
    let shown = zone.samples().min(index(MOST));
    if zone.samples() < index(LEAST) || !zone.is_high() {
        return Ground::Hidden;
    }
    let part = |lines: &[Vec<f32>]| mean_of(lines)[index(FROM)..shown].to_vec();
    let parts: Vec<Vec<f32>> = zone.core().chunks(LINES).map(part).collect();
    let count = parts.len() as f32;
    let (mut begins, mut bare) = (Vec::new(), Vec::new());
    for (i, part) in parts.iter().enumerate() {
        match first_ink(part) {
            Some(at) => begins.push(at),
            // What covers the symbol's end may cover what stands behind it.
            None if end.is_some_and(|end| zone.is_covered(end, i * LINES..(i + 1) * LINES)) => {}
            None => bare.push(part),
        }
    }
    // A streak of glare may run through all of the height, and leave each module bare elsewhere.
    let seen = |x: usize| bare.iter().filter(|part| !is_near_glare(zone, part, x)).count() as f32;
    let specks = if zone.tells_glare() { SPECKS * count } else { 0.0 };
    let is_bare = if begins.len() as f32 > specks {
        let hidden = bare.iter().filter(|part| (0..part.len()).any(|x| is_near_glare(zone, part, x))).count();
        prior.sigma < SHARP && is_line(&mut begins, parts.len(), hidden) && !bars_go_on(zone)
    } else {
        (0..shown - index(FROM)).all(|x| seen(x) >= (BARE * count).max(1.0))
    };
    // What seems a speck may be all that torn paper leaves of a guard.
    match is_bare {
        true if begins.is_empty() || !shows_guard(zone, prior) => Ground::Blank,
        false if begins.is_empty() => Ground::Hidden,
        _ => Ground::Marked,
    }
}

fn index(modules: f32) -> usize {
    ((modules - START) * PER_MODULE as f32) as usize
}

/// Whether glare may have made a bar as light as paper: the paper beside it is burnt out first.
fn is_near_glare(zone: &Zone, part: &[f32], x: usize) -> bool {
    part[x.saturating_sub(PAPER_WITHIN)..(x + PAPER_WITHIN + 1).min(part.len())].iter().any(|d| zone.is_glare(*d))
}

/// Where something begins that is darker than paper: ink, or a sticker that may hide a guard.
fn first_ink(part: &[f32]) -> Option<usize> {
    /// A bar of one module, blurred by one, keeps 0.38; paper in half a shadow is lighter.
    const DARKER: f32 = 0.13;
    /// Samples, three quarters of a module, whose mean noise does not darken.
    const SMOOTH: usize = 3;
    part.windows(SMOOTH).position(|w| w.iter().sum::<f32>() / SMOOTH as f32 > DARKER)
}

/// Whether ink `begins` at the same place nearly all down the height, as the line around a box does, where glare does not hide it: of
/// `parts` of the height in `hidden` ones.
fn is_line(begins: &mut [usize], parts: usize, hidden: usize) -> bool {
    /// Share of what glare does not hide on which it must be seen, and of all; and modules within which it begins.
    const SEEN: f32 = 5.0 / 7.0;
    const OF_ALL: f32 = 0.3;
    const WITHIN: f32 = 1.0;
    /// Quiet zone of an EAN-13, in modules: a line nearer than that is none of a box around it.
    const QUIET: f32 = 7.0;
    begins.sort_unstable();
    let Some(&middle) = begins.get(begins.len() / 2) else { return false };
    let near = begins.iter().filter(|b| b.abs_diff(middle) as f32 <= WITHIN * PER_MODULE as f32).count() as f32;
    near >= (SEEN * (parts - hidden) as f32).max(OF_ALL * parts as f32) && middle + index(FROM) >= index(QUIET)
}

/// Whether bars follow the first ink, as high as the symbol: a line of a box ends its paper, a tear or a pen's stroke may hide a
/// guard beside it and leave the digits.
fn bars_go_on(zone: &Zone) -> bool {
    /// How often paper and ink take turns at least: an add-on of two digits has seven bars.
    const TURNS: usize = 8;
    /// Correlation from which on two thirds of the height show the same: artwork changes from row to row.
    const ALIKE: f32 = 0.7;
    let mean = zone.mean();
    let from = index(FROM).min(mean.len());
    let Some(first) = first_ink(&mean[from..]).map(|first| from + first) else { return false };
    let thirds: Vec<Vec<f32>> = zone.thirds().map(|lines| mean_of(lines)[first..].to_vec()).collect();
    let alike = |a: usize, b: usize| {
        thirds.get(a).zip(thirds.get(b)).is_some_and(|(a, b)| {
            let both: Vec<f32> = a.iter().zip(b).map(|(a, b)| (a + b) / 2.0).collect();
            turns(&both) >= TURNS && correlation(a, b) > ALIKE
        })
    };
    alike(0, 1) || alike(1, 2) || alike(0, 2)
}

/// How often a profile of darkness goes from paper to ink and back, each as light and as dark as in the symbol: artwork beyond a box
/// has colours of its own.
fn turns(profile: &[f32]) -> usize {
    /// A module between two others, blurred as much as lets its bars stand apart, keeps this much of its darkness, or of others'.
    const PAPER: f32 = 0.3;
    const INK: f32 = 0.5;
    let (mut count, mut on_ink) = (0, false);
    for &dark in profile {
        if if on_ink { dark < PAPER } else { dark > INK } {
            (count, on_ink) = (count + 1, !on_ink);
        }
    }
    count
}

/// Whether a part of the height shows what may be an add-on's guard.
fn shows_guard(zone: &Zone, prior: &Prior) -> bool {
    const GUARD: [bool; 4] = [true, false, true, true];
    const LEAD: usize = 3;
    /// Correlation with a guard and the light modules before it. Half hidden by glare, guards keep 0.98 and more.
    const LIKE: f32 = 0.92;
    /// Contrast from which on it may be print.
    const SWING: f32 = 0.12;
    let samples = (LEAD + GUARD.len()) * PER_MODULE;
    let guard = Bars::new(&GUARD, LEAD as f32).wave(samples, 0.0, prior.sigma, prior.gain);
    let is_guard = |part: &[f32]| {
        let [least, most] = part.iter().fold([f32::MAX, f32::MIN], |[l, m], &d| [l.min(d), m.max(d)]);
        most - least > SWING && correlation(part, &guard) > LIKE
    };
    let mut profiles = zone.thirds().map(mean_of).chain(zone.bands()).chain([zone.darkest()]);
    profiles.any(|profile| profile.windows(samples).take(index(MOST)).any(is_guard) || shows_second_mark(&profile))
}

/// Whether another mark follows the first one as near as a guard's bars, however foreshortened, stand to each other.
fn shows_second_mark(profile: &[f32]) -> bool {
    /// Modules from where the first mark begins to where the next one has darkened: two in a guard, half as many more if the cover
    /// bends this way, and a half for blur.
    const WITHIN: f32 = 3.5;
    /// Contrast from which on it may be print.
    const SWING: f32 = 0.12;
    /// A guard's second bar is the darker one, and where bars stand apart it darkens at once: by this share of the first, within
    /// so many modules. What is printed beyond a box does not, on the average of some lines.
    const SHARE: f32 = 0.25;
    const RISE: usize = 3 * PER_MODULE / 2;
    let Some(first) = first_ink(&profile[index(FROM).min(profile.len())..]) else { return false };
    let from = first + index(FROM);
    let to = (from + (WITHIN * PER_MODULE as f32) as usize).min(profile.len());
    // The mark is climbed first; then the lightest place behind it counts.
    let part = &profile[from..to];
    let mut highest = f32::MIN;
    let Some(past) = part.iter().position(|dark| {
        highest = highest.max(*dark);
        highest - dark > SWING
    }) else {
        return false;
    };
    let swing = SWING.max(SHARE * highest);
    (past..part.len()).any(|x| part[x.saturating_sub(RISE).max(past)..x].iter().any(|before| part[x] - before > swing))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::code::NumberSet;

    /// A zone of `shown` modules with these bars (modules behind the symbol), their darkness changed by `light`.
    fn zone(bars: &Bars, sigma: f32, shown: f32, light: impl Fn(usize, f32) -> f32) -> Zone {
        let samples = index(shown);
        let wave = bars.wave(samples, START, sigma, 0.0);
        let line = |l: usize| {
            let at = |x: usize| light(l, START + x as f32 / PER_MODULE as f32);
            wave.iter().enumerate().map(|(x, dark)| dark + at(x)).collect()
        };
        Zone::of_lines((0..40).map(line).collect())
    }

    fn blank(bars: &Bars, sigma: f32, shown: f32, light: impl Fn(usize, f32) -> f32) -> bool {
        ground(&zone(bars, sigma, shown, light), None, &Prior { sigma, gain: 0.0, module: 1.0 }) == Ground::Blank
    }

    const GUARD: [bool; 4] = [true, false, true, true];

    #[test]
    fn bare_paper_is_blank_if_enough_is_shown() {
        let nothing = Bars::new(&[], 0.0);
        assert!(blank(&nothing, 0.4, 18.0, |_, _| 0.0));
        assert!(!blank(&nothing, 0.4, 17.0, |_, _| 0.0), "a guard may stand beyond the picture's edge");
        assert!(blank(&nothing, 0.4, 30.0, |line, m| if line < 6 && m < 9.0 { 0.8 } else { 0.0 }), "a speck");
    }

    /// GS1 General Specifications, 'two-digit and five-digit add-on symbols': a guard of 1011, 7 to 12 modules behind.
    #[test]
    fn a_guard_is_not_blank_however_blurred() {
        for sigma in [0.2, 0.5, 0.8, 1.1, 1.4] {
            for gap in 7..=12 {
                assert!(!blank(&Bars::new(&GUARD, gap as f32), sigma, 40.0, |_, _| 0.0), "{sigma} {gap}");
                // Where it is covered from its last bar on.
                let covered = |_, m: f32| if m > gap as f32 + 4.0 { 0.7 } else { 0.0 };
                assert!(!blank(&Bars::new(&GUARD, gap as f32), sigma, 40.0, covered), "covered, {sigma} {gap}");
            }
        }
    }

    /// A cover that bends away shows the add-on's modules narrower than the symbol's last ones.
    #[test]
    fn a_foreshortened_guard_is_no_line_of_a_box() {
        let modules = [&GUARD[..], &[false, true, true, false, false, false, true], &[false, true]].concat();
        for share in [0.55, 0.65, 0.75, 0.9, 1.15] {
            for gap in 7..=12 {
                let from = gap as f32;
                let bars = Bars::new(&modules, from).moved(|m| from + (m - from) * share);
                assert!(!blank(&bars, 0.3, 40.0, |_, _| 0.0), "{share} {gap}");
            }
        }
    }

    #[test]
    fn what_is_evenly_darker_than_paper_may_hide_a_guard() {
        let nothing = Bars::new(&[], 0.0);
        assert!(blank(&nothing, 0.4, 30.0, |_, _| 0.08), "paper in half a shadow");
        assert!(!blank(&nothing, 0.4, 30.0, |line, _| if line > 8 { 0.18 } else { 0.0 }));
    }

    #[test]
    fn a_box_ends_a_place_and_glare_does_not_clear_it() {
        let line = Bars::new(&[true], 10.5);
        let art = |_, m: f32| if m > 11.5 { 0.4 } else { 0.0 };
        assert!(blank(&line, 0.3, 40.0, art));
        assert!(!blank(&line, 0.9, 40.0, art), "blurred, it may be a guard");
        let nothing = Bars::new(&[], 0.0);
        let burnt_below =
            |free: usize| blank(&nothing, 0.3, 40.0, |line, m| if line > free && m > 7.0 { -0.6 } else { 0.0 });
        assert!(burnt_below(8) && !burnt_below(5));
    }

    /// A tear along the guard is as straight as a line of a box; behind it stand the digits.
    #[test]
    fn a_line_with_bars_behind_it_ends_no_box() {
        let digits = [NumberSet::A.modules(8), NumberSet::B.modules(6), NumberSet::A.modules(2)];
        let add_on = [&GUARD[..], &digits[0], &[false, true], &digits[1], &[false, true], &digits[2]].concat();
        let tear = |m: f32| if (8.0..13.5).contains(&m) { 0.9 } else { 0.0 };
        let bars = Bars::new(&add_on, 9.0);
        assert!(!blank(&bars, 0.3, 60.0, |_, m| tear(m)));
        assert!(blank(&Bars::new(&[], 0.0), 0.3, 60.0, |_, m| tear(m)), "nothing behind it");
        // Artwork beyond a box turns as often, elsewhere on each row.
        let art =
            |line: usize, m: f32| if m > 13.5 { 0.4 + 0.4 * (m * 1.7 + line as f32 * 0.9).sin() } else { tear(m) };
        assert!(blank(&Bars::new(&[], 0.0), 0.3, 60.0, art));
    }

    /// Every line has its glare, but no module has it on all of them.
    #[test]
    fn a_streak_across_leaves_the_place_bare() {
        let streak = |line: usize, m: f32| if (m - 4.0 - 0.5 * line as f32).abs() < 1.5 { -0.6 } else { 0.0 };
        assert!(blank(&Bars::new(&[], 0.0), 0.3, 40.0, streak));
        assert!(!blank(&Bars::new(&GUARD, 9.0), 0.3, 40.0, streak));
        let upright = |line: usize, m: f32| if (m - 12.0 - 0.02 * line as f32).abs() < 1.5 { -0.6 } else { 0.0 };
        assert!(!blank(&Bars::new(&[], 0.0), 0.3, 40.0, upright));
    }
}
