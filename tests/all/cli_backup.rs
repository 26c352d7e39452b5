//! Backups and restores that are killed: a backup that has its name is whole, and of the collection nothing is lost.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Stdio;
use std::time::{Duration, Instant};

use boxward::store::{BackupFile, Contents};

use crate::cli_home::Home;
use crate::faults::{Scene, kill};
use crate::workflow_support::upc;

/// A backup of a collection that has one already.
pub fn backup_scene() -> Scene {
    let home = Home::new();
    filled(&home);
    finish(&home, &["--to", "c.backups"]);
    let promised = |home: &Home, _: &[String]| named(home).iter().for_each(|path| drop(contents(path)));
    Scene { promised, ..Scene::new("backup", home, &["backup"]) }
}

/// A backup brought back over a collection that has gone on.
pub fn restore_scene() -> Scene {
    let home = Home::new();
    filled(&home);
    finish(&home, &["--to", "c.backups"]);
    fs::copy(named(&home).first().unwrap(), home.path().join("old.sqlite")).unwrap();
    let ran = home.shell("printf '614141001040 00111\\n' | boxward scan --handheld --collection c.sqlite --quiet");
    assert_eq!(ran.code, 0, "{}", ran.out);
    let promised = |home: &Home, _: &[String]| named(home).iter().for_each(|path| drop(contents(path)));
    Scene { promised, ..Scene::new("restore", home, &["backup", "restore", "old.sqlite"]) }
}

/// A collection large enough that a copy takes a while.
fn filled(home: &Home) {
    let lines: String = (0..40).map(|n| format!("{} 00111\n", upc(100 + n))).collect();
    fs::write(home.path().join("codes"), lines).unwrap();
    let ran = home.shell("boxward scan --handheld --collection c.sqlite --quiet < codes");
    assert_eq!(ran.code, 0, "{}", ran.out);
    let connection = rusqlite::Connection::open(home.path().join("c.sqlite")).unwrap();
    connection.execute("INSERT INTO crop (id, png) SELECT id, randomblob(100000) FROM item", []).unwrap();
}

fn run(home: &Home, arguments: &[&str]) -> std::process::Child {
    let mut command = home.command(env!("CARGO_BIN_EXE_boxward"));
    command.args(["--collection", "c.sqlite", "backup"]).args(arguments);
    command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap()
}

fn finish(home: &Home, arguments: &[&str]) -> String {
    let output = run(home, arguments).wait_with_output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

fn named(home: &Home) -> BTreeSet<PathBuf> {
    let Ok(entries) = fs::read_dir(home.path().join("c.backups")) else { return BTreeSet::new() };
    entries.map(|entry| entry.unwrap().path()).filter(|path| path.extension().is_some_and(|e| e == "sqlite")).collect()
}

/// What a file holds; it must be whole.
fn contents(path: &Path) -> Contents {
    BackupFile::open(path).and_then(|file| file.verify()).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

/// How long the command takes when nobody kills it.
fn time_of(home: &Home, arguments: &[&str]) -> Duration {
    let begun = Instant::now();
    finish(home, arguments);
    begun.elapsed()
}

#[test]
fn a_backup_killed_at_many_moments_leaves_only_whole_ones() {
    let home = Home::new();
    filled(&home);
    let collection = home.path().join("c.sqlite");
    let state = contents(&collection);
    let long = time_of(&home, &["--keep", "100"]);
    let mut killed = 0;
    for round in 0..20 {
        killed += u32::from(kill(run(&home, &["--keep", "100"]), 0, long * round / 20).1);
        for path in named(&home) {
            assert!(contents(&path) == state, "{} holds something else", path.display());
        }
    }
    assert!(killed >= 5, "only {killed} were killed");
    assert!(contents(&collection) == state);
    // The next one clears away what they left, and none of them.
    let before = named(&home);
    finish(&home, &["--keep", "100"]);
    assert_eq!(named(&home).len(), before.len() + 1);
    let partial = fs::read_dir(home.path().join("c.backups"))
        .unwrap()
        .filter(|entry| entry.as_ref().unwrap().path().extension().is_some_and(|e| e == "partial"));
    assert_eq!(partial.count(), 0);
}

#[test]
fn a_restore_killed_at_many_moments_leaves_the_old_or_the_new() {
    let home = Home::new();
    filled(&home);
    let collection = home.path().join("c.sqlite");
    let old = contents(&collection);
    let backup = home.path().join("old.sqlite");
    finish(&home, &["--to", "c.backups"]);
    fs::copy(named(&home).first().unwrap(), &backup).unwrap();
    fs::remove_dir_all(home.path().join("c.backups")).unwrap();
    let ran = home.shell("printf '614141001040 00111\\n' | boxward scan --handheld --collection c.sqlite --quiet");
    assert_eq!(ran.code, 0, "{}", ran.out);
    let new = contents(&collection);
    assert!(old != new);
    let newer = home.path().join("new.sqlite");
    finish(&home, &["--to", "c.backups"]);
    fs::copy(named(&home).first().unwrap(), &newer).unwrap();
    let restore = ["restore", "old.sqlite", "--to", "c.backups"];
    let long = time_of(&home, &restore);
    finish(&home, &["restore", "new.sqlite", "--to", "c.backups"]);
    let mut seen = [0, 0];
    for round in 0..24 {
        kill(run(&home, &restore), 0, long * round / 20);
        let state = contents(&collection);
        assert!(state == old || state == new, "neither the old nor the new");
        seen[usize::from(state == old)] += 1;
        let kept: Vec<_> = named(&home).iter().map(|path| contents(path)).collect();
        if state == old {
            // What was overwritten is kept.
            assert!(kept.contains(&new));
            finish(&home, &["restore", "new.sqlite", "--to", "c.backups"]);
        }
    }
    assert!(seen[0] >= 5, "{seen:?}");
}
