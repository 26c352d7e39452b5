//! That no plan is cheaper: against trying every one, on rows that are short enough for that.

use boxward::filing::{Cut, Slot, Task, Weights, anew, cut};

/// A generator that needs no library: the constants are those of Knuth's MMIX (from memory; any would do).
struct Dice(u64);

impl Dice {
    fn up_to(&mut self, most: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % (most + 1)
    }
}

/// The most copies that stand in order, by trying every choice.
fn most_in_order(slots: &[Slot]) -> usize {
    let filed: Vec<u32> = slots.iter().filter_map(|slot| slot.at).collect();
    (0..1_u32 << filed.len())
        .filter(|chosen| {
            let chosen: Vec<u32> = (0..filed.len()).filter(|n| chosen >> n & 1 == 1).map(|n| filed[n]).collect();
            chosen.is_sorted()
        })
        .map(|chosen| chosen.count_ones() as usize)
        .max()
        .unwrap_or(0)
}

/// What a way of filling boxes costs by the letter of the statement; `None` if it is not allowed.
fn cost(task: &Task<'_>, parts: &[(Option<u32>, usize, usize)], is_anew: bool) -> Option<u64> {
    let mut total = 0;
    for &(room, from, to) in parts {
        let um: u64 = task.slots[from..to].iter().map(|slot| u64::from(slot.um)).sum();
        if um > room.map_or(task.new_room, |room| task.rooms[room as usize]) {
            return None;
        }
        total += if room.is_none() { u64::from(task.weights.new_box) } else { 0 };
        if from > 0 && from < to && task.slots[from].title == task.slots[from - 1].title {
            let title = task.slots[from].title;
            let mut boxes: Vec<_> =
                task.slots.iter().filter(|slot| slot.title == title && !is_anew).filter_map(|slot| slot.at).collect();
            boxes.dedup();
            total += if boxes.len() < 2 { u64::from(task.weights.split) } else { 0 };
        }
        if !is_anew {
            total += task.slots[from..to].iter().filter(|slot| slot.at.is_some() && slot.at != room).count() as u64;
        }
    }
    Some(total)
}

/// The cheapest of all ways; new boxes stand anywhere, or behind all others if it is laid out anew.
fn cheapest(task: &Task<'_>, is_anew: bool) -> u64 {
    fn further(
        task: &Task<'_>,
        is_anew: bool,
        room: usize,
        at: usize,
        parts: &mut Vec<(Option<u32>, usize, usize)>,
        best: &mut u64,
    ) {
        if room == task.rooms.len() && at == task.slots.len() {
            *best = (*best).min(cost(task, parts, is_anew).unwrap_or(u64::MAX));
        }
        for to in at..=task.slots.len() {
            if room < task.rooms.len() {
                parts.push((Some(room as u32), at, to));
                further(task, is_anew, room + 1, to, parts, best);
                parts.pop();
            }
            if to > at && (!is_anew || room == task.rooms.len()) {
                parts.push((None, at, to));
                further(task, is_anew, room, to, parts, best);
                parts.pop();
            }
        }
    }
    let mut best = u64::MAX;
    further(task, is_anew, 0, 0, &mut Vec::new(), &mut best);
    best
}

/// Nothing lost, none twice, in order, each box once; and the cost that was said.
fn check(task: &Task<'_>, found: &Cut, is_anew: bool) {
    let mut at = 0;
    for part in &found.parts {
        assert_eq!(part.from, at, "{found:?}");
        at = part.to;
    }
    assert_eq!(at as usize, task.slots.len());
    let rooms: Vec<u32> = found.parts.iter().filter_map(|part| part.room).collect();
    assert!(rooms.iter().copied().eq(0..task.rooms.len() as u32), "{found:?}");
    let parts: Vec<_> = found.parts.iter().map(|part| (part.room, part.from as usize, part.to as usize)).collect();
    assert_eq!(cost(task, &parts, is_anew), Some(found.cost), "{task:?}\n{found:?}");
}

/// A row of at most `copies`, none out of order unless wanted.
fn row(dice: &mut Dice, copies: u64, rooms: u64, disorder: bool) -> Vec<Slot> {
    let (mut title, mut room) = (0, 0);
    (0..dice.up_to(copies))
        .map(|_| {
            title += u32::from(dice.up_to(2) == 0);
            room = (room + u64::from(dice.up_to(2) == 0)).min(rooms.saturating_sub(1));
            let at = if rooms == 0 || dice.up_to(3) == 0 { None } else { Some(room as u32) };
            let at = if disorder && rooms > 0 { at.map(|_| dice.up_to(rooms - 1) as u32) } else { at };
            Slot { um: dice.up_to(3) as u32 + 1, title, at }
        })
        .collect()
}

#[test]
fn no_plan_is_cheaper() {
    let mut dice = Dice(20_261_126);
    for round in 0..3000 {
        let rooms: Vec<u64> = (0..dice.up_to(3)).map(|_| dice.up_to(12)).collect();
        let slots = row(&mut dice, 7, rooms.len() as u64, false);
        let weights = Weights { new_box: dice.up_to(4) as u32 + 1, split: dice.up_to(3) as u32 };
        let task = Task { slots: &slots, rooms: &rooms, new_room: dice.up_to(8) + 4, weights };
        let found = cut(&task).unwrap();
        check(&task, &found, false);
        assert_eq!(found.cost, cheapest(&task, false), "round {round}: {task:?}\n{found:?}");
    }
}

#[test]
fn as_few_copies_as_possible_are_taken_to_be_out_of_order() {
    let mut dice = Dice(7);
    for round in 0..500 {
        let slots = row(&mut dice, 9, 3, true);
        // All is roomy, so that only what is out of order is handled: it can be told by counting what stays.
        let task = Task { slots: &slots, rooms: &[99; 3], new_room: 99, weights: Weights { new_box: 99, split: 0 } };
        let found = cut(&task).unwrap();
        let stays = |part: &boxward::filing::Part| {
            slots[part.from as usize..part.to as usize]
                .iter()
                .filter(|slot| slot.at.is_some() && slot.at == part.room)
                .count()
        };
        assert_eq!(found.parts.iter().map(stays).sum::<usize>(), most_in_order(&slots), "round {round}: {slots:?}");
        assert_eq!(found.cost, 0);
    }
}

#[test]
fn no_new_layout_is_cheaper() {
    let mut dice = Dice(11);
    for round in 0..3000 {
        let rooms: Vec<u64> = (0..dice.up_to(3)).map(|_| dice.up_to(12)).collect();
        let slots = row(&mut dice, 8, 0, false);
        let weights = Weights { new_box: dice.up_to(4) as u32 + 1, split: dice.up_to(3) as u32 };
        let task = Task { slots: &slots, rooms: &rooms, new_room: dice.up_to(8) + 4, weights };
        let found = anew(&task).unwrap();
        check(&task, &found, true);
        assert_eq!(found.cost, cheapest(&task, true), "round {round}: {task:?}\n{found:?}");
    }
}

#[test]
fn what_fits_nowhere_is_refused() {
    let slots = [Slot { um: 3, title: 0, at: None }, Slot { um: 9, title: 0, at: None }];
    let task = Task { slots: &slots, rooms: &[20], new_room: 8, weights: Weights { new_box: 1, split: 1 } };
    assert_eq!(cut(&task).unwrap_err().to_string(), "copy 1 of the row is thicker than a box holds");
    assert!(anew(&task).is_err());
}
