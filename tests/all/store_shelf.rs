//! What a plan reads of all copies at once, against what is read of them one by one.

use std::collections::BTreeMap;

use boxward::collection::CopyId;
use boxward::filing::BoxId;
use boxward::store::{ShelfRow, Shelved, Store};
use boxward::workflow::{self, PlanAsked};
use proptest::prelude::*;

use crate::workflow_support::{Home, home, now};

/// A copy as the tests make it up: each number chooses something.
type Drawn = (u32, u32, u32, u32, u32, u32);

const BOXES: i64 = 3;

/// A collection of these copies. Its rows are numbered from `from` on, backwards if that is wanted: as no program of today does,
/// but a file from elsewhere may.
fn collection(copies: &[Drawn], from: i64, backwards: bool) -> Home {
    let home = home();
    let connection = rusqlite::Connection::open(home.store.path()).unwrap();
    let run = |sql: String| connection.execute_batch(&sql).unwrap();
    let last = copies.len() as i64;
    for title in 1..=3 {
        let year = [(1, "1948"), (2, "NULL"), (3, "2020")][title as usize - 1].1;
        run(format!(
            "INSERT INTO title (id, name, search_key, start_year) VALUES ({}, 'Title {title}', 'title {title}', {year})",
            from + title
        ));
    }
    run(format!("INSERT INTO title_fact (id, size, pages) VALUES ({}, 'silver', 48)", from + 1));
    for n in 1..=BOXES {
        run(format!(
            "INSERT INTO box (id, label, search_key, kind, inner_mm, magazines, purpose, row, col, turn, state) \
             VALUES ({}, 'Box {n}', 'box {n}', 'short', 375, 0, 'rest', 1, {n}, 0, 'here')",
            from + n
        ));
    }
    for (at, &(title, issue, printing, stands, state, facts)) in copies.iter().enumerate() {
        let row = from + if backwards { last - at as i64 } else { at as i64 + 1 };
        let title = from + i64::from(title % 3) + 1;
        let number = ["7", "7A", "Annual 1", "", "\u{bd}", "+5", "-2", "123456789", "12"][issue as usize % 9];
        let number = format!("{number}{}", if number == "7" { at.to_string() } else { String::new() });
        let number = boxward::collection::IssueNumber::new(&number);
        let (key, whole) = (number.sort_key().to_owned(), number.whole());
        let whole = whole.map_or("NULL".to_owned(), |whole| whole.to_string());
        run(format!(
            "INSERT OR IGNORE INTO issue (id, title, number, sort_key, whole_number) \
             VALUES ({row}, {title}, '{number}', '{key}', {whole})"
        ));
        let issue: i64 = connection
            .query_row("SELECT id FROM issue WHERE title = ?1 AND sort_key = ?2", (title, &key), |row| row.get(0))
            .unwrap();
        let (cover, number) = [("1", 1), ("1", 2), ("2", 1), ("B", 300), ("", 1), ("1", 1)][printing as usize % 6];
        run(format!(
            "INSERT INTO printing (id, issue, cover, number, gtin) VALUES ({row}, {issue}, '{cover}', {number}, {row})"
        ));
        let reading = if state % 4 == 0 { "unread" } else { "read" };
        let filing = if stands % 4 > 0 { "filed" } else { "unfiled" };
        // Of some printings there are two copies.
        let of = if facts % 5 == 0 && at > 0 { if backwards { row + 1 } else { row - 1 } } else { row };
        run(format!("INSERT INTO copy (id, printing, reading, filing) VALUES ({row}, {of}, '{reading}', '{filing}')"));
        if stands % 4 > 0 {
            run(format!("INSERT INTO filed (id, box) VALUES ({row}, {})", from + i64::from(stands % 4)));
        }
        match state % 7 {
            1 => run(format!("INSERT INTO departure (id, how, left_on) VALUES ({row}, 'sold', '2026-03-04')")),
            2 => run(format!("INSERT INTO loan (copy, borrower, since) VALUES ({row}, 'Ada Quill', '2026-03-04')")),
            3 => run(format!("INSERT INTO walk_step (id, box) VALUES ({row}, {})", from + 1)),
            _ => {}
        }
        match facts % 4 {
            1 => run(format!("INSERT INTO copy_bag (id, bag) VALUES ({row}, 'polyester')")),
            2 => run(format!("INSERT INTO copy_bag (id, bag, board) VALUES ({row}, 'polyester', 'buffered')")),
            3 => run(format!(
                "INSERT OR IGNORE INTO issue_fact (id, pages, size, cover_date) VALUES ({issue}, 64, 'golden', '1955-03')"
            )),
            _ => {}
        }
    }
    home
}

/// All that a row says, in a form that can be kept.
fn words(row: &ShelfRow<'_>) -> String {
    format!("{row:?}")
}

fn all(store: &Store, unread: bool) -> BTreeMap<CopyId, String> {
    let mut rows = BTreeMap::new();
    store
        .shelf_rows(Shelved::All { unread }, |row| {
            assert!(rows.insert(row.copy, words(&row)).is_none(), "{row:?} twice")
        })
        .unwrap();
    rows
}

fn numbers(store: &Store, sql: &str) -> Vec<CopyId> {
    let connection = rusqlite::Connection::open(store.path()).unwrap();
    let mut statement = connection.prepare(sql).unwrap();
    statement.query_map([], |row| row.get(0).map(CopyId::new)).unwrap().map(Result::unwrap).collect()
}

fn drawn() -> impl Strategy<Value = Vec<Drawn>> {
    prop::collection::vec((any::<u32>(), any::<u32>(), any::<u32>(), any::<u32>(), any::<u32>(), any::<u32>()), 1..40)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]
    #[test]
    fn what_is_read_of_all_is_what_is_read_of_each(
        copies in drawn(), from in prop::sample::select(vec![0_i64, 900, 1 << 60]), backwards in any::<bool>()
    ) {
        let home = collection(&copies, from, backwards);
        let store = &home.store;
        for unread in [false, true] {
            let found = all(store, unread);
            // Which: as the view `held` has it, by a statement that looks each up.
            let wanted = numbers(store, &format!(
                "SELECT id FROM held WHERE id IN (SELECT id FROM filed) OR id IN (SELECT id FROM walk_step) \
                 OR (filing = 'unfiled' AND (reading = 'read' OR {unread}) AND id NOT IN \
                 (SELECT copy FROM loan WHERE returned IS NULL)) ORDER BY id"
            ));
            prop_assert_eq!(found.keys().copied().collect::<Vec<_>>(), wanted);
            // What of each: as a box's own statement has it.
            let mut of_boxes = BTreeMap::new();
            for n in 1..=BOXES {
                store.shelf_rows(Shelved::In(BoxId::new(from + n)), |row| {
                    of_boxes.insert(row.copy, words(&row));
                }).unwrap();
            }
            prop_assert_eq!(of_boxes.len(), numbers(store, "SELECT filed.id FROM filed JOIN held USING (id)").len());
            for (copy, of_box) in of_boxes {
                prop_assert_eq!(found.get(&copy), Some(&of_box));
            }
        }
        // What they are called.
        let mut called = BTreeMap::new();
        store.issues_of_copies(|copy, issue, cover, printing| {
            called.insert(copy, (issue.to_owned(), cover.to_owned(), printing));
        }).unwrap();
        prop_assert_eq!(called.keys().copied().collect::<Vec<_>>(), numbers(store, "SELECT id FROM copy ORDER BY id"));
        for (copy, name) in called {
            prop_assert_eq!(store.issue_of_copy(copy).unwrap(), name);
        }
        // And a plan can be made of it, whatever its rows' numbers are.
        let asked = PlanAsked { dry_run: true, ..PlanAsked::default() };
        workflow::file_plan(store, &asked, now()).unwrap();
    }
}
