//! A row of copies laid out anew, as if none stood anywhere: the fewest new boxes and split titles, exactly.
//!
//! The cost is [`Weights::new_box`](super::Weights) for each box behind those of the sequence and
//! [`Weights::split`](super::Weights) for each cut through a title. Here it is never worse to have laid out more copies
//! with the same boxes and splits, because what is left is then a part of what would be left otherwise. So the search
//! runs over boxes and splits and keeps only how far they reach.

use super::cut::{Cut, CutError, Part, Slot, Task};

/// How a box was filled.
const EMPTY: u8 = 0;
const TO_A_TITLES_END: u8 = 1;
const FULL: u8 = 2;

/// Lays the row out anew. Of equally good ways, the one with the fewest boxes.
///
/// # Errors
/// If a copy is thicker than a new box.
pub fn anew(task: &Task<'_>) -> Result<Cut, CutError> {
    let slots = task.slots;
    if let Some(thick) = slots.iter().position(|slot| u64::from(slot.um) > task.new_room) {
        return Err(CutError::TooThick(thick));
    }
    let end = slots.len();
    let title_starts = title_starts(slots);
    let mut reaches: Vec<(u64, Vec<u32>)> = Vec::new();
    // At least 1, or there would be no end of new boxes.
    let (new_box, split) = (u64::from(task.weights.new_box.max(1)), u64::from(task.weights.split));
    // How far the boxes so far reach with 0, 1, … splits; never less with more.
    let mut reach = vec![0_u32];
    let mut ways: Vec<Vec<u8>> = Vec::new();
    let mut best: Option<(u64, usize, usize)> = None;
    for boxes in 0_usize.. {
        let added = new_box * boxes.saturating_sub(task.rooms.len()) as u64;
        if let Some(splits) = reach.iter().position(|&at| at as usize == end) {
            let cost = added + split * splits as u64;
            if best.is_none_or(|(least, ..)| cost < least) {
                best = Some((cost, boxes, splits));
            }
            if splits == 0 || best.is_some_and(|(least, ..)| added >= least) && boxes >= task.rooms.len() {
                break;
            }
        }
        let room = task.rooms.get(boxes).copied().unwrap_or(task.new_room);
        let known = reaches.iter().position(|(of, _)| *of == room).unwrap_or_else(|| {
            reaches.push((room, reach_of(slots, room)));
            reaches.len() - 1
        });
        let (next, way) = further(&reach, &reaches[known].1, &title_starts);
        reach = next;
        ways.push(way);
    }
    let (cost, boxes, splits) = best.unwrap_or_default();
    Ok(Cut { parts: way_back(task, boxes, splits, &ways, &reaches, &title_starts), cost })
}

/// For each place, the last one at or before it where a cut splits no title.
fn title_starts(slots: &[Slot]) -> Vec<u32> {
    let mut starts = Vec::with_capacity(slots.len() + 1);
    let mut start = 0;
    for at in 0..=slots.len() {
        if at == 0 || at == slots.len() || slots[at].title != slots[at - 1].title {
            start = at as u32;
        }
        starts.push(start);
    }
    starts
}

/// For each place, how far a box reaches that begins there.
fn reach_of(slots: &[Slot], room: u64) -> Vec<u32> {
    let mut reach = Vec::with_capacity(slots.len() + 1);
    let (mut to, mut um) = (0, 0_u64);
    for from in 0..=slots.len() {
        while to < slots.len() && um + u64::from(slots[to].um) <= room {
            um += u64::from(slots[to].um);
            to += 1;
        }
        reach.push(to.max(from) as u32);
        if to > from {
            um -= u64::from(slots[from].um);
        } else {
            to = from + 1;
        }
    }
    reach
}

/// One box more: how far it reaches for each number of splits, and how it is filled for that.
fn further(reach: &[u32], of_box: &[u32], title_starts: &[u32]) -> (Vec<u32>, Vec<u8>) {
    let end = of_box.len() as u32 - 1;
    let (mut next, mut ways) = (Vec::with_capacity(reach.len() + 1), Vec::with_capacity(reach.len() + 1));
    for splits in 0..=reach.len() {
        let mut best = (0, EMPTY);
        if let Some(&at) = reach.get(splits) {
            best = (at, EMPTY);
            let whole = title_starts[of_box[at as usize] as usize];
            if whole > at {
                best = (whole, TO_A_TITLES_END);
            }
        }
        if let Some(&at) = splits.checked_sub(1).and_then(|fewer| reach.get(fewer)) {
            let full = of_box[at as usize];
            if full > best.0 {
                best = (full, FULL);
            }
        }
        // With more splits than these the boxes reach no further.
        if next.last().is_some_and(|&last| best.0 <= last) && splits == reach.len() {
            break;
        }
        next.push(best.0);
        ways.push(best.1);
        if best.0 == end {
            break;
        }
    }
    (next, ways)
}

fn way_back(
    task: &Task<'_>,
    boxes: usize,
    mut splits: usize,
    ways: &[Vec<u8>],
    reaches: &[(u64, Vec<u32>)],
    title_starts: &[u32],
) -> Vec<Part> {
    // From the last box to the first it is known how each is filled; then from the first on, how far.
    let mut filled = Vec::with_capacity(boxes);
    for way in ways[..boxes].iter().rev() {
        let how = way[splits];
        splits -= usize::from(how == FULL);
        filled.push(how);
    }
    let mut at = 0_u32;
    let mut parts = Vec::new();
    for (n, how) in filled.into_iter().rev().chain(std::iter::repeat(EMPTY)).enumerate() {
        if n >= boxes.max(task.rooms.len()) {
            break;
        }
        let room = task.rooms.get(n).copied().unwrap_or(task.new_room);
        let reach = reaches.iter().find(|(of, _)| *of == room).map_or(at, |(_, reach)| reach[at as usize]);
        let to = match how {
            EMPTY => at,
            TO_A_TITLES_END => title_starts[reach as usize],
            _ => reach,
        };
        parts.push(Part { room: (n < task.rooms.len()).then_some(n as u32), from: at, to });
        at = to;
    }
    parts
}
