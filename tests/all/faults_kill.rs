//! Every command that writes, killed (SIGKILL) at random moments.

use std::fs;
use std::path::Path;

use crate::cli_home::Home;
use crate::faults::{COLLECTION, Scene};
use crate::scan_replay::take;
use crate::simulated::{FILM_FPS, film};
use crate::workflow_support::upc;
use crate::{cli_backup, cli_import};

/// Titles whose books the scenes are about.
const TITLES: u32 = 4;

fn quiet(home: &Home, line: &str) {
    let ran = home.shell(&format!("boxward --collection {COLLECTION} --quiet {line}"));
    assert_eq!(ran.code, 0, "{line}: {}", ran.out);
}

/// A queue of so many books of each title, and a file of answers for them.
fn queued(books: u32) -> Home {
    let home = Home::new();
    let mut lines = String::new();
    for title in 0..TITLES {
        lines.extend((1..=books).map(|issue| format!("{} {issue:03}11\n", upc(100 + title))));
    }
    fs::write(home.path().join("codes"), lines).unwrap();
    quiet(&home, "scan --handheld < codes > /dev/null");
    let ran = home.shell(&format!(
        "boxward --collection {COLLECTION} resolve --json | \
         sed 's/\"title\":null,\"publisher\":null/\"title\":\"CODE\",\"publisher\":\"Lantern Row\"/; \
         s/\"layout\":null/\"layout\":\"IIICP\"/; s/\\(.*\"code\":\"\\([0-9]*\\)\".*\\)\"CODE\"/\\1\"Title \\2\"/' > answers"
    ));
    assert_eq!(ran.out, "");
    home
}

/// The same, with more done.
fn then(home: &Home, lines: &[&str]) -> Home {
    let home = home.copy();
    lines.iter().for_each(|line| quiet(&home, &format!("{line} > /dev/null")));
    home
}

fn resolved(queued: &Home) -> Home {
    then(queued, &["resolve --answers answers --date 2026-03-04 --paid '3.99 USD'"])
}

/// All read, and a box for them.
fn read(resolved: &Home) -> Home {
    let lines: Vec<String> = (0..TITLES).map(|title| format!("pile read title {} 1-999", upc(100 + title))).collect();
    let lines: Vec<&str> = lines.iter().map(String::as_str).chain(["box add A --for rest"]).collect();
    then(resolved, &lines)
}

fn planned(read: &Home) -> Home {
    then(read, &["file plan"])
}

/// A list of so many rows, half of them about titles that are known.
fn with_list(resolved: &Home, rows: u32) -> Home {
    let home = resolved.copy();
    let row = |n: u32| {
        let code = upc(100 + n % (2 * TITLES));
        format!("Title {code},Lantern Row,2019,{},1,1,{code} {:03}11,32\n", 100 + n / 8, 100 + n / 8)
    };
    let text: String = (0..rows).map(row).collect();
    let head = "title,publisher,year,issue,cover,printing,code,pages\n";
    fs::write(home.path().join("list.csv"), format!("{head}{text}")).unwrap();
    home
}

/// A file of schema 1 with many titles more.
fn old(titles: u32) -> Home {
    let home = Home::new();
    let sql = rusqlite::Connection::open(home.path().join(COLLECTION)).unwrap();
    sql.execute_batch(include_str!("../fixtures/collection_1.sql")).unwrap();
    sql.execute_batch(&format!(
        "WITH RECURSIVE n (n) AS (SELECT 1000 UNION ALL SELECT n + 1 FROM n WHERE n < 1000 + {titles}) \
         INSERT INTO title (id, name, search_key) SELECT n, 'Old ' || n, 'old ' || n FROM n; \
         INSERT INTO issue (title, number, sort_key) SELECT id, '1.5', '00000001.00000005' FROM title WHERE id >= 1000"
    ))
    .unwrap();
    home
}

fn exported(resolved: &Home) -> Home {
    let full = then(resolved, &["export data.jsonl"]);
    let home = Home::new();
    fs::copy(full.path().join("data.jsonl"), home.path().join("data.jsonl")).unwrap();
    home
}

fn frames(books: usize) -> Home {
    let home = Home::new();
    take(&film(11, books), &home.path().join("frames"));
    home
}

/// Each printed line's item is in the queue.
fn items_are_there(home: &Home, lines: &[String]) {
    if lines.is_empty() {
        return;
    }
    let store = boxward::store::Store::open(&home.path().join(COLLECTION)).unwrap();
    for line in lines {
        let line: serde_json::Value = serde_json::from_str(line).unwrap();
        if let Some(item) = line["result"]["item"].as_i64().or(line["item"].as_i64()) {
            store.item(boxward::intake::ItemId::new(item)).unwrap_or_else(|e| panic!("item {item} was reported: {e}"));
        }
    }
}

/// What a session had staged is taken back before it is held again.
fn take_back(home: &Home) {
    let ran = home.shell(&format!("boxward --collection {COLLECTION} undo"));
    assert!(ran.code == 0 || ran.out.contains("nothing is left") || ran.out.contains("no collection"), "{}", ran.out);
}

/// Every scene; the size of what each does is chosen so that it takes some tens of milliseconds.
pub fn scenes() -> Vec<Scene> {
    let fps = FILM_FPS.to_string();
    let mut scan = Scene::new("scan", frames(3), &["scan", "--json", "--replay", "frames", "--fps", &fps]);
    (scan.promised, scan.before_again, scan.at_once) = (items_are_there, take_back, false);
    let queued = queued(60);
    let resolved = resolved(&queued);
    let read = read(&resolved);
    let planned = planned(&read);
    let answer = ["resolve", "--answers", "answers", "--paid", "3.99 USD", "--json"];
    vec![
        cli_import::scene(),
        scan,
        Scene::new("pile read", resolved.copy(), &["pile", "read", "title", &upc(100), "1-60"]),
        Scene::new("copy set", resolved.copy(), &["copy", "set", "--unread", "--bag", "polyester"]),
        Scene::new("catalogue import", with_list(&resolved, 800), &["catalogue", "import", "list.csv", "--quiet"]),
        Scene::new("import of data", exported(&resolved), &["import", "--collection-data", "data.jsonl"]),
        Scene::new("undo", resolved, &["undo", "2"]),
        Scene::new("resolve", queued, &answer),
        Scene::new("file plan", read, &["file", "plan"]),
        Scene::new("file done", planned, &["file", "done"]),
        Scene::new("migration", old(2_000), &["queue", "list", "--json"]),
        cli_backup::backup_scene(),
        cli_backup::restore_scene(),
    ]
}

#[test]
fn killed_at_some_moments_every_command_keeps_what_it_reported_and_goes_on() {
    let running: u32 = scenes().iter().zip(1..).map(|(scene, seed)| scene.kill(2, seed)).sum();
    assert!(running >= 9, "only {running} were killed at work");
}

/// `cargo test --test all -- --ignored --nocapture hundreds_of_moments`
#[test]
#[ignore = "takes minutes"]
fn killed_at_hundreds_of_moments() {
    let scenes = scenes();
    let running: u32 = scenes.iter().zip(1..).map(|(scene, seed)| scene.kill(60, 1_000 + seed)).sum();
    println!("{} kills, {running} of them at work", 60 * scenes.len());
    assert!(running as usize >= 20 * scenes.len());
}

#[test]
#[should_panic(expected = "half of it was done")]
fn half_of_a_command_is_seen() {
    let scene = Scene::new("file done", planned(&read(&resolved(&queued(3)))), &["file", "done"]);
    let calm = scene.undisturbed();
    let home = scene.start.copy();
    let sql = rusqlite::Connection::open(home.path().join(COLLECTION)).unwrap();
    sql.execute("DELETE FROM walk_step WHERE id = 1", []).unwrap();
    scene.check(&home, &[], &calm);
}

#[test]
#[should_panic(expected = "was reported and is lost")]
fn a_lost_item_is_seen() {
    let scene = cli_import::scene();
    let calm = scene.undisturbed();
    let home = scene.start.copy();
    let ran = scene.run(&home);
    let sql = rusqlite::Connection::open(home.path().join(COLLECTION)).unwrap();
    sql.execute_batch("PRAGMA foreign_keys = OFF; DELETE FROM crop WHERE id = 5; DELETE FROM item WHERE id = 5")
        .unwrap();
    drop(sql);
    let lines: Vec<String> = ran.out.lines().map(str::to_owned).collect();
    scene.check(&home, &lines, &calm);
}

/// The folder of the example stack.
pub fn stack() -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/stack")
}
