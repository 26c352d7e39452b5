//! An import that is killed, and two at once: what was reported as staged is in the queue, and nothing is there twice.

use std::collections::BTreeMap;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Stdio};
use std::thread::sleep;
use std::time::Duration;

use boxward::intake::ItemId;
use boxward::source::Origin;
use boxward::store::Store;
use serde_json::Value;

use crate::cli_home::Home;

/// Codes and empty photos that the example stack's photos hold, each once; one book is on two photos.
const SIGHTINGS: usize = 26;
const PHOTOS: usize = 24;

fn stack() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/stack")
}

fn start(home: &Home) -> Child {
    let mut command = home.command(env!("CARGO_BIN_EXE_boxward"));
    command.args(["import", "--json", "--collection", "c.sqlite"]).arg(stack());
    command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap()
}

/// Photo and position of each sighting that an item or a repeat of the queue stands for, with how often.
pub fn sightings(store: &Store) -> BTreeMap<(PathBuf, u32), usize> {
    let connection = rusqlite::Connection::open(store.path()).unwrap();
    let verdict: String = connection.query_row("PRAGMA integrity_check", [], |row| row.get(0)).unwrap();
    assert_eq!(verdict, "ok");
    let last: i64 = connection.query_row("SELECT coalesce(max(id), 0) FROM item", [], |row| row.get(0)).unwrap();
    let mut found = BTreeMap::new();
    for id in 1..=last {
        let Ok(item) = store.item(ItemId::new(id)) else { continue };
        let Origin::Photo { path, position, .. } = item.origin else { panic!("item {id} came from no photo") };
        *found.entry((path, position)).or_default() += 1;
        for again in item.seen_again {
            *found.entry((again.path.unwrap(), again.position.unwrap())).or_default() += 1;
        }
    }
    found
}

/// Everything that a line of the import's output promises.
fn promised(line: &str) -> Vec<(PathBuf, i64)> {
    let line: Value = serde_json::from_str(line).unwrap();
    let Some(path) = line["path"].as_str() else { return Vec::new() };
    let mut items: Vec<i64> = line["item"].as_i64().into_iter().collect();
    for list in ["staged", "seen_again"] {
        items.extend(line[list].as_array().into_iter().flatten().map(|new| new["item"].as_i64().unwrap()));
    }
    items.into_iter().map(|item| (PathBuf::from(path), item)).collect()
}

/// Kills the import after so many lines and a little longer; gives what its complete lines promised.
fn kill_after(mut import: Child, lines: usize, more: Duration) -> Vec<(PathBuf, i64)> {
    let mut output = BufReader::new(import.stdout.take().unwrap());
    let mut all = Vec::new();
    let mut next = |all: &mut Vec<_>| {
        let mut line = String::new();
        let complete = output.read_line(&mut line).unwrap() > 0 && line.ends_with('\n');
        if complete {
            all.extend(promised(&line));
        }
        complete
    };
    for _ in 0..lines {
        if !next(&mut all) {
            break;
        }
    }
    sleep(more);
    import.kill().unwrap();
    import.wait().unwrap();
    while next(&mut all) {}
    all
}

fn check(home: &Home, promised: &[(PathBuf, i64)]) -> usize {
    let store = Store::open(&home.path().join("c.sqlite")).unwrap();
    let found = sightings(&store);
    assert!(found.values().all(|&times| times == 1), "{found:#?}");
    for (path, item) in promised {
        store.item(ItemId::new(*item)).unwrap_or_else(|e| panic!("item {item} was reported and is lost: {e}"));
        assert!(found.keys().any(|(photo, _)| photo == path), "{} was reported and is lost", path.display());
    }
    found.len()
}

fn finish(home: &Home) {
    let output = start(home).wait_with_output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
}

#[test]
fn killed_at_many_moments_it_keeps_what_it_reported_and_goes_on() {
    let home = Home::new();
    let mut all = Vec::new();
    // Each round gets a few photos further; the moments within a transaction differ from run to run.
    for round in 0..14_u64 {
        let more = Duration::from_micros(round * 7919 % 60_000);
        all.extend(kill_after(start(&home), 1 + round as usize * 2, more));
        let reached = check(&home, &all);
        assert!(round > 3 || reached < SIGHTINGS, "the import was over before it was killed");
    }
    finish(&home);
    assert_eq!(check(&home, &all), SIGHTINGS);
    finish(&home);
    assert_eq!(check(&home, &all), SIGHTINGS);
}

#[test]
fn killed_while_the_collection_is_made_it_can_start_again() {
    for round in 0..20 {
        let home = Home::new();
        let promised = kill_after(start(&home), 0, Duration::from_micros(round * 1_500));
        check(&home, &promised);
    }
}

#[test]
fn two_imports_at_once_both_succeed() {
    let home = Home::new();
    let both = [start(&home), start(&home)];
    let outputs = both.map(|import| import.wait_with_output().unwrap());
    let mut all = Vec::new();
    let mut known = 0;
    for output in &outputs {
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        let text = std::str::from_utf8(&output.stdout).unwrap();
        assert_eq!(text.lines().count(), PHOTOS + 1);
        all.extend(text.lines().flat_map(promised));
        let summary: Value = serde_json::from_str(text.lines().last().unwrap()).unwrap();
        assert_eq!(summary["summary"]["files"], PHOTOS);
        known += summary["summary"]["known"].as_u64().unwrap() as usize;
    }
    assert_eq!(known, PHOTOS, "each photo is new to one of the two and known to the other");
    assert_eq!(check(&home, &all), SIGHTINGS);
}

#[test]
#[should_panic(expected = "was reported and is lost")]
fn a_lost_item_is_seen() {
    let home = Home::new();
    let output = start(&home).wait_with_output().unwrap();
    let all: Vec<_> = std::str::from_utf8(&output.stdout).unwrap().lines().flat_map(promised).collect();
    check(&home, &all);
    let connection = rusqlite::Connection::open(home.path().join("c.sqlite")).unwrap();
    connection.execute_batch("PRAGMA foreign_keys = OFF; DELETE FROM item WHERE id = 5").unwrap();
    check(&home, &all);
}
