//! The collection file: created, migrated, refused, shared.

use std::thread;

use boxward::store::{QueueFilter, Shelved, Store, StoreError};
use boxward::workflow::{self, Have};

use crate::workflow_support::{dump, home, kept, now, upc};

/// Schema 1 with rows in it, as a file written then looks.
const SCHEMA_1: &str = include_str!("../fixtures/collection_1.sql");
/// Schema 2, whose sessions say what their books were bought for.
const SCHEMA_2: &str = include_str!("../fixtures/collection_2.sql");
/// Schema 4, which knows when copies were read.
const SCHEMA_4: &str = include_str!("../fixtures/collection_4.sql");
/// Schema 5, which knows what may be spent in a month.
const SCHEMA_5: &str = include_str!("../fixtures/collection_5.sql");
/// Schema 6, which knows what the catalogue says of issues.
const SCHEMA_6: &str = include_str!("../fixtures/collection_6.sql");
/// Schema 7, which knows of copies' condition, and which of them left.
const SCHEMA_7: &str = include_str!("../fixtures/collection_7.sql");
/// Schema 8, whose titles are found by their words.
const SCHEMA_8: &str = include_str!("../fixtures/collection_8.sql");
/// Schema 9, whose copies stand in boxes.
const SCHEMA_9: &str = include_str!("../fixtures/collection_9.sql");
/// Schema 10, which knows what is expected and what is wanted.
const SCHEMA_10: &str = include_str!("../fixtures/collection_10.sql");
/// Schema 11, which knows what lists say of digits.
const SCHEMA_11: &str = include_str!("../fixtures/collection_11.sql");

fn sql(path: &std::path::Path, text: &str) {
    rusqlite::Connection::open(path).unwrap().execute_batch(text).unwrap();
}

fn pragma(path: &std::path::Path, name: &str) -> i64 {
    rusqlite::Connection::open(path).unwrap().query_row(&format!("PRAGMA {name}"), [], |row| row.get(0)).unwrap()
}

#[test]
fn a_new_file_has_the_newest_schema_and_is_its_owners() {
    let home = home();
    assert_eq!(pragma(home.store.path(), "user_version"), Store::SCHEMA);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        assert_eq!(std::fs::metadata(home.store.path()).unwrap().permissions().mode() & 0o777, 0o600);
    }
    let mode: String = rusqlite::Connection::open(home.store.path())
        .unwrap()
        .query_row("PRAGMA journal_mode", [], |row| row.get(0))
        .unwrap();
    assert_eq!(mode, "wal");
}

#[test]
fn every_table_is_strict_and_has_an_id_that_undo_can_name() {
    let home = home();
    let other = rusqlite::Connection::open(home.store.path()).unwrap();
    let mut statement = other.prepare("SELECT name, strict FROM pragma_table_list WHERE type = 'table' AND schema = 'main' AND name NOT LIKE 'sqlite%'").unwrap();
    let tables: Vec<(String, bool)> =
        statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?))).unwrap().map(Result::unwrap).collect();
    assert!(tables.len() > 10);
    for (table, strict) in tables {
        assert!(strict, "{table}");
        let key: String =
            other.query_row("SELECT name FROM pragma_table_info(?1) WHERE pk = 1", [&table], |row| row.get(0)).unwrap();
        assert_eq!(key, "id", "{table}");
    }
}

#[test]
fn every_reference_can_be_followed_backwards_by_an_index() {
    let home = home();
    let other = rusqlite::Connection::open(home.store.path()).unwrap();
    let mut statement = other
        .prepare(
            "SELECT t.name, f.\"from\" FROM sqlite_schema t, pragma_foreign_key_list(t.name) f \
             WHERE t.type = 'table' AND t.name NOT IN ('run', 'change')",
        )
        .unwrap();
    let references: Vec<(String, String)> =
        statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?))).unwrap().map(Result::unwrap).collect();
    assert!(references.len() > 10);
    for (table, column) in references {
        let plan: String = other
            .query_row(&format!("EXPLAIN QUERY PLAN SELECT 1 FROM {table} WHERE {column} = 1"), [], |row| row.get(3))
            .unwrap();
        assert!(plan.starts_with("SEARCH"), "{table}.{column}: {plan}");
    }
}

#[test]
fn a_file_of_schema_1_keeps_all_its_rows_and_goes_on() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("old.boxward");
    sql(&path, SCHEMA_1);
    let before = kept(&dump(&path));
    assert!(before.contains("copy:") && before.contains("repeat:") && before.contains("crop:"));
    let store = Store::open(&path).unwrap();
    assert_eq!(pragma(&path, "user_version"), Store::SCHEMA);
    assert_eq!(dump(&path), before);
    assert_eq!(workflow::have(&store, &format!("{} 00411", upc(41))).unwrap().answer, Have::Owned);
    assert_eq!(workflow::have(&store, "night ferry 4").unwrap().titles[0].copies, 1);
    // Its journal still works.
    workflow::undo(&store, None, now()).unwrap();
    assert_eq!(workflow::have(&store, "night ferry 4").unwrap().answer, Have::NotOwned);
}

#[test]
fn a_file_of_schema_2_keeps_what_its_books_were_bought_for() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("old.boxward");
    sql(&path, SCHEMA_2);
    let before = kept(&dump(&path));
    assert!(before.contains("purchase:") && before.contains("item_purchase:"));
    let store = Store::open(&path).unwrap();
    assert_eq!((pragma(&path, "user_version"), dump(&path)), (Store::SCHEMA, before));
    let item = store.items(QueueFilter::Open).unwrap()[0].id;
    let purchase = store.purchase_of(item).unwrap().unwrap();
    assert_eq!((purchase.shop.as_deref(), purchase.paid(None)), (Some("Corner Comics"), "3.59 USD".parse().ok()));
    workflow::undo(&store, None, now()).unwrap();
    assert_eq!(store.items(QueueFilter::Open).unwrap(), []);
}

#[test]
fn a_file_of_schema_4_keeps_what_was_read() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("old.boxward");
    sql(&path, SCHEMA_4);
    let before = kept(&dump(&path));
    assert!(before.contains("reading:"));
    let store = Store::open(&path).unwrap();
    assert_eq!((pragma(&path, "user_version"), dump(&path)), (Store::SCHEMA, before));
    assert_eq!(workflow::pile_list(&store, 9).unwrap().len(), 2);
    workflow::undo(&store, None, now()).unwrap();
    assert_eq!(workflow::pile_list(&store, 9).unwrap().len(), 3);
}

#[test]
fn a_file_of_schema_5_keeps_its_limit_and_its_titles_old_names() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("old.boxward");
    sql(&path, SCHEMA_5);
    let before = kept(&dump(&path));
    assert!(before.contains("month_limit:"));
    let store = Store::open(&path).unwrap();
    assert_eq!((pragma(&path, "user_version"), dump(&path)), (Store::SCHEMA, before));
    assert_eq!(store.month_limits().unwrap().len(), 1);
    assert_eq!(workflow::have(&store, "flame & moth 104").unwrap().answer, Have::Owned);
    workflow::undo(&store, Some(boxward::intake::RunId::new(3)), now()).unwrap();
    assert_eq!(workflow::have(&store, "parliament moth 104").unwrap().answer, Have::Owned);
    assert_eq!(workflow::have(&store, "flame moth 104").unwrap().titles, []);
}

#[test]
fn a_file_of_schema_6_keeps_its_copies_as_owned() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("old.boxward");
    sql(&path, SCHEMA_6);
    let before = kept(&dump(&path));
    assert!(before.contains("issue_fact:") && before.contains("printing_fact:"));
    let store = Store::open(&path).unwrap();
    assert_eq!((pragma(&path, "user_version"), dump(&path)), (Store::SCHEMA, before));
    let have = workflow::have(&store, "tide wardens 12").unwrap();
    assert_eq!((have.answer, have.titles[0].gone.len()), (Have::Owned, 0));
    // The cover's price is that of its printing, until a copy has one of its own.
    let copy = store.copy_record(boxward::collection::CopyId::new(1)).unwrap();
    assert_eq!((copy.price.cover_price, copy.price.asked), ("3.99 USD".parse().ok(), None));
    workflow::undo(&store, None, now()).unwrap();
    assert_eq!(workflow::pile_list(&store, 9).unwrap().len(), 2);
}

#[test]
fn a_file_of_schema_7_keeps_its_copies_and_finds_its_titles() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("old.boxward");
    sql(&path, SCHEMA_7);
    let before = kept(&dump(&path));
    assert!(before.contains("copy_fact:") && before.contains("departure:") && before.contains("loan:"));
    let store = Store::open(&path).unwrap();
    assert_eq!((pragma(&path, "user_version"), dump(&path)), (Store::SCHEMA, before));
    let known = workflow::catalogue_show(&store, "wardens tide").unwrap();
    let pages: Vec<_> = known.iter().map(|issue| (issue.issue.as_str(), issue.facts.pages)).collect();
    assert_eq!(pages, [("12", Some(28)), ("13", Some(28)), ("14", Some(28)), ("15", Some(40))]);
    assert_eq!(workflow::have(&store, "wardens tide 14").unwrap().titles[0].gone.len(), 1);
    // All the way back: the journal of older schemas speaks of no words of titles any more.
    while workflow::undo(&store, None, now()).is_ok() {}
    assert_eq!(dump(&path), "");
    assert_eq!(workflow::have(&store, "wardens tide").unwrap().titles, []);
}

#[test]
fn a_file_of_schema_8_has_its_read_copies_to_be_filed() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("old.boxward");
    sql(&path, SCHEMA_8);
    let before = dump(&path);
    assert!(before.contains("copy_bag:") && before.contains("loan:") && before.contains("departure:"));
    let store = Store::open(&path).unwrap();
    assert_eq!((pragma(&path, "user_version"), dump(&path)), (Store::SCHEMA, before));
    let plan =
        || workflow::file_plan(&store, &workflow::PlanAsked { dry_run: true, ..Default::default() }, now()).unwrap();
    // Of two that were read one is lent.
    assert_eq!(plan().sheet.cost.to_file, 1);
    // The loan was the second to last run, the gift the last.
    workflow::undo(&store, Some(boxward::intake::RunId::new(6)), now()).unwrap();
    assert_eq!(plan().sheet.cost.to_file, 2);
}

#[test]
fn a_file_of_schema_9_keeps_its_copies_in_their_boxes() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("old.boxward");
    sql(&path, SCHEMA_9);
    let before = dump(&path);
    assert!(before.contains("box:") && before.contains("filed:"));
    let store = Store::open(&path).unwrap();
    assert_eq!((pragma(&path, "user_version"), dump(&path)), (Store::SCHEMA, before));
    assert_eq!(workflow::pull_list(&store, "2026-W10".parse().unwrap(), None).unwrap(), []);
    workflow::undo(&store, None, now()).unwrap();
    assert!(!dump(&path).contains("filed:"));
}

#[test]
fn a_file_of_schema_10_keeps_what_is_expected_and_wanted() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("old.boxward");
    sql(&path, SCHEMA_10);
    let before = dump(&path);
    assert!(before.contains("standing:") && before.contains("want:"));
    let store = Store::open(&path).unwrap();
    assert_eq!((pragma(&path, "user_version"), dump(&path)), (Store::SCHEMA, before));
    assert_eq!((store.standing().unwrap().len(), store.wants().unwrap().len()), (1, 2));
    assert_eq!(workflow::list_presets(&store).unwrap(), []);
    workflow::undo(&store, None, now()).unwrap();
    assert_eq!(store.wants().unwrap().len(), 1);
}

#[test]
fn a_file_of_schema_11_keeps_covers_printings_and_bags_of_what_stands_in_boxes() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("old.boxward");
    sql(&path, SCHEMA_11);
    let before = dump(&path);
    let store = Store::open(&path).unwrap();
    assert_eq!((pragma(&path, "user_version"), dump(&path)), (Store::SCHEMA, before));
    let content = workflow::box_show(&store, "Rest").unwrap();
    let copies: Vec<_> = content.content.iter().map(|line| (line.copy.cover.as_str(), line.copy.printing)).collect();
    assert_eq!(copies, [("1", 1), ("2", 1), ("1", 2)]);
    // Two have no board, and are the thinner for that.
    let board = boxward::filing::BOARD_UM;
    let mut um = Vec::new();
    store.shelf_rows(Shelved::All { unread: false }, |row| um.push((row.copy, row.make.um()))).unwrap();
    um.sort_unstable();
    assert_eq!((um[0].1, um[1].1), (um[2].1 - board, um[2].1 - board));
}

#[test]
fn issues_of_older_files_get_the_keys_of_today() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("old.boxward");
    sql(&path, SCHEMA_1);
    // Keys as schema 1 made them; the second is the first in another spelling, and both must stay.
    sql(
        &path,
        "INSERT INTO issue (id, title, number, sort_key, whole_number) VALUES \
         (91, 1, '\u{00bd}', '00000001\u{2044}00000002', NULL), (92, 1, '1/2', '00000001/00000002', NULL), \
         (93, 1, '-1', '-00000001', NULL), (94, 1, '1.5', '00000001.00000005', NULL)",
    );
    let store = Store::open(&path).unwrap();
    let connection = rusqlite::Connection::open(&path).unwrap();
    let mut statement = connection.prepare("SELECT id FROM issue WHERE id > 90 ORDER BY sort_key").unwrap();
    let order: Vec<i64> = statement.query_map([], |row| row.get(0)).unwrap().map(Result::unwrap).collect();
    assert_eq!(order, [93, 91, 94, 92]);
    sql(&path, "DELETE FROM issue WHERE id > 90");
    // What an undo brings back may have a key of an older rule in the journal.
    let undo = workflow::undo(&store, None, now()).unwrap().undo.id;
    sql(&path, "UPDATE change SET inverse = replace(inverse, '00000004', 'old') WHERE tbl = 'issue'");
    workflow::undo(&store, Some(undo), now()).unwrap();
    assert_eq!(workflow::have(&store, "night ferry 4").unwrap().answer, Have::Owned);
}

#[test]
fn a_migrated_file_and_a_new_one_have_the_same_schema() {
    for old_schema in
        [SCHEMA_1, SCHEMA_2, SCHEMA_4, SCHEMA_5, SCHEMA_6, SCHEMA_7, SCHEMA_8, SCHEMA_9, SCHEMA_10, SCHEMA_11]
    {
        same_as_new(old_schema);
    }
}

fn same_as_new(old_schema: &str) {
    let folder = tempfile::tempdir().unwrap();
    let old = folder.path().join("old.boxward");
    sql(&old, old_schema);
    drop(Store::open(&old).unwrap());
    let home = home();
    let schema = |path: &std::path::Path| -> Vec<(String, Option<String>)> {
        let connection = rusqlite::Connection::open(path).unwrap();
        let mut statement = connection.prepare("SELECT name, sql FROM sqlite_schema ORDER BY type, name").unwrap();
        statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?))).unwrap().map(Result::unwrap).collect()
    };
    assert_eq!(schema(&old), schema(home.store.path()));
}

#[test]
fn an_upgrade_that_fails_loses_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("half.boxward");
    // Marked as ours, no schema counted, and in the way of the schema's last table.
    sql(
        &path,
        "PRAGMA application_id = 1652062052; CREATE TABLE copy (id INTEGER PRIMARY KEY); INSERT INTO copy VALUES (7)",
    );
    let before = dump(&path);
    assert!(matches!(Store::open(&path), Err(StoreError::Damaged(_))));
    assert_eq!((dump(&path), pragma(&path, "user_version")), (before, 0));
}

#[test]
fn a_newer_file_is_refused_and_left_alone() {
    let home = home();
    let path = home.store.path().clone();
    sql(&path, "PRAGMA user_version = 99");
    let error = Store::open(&path).unwrap_err();
    assert!(matches!(error, StoreError::Newer { found: 99, .. }), "{error}");
    assert!(error.to_string().ends_with("use a newer boxward"), "{error}");
}

#[test]
fn what_is_no_collection_is_refused_and_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let text = folder.path().join("notes.txt");
    std::fs::write(&text, "a text that is longer than a header of SQLite, so that it is looked at as one".repeat(20))
        .unwrap();
    let foreign = folder.path().join("foreign.db");
    sql(&foreign, "CREATE TABLE song (id INTEGER PRIMARY KEY); PRAGMA user_version = 1");
    let marked = folder.path().join("marked.db");
    sql(&marked, "PRAGMA application_id = 7; CREATE TABLE t (x)");
    for path in [text, foreign, marked] {
        let before = std::fs::read(&path).unwrap();
        let error = Store::open(&path).unwrap_err();
        assert!(matches!(error, StoreError::NotACollection { .. }), "{error}");
        assert_eq!(std::fs::read(&path).unwrap(), before, "{path:?}");
    }
    let error = Store::open(&folder.path().join("no/such/folder.boxward")).unwrap_err();
    assert!(matches!(error, StoreError::Open { .. }), "{error}");
    assert!(Store::open(folder.path()).is_err());
}

#[test]
fn an_empty_file_becomes_a_collection() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("empty.boxward");
    std::fs::write(&path, "").unwrap();
    Store::open(&path).unwrap();
    assert_eq!(pragma(&path, "user_version"), Store::SCHEMA);
}

#[test]
fn processes_wait_for_each_other() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("shared.boxward");
    // Four begin at once on a file that is not there yet, and stage as fast as they can.
    thread::scope(|scope| {
        for n in 0..4_u32 {
            let path = &path;
            scope.spawn(move || {
                let store = Store::open(path).unwrap();
                let mut session = workflow::Session::new();
                for k in 0..25 {
                    let sighting = boxward::source::Sighting {
                        code: Some(boxward::code::Code {
                            gtin: upc(n).parse().unwrap(),
                            add_on: boxward::code::AddOnState::Read(format!("{k:03}11").parse().unwrap()),
                        }),
                        symbology: None,
                        certainty: boxward::code::Certainty::Sure,
                        origin: boxward::source::Origin::Device { name: "handheld".to_owned() },
                        seen_at: now(),
                        evidence: None,
                    };
                    session.stage(&store, &sighting, now()).unwrap();
                    workflow::have(&store, &upc(n)).unwrap();
                }
            });
        }
    });
    let store = Store::open(&path).unwrap();
    assert_eq!(store.items(boxward::store::QueueFilter::Open).unwrap().len(), 100);
    assert_eq!(workflow::runs(&store, 100).unwrap().len(), 4);
}

#[test]
fn an_import_that_was_undone_meanwhile_stops() {
    let home = home();
    let second = home.store.again().unwrap();
    let paths: Vec<_> = (0..9).map(|n| home.photo(&format!("{n}.jpg"), &format!("{} {n:03}11", upc(41)))).collect();
    let mut seen = 0;
    let result = workflow::import(
        &home.store,
        &paths,
        &boxward::picture::Limits::default(),
        &crate::workflow_support::read,
        std::num::NonZeroUsize::MIN,
        &now,
        &mut |_| {
            seen += 1;
            if seen == 3 {
                workflow::undo(&second, None, now()).unwrap();
            }
            std::ops::ControlFlow::Continue(())
        },
    );
    assert!(matches!(result, Err(workflow::WorkflowError::Store(StoreError::Interrupted(_)))), "{result:?}");
    assert_eq!(home.dump(), "");
}
