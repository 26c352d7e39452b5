//! A row of copies in filing order, cut into the boxes that stand for it: the least work, exactly.
//!
//! The boxes of one rule form a sequence, and so do their copies. A solution cuts the copies into one run a box (which may
//! be empty), with new boxes anywhere between. It never breaks a capacity or the order. Its cost is
//! - 1 for each copy that leaves the box in which it stands,
//! - [`Weights::new_box`] for each box that is added,
//! - [`Weights::split`] for each cut through a title that stands in one box now (or in none).
//!
//! Copies that stand out of order have to be taken out in any case, so they cost nothing more, wherever they go; as few
//! as possible are taken to be out of order. Dynamic programming over boxes and cuts finds the least cost; [`windows`]
//! proves how far a cut can be from its present place, which keeps that short.

use super::row::{Row, Windows, windows};

/// A copy in the row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Slot {
    /// What it takes of a box's length in micrometres, with the divider before it if there is one.
    pub um: u32,
    /// Its title; copies of a title stand together.
    pub title: u32,
    /// The box in which it stands, by its place in the sequence; `None` for a copy to be filed.
    pub at: Option<u32>,
}

/// What is weighed against a copy that has to be handled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Weights {
    /// A box that is added.
    pub new_box: u32,
    /// A title that is split.
    pub split: u32,
}

/// What is cut, and into what.
#[derive(Debug, Clone, Copy)]
pub struct Task<'a> {
    /// The copies in filing order.
    pub slots: &'a [Slot],
    /// What each box may hold in micrometres, in walking order.
    pub rooms: &'a [u64],
    /// What a new box may hold.
    pub new_room: u64,
    /// The costs.
    pub weights: Weights,
}

/// A box of a solution.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Part {
    /// The box by its place in the sequence; `None` for a new one.
    pub room: Option<u32>,
    /// The first copy in it.
    pub from: u32,
    /// The one behind its last.
    pub to: u32,
}

/// The cheapest solution.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cut {
    /// All boxes in order: each of the sequence, empty ones too, and new ones.
    pub parts: Vec<Part>,
    /// What it costs.
    pub cost: u64,
}

/// Why nothing can be planned.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum CutError {
    /// A copy that no new box can hold.
    #[error("copy {0} of the row is thicker than a box holds")]
    TooThick(usize),
    /// So many copies at once that the exact plan would take too long.
    #[error("{0} copies at once are too many for a plan that moves as few as possible")]
    TooMany(usize),
}

/// The most states that are looked at, so that a plan takes seconds and half a gigabyte at worst.
const MOST_STATES: u64 = 60_000_000;

/// No way leads here.
const NONE: i64 = i64::MAX / 4;

/// Cuts the row at the least cost.
///
/// # Errors
/// If a copy is thicker than a new box, or far too many copies come at once.
pub fn cut(task: &Task<'_>) -> Result<Cut, CutError> {
    let row = Row::new(task)?;
    let windows = windows(&row, task);
    cut_within(&row, task, &windows)
}

/// One boundary's states: at each place in its window the least cost, and where its box began.
struct Layer {
    lo: usize,
    cost: Vec<i64>,
    from: Vec<u32>,
}

impl Layer {
    fn new((lo, hi): (usize, usize)) -> Self {
        let states = hi + 1 - lo;
        Self { lo, cost: vec![NONE; states], from: vec![u32::MAX; states] }
    }

    fn hi(&self) -> usize {
        self.lo + self.cost.len() - 1
    }

    fn cost(&self, at: usize) -> i64 {
        at.checked_sub(self.lo).and_then(|at| self.cost.get(at)).copied().unwrap_or(NONE)
    }

    fn improve(&mut self, at: usize, cost: i64, from: usize) {
        if cost < self.cost[at - self.lo] {
            self.improve_or_same(at, cost, from);
        }
    }

    fn improve_or_same(&mut self, at: usize, cost: i64, from: usize) {
        let state = at - self.lo;
        if cost <= self.cost[state] {
            self.cost[state] = cost;
            self.from[state] = from as u32;
        }
    }
}

/// A minimum over a window that only moves on.
struct Sliding {
    queue: std::collections::VecDeque<(usize, i64)>,
}

impl Sliding {
    /// A further place, unless no way leads there.
    fn push(&mut self, at: usize, cost: i64, more: i64) {
        if cost >= NONE {
            return;
        }
        let value = cost + more;
        while self.queue.back().is_some_and(|&(_, last)| last >= value) {
            self.queue.pop_back();
        }
        self.queue.push_back((at, value));
    }

    /// The least of those at which `fits` holds; what does not fit now never will.
    fn least(&mut self, fits: impl Fn(usize) -> bool) -> Option<(usize, i64)> {
        while self.queue.front().is_some_and(|&(at, _)| !fits(at)) {
            self.queue.pop_front();
        }
        self.queue.front().copied()
    }
}

/// Cuts the row with each boundary inside its window.
pub(super) fn cut_within(row: &Row, task: &Task<'_>, windows: &Windows) -> Result<Cut, CutError> {
    let states: u64 = windows.iter().map(|(lo, hi)| (hi + 1 - lo) as u64).sum();
    if states > MOST_STATES {
        return Err(CutError::TooMany(row.len()));
    }
    // For each boundary: where the box before it ends, and where, behind new boxes, the box after it begins.
    let mut ends: Vec<Vec<u32>> = Vec::with_capacity(windows.len());
    let mut begins: Vec<Vec<u32>> = Vec::with_capacity(windows.len());
    let mut end = Layer::new(windows[0]);
    end.improve(0, 0, 0);
    let mut cost = NONE;
    for boundary in 0..windows.len() {
        let begin = with_new_boxes(row, task, &end);
        ends.push(end.from);
        if boundary + 1 < windows.len() {
            end = with_old_box(row, task, boundary, &begin, windows[boundary + 1]);
        } else {
            cost = begin.cost(row.len());
            end = Layer::new((0, 0));
        }
        begins.push(begin.from);
    }
    // The row's end can always be reached: new boxes hold what old ones don't.
    debug_assert!(cost < NONE);
    Ok(Cut { parts: way_back(row, windows, &ends, &begins), cost: cost.unsigned_abs() })
}

/// Any number of new boxes at a boundary.
fn with_new_boxes(row: &Row, task: &Task<'_>, end: &Layer) -> Layer {
    let mut begin = Layer::new((end.lo, end.hi()));
    let mut best = Sliding { queue: Default::default() };
    for at in end.lo..=end.hi() {
        begin.improve(at, end.cost(at), u32::MAX as usize);
        if let Some((from, least)) = best.least(|from| row.um(from, at) <= task.new_room) {
            // Of ways that cost the same, the one whose new boxes stand further behind.
            begin.improve_or_same(at, least + row.filed_before(at), from);
        }
        let opened = i64::from(task.weights.new_box) + row.split_cost(at, task);
        best.push(at, begin.cost(at), opened - row.filed_before(at));
    }
    begin
}

/// The box behind a boundary.
fn with_old_box(row: &Row, task: &Task<'_>, room: usize, begin: &Layer, window: (usize, usize)) -> Layer {
    let mut end = Layer::new(window);
    let mut best = Sliding { queue: Default::default() };
    let mut next = begin.lo;
    for at in window.0..=window.1 {
        while next < at && next <= begin.hi() {
            let opened = row.split_cost(next, task) - row.handled_before(next, room);
            best.push(next, begin.cost(next), opened);
            next += 1;
        }
        // It stays empty.
        end.improve(at, begin.cost(at), at);
        if let Some((from, least)) = best.least(|from| row.um(from, at) <= task.rooms[room]) {
            end.improve(at, least + row.handled_before(at, room), from);
        }
    }
    end
}

fn way_back(row: &Row, windows: &Windows, ends: &[Vec<u32>], begins: &[Vec<u32>]) -> Vec<Part> {
    let mut parts = Vec::new();
    let mut at = row.len();
    for boundary in (0..windows.len()).rev() {
        let lo = windows[boundary].0;
        loop {
            let from = begins[boundary][at - lo];
            if from == u32::MAX {
                break;
            }
            parts.push(Part { room: None, from, to: at as u32 });
            at = from as usize;
        }
        if boundary > 0 {
            let from = ends[boundary][at - lo];
            parts.push(Part { room: Some(boundary as u32 - 1), from, to: at as u32 });
            at = from as usize;
        }
    }
    parts.reverse();
    parts
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A generator that needs no library: the constants are those of Knuth's MMIX (from memory; any would do).
    struct Dice(u64);

    impl Dice {
        fn up_to(&mut self, most: u64) -> u64 {
            self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (self.0 >> 33) % (most + 1)
        }
    }

    #[test]
    fn no_cut_outside_its_window_would_be_better() {
        let mut dice = Dice(1);
        let (mut narrow, mut all) = (0, 0);
        for round in 0..1500_u64 {
            let copies = dice.up_to(200) as usize + 2;
            let rooms = dice.up_to(14) as usize + 1;
            let (mut slots, mut title, mut room) = (Vec::new(), 0, 0);
            for _ in 0..copies {
                title += u32::from(dice.up_to(4) == 0);
                room = (room + u32::from(dice.up_to(copies as u64 / rooms as u64) == 0)).min(rooms as u32 - 1);
                let at = match dice.up_to(11) {
                    0..=1 => None,
                    2 if round % 3 == 0 => Some(dice.up_to(rooms as u64 - 1) as u32),
                    _ => Some(room),
                };
                slots.push(Slot { um: dice.up_to(3) as u32 + 1, title, at });
            }
            let room_of =
                |dice: &mut Dice| dice.up_to(2 * copies as u64 / rooms as u64) + copies as u64 * 2 / rooms as u64 + 6;
            let rooms: Vec<u64> = (0..rooms).map(|_| room_of(&mut dice)).collect();
            let weights = Weights { new_box: dice.up_to(5) as u32 + 1, split: dice.up_to(2) as u32 };
            let task = Task { slots: &slots, rooms: &rooms, new_room: room_of(&mut dice), weights };
            let row = Row::new(&task).unwrap();
            let proved = windows(&row, &task);
            let widest: Windows = proved.iter().map(|_| (0, slots.len())).collect();
            narrow += proved.iter().map(|(lo, hi)| hi - lo + 1).sum::<usize>();
            all += proved.len() * (slots.len() + 1);
            let within = cut_within(&row, &task, &proved).unwrap();
            assert_eq!(within.cost, cut_within(&row, &task, &widest).unwrap().cost, "round {round}: {task:?}");
        }
        // If the windows were as wide as the row, nothing would be shown.
        assert!(narrow * 2 < all, "{narrow} of {all}");
    }
}
