//! An import as the tests of faults see it, and two at once: what was reported as staged is in the queue, and nothing is there
//! twice.

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::process::{Child, Stdio};

use boxward::intake::ItemId;
use boxward::source::Origin;
use boxward::store::Store;
use serde_json::Value;

use crate::cli_home::Home;
use crate::faults::Scene;
use crate::faults_kill::stack;

/// Codes and empty photos that the example stack's photos hold, each once; one book is on two photos.
const SIGHTINGS: usize = 26;
const PHOTOS: usize = 24;

/// An import of photos, one of which shows the book of the one before it.
pub fn scene() -> Scene {
    let home = Home::new();
    std::fs::create_dir(home.path().join("photos")).unwrap();
    for photo in ["photo-01.jpg", "photo-02.jpg", "photo-05.jpg", "photo-20.jpg", "photo-21.jpg", "photo-24.jpg"] {
        std::fs::copy(stack().join(photo), home.path().join("photos").join(photo)).unwrap();
    }
    let promised = |home: &Home, lines: &[String]| {
        let promised: Vec<_> = lines.iter().flat_map(|line| promised(line)).collect();
        check(home, &promised);
    };
    let scene = Scene::new("import", home, &["import", "--json", "--jobs", "2", "photos"]);
    Scene { promised, at_once: false, same_runs: true, ..scene }
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
pub fn promised(line: &str) -> Vec<(PathBuf, i64)> {
    let line: Value = serde_json::from_str(line).unwrap();
    let Some(path) = line["path"].as_str() else { return Vec::new() };
    let mut items: Vec<i64> = line["item"].as_i64().into_iter().collect();
    for list in ["staged", "seen_again"] {
        items.extend(line[list].as_array().into_iter().flatten().map(|new| new["item"].as_i64().unwrap()));
    }
    items.into_iter().map(|item| (PathBuf::from(path), item)).collect()
}

/// What was promised is there, and nothing twice; how many sightings there are.
pub fn check(home: &Home, promised: &[(PathBuf, i64)]) -> usize {
    let path = home.path().join("c.sqlite");
    if promised.is_empty() && !path.exists() {
        return 0;
    }
    let store = Store::open(&path).unwrap();
    let found = sightings(&store);
    assert!(found.values().all(|&times| times == 1), "{found:#?}");
    for (path, item) in promised {
        store.item(ItemId::new(*item)).unwrap_or_else(|e| panic!("item {item} was reported and is lost: {e}"));
        let path = std::path::absolute(home.path().join(path)).unwrap();
        assert!(found.keys().any(|(photo, _)| *photo == path), "{} was reported and is lost", path.display());
    }
    found.len()
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
