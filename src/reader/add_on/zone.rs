//! The zone behind a symbol, line by line, its bars in line from top to bottom.

use std::cell::OnceCell;
use std::ops::Range;

use super::end::End;
use super::light::Light;
use crate::reader::fit::Fit;
use crate::reader::model::{PER_MODULE, correlation};
use crate::reader::moved::add_moved;
use crate::reader::place::Place;
use crate::reader::sample::{add, extreme, scale, sub, windowed};
use crate::reader::surface::Surface;
use crate::reader::tone::BURNT;

/// Where the zone begins, in modules behind the symbol.
pub(super) const START: f32 = 2.0;
/// How far it reaches, in modules: the farthest offset, 47 modules of bars, the quiet zone.
const MODULES: f32 = 74.0;
/// Lighter than paper by so much of the contrast, it is glare.
const GLARE: f32 = -0.25;

/// Samples to each side of any place within which paper is seen: bars are four modules wide at most.
pub(super) const PAPER_WITHIN: usize = 5 * PER_MODULE / 2;

/// Darkness of the zone, by the levels of paper and ink that the symbol has at its end.
pub(super) struct Zone {
    /// From top to bottom, as far as the picture shows the zone on all of them.
    lines: Vec<Vec<f32>>,
    /// Those on which an add-on has its bars for certain: below its digits, above the main symbol's.
    core: Range<usize>,
    /// Where these lie, as fractions of the symbol's height.
    heights: Vec<f32>,
    /// What darkness means in grey values.
    light: Light,
    /// Darkness from which downwards it is glare.
    glare: f32,
    /// Whether what is burnt out can be told from paper.
    tells: bool,
    /// Whether enough of the symbol's height is seen for what its whole height shows.
    high: bool,
    /// Made when it is asked for.
    freed: OnceCell<Freed>,
}

impl Zone {
    /// The zone behind the symbol at `place`, of these modules.
    pub(super) fn new(surface: &Surface, place: &Place, fit: &Fit, modules: &[bool]) -> Self {
        /// The part of the symbol's height that shows add-on bars, and what is looked at.
        const CORE: [f32; 2] = [0.22, 0.96];
        const ALL: [f32; 2] = [0.15, 1.12];
        /// Height of the lowest symbols, in modules. One that seems lower is partly hidden.
        const LOWEST: f32 = 48.0;
        const LINES: [f32; 2] = [20.0, 52.0];
        /// Modules of its height that must be seen to say what all of it shows.
        const HIGH: f32 = 30.0;
        /// How much darker paper in the symbol must be for it.
        const LESS: f32 = 8.0;
        let height = place.height_modules();
        let hidden = (LOWEST / height - 1.0).max(0.0);
        let [top, bottom] = [ALL[0] - hidden, ALL[1] + hidden];
        let count = ((bottom - top) * height * place.module_px()).clamp(LINES[0], LINES[1]) as usize;
        let t = |i: usize| top + (bottom - top) * (i as f32 + 0.5) / count as f32;
        let core = (0..count).position(|i| t(i) >= CORE[0]).unwrap_or(0)
            ..(0..count).rposition(|i| t(i) <= CORE[1]).map_or(count, |i| i + 1);
        let shown = core.clone().map(|i| shown(surface, place, t(i))).min().unwrap_or(0);
        let heights: Vec<f32> = core.clone().map(t).collect();
        let light = Light::at_end(surface, place, fit, modules, &heights);
        let lines = (0..count)
            .map(|i| {
                let profile =
                    place.line(t(i)).profile(surface, place.modules, place.modules + START, PER_MODULE, shown);
                profile.into_iter().map(|grey| light.darkness(grey)).collect()
            })
            .collect();
        let tells = fit.darkest_paper().min(light.paper) < BURNT - LESS;
        let burnt = if tells { light.darkness(BURNT) } else { GLARE };
        Self {
            lines,
            core,
            heights,
            light,
            glare: burnt.max(GLARE),
            tells,
            high: height >= HIGH,
            freed: OnceCell::new(),
        }
    }

    /// Lines that show bars all over.
    #[cfg(test)]
    pub(super) fn of_lines(lines: Vec<Vec<f32>>) -> Self {
        Self {
            core: 0..lines.len(),
            lines,
            heights: Vec::new(),
            light: Light { paper: 200.0, contrast: 150.0 },
            glare: GLARE,
            tells: true,
            high: true,
            freed: OnceCell::new(),
        }
    }

    /// Samples of a line.
    pub(super) fn samples(&self) -> usize {
        self.lines.first().map_or(0, Vec::len)
    }

    /// Whether enough of the symbol's height is seen to say that something is nowhere.
    pub(super) fn is_high(&self) -> bool {
        self.high
    }

    /// All lines.
    pub(super) fn lines(&self) -> &[Vec<f32>] {
        &self.lines
    }

    /// The lines that show bars for certain.
    pub(super) fn core(&self) -> &[Vec<f32>] {
        &self.lines[self.core.clone()]
    }

    /// Whether glare may hide what stands at a place this dark.
    pub(super) fn is_glare(&self, darkness: f32) -> bool {
        darkness <= self.glare
    }

    /// Whether glare can be told from bare paper.
    pub(super) fn tells_glare(&self) -> bool {
        self.tells
    }

    /// Where the lines that show bars for certain lie, as fractions of the symbol's height.
    pub(super) fn heights(&self) -> &[f32] {
        &self.heights
    }

    /// Whether something that is no glare hides the symbol's `end` on some of these lines.
    pub(super) fn is_covered(&self, end: &End, lines: Range<usize>) -> bool {
        let seen = mean_of(end.lines(lines));
        let is_burnt_out = seen.iter().any(|grey| self.is_glare(self.light.darkness(*grey)));
        !is_burnt_out && !end.is_shown(&seen, self.light.contrast)
    }

    /// The mean of all lines that show bars for certain.
    pub(super) fn mean(&self) -> Vec<f32> {
        mean_of(self.core())
    }

    /// Thirds of the lines that show bars for certain.
    pub(super) fn thirds(&self) -> impl Iterator<Item = &[Vec<f32>]> {
        let lines = self.core();
        lines.chunks(lines.len().div_ceil(3).max(1))
    }

    /// Means of overlapping bands of the height.
    pub(super) fn bands(&self) -> impl Iterator<Item = Vec<f32>> {
        const BANDS: usize = 5;
        let height = (self.lines.len() / 4).max(2).min(self.lines.len());
        (0..BANDS).map(move |i| {
            let from = i * (self.lines.len() - height) / (BANDS - 1);
            mean_of(&self.lines[from..from + height])
        })
    }

    /// What the lines show that are darkest at each place. Glare only adds light: where some lines are free of it, these are.
    pub(super) fn darkest(&self) -> Vec<f32> {
        darkest_of(self.core())
    }

    /// At each place the mean of the lines, freed of the light that glare adds to them; the more that is, the less a line counts.
    /// Where all are burnt out, what is darkest, which does not count. Lines above and below count if they show the same bars.
    pub(super) fn freed_of_glare(&self) -> &Freed {
        self.freed.get_or_init(|| self.freed_lines())
    }

    fn freed_lines(&self) -> Freed {
        let mut lines: Vec<FreedLine> = self.core().iter().map(|line| self.freed_line(line)).collect();
        let darkest = self.darkest();
        let core = freed(&lines, &darkest);
        let [above, below] = [&self.lines[..self.core.start], &self.lines[self.core.end..]];
        let more = above.iter().chain(below).map(|line| self.freed_line(line)).filter(|line| line.shows(&core.dark));
        let known = lines.len();
        lines.extend(more);
        if lines.len() == known { core } else { freed(&lines, &darkest) }
    }

    fn freed_line(&self, line: &[f32]) -> FreedLine {
        /// Samples to each side of what is burnt out that are neither paper nor ink.
        const BESIDE: usize = PER_MODULE / 2;
        /// Light that halves how much a place counts.
        const HALF: f32 = 0.05;
        let paper = windowed(&extreme(&extreme(line, PAPER_WITHIN, f32::min), PAPER_WITHIN, f32::max), PER_MODULE);
        let lightest = extreme(line, BESIDE, f32::min);
        let weight = |(paper, lightest): (&f32, &f32)| {
            let light = paper.min(0.0) / HALF;
            if self.is_glare(*lightest) { 0.0 } else { 1.0 / (1.0 + light * light) }
        };
        let weights = paper.iter().zip(&lightest).map(weight).collect();
        let values = line.iter().zip(&paper).map(|(dark, paper)| self.light.without_glare(*dark, *paper)).collect();
        FreedLine { values, weights }
    }

    /// Each place counted by the contrast that each line has there: under glare or a scratch a line says nothing.
    ///
    /// Each line is taken to be the common profile, its light changed slowly along it; the weights are those of
    /// maximum-ratio combining (Brennan, 'Linear diversity combining techniques', 1959).
    pub(super) fn combined(&self) -> Vec<f32> {
        const REACH: usize = 7 * PER_MODULE;
        const ROUNDS: usize = 2;
        const MOST_GAIN: f32 = 8.0;
        let samples = self.samples();
        let mut common = self.mean();
        for _ in 0..ROUNDS {
            let means = windowed(&common, REACH);
            let variances = covariances(&common, &common, &means, &means, REACH);
            let [mut weighted, mut weights] = [vec![0.0f32; samples], vec![1e-3f32; samples]];
            let mut strongest = vec![1e-3f32; samples];
            for line in &self.lines {
                let own = windowed(line, REACH);
                let shared = covariances(line, &common, &own, &means, REACH);
                for x in 0..samples {
                    let gain = (shared[x] / variances[x].max(1e-4)).clamp(0.0, MOST_GAIN);
                    weighted[x] += gain * (line[x] - own[x]);
                    weights[x] += gain * gain;
                    strongest[x] = strongest[x].max(gain);
                }
            }
            let strongest = windowed(&strongest, REACH);
            for x in 0..samples {
                common[x] = means[x] + strongest[x] * weighted[x] / weights[x];
            }
        }
        common
    }

    /// The same with each line moved so that the bars of all stand in line: the farther from the symbol, the more its
    /// corners' errors count.
    pub(super) fn in_line(&self) -> Self {
        const GROUPS: usize = 8;
        /// Steps of the shift from top to bottom at the zone's middle, and of what is added to it at its end, in samples.
        const SHIFTS: i32 = 8;
        const STRETCHES: i32 = 3;
        const STRETCH: f32 = 2.0;
        /// By how much another shift must be sharper than none.
        const SHARPER: f32 = 1.02;
        let samples = self.samples();
        let lines = self.core();
        let groups: Vec<Vec<f32>> = lines.chunks(lines.len().div_ceil(GROUPS).max(1)).map(mean_of).collect();
        let last = (groups.len().max(2) - 1) as f32;
        let sharpness = |by: [f32; 2]| {
            let mut mean = vec![0.0f32; samples];
            for (g, group) in groups.iter().enumerate() {
                add_at(&mut mean, group, g as f32 / last - 0.5, by);
            }
            mean.windows(2).map(|w| (w[1] - w[0]) * (w[1] - w[0])).sum::<f32>()
        };
        let mut best = (SHARPER * sharpness([0.0, 0.0]), [0.0f32; 2]);
        for shift in -SHIFTS..=SHIFTS {
            for stretch in -STRETCHES..=STRETCHES {
                let by = [shift as f32, STRETCH * stretch as f32];
                let sharp = sharpness(by);
                if sharp > best.0 {
                    best = (sharp, by);
                }
            }
        }
        let (from, len) = (self.core.start as f32, (self.core.len().max(2) - 1) as f32);
        let moved = |(i, line): (usize, &Vec<f32>)| {
            let mut moved = vec![0.0; samples];
            add_at(&mut moved, line, (i as f32 - from) / len - 0.5, best.1);
            moved
        };
        let lines = self.lines.iter().enumerate().map(moved).collect();
        let Self { core, heights, light, glare, tells, high, .. } = self;
        Self {
            lines,
            core: core.clone(),
            heights: heights.clone(),
            light: *light,
            glare: *glare,
            tells: *tells,
            high: *high,
            freed: OnceCell::new(),
        }
    }
}

/// A line without the light that glare adds to it, and how much each place of it counts.
struct FreedLine {
    values: Vec<f32>,
    weights: Vec<f32>,
}

/// How much must count at least, of lines that count 1 each.
const LEAST: f32 = 0.5;

impl FreedLine {
    /// Whether it shows the bars of `profile`, as far as it is free of glare.
    fn shows(&self, profile: &[f32]) -> bool {
        /// Share of the places that must be free of it.
        const FREE: f32 = 0.25;
        const ALIKE: f32 = 0.85;
        let free = |x: &usize| self.weights[*x] >= LEAST;
        let places: Vec<usize> = (0..self.values.len()).filter(free).collect();
        let [own, other] =
            [&self.values[..], profile].map(|line| places.iter().map(|x| line[*x]).collect::<Vec<f32>>());
        places.len() as f32 >= FREE * self.values.len() as f32 && correlation(&own, &other) > ALIKE
    }
}

/// A profile freed of glare, how much each place of it counts, from 0 to 1, and the share of the lines that are not burnt out there.
pub(super) struct Freed {
    pub(super) dark: Vec<f32>,
    pub(super) weights: Vec<f32>,
    pub(super) shown: Vec<f32>,
}

/// The mean of what counts at each place; where hardly anything does, what is `darkest`.
fn freed(lines: &[FreedLine], darkest: &[f32]) -> Freed {
    /// Lines free of glare that are enough for a place to count fully.
    const ENOUGH: f32 = 8.0;
    let [mut sums, mut weights, mut shown] = [(); 3].map(|()| vec![0.0f32; darkest.len()]);
    let share = 1.0 / lines.len().max(1) as f32;
    for line in lines {
        for (x, (value, weight)) in line.values.iter().zip(&line.weights).enumerate() {
            sums[x] += weight * value;
            weights[x] += weight;
            shown[x] += if *weight > 0.0 { share } else { 0.0 };
        }
    }
    let value = |((darkest, sum), weight): ((&f32, f32), f32)| if weight >= LEAST { sum / weight } else { *darkest };
    let dark = darkest.iter().zip(sums).zip(weights.iter().copied()).map(value).collect();
    Freed { dark, weights: weights.into_iter().map(|weight| (weight / ENOUGH).min(1.0)).collect(), shown }
}

/// Samples of the zone that the picture shows on the line at a fraction `t` of the symbol's height.
fn shown(surface: &Surface, place: &Place, t: f32) -> usize {
    let line = place.line(t);
    let module = scale(sub(line.right, line.left), 1.0 / place.modules);
    let samples = MODULES as usize * PER_MODULE;
    surface.shown(add(line.right, scale(module, START)), scale(module, 1.0 / PER_MODULE as f32), samples).end
}

/// Adds a line at height `t` moved by `t` times a shift and a stretch, in samples.
fn add_at(sum: &mut [f32], line: &[f32], t: f32, [shift, stretch]: [f32; 2]) {
    let half = (line.len() as f32 - 1.0) / 2.0;
    add_moved(sum, line, [t * (shift - stretch), t * stretch / half.max(1.0)], 1.0);
}

/// The mean of some lines.
pub(super) fn mean_of(lines: &[Vec<f32>]) -> Vec<f32> {
    let mut mean = vec![0.0; lines.first().map_or(0, Vec::len)];
    for line in lines {
        mean.iter_mut().zip(line).for_each(|(m, d)| *m += d);
    }
    let share = 1.0 / lines.len().max(1) as f32;
    mean.iter_mut().for_each(|m| *m *= share);
    mean
}

/// At each place the mean of the lines that are darker there than most, but for the very darkest: specks.
pub(super) fn darkest_of(lines: &[Vec<f32>]) -> Vec<f32> {
    /// Shares of the lines, from the lightest up.
    const DARK: [f32; 2] = [0.75, 0.95];
    let [from, to] = DARK.map(|share| (share * lines.len() as f32) as usize);
    let mut column = vec![0.0; lines.len()];
    (0..lines.first().map_or(0, Vec::len))
        .map(|x| {
            column.iter_mut().zip(lines).for_each(|(value, line)| *value = line[x]);
            column.sort_unstable_by(f32::total_cmp);
            let dark = &column[from..to.max(from + 1)];
            dark.iter().sum::<f32>() / dark.len() as f32
        })
        .collect()
}

/// A profile with the same contrast all along it: 0 where it is lightest about there, 1 where it is darkest.
pub(super) fn even(profile: &[f32]) -> Vec<f32> {
    /// Samples to each side in which both are: a digit's seven modules hold a bar and a space.
    const ABOUT: usize = 5 * PER_MODULE;
    /// Contrast below which there are no bars, but noise.
    const LEAST: f32 = 0.15;
    let [light, dark] = [f32::min, f32::max].map(|pick| windowed(&extreme(profile, ABOUT, pick), ABOUT / 2));
    let ends = light.iter().zip(&dark);
    profile.iter().zip(ends).map(|(value, (light, dark))| (value - light) / (dark - light).max(LEAST)).collect()
}

fn covariances(a: &[f32], b: &[f32], mean_a: &[f32], mean_b: &[f32], reach: usize) -> Vec<f32> {
    let products: Vec<f32> = a.iter().zip(b).map(|(x, y)| x * y).collect();
    let mut means = windowed(&products, reach);
    means.iter_mut().zip(mean_a.iter().zip(mean_b)).for_each(|(m, (a, b))| *m -= a * b);
    means
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reader::model::Bars;

    const LINES: usize = 40;

    fn bars(shift: f32) -> Vec<f32> {
        let modules: Vec<bool> = (0..40u32).map(|i| 0x00B5_9A6D_u32.rotate_left(i) & 1 == 1).collect();
        Bars::new(&modules, 10.0 + shift).wave(200, 0.0, 0.4, 0.0)
    }

    /// Glare runs down over a third of every line and half the lines.
    fn glared() -> Zone {
        let line = |l: usize| {
            let burnt = 60 + 2 * l..130 + 2 * l;
            let light = |x: usize| if l.is_multiple_of(2) && burnt.contains(&x) { 0.1 } else { 1.0 };
            bars(0.0).iter().enumerate().map(|(x, dark)| dark * light(x) - 0.6 * (1.0 - light(x))).collect()
        };
        Zone::of_lines((0..LINES).map(line).collect())
    }

    #[test]
    fn the_darkest_lines_show_what_glare_hides_in_the_mean() {
        let zone = glared();
        let like = |profile: Vec<f32>| correlation(&profile, &bars(0.0));
        assert!(like(zone.mean()) < 0.98);
        assert!(like(zone.darkest()) > 0.999);
        assert!(like(zone.combined()) > like(zone.mean()));
    }

    /// A streak runs down, its light added to paper and ink alike, up to where all is burnt out.
    #[test]
    fn light_that_glare_adds_is_taken_away() {
        let line = |l: usize| {
            let light = |x: usize| {
                let z = (x as f32 - 40.0 - 3.0 * l as f32) / 24.0;
                2.0 * (-0.5 * z * z).exp()
            };
            bars(0.0).iter().enumerate().map(|(x, dark)| (dark - light(x)).max(GLARE)).collect()
        };
        let zone = Zone::of_lines((0..LINES).map(line).collect());
        let like = |profile: Vec<f32>| correlation(&profile, &bars(0.0));
        let (freed, darkest) = (like(zone.freed_of_glare().dark.clone()), like(zone.darkest()));
        assert!(freed > 0.99 && freed > darkest && like(zone.mean()) < 0.9, "{freed} {darkest}");
    }

    #[test]
    fn even_bars_are_as_dark_everywhere() {
        let faded = |x: usize| 0.2 + 0.8 * x as f32 / 200.0;
        let profile: Vec<f32> = bars(0.0).iter().enumerate().map(|(x, dark)| faded(x) * dark - 0.1).collect();
        let like = |profile: &[f32]| correlation(&profile[40..180], &bars(0.0)[40..180]);
        let (before, after) = (like(&profile), like(&even(&profile)));
        assert!(before < 0.96 && after > 0.99, "{before} {after}");
    }

    #[test]
    fn slanting_lines_are_put_in_line() {
        let zone = Zone::of_lines((0..LINES).map(|l| bars(1.9 * (l as f32 / LINES as f32 - 0.5))).collect());
        let like = |zone: &Zone| correlation(&zone.mean(), &bars(0.0));
        let (slanting, in_line) = (like(&zone), like(&zone.in_line()));
        assert!(slanting < 0.97 && in_line > 0.99, "{slanting} {in_line}");
    }

    #[test]
    fn an_empty_zone_has_empty_profiles() {
        for zone in [Zone::of_lines(Vec::new()), Zone::of_lines(vec![Vec::new(); 5])] {
            let zone = zone.in_line();
            assert!(zone.mean().is_empty() && zone.darkest().is_empty() && zone.combined().is_empty());
            assert!(zone.freed_of_glare().dark.is_empty() && even(&[]).is_empty());
            assert!(zone.thirds().map(mean_of).chain(zone.bands()).all(|profile| profile.is_empty()));
        }
    }
}
