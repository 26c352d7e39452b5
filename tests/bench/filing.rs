//! How long the put-away plan takes at a million copies in eight thousand boxes, and the memory that it needs.
//!
//! Goals: 500 new copies under 1 s, the whole wall anew under 10 s, under 1 GB. Walls that are nearly full are the hard
//! case: what overflows finds no room near by.
#![allow(clippy::print_stdout, reason = "a benchmark prints what it measured")]
#![allow(clippy::unwrap_used, reason = "a benchmark that can't go on has failed")]

#[expect(dead_code, reason = "other benches ask more of it")]
mod fill;

use std::time::Instant;

use boxward::collection::{CopyId, IssueNumber, SizeClass, Title, TitleId};
use boxward::filing::{
    Book, BoxId, BoxKind, FilingRule, Place, PlanOptions, Purpose, ShelfBox, ShelfTitle, Wall, plan,
};
use boxward::store::Store;
use boxward::workflow::{self, PlanAsked};

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
        key,
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
    let titles = (0..TITLES).map(|n| ShelfTitle { title: title(n).into(), family: None }).collect();
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

/// The same from a collection's file: a million copies in boxes, 500 of them read and to be filed.
fn from_a_file() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("collection.boxward");
    fill::fill(&path, COPIES);
    let connection = rusqlite::Connection::open(&path).unwrap();
    let per_box = COPIES / BOXES;
    connection
        .execute_batch(&format!(
            "PRAGMA synchronous = OFF; PRAGMA foreign_keys = OFF; BEGIN;
             WITH RECURSIVE n (n) AS (SELECT 0 UNION ALL SELECT n + 1 FROM n WHERE n < {BOXES} - 1)
             INSERT INTO box (label, search_key, kind, inner_mm, magazines, purpose, row, col, turn, state)
             SELECT 'Box ' || n, 'box ' || n, 'own', 480, 0, 'rest', n / 100, n % 100, 0, 'here' FROM n;
             INSERT INTO filed (id, box) SELECT copy.id, 1 + (row_number() OVER (ORDER BY title.search_key,
             title.start_year, title.id, issue.sort_key) - 1) / {per_box} FROM held AS copy
             JOIN printing ON printing.id = copy.printing JOIN issue ON issue.id = printing.issue
             JOIN title ON title.id = issue.title WHERE copy.reading = 'read';
             DELETE FROM filed WHERE id % ({COPIES} / {NEW}) = 7;
             UPDATE copy SET filing = 'filed' WHERE id IN (SELECT id FROM filed); COMMIT;"
        ))
        .unwrap();
    let store = Store::open(&path).unwrap();
    let asked = PlanAsked { dry_run: true, ..PlanAsked::default() };
    for what in ["shown", "shown again", "kept"] {
        let begun = Instant::now();
        let asked = PlanAsked { dry_run: what != "kept", ..asked.clone() };
        let walk = workflow::file_plan(&store, &asked, jiff::Timestamp::UNIX_EPOCH).unwrap();
        println!("from a file, {what}: {:?}, {:?}, {} MB", begun.elapsed(), walk.sheet.cost, peak_mb());
    }
    let begun = Instant::now();
    let (done, _) = workflow::file_done(&store, None, jiff::Timestamp::UNIX_EPOCH).unwrap();
    println!("booked: {:?}, {} boxes", begun.elapsed(), done.len());
    let begun = Instant::now();
    let found = workflow::find(&store, &format!("{} 77", fill::name(17))).unwrap();
    println!("one copy found: {:?}, {} mm from the front", begun.elapsed(), found[0].stands.as_ref().unwrap().mm);
    for what in ["shown", "kept"] {
        let begun = Instant::now();
        let asked = PlanAsked { wall: true, dry_run: what != "kept", ..asked.clone() };
        let walk = workflow::file_plan(&store, &asked, jiff::Timestamp::UNIX_EPOCH).unwrap();
        println!(
            "from a file, the whole wall anew, {what}: {:?}, {:?}, {} MB",
            begun.elapsed(),
            walk.sheet.cost,
            peak_mb()
        );
    }
}

/// The most memory that this process had, in MB (Linux).
fn peak_mb() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|line| line.starts_with("VmHWM")).unwrap_or_default();
    line.split_whitespace().nth(1).and_then(|kb| kb.parse::<u64>().ok()).unwrap_or_default() / 1024
}

fn main() {
    from_a_file();
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
    // Many copies that belong to one place: the boxes about it can't take them.
    let mut bulk = wall(85, &mut dice);
    bulk.books.truncate(COPIES as usize);
    let rule = FilingRule::default();
    bulk.books.extend((0..5000).map(|n| book(&rule, COPIES + n, 2500, 2 * n, 3000, None)));
    bulk.sort(&rule);
    let options = PlanOptions { new_mm: bulk.boxes[0].inner_mm, ..PlanOptions::default() };
    let begun = Instant::now();
    let found = plan(&bulk, &options).unwrap();
    println!("85 % full, 5000 new copies of one title: {:?}, {:?}, {} MB", begun.elapsed(), found.cost, peak_mb());
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
