//! Where digits and guards lie near where they ought to, whatever the digits are.
//!
//! Each digit and guard may lie a module or so off its place, neighbours alike: deformable templates (Gallo & Manduchi,
//! 2011), their offsets by dynamic programming. What stands next to a digit is known, too: a bar's end or a space.

use std::sync::OnceLock;

use super::codebook::{self, MARGIN, SAMPLES};
use super::model::{Bars, PER_MODULE, dot};
use super::warp::Warp;
use super::wide::widest;
use crate::code::NumberSet;

/// Samples that a piece may be off its place, to each side.
const OFF: usize = 6;
const OFFSETS: usize = 2 * OFF + 1;

/// Templates of one length, sample by sample what each of them is there, and their sums of squares.
struct Templates<const N: usize> {
    waves: Vec<[f32; N]>,
    squares: [f32; N],
}

/// Templates for one blur.
pub(super) struct Aligner {
    left: Templates<20>,
    right: Templates<10>,
    /// Start, centre and end guard.
    guards: [Templates<1>; 3],
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
            Bars::new(&modules, -(before.len() as f32)).wave(samples_of(piece.len()), -BESIDE, sigma, 0.0)
        };
        let digit = |sets: &[NumberSet], i: usize, before: &[bool], behind: &[bool]| {
            template(before, &sets[i / 10].modules((i % 10) as u8), behind)
        };
        let (dark, light) = (true, false);
        let guard = |before: &[bool], piece: &[bool], behind: &[bool]| Templates::of([template(before, piece, behind)]);
        let (left, right) = ([NumberSet::A, NumberSet::B], [NumberSet::C]);
        Self {
            left: Templates::of(std::array::from_fn(|i| digit(&left, i, &[dark], &[light]))),
            right: Templates::of(std::array::from_fn(|i| digit(&right, i, &[light], &[dark]))),
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
        let pieces = widest(
            #[inline(always)]
            || self.pieces(seen),
        );
        let mut costs: Vec<[f32; OFFSETS]> = Vec::new();
        let mut steps: Vec<[usize; OFFSETS]> = Vec::new();
        for Piece { costs: own, .. } in &pieces {
            let Some(before) = costs.last() else {
                costs.push(*own);
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
        pieces.iter().zip(offsets.into_iter().rev()).map(|(piece, o)| (piece.middle, modules(o))).collect()
    }

    /// Guards and digits from left to right.
    #[inline(always)]
    fn pieces(&self, seen: &[f32]) -> Vec<Piece> {
        let [start, centre, end] = &self.guards;
        let mut pieces = vec![start.at(seen, 0, 3)];
        for k in 0..6 {
            pieces.push(self.left.at(seen, 3 + 7 * k, 7));
        }
        pieces.push(centre.at(seen, 45, 5));
        for k in 0..6 {
            pieces.push(self.right.at(seen, 50 + 7 * k, 7));
        }
        pieces.push(end.at(seen, 92, 3));
        pieces
    }
}

/// Samples of a piece of so many modules with what is compared beside it.
fn samples_of(modules: usize) -> usize {
    ((modules as f32 + 2.0 * BESIDE) * PER_MODULE as f32) as usize
}

/// A guard or digit.
struct Piece {
    /// Its middle, in modules.
    middle: f32,
    /// The least sum of squares of any template at each offset.
    costs: [f32; OFFSETS],
}

impl<const N: usize> Templates<N> {
    fn of(waves: [Vec<f32>; N]) -> Self {
        let squares = std::array::from_fn(|i| dot(&waves[i], &waves[i]));
        Self { waves: (0..waves[0].len()).map(|at| std::array::from_fn(|i| waves[i][at])).collect(), squares }
    }

    /// The piece that begins `at` so many modules and is so wide.
    #[inline(always)]
    fn at(&self, seen: &[f32], at: usize, width: usize) -> Piece {
        let samples = samples_of(width);
        let from = ((at as f32 - BESIDE + MARGIN) * PER_MODULE as f32) as usize;
        let mut costs = [0.0; OFFSETS];
        for (offset, cost) in costs.iter_mut().enumerate() {
            let start = (from + offset).saturating_sub(OFF).min(SAMPLES - samples);
            let window = &seen[start..start + samples];
            let costs = codebook::costs(window, &self.waves, &self.squares);
            *cost = dot(window, window) + costs.into_iter().fold(f32::INFINITY, f32::min);
        }
        Piece { middle: at as f32 + width as f32 / 2.0, costs }
    }
}
