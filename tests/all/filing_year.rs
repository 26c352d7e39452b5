//! A year of weekly stacks: what the plan makes the collector handle, beside two simple ways of putting away.

use boxward::filing::{Slot, Task, Weights, cut};

/// A generator that needs no library: the constants are those of Knuth's MMIX (from memory; any would do).
struct Dice(u64);

impl Dice {
    fn below(&mut self, end: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % end
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Copy {
    title: u32,
    issue: u32,
    number: u32,
    um: u32,
}

type Boxes = Vec<Vec<Copy>>;

/// A way of putting a stack away.
type Way = fn(&mut Boxes, &[Copy], &mut Year);

/// A short box of 375 mm, filled up to 92 %.
const ROOM: u64 = 345_000;
const WEIGHTS: Weights = Weights { new_box: 60, split: 8 };

/// What a year came to.
#[derive(Debug, Default, Clone, Copy, PartialEq, Eq)]
struct Year {
    moved: usize,
    new_boxes: usize,
}

impl Year {
    fn cost(self) -> usize {
        self.moved + self.new_boxes * WEIGHTS.new_box as usize
    }
}

fn um(copies: &[Copy]) -> u64 {
    copies.iter().map(|copy| u64::from(copy.um)).sum()
}

/// The plan: as few copies as possible are moved.
fn planned(boxes: &mut Boxes, stack: &[Copy], year: &mut Year) {
    let filed =
        boxes.iter().enumerate().flat_map(|(at, copies)| copies.iter().map(move |&copy| (copy, Some(at as u32))));
    let mut row: Vec<(Copy, Option<u32>)> = filed.chain(stack.iter().map(|&copy| (copy, None))).collect();
    row.sort();
    let slots: Vec<Slot> = row.iter().map(|(copy, at)| Slot { um: copy.um, title: copy.title, at: *at }).collect();
    let rooms = vec![ROOM; boxes.len()];
    let found = cut(&Task { slots: &slots, rooms: &rooms, new_room: ROOM, weights: WEIGHTS }).unwrap();
    let content = |part: &boxward::filing::Part| part.from as usize..part.to as usize;
    year.new_boxes += found.parts.iter().filter(|part| part.room.is_none()).count();
    year.moved += found
        .parts
        .iter()
        .map(|part| row[content(part)].iter().filter(|(_, at)| at.is_some() && *at != part.room).count())
        .sum::<usize>();
    *boxes = found.parts.iter().map(|part| row[content(part)].iter().map(|(copy, _)| *copy).collect()).collect();
}

/// What does not fit goes into a new box behind.
fn always_a_new_box(boxes: &mut Boxes, stack: &[Copy], year: &mut Year) {
    for &copy in stack {
        let at = boxes.iter().rposition(|copies| copies.first().is_some_and(|first| *first <= copy)).unwrap_or(0);
        let place = boxes[at].partition_point(|known| *known < copy);
        boxes[at].insert(place, copy);
        let mut over = Vec::new();
        while um(&boxes[at]) > ROOM {
            over.extend(boxes[at].pop());
        }
        if !over.is_empty() {
            year.moved += over.iter().filter(|&&other| other != copy).count();
            year.new_boxes += 1;
            over.reverse();
            boxes.insert(at + 1, over);
        }
    }
}

/// Everything is laid out again, box after box.
fn always_everything(boxes: &mut Boxes, stack: &[Copy], year: &mut Year) {
    let before: std::collections::HashMap<u32, usize> =
        boxes.iter().enumerate().flat_map(|(at, copies)| copies.iter().map(move |copy| (copy.number, at))).collect();
    let mut all: Vec<Copy> = boxes.iter().flatten().copied().chain(stack.iter().copied()).collect();
    all.sort();
    let had = boxes.len();
    *boxes = vec![Vec::new()];
    for copy in all {
        if boxes.last().is_some_and(|last| um(last) + u64::from(copy.um) > ROOM) {
            boxes.push(Vec::new());
        }
        let at = boxes.len() - 1;
        boxes[at].push(copy);
        year.moved += usize::from(before.get(&copy.number).is_some_and(|&was| was != at));
    }
    year.new_boxes += boxes.len().saturating_sub(had);
}

/// Sixty titles with runs of up to 80 issues, in boxes that are filled to about 85 %.
fn start(dice: &mut Dice, number: &mut u32) -> (Boxes, Vec<u32>) {
    let (mut boxes, mut next): (Boxes, Vec<u32>) = (vec![Vec::new()], Vec::new());
    for title in 0..60 {
        let issues = dice.below(80) as u32 + 1;
        for issue in 1..=issues {
            *number += 1;
            let copy = Copy { title, issue: issue * 10, number: *number, um: 2900 + dice.below(400) as u32 };
            if boxes.last().is_some_and(|last| um(last) > ROOM * 85 / 92) {
                boxes.push(Vec::new());
            }
            boxes.last_mut().unwrap().push(copy);
        }
        next.push(issues + 1);
    }
    (boxes, next)
}

#[test]
fn a_year_of_stacks_is_put_away_with_less_work() {
    let mut dice = Dice(2026);
    let mut number = 0;
    let (boxes, mut next) = start(&mut dice, &mut number);
    let had = boxes.len();
    let ways: [(&str, Way); 3] =
        [("planned", planned), ("always a new box", always_a_new_box), ("always everything", always_everything)];
    let mut walls = ways.map(|_| (boxes.clone(), Year::default()));
    for week in 0..52_u32 {
        // A quarter of the titles has a new issue, and four back issues fill gaps.
        let mut stack = Vec::new();
        for title in (0..60).filter(|title| title % 4 == week % 4) {
            number += 1;
            let issue = next[title as usize] * 10;
            next[title as usize] += 1;
            stack.push(Copy { title, issue, number, um: 2900 + dice.below(400) as u32 });
        }
        for _ in 0..4 {
            number += 1;
            let title = dice.below(60) as u32;
            let issue = dice.below(u64::from(next[title as usize]) * 10) as u32;
            stack.push(Copy { title, issue, number, um: 2900 + dice.below(400) as u32 });
        }
        for ((_, put_away), (boxes, year)) in ways.iter().zip(&mut walls) {
            put_away(boxes, &stack, year);
            let all: Vec<Copy> = boxes.iter().flatten().copied().collect();
            assert!(all.is_sorted() && boxes.iter().all(|copies| um(copies) <= ROOM), "week {week}");
            assert_eq!(all.len(), number as usize, "week {week}: something is lost or twice");
        }
    }
    let [plan, new_box, everything] = walls.map(|(_, year)| year);
    println!("{had} boxes; a year of {} copies", 52 * 19);
    for ((name, _), year) in ways.iter().zip([plan, new_box, everything]) {
        println!("{name}: {} copies moved, {} boxes added, cost {}", year.moved, year.new_boxes, year.cost());
    }
    assert!(plan.cost() < new_box.cost() && plan.cost() < everything.cost());
    assert!(plan.moved * 4 < everything.moved, "{plan:?} {everything:?}");
    assert!(plan.new_boxes * 2 < new_box.new_boxes, "{plan:?} {new_box:?}");
}
