//! What the dynamic programming over a row looks up, and how far its cuts can be from their present places.

use super::cut::{CutError, Slot, Task};

/// For each boundary between boxes, from before the first to behind the last: its first and last possible place.
pub(super) type Windows = Vec<(usize, usize)>;

/// A row of copies with sums over it.
#[derive(Debug)]
pub(super) struct Row {
    /// Thickness of all copies before each place, in micrometres.
    um_before: Vec<u64>,
    /// Copies before each place that stand in a box and in order.
    filed: Vec<u32>,
    /// Where each of those is.
    places: Vec<u32>,
    /// For each box, the number of those in boxes before it; and at the end the number of all.
    starts: Vec<u32>,
    /// Whether a cut before this copy splits a title that is whole now.
    splits: Vec<bool>,
}

impl Row {
    pub(super) fn new(task: &Task<'_>) -> Result<Self, CutError> {
        let slots = task.slots;
        if let Some(thick) = slots.iter().position(|slot| u64::from(slot.um) > task.new_room) {
            return Err(CutError::TooThick(thick));
        }
        let in_order = in_order(slots);
        let mut um_before = Vec::with_capacity(slots.len() + 1);
        let mut filed = Vec::with_capacity(slots.len() + 1);
        let mut places = Vec::new();
        let mut starts = vec![0; task.rooms.len() + 1];
        let mut um = 0;
        for (place, slot) in slots.iter().enumerate() {
            um_before.push(um);
            filed.push(places.len() as u32);
            um += u64::from(slot.um);
            if let Some(room) = slot.at.filter(|_| in_order[place]) {
                places.push(place as u32);
                starts[room as usize + 1] += 1;
            }
        }
        um_before.push(um);
        filed.push(places.len() as u32);
        for room in 1..starts.len() {
            starts[room] += starts[room - 1];
        }
        let splits = splits(slots, &in_order);
        Ok(Self { um_before, filed, places, starts, splits })
    }

    /// How many copies.
    pub(super) fn len(&self) -> usize {
        self.splits.len()
    }

    /// The thickness of the copies from one place to another.
    pub(super) fn um(&self, from: usize, to: usize) -> u64 {
        self.um_before[to] - self.um_before[from]
    }

    /// How many copies before a place stand in a box.
    pub(super) fn filed_before(&self, at: usize) -> i64 {
        self.filed[at].into()
    }

    /// How many copies before a place stand in another box than this.
    pub(super) fn handled_before(&self, at: usize, room: usize) -> i64 {
        let filed = self.filed[at];
        let here = filed.clamp(self.starts[room], self.starts[room + 1]) - self.starts[room];
        (filed - here).into()
    }

    /// What a box that begins at a place costs because of that.
    pub(super) fn split_cost(&self, at: usize, task: &Task<'_>) -> i64 {
        if self.splits.get(at) == Some(&true) { task.weights.split.into() } else { 0 }
    }

    /// The last place up to which copies from `from` on fit into a box.
    fn reach(&self, from: usize, room: u64) -> usize {
        let most = self.um_before[from].saturating_add(room);
        self.um_before.partition_point(|&um| um <= most) - 1
    }

    /// The first place from which copies up to `to` fit into a box.
    fn reach_back(&self, to: usize, room: u64) -> usize {
        let least = self.um_before[to].saturating_sub(room);
        self.um_before.partition_point(|&um| um < least)
    }

    /// How many new boxes hold the copies between two places.
    fn new_boxes(&self, mut from: usize, to: usize, new_room: u64) -> u64 {
        let mut boxes = 0;
        while from < to {
            from = self.reach(from, new_room);
            boxes += 1;
        }
        boxes
    }

    /// Copies of a box that stand between two places.
    fn filed_between(&self, from: usize, to: usize) -> u64 {
        u64::from(self.filed[to.max(from)] - self.filed[from])
    }

    /// Where each boundary is now: behind the last copy of the boxes before it, and, as far as copies to be filed lie
    /// about it, where it splits no title.
    fn boundaries(&self) -> Vec<usize> {
        let last = self.starts.len() - 1;
        let place = |boundary: usize| {
            let rank = self.starts[boundary] as usize;
            let first = if rank == 0 { 0 } else { self.places[rank - 1] as usize + 1 };
            let end = self.places.get(rank).map_or(self.len(), |&place| place as usize);
            (first..=end).find(|&at| self.splits.get(at) != Some(&true)).unwrap_or(first)
        };
        let mut boundaries: Vec<usize> = (0..=last).map(place).collect();
        boundaries[0] = 0;
        boundaries[last] = self.len();
        boundaries
    }

    /// The first and the last place that is not more than so many copies of boxes away from a boundary.
    fn around(&self, boundary: usize, before: u64, behind: u64) -> (usize, usize) {
        let rank = u64::from(self.starts[boundary]);
        let lo = match (rank.checked_sub(before + 1)).and_then(|rank| self.places.get(rank as usize)) {
            Some(&place) => place as usize + 1,
            None => 0,
        };
        let hi = self.places.get((rank + behind) as usize).map_or(self.len(), |&place| place as usize);
        (lo, hi)
    }
}

/// Which copies stand in order: of those in boxes as many as possible whose boxes never go back.
fn in_order(slots: &[Slot]) -> Vec<bool> {
    let filed: Vec<(usize, u32)> = slots.iter().enumerate().filter_map(|(at, slot)| Some((at, slot.at?))).collect();
    let mut in_order = vec![false; slots.len()];
    if filed.is_sorted_by_key(|&(_, room)| room) {
        filed.iter().for_each(|&(at, _)| in_order[at] = true);
        return in_order;
    }
    // Patience: the end of the best row of each length, and what stands before each copy in its best row.
    let mut ends: Vec<usize> = Vec::new();
    let mut before = vec![usize::MAX; filed.len()];
    for (n, &(_, room)) in filed.iter().enumerate() {
        let length = ends.partition_point(|&end| filed[end].1 <= room);
        if length > 0 {
            before[n] = ends[length - 1];
        }
        if length == ends.len() {
            ends.push(n);
        } else {
            ends[length] = n;
        }
    }
    let mut next = ends.last().copied();
    while let Some(n) = next {
        in_order[filed[n].0] = true;
        next = Some(before[n]).filter(|&n| n != usize::MAX);
    }
    in_order
}

/// For each copy, whether a cut before it splits a title that stands in one box now, or in none.
fn splits(slots: &[Slot], in_order: &[bool]) -> Vec<bool> {
    let mut splits = vec![false; slots.len()];
    let mut from = 0;
    for title in slots.chunk_by(|one, next| one.title == next.title) {
        let to = from + title.len();
        let mut rooms = (from..to).filter(|&at| in_order[at]).filter_map(|at| slots[at].at);
        let first = rooms.next();
        if rooms.all(|room| Some(room) == first) {
            splits[from + 1..to].fill(true);
        }
        from = to;
    }
    splits
}

/// How far each boundary can be from its present place in a cheapest solution.
///
/// Let a solution begin box j only behind x > 0 of its present copies. Then let box j begin at its present place, move
/// every cut before it that lies behind that place there, and put what box j can't hold any more into new boxes behind
/// it. That is a solution too. It spares the x copies (all copies of box j, if the box begins behind all of them), and it costs at most the
/// copies of box j that overflow, and a new box and a split for each new box. In a cheapest solution x is no more than
/// that; what box j may have to hold is bounded by how far the next boundary goes. So bounds follow from the last
/// boundary to the first, and in the same way for copies that a box gives at its end, from the first to the last.
/// Room that takes up what comes from the side ends it: then nothing moves.
pub(super) fn windows(row: &Row, task: &Task<'_>) -> Windows {
    let boundaries = row.boundaries();
    let rooms = task.rooms.len();
    // At least 1, so that nothing is spared only where nothing overflows.
    let each_new = (u64::from(task.weights.new_box) + u64::from(task.weights.split)).max(1);
    let bound = |filed: u64, overflow: u64, boxes: u64, further: u64| match overflow + boxes * each_new {
        // Where it costs nothing to leave the boundary at its place, it is left there.
        0 => 0,
        dear if dear < filed => dear,
        _ => filed + further,
    };
    let copies = |room: usize| u64::from(row.starts[room + 1] - row.starts[room]);
    // What it costs to leave every boundary at its place: nobody moves more copies than that across one.
    let in_place = |room: usize| {
        let fits = row.reach(boundaries[room], task.rooms[room]).min(boundaries[room + 1]);
        row.filed_between(fits, boundaries[room + 1])
            + row.new_boxes(fits, boundaries[room + 1], task.new_room) * each_new
    };
    let most: u64 = (0..rooms).map(in_place).sum();
    let mut behind = vec![0; rooms + 1];
    for room in (0..rooms).rev() {
        let (from, to) = (boundaries[room], boundaries[room + 1]);
        let end = row.around(room + 1, 0, behind[room + 1]).1;
        let fits = row.reach(from, task.rooms[room]).min(end);
        let boxes = row.new_boxes(fits, end, task.new_room);
        behind[room] = bound(copies(room), row.filed_between(fits, to), boxes, behind[room + 1]).min(most);
    }
    let mut before = vec![0; rooms + 1];
    for room in 0..rooms {
        let (from, to) = (boundaries[room], boundaries[room + 1]);
        let begin = row.around(room, before[room], 0).0;
        let fits = row.reach_back(to, task.rooms[room]).max(begin);
        let boxes = row.new_boxes(begin, fits, task.new_room);
        before[room + 1] = bound(copies(room), row.filed_between(from, fits), boxes, before[room]).min(most);
    }
    (0..=rooms).map(|boundary| row.around(boundary, before[boundary], behind[boundary])).collect()
}
