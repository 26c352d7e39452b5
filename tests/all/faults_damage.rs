//! Damaged files: refused with a word on what to do, left as they are, and repaired as far as can be.
//!
//! The file that is damaged is a collection that was lived in. Which row stands on which page is told by SQLite itself
//! (its dbstat table), not by the code under test.
#![expect(clippy::ptr_arg, reason = "ways of damaging are one type, and some shorten what they damage")]

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use boxward::store::{Lost, Salvaged, Store, StoreError};
use boxward::workflow::{self, WorkflowError};
use rusqlite::types::Value;

use crate::cli_home::Home;
use crate::faults::{Dice, sound};
use crate::life::Life;
use crate::workflow_support::dump;

const PAGE: usize = 4096;

/// A table's rows by their numbers.
type Rows = BTreeMap<i64, Vec<Value>>;

/// A lived-in collection as bytes, its rows, and where they stand.
struct Sample {
    bytes: Vec<u8>,
    tables: BTreeMap<String, Rows>,
    /// The pages that each row stands on, by table; the first is its leaf.
    pages: BTreeMap<String, BTreeMap<i64, BTreeSet<usize>>>,
}

fn sample() -> &'static Sample {
    static SAMPLE: OnceLock<Sample> = OnceLock::new();
    SAMPLE.get_or_init(|| {
        let mut life = Life::new(41, 8);
        for _ in 0..20 {
            life.live();
        }
        life.check();
        let path = life.home.store.path().clone();
        let folder = life.home.folder;
        drop(life.home.store);
        let sql = rusqlite::Connection::open(&path).unwrap();
        // One file, with no log beside it.
        sql.query_row("PRAGMA journal_mode = DELETE", [], |_| Ok(())).unwrap();
        let tables = rows(&sql);
        let pages = tables.iter().map(|(name, rows)| (name.clone(), pages(&sql, name, rows))).collect();
        drop(sql);
        let bytes = fs::read(&path).unwrap();
        drop(folder);
        Sample { bytes, tables, pages }
    })
}

fn rows(sql: &rusqlite::Connection) -> BTreeMap<String, Rows> {
    let names: Vec<String> = sql
        .prepare(
            "SELECT name FROM pragma_table_list WHERE schema = 'main' AND type = 'table' AND name NOT LIKE 'sqlite%'",
        )
        .unwrap()
        .query_map([], |row| row.get(0))
        .unwrap()
        .map(Result::unwrap)
        .collect();
    let of = |name: &String| {
        let mut statement = sql.prepare(&format!("SELECT * FROM {name}")).unwrap();
        let columns = statement.column_count();
        let found = statement
            .query_map([], |row| Ok((row.get(0)?, (0..columns).map(|c| row.get(c)).collect::<Result<_, _>>()?)))
            .unwrap();
        found.map(Result::unwrap).collect()
    };
    names.iter().map(|name| (name.clone(), of(name))).collect()
}

/// The pages of each row by SQLite's own account (sqlite.org/dbstat.html): leaves in the order of rows, each with how many.
fn pages(sql: &rusqlite::Connection, table: &str, rows: &Rows) -> BTreeMap<i64, BTreeSet<usize>> {
    let mut statement = sql
        .prepare(
            "SELECT path, pageno, pagetype, ncell FROM dbstat WHERE name = ?1 AND pagetype <> 'internal' ORDER BY path",
        )
        .unwrap();
    let mut found = statement.query([table]).unwrap();
    let (mut leaves, mut overflow) = (Vec::new(), Vec::new());
    while let Some(row) = found.next().unwrap() {
        let (path, page, kind): (String, u32, String) = (row.get(0).unwrap(), row.get(1).unwrap(), row.get(2).unwrap());
        match kind.as_str() {
            "leaf" => leaves.push((path, page as usize, row.get::<_, u32>(3).unwrap())),
            _ => overflow.push((path, page as usize)),
        }
    }
    let mut pages = BTreeMap::new();
    let mut ids = rows.keys();
    for (path, page, cells) in leaves {
        for cell in 0..cells {
            let own = format!("{path}{cell:03x}+");
            let long = overflow.iter().filter(|(path, _)| path.starts_with(&own)).map(|(_, page)| *page);
            pages.insert(*ids.next().unwrap(), std::iter::once(page).chain(long).collect());
        }
    }
    assert_eq!(pages.len(), rows.len(), "{table}");
    pages
}

/// A damaged copy of the sample, and its damaged pages.
struct Damaged {
    bytes: Vec<u8>,
    pages: BTreeSet<usize>,
}

/// A way of damaging.
type Way = fn(&mut Dice, &mut Vec<u8>);

fn a_bit(dice: &mut Dice, bytes: &mut Vec<u8>) {
    let at = dice.below(bytes.len() as u64) as usize;
    bytes[at] ^= 1 << dice.below(8);
}

fn sixteen_bits(dice: &mut Dice, bytes: &mut Vec<u8>) {
    (0..16).for_each(|_| a_bit(dice, bytes));
}

/// In what says where things are: the header of a page and its list of cells.
fn a_bit_of_a_header(dice: &mut Dice, bytes: &mut Vec<u8>) {
    let page = dice.below((bytes.len() / PAGE) as u64) as usize;
    bytes[page * PAGE + dice.below(40) as usize] ^= 1 << dice.below(8);
}

fn a_page_of_zeros(dice: &mut Dice, bytes: &mut Vec<u8>) {
    let page = dice.below((bytes.len() / PAGE) as u64) as usize;
    bytes[page * PAGE..][..PAGE].fill(0);
}

fn a_page_of_noise(dice: &mut Dice, bytes: &mut Vec<u8>) {
    let page = dice.below((bytes.len() / PAGE) as u64) as usize;
    bytes[page * PAGE..][..PAGE].iter_mut().for_each(|byte| *byte = dice.below(256) as u8);
}

fn a_page_of_another(dice: &mut Dice, bytes: &mut Vec<u8>) {
    let [from, to] = [(); 2].map(|()| dice.below((bytes.len() / PAGE) as u64) as usize * PAGE);
    bytes.copy_within(from..from + PAGE, to);
}

fn eight_pages_of_zeros(dice: &mut Dice, bytes: &mut Vec<u8>) {
    (0..8).for_each(|_| a_page_of_zeros(dice, bytes));
}

fn the_end_cut_off(dice: &mut Dice, bytes: &mut Vec<u8>) {
    let length = dice.below(bytes.len() as u64 - 1) as usize + 1;
    bytes.truncate(length);
}

const WAYS: [(&str, Way); 8] = [
    ("a bit", a_bit),
    ("sixteen bits", sixteen_bits),
    ("a bit of a page's header", a_bit_of_a_header),
    ("a page of zeros", a_page_of_zeros),
    ("a page of noise", a_page_of_noise),
    ("a page of another", a_page_of_another),
    ("eight pages of zeros", eight_pages_of_zeros),
    ("the end cut off", the_end_cut_off),
];

fn damage(way: Way, seed: u64) -> Damaged {
    let whole = &sample().bytes;
    let mut bytes = whole.clone();
    way(&mut Dice(seed), &mut bytes);
    let differs = |page: &usize| {
        let part = |of: &[u8]| of.get((page - 1) * PAGE..(page * PAGE).min(of.len())).map(<[u8]>::to_vec);
        part(whole) != part(&bytes)
    };
    let pages = (1..=whole.len() / PAGE).filter(differs).collect();
    Damaged { bytes, pages }
}

struct Tried {
    folder: tempfile::TempDir,
    salvaged: Salvaged,
}

impl Tried {
    fn saved(&self) -> PathBuf {
        self.folder.path().join("saved.sqlite")
    }
}

/// Repairs a file of these bytes; whatever comes of it, the file stays as it is, and nothing else is left beside it.
fn repair(bytes: &[u8]) -> Result<Tried, WorkflowError> {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("damaged.sqlite");
    fs::write(&path, bytes).unwrap();
    let repaired = workflow::repair(&path, &folder.path().join("saved.sqlite"));
    assert!(fs::read(&path).unwrap() == bytes, "the damaged file was written to");
    let left = fs::read_dir(folder.path()).unwrap().count();
    assert_eq!(left, 1 + usize::from(repaired.is_ok()));
    repaired.map(|repaired| Tried { folder, salvaged: repaired.salvaged })
}

/// How much of the sample's rows is in a repaired file.
#[derive(Default)]
struct Tally {
    files: u32,
    rows: usize,
    saved: usize,
    worst: f64,
}

/// What must hold of a repaired file: it is sound and can be used, has every row whose pages are sound, as it was, and tells of
/// every other.
fn check(damaged: &Damaged, tried: &Tried, tally: &mut Tally, what: &str) {
    let path = tried.saved();
    sound(&path);
    let told = &tried.salvaged;
    let sql = rusqlite::Connection::open(&path).unwrap();
    let here = rows(&sql);
    drop(sql);
    usable(&path, what);
    let (mut all, mut saved) = (0, 0);
    for (table, rows) in sample().tables.iter().filter(|(table, _)| *table != "change") {
        let of = &told.tables[table];
        assert_eq!(of.saved as usize, here[table].len(), "{what}: {table}");
        for (id, row) in rows {
            let pages = &sample().pages[table][id];
            let found = here[table].get(id);
            all += 1;
            saved += usize::from(found.is_some());
            if pages.is_disjoint(&damaged.pages) {
                match (found, of.lost.get(id)) {
                    (Some(found), _) if same(table, row, found) => {}
                    (Some(_), _) => {
                        assert!(of.in_part.contains_key(id), "{what}: {table} {id} is not what it was: {found:?}");
                    }
                    // What it hangs on is lost, or a damaged row has taken its place.
                    (None, Some(Lost::Refers { .. } | Lost::Twice)) => {}
                    (None, why) => {
                        let damaged = &damaged.pages;
                        assert!(
                            told.unplaced > 0,
                            "{what} in {damaged:?}: {table} {id} on {pages:?} is lost: {why:?}, {of:?}"
                        );
                    }
                }
            } else if found.is_none() {
                let perhaps = |(first, last): &(Option<i64>, Option<i64>)| {
                    first.is_none_or(|first| first <= *id) && last.is_none_or(|last| *id <= last)
                };
                assert!(
                    of.lost.contains_key(id) || of.perhaps.iter().any(perhaps) || told.unplaced > 0,
                    "{what}: {table} {id} on {pages:?} is lost and nobody says so"
                );
            }
        }
    }
    let share = saved as f64 / all as f64;
    tally.worst = if tally.files == 0 { share } else { tally.worst.min(share) };
    (tally.files, tally.rows, tally.saved) = (tally.files + 1, tally.rows + all, tally.saved + saved);
}

/// The same row, but for what is made consistent with others.
fn same(table: &str, before: &[Value], after: &[Value]) -> bool {
    let settable = match table {
        // Waits again if its copy is lost; is to be filed again if its box is.
        "item" => Some(14),
        "copy" => Some(7),
        _ => None,
    };
    before.len() == after.len()
        && before.iter().zip(after).enumerate().all(|(at, (before, after))| before == after || settable == Some(at))
}

/// Everything can be read that commands read.
fn usable(path: &Path, what: &str) {
    let store = Store::open(path).unwrap();
    let mut copies = Vec::new();
    let each = &mut |copy: boxward::collection::CopyRecord| {
        copies.push(copy);
        Ok::<_, WorkflowError>(())
    };
    let read = || -> Result<(), WorkflowError> {
        store.export(&mut std::io::sink()).map_err(workflow::ExportError::from)?;
        workflow::each_copy(&store, &workflow::Selection::default(), boxward::store::CopyOrder::Title, each)?;
        let today = jiff::civil::date(2026, 3, 4);
        workflow::pile(&store, today)?;
        workflow::pile_list(&store, 100)?;
        workflow::box_list(&store)?;
        workflow::want_list(&store, true)?;
        workflow::pull_list(&store, "2026-W10".parse().unwrap(), Some(4))?;
        workflow::month_limits(&store, today)?;
        workflow::list_presets(&store)?;
        workflow::runs(&store, 10_000)?;
        for state in boxward::intake::ItemState::ALL {
            workflow::queue_list(&store, boxward::store::QueueFilter::State(state))?;
        }
        workflow::title_list(&store, "", 0, 1_000)?;
        workflow::resolve(
            &store,
            &boxward::resolve::Answers::none(),
            &Default::default(),
            None,
            crate::workflow_support::now(),
        )?;
        Ok(())
    }();
    read.unwrap_or_else(|error| panic!("{what}: {:?}", workflow::messages(&error)));
}

/// Whether no record has all its pages any more.
fn nothing_left(damaged: &Damaged) -> bool {
    let records = sample().pages.iter().filter(|(table, _)| *table != "change").flat_map(|(_, rows)| rows.values());
    records.into_iter().all(|pages| !pages.is_disjoint(&damaged.pages))
}

fn damage_and_repair(times: u64, seed: u64) {
    for (name, way) in WAYS {
        let mut tally = Tally::default();
        let mut refused = 0;
        for round in 0..times {
            let seed = seed + round;
            let what = format!("{name}, seed {seed}");
            let damaged = damage(way, seed);
            match repair(&damaged.bytes) {
                Ok(tried) => check(&damaged, &tried, &mut tally, &what),
                Err(WorkflowError::Store(StoreError::NotACollection { .. })) if nothing_left(&damaged) => refused += 1,
                // Of a header's bits those of the schema's number may say that a newer program wrote it.
                Err(error) => panic!("{what}: {error}"),
            }
        }
        println!(
            "{name}: {} files repaired, {refused} without a record left; {:.2} % of {} records saved, at worst {:.1} %",
            tally.files,
            100.0 * tally.saved as f64 / tally.rows.max(1) as f64,
            tally.rows,
            100.0 * tally.worst
        );
    }
}

#[test]
fn what_is_sound_of_a_damaged_file_is_saved() {
    damage_and_repair(6, 1);
}

/// The only page of a table without indexes held another table's rows, which could have been its own.
#[test]
fn another_tables_page_does_not_hide_what_is_lost() {
    let seed = 10_017;
    let damaged = damage(a_page_of_another, seed);
    let tried = repair(&damaged.bytes).unwrap();
    check(&damaged, &tried, &mut Tally::default(), &format!("a page of another, seed {seed}"));
}

/// `cargo test --test all -- --ignored --nocapture files_damaged_many_times`
#[test]
#[ignore = "takes minutes"]
fn files_damaged_many_times_are_repaired() {
    damage_and_repair(150, 10_000);
}

#[test]
fn a_file_that_is_not_damaged_comes_out_the_same() {
    let tried = repair(&sample().bytes).unwrap();
    assert!(tried.salvaged.whole() && tried.salvaged.journal, "{:#?}", tried.salvaged);
    let before = tried.folder.path().join("damaged.sqlite");
    assert_eq!(dump(&tried.saved()), dump(&before));
    // Its journal too: all of it can be taken back.
    let store = Store::open(&tried.saved()).unwrap();
    while workflow::undo(&store, None, crate::workflow_support::now()).is_ok() {}
    assert_eq!(dump(&tried.saved()), "");
}

#[test]
fn a_title_page_that_is_gone_takes_no_copy_with_it() {
    let titles = &sample().pages["title"];
    let pages: BTreeSet<usize> = titles.values().flatten().copied().collect();
    let mut bytes = sample().bytes.clone();
    pages.iter().for_each(|page| bytes[(page - 1) * PAGE..][..PAGE].fill(0));
    let tried = repair(&bytes).unwrap();
    let told = &tried.salvaged.tables;
    assert_eq!((told["title"].lost.len(), told["copy"].lost.len()), (0, 0));
    assert_eq!(told["title"].saved as usize, sample().tables["title"].len());
    assert!(!told["title"].in_part.is_empty());
    // An index has kept the words that they are found by.
    let store = Store::open(&tried.saved()).unwrap();
    assert_eq!(workflow::have(&store, "amber anvil 1").unwrap().titles.len(), 1);
}

/// A page of the schema that has become a copy of a table's: both trees lead to that table's rows.
#[test]
fn a_page_of_the_schema_that_names_other_rows_hides_none_of_them() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("whole.sqlite");
    fs::write(&path, &sample().bytes).unwrap();
    let sql = rusqlite::Connection::open(&path).unwrap();
    let page = |of: &str| -> u32 {
        sql.query_row(&format!("SELECT pageno FROM dbstat WHERE {of}"), [], |row| row.get(0)).unwrap()
    };
    let from = page("name = 'printing' AND pagetype = 'internal'") as usize;
    let to = page("name = 'sqlite_schema' AND pagetype = 'leaf'") as usize;
    let mut bytes = sample().bytes.clone();
    bytes.copy_within((from - 1) * PAGE..from * PAGE, (to - 1) * PAGE);
    let damaged = Damaged { bytes, pages: BTreeSet::from([to]) };
    let tried = repair(&damaged.bytes).unwrap();
    check(&damaged, &tried, &mut Tally::default(), "a page of the schema");
}

/// Within a tree SQLite keeps no empty leaf: one that is there has come from elsewhere.
#[test]
fn an_empty_leaf_in_a_tree_is_a_hole() {
    let runs = &sample().pages["run"];
    let (last, page) = runs.iter().map(|(id, pages)| (*id, *pages.first().unwrap())).next_back().unwrap();
    let mut bytes = sample().bytes.clone();
    let leaf = &mut bytes[(page - 1) * PAGE..][..PAGE];
    leaf.fill(0);
    // An empty leaf whose cells would begin at its end.
    (leaf[0], leaf[5]) = (13, 0x10);
    let damaged = Damaged { bytes, pages: BTreeSet::from([page]) };
    let tried = repair(&damaged.bytes).unwrap();
    check(&damaged, &tried, &mut Tally::default(), "an empty leaf");
    assert!(!tried.salvaged.whole(), "run {last} is gone and nobody says so");
}

/// A table that seems empty, though an index knows of its rows.
#[test]
fn an_empty_table_whose_index_has_rows_is_not_believed() {
    let rows = &sample().pages["loan"];
    let pages: BTreeSet<usize> = rows.values().flatten().copied().collect();
    let page = *pages.first().unwrap();
    assert_eq!(pages.len(), 1);
    let mut bytes = sample().bytes.clone();
    let leaf = &mut bytes[(page - 1) * PAGE..][..PAGE];
    leaf.fill(0);
    (leaf[0], leaf[5]) = (13, 0x10);
    let tried = repair(&bytes).unwrap();
    let told = &tried.salvaged.tables["loan"];
    assert_eq!((told.saved, told.lost.len()), (0, rows.len()), "{told:?}");
}

#[test]
fn what_was_written_last_is_read_from_the_log() {
    let home = Home::new();
    let ran = home.shell("printf '614141001040 01211\\n' | boxward scan --handheld --collection c.sqlite --quiet");
    assert_eq!(ran.code, 0, "{}", ran.out);
    let path = home.path().join("c.sqlite");
    // As a killed process leaves it: the last item is in the log alone.
    let store = Store::open(&path).unwrap();
    workflow::queue_set(
        &store,
        boxward::intake::ItemId::new(1),
        &workflow::QueueChange { note: Some("the last word".to_owned()), ..workflow::QueueChange::default() },
        crate::workflow_support::now(),
    )
    .unwrap();
    for end in ["", "-wal"] {
        fs::copy(format!("{}{end}", path.display()), home.path().join(format!("d.sqlite{end}"))).unwrap();
    }
    drop(store);
    let repaired = workflow::repair(&home.path().join("d.sqlite"), &home.path().join("saved.sqlite")).unwrap();
    assert!(!repaired.log_lost && repaired.salvaged.whole());
    let saved = Store::open(&home.path().join("saved.sqlite")).unwrap();
    assert_eq!(saved.item(boxward::intake::ItemId::new(1)).unwrap().note, "the last word");
    // A log that is noise is told of, or has nothing in it that was committed.
    fs::write(home.path().join("d.sqlite-wal"), [7; 5000]).unwrap();
    workflow::repair(&home.path().join("d.sqlite"), &home.path().join("again.sqlite")).unwrap();
}

#[test]
fn what_is_no_collection_is_not_repaired() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    fs::write(path("text"), "words, and more of them".repeat(1000)).unwrap();
    fs::write(path("empty"), "").unwrap();
    let sql = |name: &str, text: &str| rusqlite::Connection::open(path(name)).unwrap().execute_batch(text).unwrap();
    sql("foreign", "CREATE TABLE song (id INTEGER PRIMARY KEY, name TEXT); INSERT INTO song VALUES (1, 'x')");
    fs::write(path("newer"), &sample().bytes).unwrap();
    sql("newer", "CREATE TABLE planet (id INTEGER PRIMARY KEY) STRICT; PRAGMA user_version = 99");
    for name in ["text", "empty", "foreign", "newer"] {
        let before = fs::read(path(name)).unwrap();
        let error = workflow::repair(&path(name), &path("saved")).unwrap_err();
        let text = error.to_string();
        assert!(text.contains(path(name).to_str().unwrap()), "{text}");
        let expected = match error {
            WorkflowError::Store(StoreError::NotACollection { .. }) => name != "newer",
            WorkflowError::Store(StoreError::Newer { found: 99, .. }) => name == "newer",
            _ => false,
        };
        assert!(expected, "{name}: {text}");
        assert!(fs::read(path(name)).unwrap() == before && !path("saved").exists());
    }
    // What is there already stays.
    fs::write(path("saved"), "mine").unwrap();
    assert!(matches!(workflow::repair(&path("newer"), &path("saved")), Err(WorkflowError::Repair(_))));
    assert_eq!(fs::read(path("saved")).unwrap(), b"mine");
}

/// Every command on damaged files: done, or refused with the file's name and what to do; the file stays.
fn refused(times: u64, seed: u64) {
    let home = Home::new();
    let path = home.path().join("c.sqlite");
    let commands: [&[&str]; 9] = [
        &["pile", "list"],
        &["copy", "list"],
        &["have", "amber", "anvil", "1"],
        &["title", "list"],
        &["box", "list"],
        &["queue", "list"],
        &["undo", "--list"],
        &["spend", "--by", "title"],
        &["export", "-"],
    ];
    let (mut tried, mut failed) = (0, 0);
    for (name, way) in WAYS {
        for round in 0..times {
            let damaged = damage(way, seed + round);
            fs::write(&path, &damaged.bytes).unwrap();
            for command in commands.iter().skip(round as usize % 3).step_by(3) {
                let arguments = command.iter().copied().filter(|word| *word != "list" || command[0] != "pile");
                let ran = home.run(arguments.chain(["--collection", "c.sqlite"]));
                let what = format!("{name}, seed {}, {command:?}: {}", seed + round, ran.err);
                tried += 1;
                assert!((0..=4).contains(&ran.code), "{what}");
                if ran.code >= 3 {
                    failed += 1;
                    let remedy = ["boxward repair", "newer boxward", "another file"];
                    assert!(ran.err.contains("c.sqlite"), "{what}");
                    assert!(remedy.iter().any(|remedy| ran.err.contains(remedy)), "{what}");
                    // A file without a log is switched to one when it is opened; that alone may have been done.
                    let now = fs::read(&path).unwrap();
                    let rest = |bytes: &[u8]| bytes.get(100..).map(<[u8]>::to_vec);
                    assert!(rest(&now) == rest(&damaged.bytes), "{what}");
                }
                for end in ["-wal", "-shm"] {
                    let _ = fs::remove_file(format!("{}{end}", path.display()));
                }
                fs::write(&path, &damaged.bytes).unwrap();
            }
        }
    }
    println!("{tried} commands on damaged files, {failed} of them refused");
    assert!(failed * 5 > tried, "{failed} of {tried}");
}

#[test]
fn commands_refuse_damaged_files_and_say_what_to_do() {
    refused(3, 1);
}

/// `cargo test --test all -- --ignored --nocapture commands_on_many`
#[test]
#[ignore = "takes minutes"]
fn commands_on_many_damaged_files() {
    refused(60, 20_000);
}
