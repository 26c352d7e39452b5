//! Where digits and guards lie near where they ought to, whatever the digits are.
//!
//! Each digit and guard may lie a module or so off its place, neighbours alike: deformable templates (Gallo & Manduchi,
//! 2011), their offsets by dynamic programming. What stands next to a digit is known, too: a bar's end or a space.

use std::sync::OnceLock;

use super::model::{Bars, PER_MODULE, dot};
use super::trellis::{MARGIN, SAMPLES};
use super::warp::Warp;
use crate::code::NumberSet;

/// Samples that a piece may be off its place, to each side.
const OFF: usize = 6;
const OFFSETS: usize = 2 * OFF + 1;

struct Template {
    wave: Vec<f32>,
    square: f32,
}

/// Templates for one blur.
pub(super) struct Aligner {
    left: Vec<Template>,
    right: Vec<Template>,
    /// Start, centre and end guard.
    guards: [Vec<Template>; 3],
}

/// Modules compared on each side of a piece.
const BESIDE: f32 = 0.5;

impl Aligner {
    /// One for nearly this blur, in modules, made once.
    pub(super) fn near(sigma: f32) -> &'static Self {
        const STEP: f32 = 0.1;
        static ALL: [OnceLock<Aligner>; 20] = [const { OnceLock::new() }; 20];
        let step = (sigma / STEP).round().clamp(1.0, ALL.len() as f32);
        ALL[step as usize - 1].get_or_init(|| Self::new(step * STEP))
    }

    pub(super) fn new(sigma: f32) -> Self {
        // Two modules of what is known to stand beside a piece are enough for its blurred edges.
        let template = |before: &[bool], piece: &[bool], behind: &[bool]| {
            let modules = [before, piece, behind].concat();
            let samples = ((piece.len() as f32 + 2.0 * BESIDE) * PER_MODULE as f32) as usize;
            let wave = Bars::new(&modules, -(before.len() as f32)).wave(samples, -BESIDE, sigma, 0.0);
            Template { square: dot(&wave, &wave), wave }
        };
        let digits = |sets: &[NumberSet], before: &[bool], behind: &[bool]| {
            let all = sets.iter().flat_map(|set| (0..10).map(move |digit| set.modules(digit)));
            all.map(|modules| template(before, &modules, behind)).collect()
        };
        let (dark, light) = (true, false);
        let guard = |before: &[bool], piece: &[bool], behind: &[bool]| vec![template(before, piece, behind)];
        Self {
            left: digits(&[NumberSet::A, NumberSet::B], &[dark], &[light]),
            right: digits(&[NumberSet::C], &[light], &[dark]),
            guards: [
                guard(&[], &[dark, light, dark], &[light]),
                guard(&[dark], &[light, dark, light, dark, light], &[dark]),
                guard(&[light], &[dark, light, dark], &[]),
            ],
        }
    }

    /// `warp`, as which `seen` was laid out, with its modules moved to where digits and guards are seen.
    pub(super) fn warp(&self, seen: &[f32], warp: &Warp) -> Option<Warp> {
        let pairs: Vec<(f32, f32)> =
            self.offsets(seen).into_iter().map(|(at, offset)| (warp.column_at(at + offset), at)).collect();
        Warp::through(&pairs, warp.modules)
    }

    /// The middle of each piece, in modules, and how many modules behind it the piece lies in `seen`.
    fn offsets(&self, seen: &[f32]) -> Vec<(f32, f32)> {
        /// What a sample more or less of offset than the neighbour has costs: a cover bends slowly.
        const STIFF: f32 = 0.12;
        let pieces = self.pieces();
        let mut costs: Vec<[f32; OFFSETS]> = Vec::new();
        let mut steps: Vec<[usize; OFFSETS]> = Vec::new();
        for (at, width, templates) in &pieces {
            let own = self.costs(seen, *at, *width, templates);
            let Some(before) = costs.last() else {
                costs.push(own);
                continue;
            };
            let mut total = [f32::INFINITY; OFFSETS];
            let mut step = [0; OFFSETS];
            for here in 0..OFFSETS {
                for (there, cost) in before.iter().enumerate() {
                    let change = here as f32 - there as f32;
                    let cost = cost + STIFF * change * change;
                    if cost < total[here] {
                        (total[here], step[here]) = (cost, there);
                    }
                }
                total[here] += own[here];
            }
            costs.push(total);
            steps.push(step);
        }
        let last = costs.last().map_or([0.0; OFFSETS], |c| *c);
        let mut at = (0..OFFSETS).min_by(|&a, &b| last[a].total_cmp(&last[b])).unwrap_or(OFF);
        let mut offsets = vec![at];
        for step in steps.iter().rev() {
            at = step[at];
            offsets.push(at);
        }
        let modules = |offset: usize| (offset as f32 - OFF as f32) / PER_MODULE as f32;
        pieces.iter().zip(offsets.into_iter().rev()).map(|((at, width, _), o)| (at + width / 2.0, modules(o))).collect()
    }

    /// First module, width and templates of each piece.
    fn pieces(&self) -> Vec<(f32, f32, &[Template])> {
        let [start, centre, end] = &self.guards;
        let mut pieces = vec![(0.0, 3.0, &start[..])];
        pieces.extend((0..6).map(|k| (3.0 + 7.0 * k as f32, 7.0, &self.left[..])));
        pieces.push((45.0, 5.0, &centre[..]));
        pieces.extend((0..6).map(|k| (50.0 + 7.0 * k as f32, 7.0, &self.right[..])));
        pieces.push((92.0, 3.0, &end[..]));
        pieces
    }

    /// The least sum of squares of any template at each offset.
    fn costs(&self, seen: &[f32], at: f32, width: f32, templates: &[Template]) -> [f32; OFFSETS] {
        let samples = ((width + 2.0 * BESIDE) * PER_MODULE as f32) as usize;
        let from = ((at - BESIDE + MARGIN) * PER_MODULE as f32) as usize;
        std::array::from_fn(|offset| {
            let start = (from + offset).saturating_sub(OFF).min(SAMPLES - samples);
            let window = &seen[start..start + samples];
            let square = dot(window, window);
            let cost = |t: &Template| t.square - 2.0 * dot(window, &t.wave);
            square + templates.iter().map(cost).fold(f32::INFINITY, f32::min)
        })
    }
}
