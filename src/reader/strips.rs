//! A region laid out in strips across its bars, each shifted and stretched so that the bars of all stand in line.
//!
//! A strip is a few rows of the picture. Perspective and bent paper move and stretch the bars slowly from strip to strip,
//! so each strip is aligned to the mean of its neighbours (Lucas & Kanade, 'An iterative image registration technique',
//! 1981, in one dimension), from the middle outwards, up and down for as long as the bars go.

use super::explain::Notes;
use super::find::Region;
use super::model::{correlation, dot};
use super::moved::add_moved;
use super::normal::solve;
use super::rumours::Rumours;
use super::sample::{Point, add, length, quarter_turn, scale, windowed};
use super::surface::{Surface, Surfaces};

/// Strips of one region, from top to bottom as the reading direction sees it.
pub(super) struct Strips {
    /// Width and height of the picture in px.
    picture: [f32; 2],
    /// Picture point of column 0 in row 0, and picture px that one column and one row mean.
    origin: Point,
    column: Point,
    row: Point,
    columns: usize,
    /// The region's own columns; what is beyond them was added on both sides.
    inner: [usize; 2],
    strip_rows: f32,
    strips: Vec<Strip>,
    notes: Notes,
    rumours: Rumours,
}

/// A few rows.
#[derive(Debug, Clone)]
pub(super) struct Strip {
    /// Its middle, in rows.
    row: f32,
    shift: Shift,
    /// Mean grey value of its rows, column by column, bars in line with those of the other strips.
    pub(super) profile: Vec<f32>,
    /// Whether its bars are those of the strips around it.
    pub(super) seen: bool,
}

#[cfg(test)]
impl Strip {
    /// One that shows `profile`, its bars in line.
    pub(super) fn of_profile(profile: Vec<f32>) -> Self {
        Self { row: 0.0, shift: Shift::default(), profile, seen: true }
    }
}

/// By how many columns a strip's bars are off: at the middle column, and more for each column to the right of it.
#[derive(Debug, Clone, Copy, Default)]
struct Shift {
    by: f32,
    stretch: f32,
}

impl Shift {
    fn plus(self, other: Self, times: f32) -> Self {
        Self { by: self.by + times * other.by, stretch: self.stretch + times * other.stretch }
    }
}

/// Columns at most, rows at most, and strips aimed at.
const COLUMNS: f32 = 560.0;
const ROWS: f32 = 96.0;
const STRIPS: usize = 24;

impl Strips {
    /// Lays `region` out; none if it holds no bars that go on from strip to strip.
    pub(super) fn of(surfaces: &Surfaces<'_>, region: &Region) -> Option<Self> {
        /// What is added on each side: the quiet zone, and what the search for edges may have missed; and above and below.
        const BESIDE: f32 = 0.15;
        const BESIDE_PX: f32 = 6.0;
        const ABOVE: f32 = 0.35;
        let [half_length, half_height] = region.half;
        let beside = BESIDE * 2.0 * half_length + BESIDE_PX;
        let width = 2.0 * (half_length + beside);
        // Small symbols are sampled at half a px: rows that cross the px grid at a slant hold more than one row does.
        let step = (width / COLUMNS).max(if width < 0.4 * COLUMNS { 0.5 } else { 1.0 });
        let surface = surfaces.for_px_of(step);
        let column = scale(region.along, step);
        let columns = (width / step) as usize;
        let height = 2.0 * half_height * (1.0 + ABOVE);
        let row_step = (height / ROWS).max(surface.unit());
        let rows = ((height / row_step) as usize).max(3);
        let row = scale(quarter_turn(region.along), row_step);
        let corner = add(scale(column, -0.5 * columns as f32), scale(row, -0.5 * rows as f32));
        let mut strips = Self {
            picture: surfaces.size(),
            origin: add(region.middle, corner),
            column,
            row,
            columns,
            inner: [(beside / step) as usize, columns - (beside / step) as usize],
            strip_rows: 1.0,
            strips: Vec::new(),
            notes: Notes::default(),
            rumours: Rumours::default(),
        };
        let patch = strips.patch(surface, rows);
        let inner_rows = (2.0 * half_height / row_step).min(rows as f32);
        strips.align(&patch, rows, inner_rows)?;
        Some(strips)
    }

    /// Strips of these profiles, a column a px, all in line; `inner` are the region's own columns.
    #[cfg(test)]
    pub(super) fn of_profiles(profiles: Vec<Vec<f32>>, inner: [usize; 2]) -> Self {
        /// Rows a strip: bars higher than a line of print.
        const ROWS: f32 = 8.0;
        let strip = |(i, profile)| Strip { row: (i as f32 + 0.5) * ROWS, shift: Shift::default(), profile, seen: true };
        Self {
            picture: [f32::INFINITY; 2],
            origin: [0.0, 0.0],
            column: [1.0, 0.0],
            row: [0.0, 1.0],
            columns: profiles.first().map_or(0, Vec::len),
            inner,
            strip_rows: ROWS,
            strips: profiles.into_iter().enumerate().map(strip).collect(),
            notes: Notes::default(),
            rumours: Rumours::default(),
        }
    }

    /// Whether a point lies in the picture, or so many px beyond its edge.
    pub(super) fn show(&self, point: Point, beyond_px: f32) -> bool {
        point.iter().zip(self.picture).all(|(p, size)| (-beyond_px..=size + beyond_px).contains(p))
    }

    /// Grey values of every row, one after the other.
    fn patch(&self, surface: Surface<'_>, rows: usize) -> Vec<f32> {
        let mut patch = vec![0.0; rows * self.columns];
        for (y, out) in patch.chunks_exact_mut(self.columns).enumerate() {
            surface.line(add(self.origin, scale(self.row, y as f32 + 0.5)), self.column, out);
        }
        patch
    }

    fn align(&mut self, patch: &[f32], rows: usize, inner_rows: f32) -> Option<()> {
        /// Strips on which no bars are seen, after which the symbol has ended rather than lies under glare or a scratch.
        const GAP: usize = 6;
        let each = rows.div_ceil(STRIPS);
        let count = rows / each;
        self.strip_rows = each as f32;
        let middle = count / 2;
        let row = |k: usize| (k as f32 + 0.5) * each as f32;
        let slope = self.slope(patch, rows, inner_rows);
        let at = |k: usize| Shift { by: slope * (row(k) - row(middle)), stretch: 0.0 };
        let strip = |this: &Self, k: usize, shift: Shift, drift: Shift| {
            this.rows(patch, k * each..(k + 1) * each, shift, drift)
        };
        let drift = Shift { by: slope, stretch: 0.0 };

        // The bars as the middle third shows them, to begin with.
        let third = (count as f32 * inner_rows / rows as f32 / 6.0).max(1.0) as usize;
        let mut mean = Mean::new(self.columns);
        for k in middle.saturating_sub(third)..=(middle + third).min(count - 1) {
            mean.add(&strip(self, k, at(k), drift), 1.0);
        }
        let start = mean.profile();
        let mut aligned: Vec<Option<Strip>> = vec![None; count];
        let mut mean = Mean::new(self.columns);
        mean.add(&start, 2.0);
        for up in [false, true] {
            let (mut last, mut last_row, mut drift) = (at(middle), row(middle), drift);
            let order: Vec<usize> = if up { (0..middle).rev().collect() } else { (middle..count).collect() };
            let mut missed = 0;
            for k in order {
                let guess = last.plus(drift, row(k) - last_row);
                let (shift, score, profile) =
                    self.aligned(patch, k * each..(k + 1) * each, guess, drift, &mean.profile());
                let seen = score > Self::SEEN;
                if seen {
                    let strides = row(k) - last_row;
                    if strides != 0.0 {
                        let moved = |new: f32, old: f32| (new - old) / strides;
                        let latest =
                            Shift { by: moved(shift.by, last.by), stretch: moved(shift.stretch, last.stretch) };
                        drift = drift.plus(latest.plus(drift, -1.0), 0.4);
                    }
                    (last, last_row, missed) = (shift, row(k), 0);
                    mean.add(&profile, 1.0);
                } else {
                    missed += 1;
                }
                let shift = if seen { shift } else { guess };
                aligned[k] = Some(Strip { row: row(k), shift, profile, seen });
                if missed > GAP {
                    break;
                }
            }
        }
        let first = aligned.iter().position(|s| s.as_ref().is_some_and(|s| s.seen))?;
        let last = aligned.iter().rposition(|s| s.as_ref().is_some_and(|s| s.seen))?;
        self.strips = aligned.drain(first..=last).flatten().collect();
        (self.seen().count() >= 3).then_some(())
    }

    /// Correlation with the mean of its neighbours from which on a strip shows the same bars.
    const SEEN: f32 = 0.55;

    /// By how many columns the bars move from row to row: where the mean of the inner rows is sharpest.
    fn slope(&self, patch: &[f32], rows: usize, inner_rows: f32) -> f32 {
        const STEPS: i32 = 9;
        const STEP: f32 = 0.02;
        let group = (inner_rows / 16.0).max(1.0) as usize;
        let from = ((rows as f32 - inner_rows) / 2.0) as usize;
        let middle = rows as f32 / 2.0;
        let groups: Vec<(f32, Vec<f32>)> = (from..(rows - from).saturating_sub(group - 1))
            .step_by(group)
            .map(|y| {
                (
                    y as f32 + group as f32 / 2.0 - middle,
                    self.rows(patch, y..y + group, Shift::default(), Shift::default()),
                )
            })
            .collect();
        let px = length(self.row) / length(self.column);
        let sharpness = |slope: f32| {
            let mut mean = vec![0.0; self.columns];
            for (y, profile) in &groups {
                add_moved(&mut mean, profile, [slope * y, 0.0], 1.0);
            }
            mean.windows(2).map(|w| (w[1] - w[0]) * (w[1] - w[0])).sum::<f32>()
        };
        let best = |slopes: &mut dyn Iterator<Item = f32>| {
            slopes.map(|s| (sharpness(s), s)).max_by(|a, b| a.0.total_cmp(&b.0)).map_or(0.0, |(_, s)| s)
        };
        let coarse = best(&mut (-STEPS..=STEPS).map(|i| i as f32 * STEP * px));
        best(&mut (-2..=2).map(|i| coarse + i as f32 * STEP / 3.0 * px))
    }

    /// Mean of `rows`, their middle shifted by `shift`, the others by `drift` more a row.
    fn rows(&self, patch: &[f32], rows: std::ops::Range<usize>, shift: Shift, drift: Shift) -> Vec<f32> {
        let mut mean = vec![0.0; self.columns];
        let middle = (rows.start + rows.end) as f32 / 2.0;
        let share = 1.0 / rows.len() as f32;
        for y in rows {
            let shift = shift.plus(drift, y as f32 + 0.5 - middle);
            let row = &patch[y * self.columns..(y + 1) * self.columns];
            add_moved(&mut mean, row, [shift.by - shift.stretch * self.columns as f32 / 2.0, shift.stretch], share);
        }
        mean
    }

    /// The shift near `guess` at which the rows look most like `reference`; how much; and the rows so shifted.
    fn aligned(
        &self,
        patch: &[f32],
        rows: std::ops::Range<usize>,
        guess: Shift,
        drift: Shift,
        reference: &[f32],
    ) -> (Shift, f32, Vec<f32>) {
        const ROUNDS: usize = 3;
        let [from, to] = self.inner;
        let half = self.columns as f32 / 2.0;
        let bars = |profile: &[f32]| without_light(&profile[from..to], ((to - from) / 16).max(3));
        let reference_bars = bars(reference);
        let ones = vec![1.0; self.columns];
        let mut best = (guess, -1.0, Vec::new());
        let mut shift = guess;
        for round in 0..=ROUNDS {
            let profile = self.rows(patch, rows.clone(), shift, drift);
            let score = correlation(&bars(&profile), &reference_bars);
            let better = score > best.1;
            let gained = score - best.1;
            if better {
                best = (shift, score, profile);
            }
            if round == ROUNDS || !better || (round > 0 && gained < 1e-3) {
                break;
            }
            // profile(x + d) ≈ gain · reference(x) + offset, linear in d, which is itself linear along the strip.
            let profile = &best.2;
            let (first, end) = (from.max(1), to.min(self.columns - 1));
            let (seen, expected) = (&profile[first..end], &reference[first..end]);
            let around = profile[first + 1..end + 1].iter().zip(&profile[first - 1..end - 1]);
            let against: Vec<f32> = around.map(|(right, left)| (left - right) / 2.0).collect();
            let along = |(i, slope): (usize, &f32)| slope * ((first + i) as f32 / half - 1.0);
            let against_along: Vec<f32> = against.iter().enumerate().map(along).collect();
            let terms = [expected, &ones[..seen.len()], &against, &against_along, seen];
            let mut normal: [[f32; 5]; 4] =
                std::array::from_fn(|r| std::array::from_fn(|c| if c < r { 0.0 } else { dot(terms[r], terms[c]) }));
            // A strip with no edges says nothing of its shift: it stays.
            let weak = 1e-3 * (normal[2][2] + normal[3][3]) + 1.0;
            normal[2][2] += weak;
            normal[3][3] += weak;
            let Some([_, _, by, stretch]) = solve(normal) else { break };
            shift = shift.plus(Shift { by: by.clamp(-3.0, 3.0), stretch: stretch.clamp(-3.0, 3.0) / half }, 1.0);
        }
        best
    }

    /// The same with notes kept of what is tried on them.
    pub(super) fn noting(self, notes: Notes) -> Self {
        Self { notes, ..self }
    }

    /// A part of what `whole` shows, whose notes and rumours it shares.
    pub(super) fn part_of(self, whole: &Self) -> Self {
        Self { notes: whole.notes.clone(), rumours: whole.rumours.clone(), ..self }
    }

    /// Codes that stood out on them so far.
    pub(super) fn rumours(&self) -> &Rumours {
        &self.rumours
    }

    /// What is tried on them, for somebody who asks.
    pub(super) fn notes(&self) -> &Notes {
        &self.notes
    }

    pub(super) fn into_notes(self) -> Notes {
        self.notes
    }

    /// The strips whose bars are in line.
    pub(super) fn seen(&self) -> impl Iterator<Item = &Strip> + Clone {
        self.strips.iter().filter(|s| s.seen)
    }

    /// Rows of a strip.
    pub(super) fn strip_rows(&self) -> f32 {
        self.strip_rows
    }

    /// The columns that the region itself covers.
    pub(super) fn inner(&self) -> std::ops::Range<usize> {
        self.inner[0]..self.inner[1]
    }

    /// How many they are.
    pub(super) fn inner_columns(&self) -> usize {
        self.inner().len()
    }

    /// From the middle of the first strip to that of the last, in picture px.
    pub(super) fn height_px(&self) -> f32 {
        self.ends().map_or(0.0, |[first, last]| (last.row - first.row) * length(self.row))
    }

    /// By what share of their width the bars run together, or apart, from the first strip to the last.
    pub(super) fn convergence(&self) -> f32 {
        self.ends().map_or(0.0, |[first, last]| (last.shift.stretch - first.shift.stretch).abs())
    }

    fn ends(&self) -> Option<[&Strip; 2]> {
        Some([self.strips.first()?, self.strips.last()?])
    }

    /// All strips between the first and the last that is seen.
    pub(super) fn all(&self) -> &[Strip] {
        &self.strips
    }

    /// The picture point at `column` of `strip`.
    pub(super) fn point(&self, strip: &Strip, column: f32) -> Point {
        let along = column - self.columns as f32 / 2.0;
        let shifted = column + strip.shift.by + strip.shift.stretch * along;
        add(self.origin, add(scale(self.column, shifted), scale(self.row, strip.row)))
    }

    /// Columns of each profile.
    pub(super) fn columns(&self) -> usize {
        self.columns
    }

    /// Picture px that a column means.
    pub(super) fn column_px(&self) -> f32 {
        length(self.column)
    }
}

impl Strip {
    /// Its place from top to bottom, in rows.
    pub(super) fn row(&self) -> f32 {
        self.row
    }
}

/// The mean of several profiles, each with its weight.
pub(super) struct Mean {
    sum: Vec<f32>,
    weight: f32,
}

impl Mean {
    pub(super) fn new(columns: usize) -> Self {
        Self { sum: vec![0.0; columns], weight: 0.0 }
    }

    pub(super) fn add(&mut self, profile: &[f32], weight: f32) {
        self.sum.iter_mut().zip(profile).for_each(|(s, p)| *s += weight * p);
        self.weight += weight;
    }

    pub(super) fn profile(&self) -> Vec<f32> {
        self.sum.iter().map(|s| s / self.weight).collect()
    }
}

/// A profile less its mean within `reach` columns: bars without the slow changes of light and the edges of labels.
pub(super) fn without_light(profile: &[f32], reach: usize) -> Vec<f32> {
    windowed(profile, reach).iter().zip(profile).map(|(mean, value)| value - mean).collect()
}
