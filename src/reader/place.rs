//! Where a symbol lies: its bars followed up and down from one row, across glare and bends.

use super::fit::{self, Warp};
use super::model::{Bars, PER_MODULE, correlation};
use super::sample::{Point, add, dot, length, mix, quarter_turn, scale, sub};
use super::surface::Surface;

/// One line across the bars: the outer edges of its first and last bar, in picture px, in reading direction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Line {
    pub(super) left: Point,
    pub(super) right: Point,
}

impl Line {
    /// Grey values along the line, from `first` modules on, where the symbol is `modules` wide.
    pub(super) fn profile(&self, surface: &Surface, modules: f32, first: f32, samples: usize) -> Vec<f32> {
        let step = scale(sub(self.right, self.left), 1.0 / modules);
        (0..samples).map(|i| surface.grey(add(self.left, scale(step, first + i as f32 / PER_MODULE as f32)))).collect()
    }

    /// Width of a module in picture px.
    pub(super) fn module_px(&self, modules: f32) -> f32 {
        length(sub(self.right, self.left)) / modules
    }
}

/// A line on which a symbol's bars were seen.
#[derive(Debug, Clone, Copy)]
pub(super) struct Seen {
    pub(super) line: Line,
    /// How well: correlation with its bars.
    pub(super) score: f32,
    /// Strides below the line on which the walk began.
    stride: f32,
}

/// A symbol's place.
pub(super) struct Place {
    /// Lines across its bars from top to bottom, one about every module and a half, where its bars can be seen.
    pub(super) lines: Vec<Seen>,
    /// Top left, top right, bottom right, bottom left, in picture px.
    pub(super) corners: [Point; 4],
    /// Width of the symbol in modules.
    pub(super) modules: f32,
    /// How its modules are spread between its ends: perspective and bends.
    pub(super) warp: Warp,
}

impl Place {
    /// The line across the symbol at a fraction `t` of its height, from 0 (top) to 1.
    pub(super) fn line(&self, t: f32) -> Line {
        let [tl, tr, br, bl] = self.corners;
        Line { left: mix(tl, bl, t), right: mix(tr, br, t) }
    }

    /// The mean of the lines on which the bars are seen best, from `first` modules on.
    pub(super) fn mean_profile(&self, surface: &Surface<'_>, first: f32, samples: usize) -> Vec<f32> {
        /// A line whose bars correlate worse than the best by more is under glare, or scratched, or at the symbol's end.
        const WORSE: f32 = 0.1;
        let best = self.lines.iter().map(|l| l.score).fold(0.0, f32::max);
        let mut mean = vec![0.0; samples];
        let mut lines = 0.0;
        for seen in self.lines.iter().filter(|l| l.score >= best - WORSE) {
            let profile = seen.line.profile(surface, self.modules, first, samples);
            mean.iter_mut().zip(profile).for_each(|(m, p)| *m += p);
            lines += 1.0;
        }
        mean.iter_mut().for_each(|m| *m /= lines);
        mean
    }

    /// Mean width of a module in picture px.
    pub(super) fn module_px(&self) -> f32 {
        self.line(0.5).module_px(self.modules)
    }

    /// Mean width of the bars in picture px.
    pub(super) fn width_px(&self) -> f32 {
        self.module_px() * self.modules
    }

    /// The middle of its bars.
    pub(super) fn middle(&self) -> Point {
        let line = self.line(0.5);
        mix(line.left, line.right, 0.5)
    }

    /// Mean height of the bars in modules.
    pub(super) fn height_modules(&self) -> f32 {
        let [tl, tr, br, bl] = self.corners;
        length(sub(mix(bl, br, 0.5), mix(tl, tr, 0.5))) / self.module_px()
    }

    /// Whether `p` lies within the bars' outline.
    pub(super) fn holds(&self, p: Point) -> bool {
        (0..4).all(|i| {
            let (a, b) = (self.corners[i], self.corners[(i + 1) % 4]);
            dot(quarter_turn(sub(b, a)), sub(p, a)) >= 0.0
        })
    }
}

/// Follows a symbol whose modules are `modules` from `seed`, a line on which its code was read.
///
/// `None` if its bars are not found on several lines.
pub(super) fn follow(surface: &Surface, modules: &[bool], seed: Line) -> Option<Place> {
    let (seed, warp) = aligned(surface, modules, seed)?;
    let tracker = Tracker::new(surface, modules, warp);
    let seed = tracker.fit(seed, 0.5, 0.25)?;
    // A first short walk gives the direction of the bars; a seed at a slant to it would leave a slanted outline.
    let near = tracker.walk(seed, 8);
    let across = tracker.fit(straightened(&near, seed.0), 0.75, 0.25)?;
    let lines = tracker.walk(across, LONGEST);
    let (&Seen { stride: top, .. }, &Seen { stride: bottom, .. }) = (lines.first()?, lines.last()?);
    if lines.len() < 3 {
        return None;
    }
    let left = straight(&lines, |line| line.left);
    let right = straight(&lines, |line| line.right);
    let corners = [left(top), right(top), right(bottom), left(bottom)];
    Some(Place { lines, corners, modules: modules.len() as f32, warp })
}

/// `seed` with its ends where the bars' ends are, and how the bars are spread between them.
fn aligned(surface: &Surface, modules: &[bool], seed: Line) -> Option<(Line, Warp)> {
    /// Share of the variance that bars must explain for a line to be theirs at all.
    const UNEXPLAINED: f32 = 0.5;
    let width = modules.len() as f32;
    let samples = ((width + 2.0 * fit::MARGIN) * PER_MODULE as f32) as usize;
    let fit = fit::fit(&seed.profile(surface, width, -fit::MARGIN, samples), modules, None)?;
    if fit.residual > UNEXPLAINED {
        return None;
    }
    let module = scale(sub(seed.right, seed.left), 1.0 / width);
    let [left, right] = fit.warp.ends();
    let seed = Line { left: add(seed.left, scale(module, left)), right: add(seed.right, scale(module, right)) };
    Some((seed, fit.warp.within_ends()))
}

/// Modules between two lines of a walk.
const STRIDE: f32 = 1.5;
/// Lines a walk takes at most in each direction: a symbol as high as it is wide.
const LONGEST: usize = 64;

struct Tracker<'a> {
    surface: &'a Surface<'a>,
    modules: f32,
    template: Vec<f32>,
}

impl<'a> Tracker<'a> {
    /// Modules of quiet zone that are compared, too, on each side.
    const MARGIN: f32 = 3.0;
    /// Correlation below which a line does not show the symbol. Half of the bars of an unrelated code go together with
    /// it by chance (about 0.3); blur of a module's sigma still leaves 0.6 and more.
    const SEEN: f32 = 0.6;

    fn new(surface: &'a Surface<'a>, modules: &[bool], warp: Warp) -> Self {
        let samples = ((modules.len() as f32 + 2.0 * Self::MARGIN) * PER_MODULE as f32) as usize;
        let template = Bars::new(modules, 0.0).moved(|m| warp.at(m)).wave(samples, -Self::MARGIN, 0.5, 0.0);
        Self { surface, modules: modules.len() as f32, template }
    }

    /// How well the bars are seen on `line`.
    fn score(&self, line: Line) -> f32 {
        // The template is darkness, the profile is light.
        -correlation(&line.profile(self.surface, self.modules, -Self::MARGIN, self.template.len()), &self.template)
    }

    /// The best line near `line`: both ends moved along it by up to `reach` modules, first together, then apart.
    fn fit(&self, line: Line, reach: f32, step: f32) -> Option<(Line, f32)> {
        let module = scale(sub(line.right, line.left), 1.0 / self.modules);
        let moved = |l: Line, dl: f32, dr: f32| Line {
            left: add(l.left, scale(module, dl)),
            right: add(l.right, scale(module, dr)),
        };
        let steps = (reach / step).round() as i32;
        let best_of = |from: Line, shift: &dyn Fn(f32) -> [f32; 2]| {
            (-steps..=steps)
                .map(|i| {
                    let [dl, dr] = shift(i as f32 * step);
                    let candidate = moved(from, dl, dr);
                    (self.score(candidate), candidate)
                })
                .max_by(|a, b| a.0.total_cmp(&b.0))
        };
        let (_, line) = best_of(line, &|d| [d, d])?;
        let (_, line) = best_of(line, &|d| [0.0, d])?;
        let (score, line) = best_of(line, &|d| [d, 0.0])?;
        (score >= Self::SEEN).then_some((line, score))
    }

    /// Lines on which the bars are seen, from up to `most` strides above `from` to as many below, `from` among them.
    fn walk(&self, from: (Line, f32), most: usize) -> Vec<Seen> {
        let mut lines = self.walk_one_way(from.0, -1.0, most);
        lines.reverse();
        lines.push(Seen { line: from.0, score: from.1, stride: 0.0 });
        lines.extend(self.walk_one_way(from.0, 1.0, most));
        lines
    }

    fn walk_one_way(&self, from: Line, sign: f32, most: usize) -> Vec<Seen> {
        /// Strides without bars after which the symbol has ended rather than lies under glare or a scratch.
        const GAP: usize = 8;
        let down = quarter_turn(scale(sub(from.right, from.left), 1.0 / self.modules));
        let stride = scale(down, sign * STRIDE);
        let (mut last, mut drift) = (from, [stride, stride]);
        let mut lines = Vec::new();
        let mut missed = 0;
        for walked in 1..=most {
            let strides = (missed + 1) as f32;
            let guess = Line {
                left: add(last.left, scale(drift[0], strides)),
                right: add(last.right, scale(drift[1], strides)),
            };
            if let Some((line, score)) = self.fit(guess, 0.75, 0.25) {
                // A bend changes slowly: half of what was seen, half of what was expected.
                let seen = [sub(line.left, last.left), sub(line.right, last.right)];
                for (d, s) in drift.iter_mut().zip(seen) {
                    *d = mix(*d, scale(s, 1.0 / strides), 0.5);
                }
                last = line;
                lines.push(Seen { line, score, stride: sign * walked as f32 });
                missed = 0;
            } else {
                missed += 1;
                if missed > GAP {
                    break;
                }
            }
        }
        lines
    }
}

/// `seed` turned about its middle so that it crosses the bars at a right angle, between the edges that `lines` show.
fn straightened(lines: &[Seen], seed: Line) -> Line {
    let (Some(top), Some(bottom)) = (lines.first(), lines.last()) else { return seed };
    let (left, right) = (sub(bottom.line.left, top.line.left), sub(bottom.line.right, top.line.right));
    let down = add(left, right);
    if length(down) < f32::EPSILON {
        return seed;
    }
    // Reading direction is a quarter turn back from "down".
    let along = [down[1], -down[0]];
    let middle = mix(seed.left, seed.right, 0.5);
    Line { left: crossing(middle, along, seed.left, left), right: crossing(middle, along, seed.right, right) }
}

/// Where the line through `a` along `u` meets the line through `b` along `v`; `b` if they are parallel.
fn crossing(a: Point, u: Point, b: Point, v: Point) -> Point {
    let n = quarter_turn(v);
    let slope = dot(u, n);
    if slope.abs() < f32::EPSILON { b } else { add(a, scale(u, dot(sub(b, a), n) / slope)) }
}

/// The straight line, by least squares, that an end of the lines follows from stride to stride.
fn straight<E: Fn(&Line) -> Point>(lines: &[Seen], end: E) -> impl Fn(f32) -> Point + use<E> {
    let n = lines.len() as f32;
    let mean_stride = lines.iter().map(|l| l.stride).sum::<f32>() / n;
    let mean = scale(lines.iter().fold([0.0, 0.0], |sum, l| add(sum, end(&l.line))), 1.0 / n);
    let (mut tp, mut tt) = ([0.0, 0.0], 0.0);
    for seen in lines {
        let t = seen.stride - mean_stride;
        tp = add(tp, scale(end(&seen.line), t));
        tt += t * t;
    }
    let slope = if tt > 0.0 { scale(tp, 1.0 / tt) } else { [0.0, 0.0] };
    move |stride| add(mean, scale(slope, stride - mean_stride))
}
