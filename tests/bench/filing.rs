//! How long the put-away plan takes at a million copies in eight thousand boxes, and the memory that it needs.
//!
//! Goals: 500 new copies under 1 s, the whole wall anew under 10 s, under 1 GB. Walls that are nearly full are the hard
//! case: what overflows finds no room near by.
#![allow(clippy::print_stdout, reason = "a benchmark prints what it measured")]
#![allow(clippy::unwrap_used, reason = "a benchmark that can't go on has failed")]

use std::time::Instant;

use boxward::collection::{CopyId, IssueNumber, SizeClass, Title, TitleId};
use boxward::filing::{
    Book, BoxId, BoxKind, FilingRule, Place, PlanOptions, Purpose, ShelfBox, ShelfTitle, Wall, plan,
};

const COPIES: u32 = 1_000_000;
const BOXES: u32 = 8_000;
const TITLES: u32 = 5_000;
const NEW: u32 = 500;

/// A generator that needs no library: the constants are those of Knuth's MMIX (from memory; any would do).
struct Dice(u64);

impl Dice {
    fn below(&mut self, end: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % end
    }
}

fn book(rule: &FilingRule, copy: u32, title: u32, issue: u32, um: u32, at: Option<u32>) -> Book {
    let key = rule.copy_key(IssueNumber::new(&issue.to_string()).sort_key(), "1", 1);
    Book {
        copy: CopyId::new(copy.into()),
        title,
        key: key.into(),
        um,
        mg: 0,
        size: SizeClass::Current,
        unread: false,
        at,
        expected: false,
    }
}

/// A wall whose boxes are filled to `percent`; the boxes are as long as that needs.
fn wall(percent: u64, dice: &mut Dice) -> Wall {
    let rule = FilingRule::default();
    let title = |n: u32| Title {
        id: TitleId::new(i64::from(n) + 1),
        publisher: Some(format!("Publisher {}", n % 40)),
        name: format!("The Title {n}"),
        volume: String::new(),
        year: Some(2000),
        layout: None,
        issue_base: 0,
    };
    let titles = (0..TITLES).map(|n| ShelfTitle { title: title(n), family: None }).collect();
    let mut books: Vec<Book> = (0..COPIES)
        .map(|n| book(&rule, n, n % TITLES, n / TITLES * 2 + 1, 2700 + dice.below(900) as u32, None))
        .collect();
    let mut wall = Wall { titles, boxes: Vec::new(), books: Vec::new() };
    std::mem::swap(&mut wall.books, &mut books);
    wall.sort(&rule);
    let (mut um, per_box) = (0, COPIES / BOXES);
    let mut lengths = vec![0_u64; BOXES as usize];
    for (n, book) in wall.books.iter_mut().enumerate() {
        book.at = Some(n as u32 / per_box);
        um += u64::from(book.um);
        lengths[n / per_box as usize] += u64::from(book.um);
    }
    // Every box the same, so that some are fuller than others.
    let inner_mm = um.div_ceil(u64::from(BOXES)) * 100 / percent / 1000;
    wall.boxes = (0..BOXES)
        .map(|n| ShelfBox {
            id: BoxId::new(i64::from(n) + 1),
            label: n.to_string(),
            kind: BoxKind::Own,
            inner_mm: inner_mm as u32,
            magazines: false,
            purpose: Purpose::Rest,
            place: Place { row: n / 100, column: n % 100, turn: 0 },
            note: String::new(),
            planned: false,
        })
        .collect();
    let new = (0..NEW).map(|n| {
        let (title, issue) = (dice.below(TITLES.into()) as u32, dice.below(400) as u32 + 2);
        book(&rule, COPIES + n, title, issue, 3000, None)
    });
    wall.books.extend(new.collect::<Vec<_>>());
    wall
}

/// The most memory that this process had, in MB (Linux).
fn peak_mb() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|line| line.starts_with("VmHWM")).unwrap_or_default();
    line.split_whitespace().nth(1).and_then(|kb| kb.parse::<u64>().ok()).unwrap_or_default() / 1024
}

fn main() {
    let mut dice = Dice(1);
    for percent in [70, 85, 92, 96, 99] {
        let mut wall = wall(percent, &mut dice);
        let begun = Instant::now();
        wall.sort(&FilingRule::default());
        let sorted = begun.elapsed();
        let options = PlanOptions { new_mm: wall.boxes[0].inner_mm, ..PlanOptions::default() };
        let plan = plan(&wall, &options).unwrap();
        println!(
            "{percent} % full, {NEW} new: {:?} (sorting {sorted:?}), {:?}, {} MB",
            begun.elapsed(),
            plan.cost,
            peak_mb()
        );
    }
    let mut wall = wall(80, &mut dice);
    for (what, anew) in [("the whole wall anew", true), ("nothing filed yet", false)] {
        wall.books.iter_mut().filter(|_| !anew).for_each(|book| book.at = None);
        let begun = Instant::now();
        wall.sort(&FilingRule::default());
        let options = PlanOptions { new_mm: wall.boxes[0].inner_mm, anew, ..PlanOptions::default() };
        let plan = plan(&wall, &options).unwrap();
        println!("{what}: {:?}, {:?}, {} MB", begun.elapsed(), plan.cost, peak_mb());
    }
}
