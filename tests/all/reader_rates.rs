//! Reading by rates: for each folder of pictures at least so many right, none wrong, and the add-on's state as it is.
//!
//! The example stack is always there. The photos of an open-source decoder's test set (Apache-2.0) are used when their
//! folder is beside the checkout, or named by BOXWARD_PHOTOS; they measure the reader on pictures not made by us.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use boxward::picture::{Limits, load};
use boxward::reader::{Symbol, read};

/// One picture and what is truly in it.
struct Trial {
    path: String,
    /// Empty: nothing may be read.
    main: String,
    /// Empty: not scored.
    add_on: String,
    /// Codes that are in the picture, too.
    also: Vec<String>,
    /// `read`, `absent`, `unread`; empty: not scored.
    state: String,
    /// Further codes with their add-ons that must be read.
    more: Vec<String>,
}

fn trials(root: &Path) -> Vec<Trial> {
    let text = fs::read_to_string(root.join("truth.tsv")).unwrap();
    text.lines()
        .filter(|line| !line.starts_with('#'))
        .map(|line| {
            let fields: Vec<&str> = line.split('\t').collect();
            let field = |i: usize| fields.get(i).copied().unwrap_or_default().to_owned();
            let words = |i: usize| field(i).split_whitespace().map(str::to_owned).collect();
            Trial { path: field(0), main: field(1), add_on: field(2), also: words(3), state: field(4), more: words(5) }
        })
        .collect()
}

#[derive(Default)]
struct Tally {
    pictures: usize,
    right: usize,
    /// What was read and is not there, or stands otherwise in the picture.
    wrong: Vec<String>,
    /// What is there and was not read.
    missed: Vec<String>,
}

fn tally(root: &Path, folder_of: impl Fn(&str) -> String) -> BTreeMap<String, Tally> {
    let mut folders: BTreeMap<String, Tally> = BTreeMap::new();
    for trial in trials(root) {
        let symbols = read(&load(&root.join(&trial.path), &Limits::default()).unwrap());
        let tally = folders.entry(folder_of(&trial.path)).or_default();
        tally.pictures += 1;
        score(&trial, &symbols, tally);
    }
    folders
}

fn score(trial: &Trial, symbols: &[Symbol], tally: &mut Tally) {
    let add_on = |s: &Symbol| s.code.add_on.read().map(|a| a.to_string()).unwrap_or_default();
    let with_add_on = |s: &Symbol| format!("{}+{}", s.code.gtin, add_on(s));
    for symbol in symbols {
        let gtin = symbol.code.gtin.to_string();
        let known = gtin == trial.main || trial.also.contains(&gtin) || trial.more.contains(&with_add_on(symbol));
        if !known {
            tally.wrong.push(format!("{}: {gtin} is not in the picture", trial.path));
        }
    }
    if trial.main.is_empty() {
        return;
    }
    let Some(main) = symbols.iter().find(|s| s.code.gtin.to_string() == trial.main) else {
        tally.missed.push(format!("{}: {}", trial.path, trial.main));
        return;
    };
    tally.right += 1;
    if !trial.add_on.is_empty() && add_on(main) != trial.add_on {
        let list = if add_on(main).is_empty() { &mut tally.missed } else { &mut tally.wrong };
        list.push(format!("{}: add-on {:?} instead of {}", trial.path, add_on(main), trial.add_on));
    }
    if !trial.state.is_empty() && main.code.add_on.word() != trial.state {
        tally.wrong.push(format!("{}: add-on {} instead of {}", trial.path, main.code.add_on.word(), trial.state));
    }
    for code in &trial.more {
        if !symbols.iter().any(|s| &with_add_on(s) == code) {
            tally.missed.push(format!("{}: {code}", trial.path));
        }
    }
}

/// The photos, or a word that they were skipped.
fn photos() -> Option<PathBuf> {
    let beside = Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/photos");
    let root = std::env::var_os("BOXWARD_PHOTOS").map_or(beside, PathBuf::from);
    if root.join("truth.tsv").is_file() {
        return Some(root);
    }
    println!("skipped: no photos at {}", root.display());
    None
}

#[test]
fn the_example_stack_is_read() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/stack");
    let tally = &tally(&root, |_| "stack".to_owned())["stack"];
    assert_eq!(tally.wrong, Vec::<String>::new());
    assert_eq!(tally.missed, Vec::<String>::new());
    assert_eq!(tally.pictures, 24);
}

/// Patterns that look like bars and are none, or not whole ones.
#[test]
fn nothing_is_read_where_nothing_is() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/negatives");
    let mut pictures = 0;
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let codes: Vec<_> = read(&load(&path, &Limits::default()).unwrap()).iter().map(|s| s.code).collect();
        assert_eq!(codes, [], "{}", path.display());
        pictures += 1;
    }
    assert_eq!(pictures, 9);
}

/// Photos in each folder, and main codes that must be read: what the reader has been seen to read, so that losing one is
/// noticed. Of upca-6 it once read 17: a blurred one by a hair's breadth, before it was found that another code leaves hardly a
/// fifth more unexplained there.
const PHOTOS: [(&str, usize, usize); 10] = [
    ("ean13-1", 34, 33),
    ("ean13-2", 28, 28),
    ("ean13-4", 22, 21),
    ("ean13-extension-1", 5, 5),
    ("negatives-1", 22, 0),
    ("upca-1", 21, 20),
    ("upca-3", 21, 19),
    ("upca-5", 35, 35),
    ("upca-6", 19, 16),
    ("upcean-extension-1", 2, 2),
];

#[test]
fn real_photos_are_read() {
    let Some(root) = photos() else { return };
    let folders = tally(&root, |path| path.split('/').next().unwrap_or_default().to_owned());
    let mut failures = Vec::new();
    for (folder, pictures, at_least) in PHOTOS {
        let tally = &folders[folder];
        println!("{folder}: {} of {} right, {} wrong", tally.right, tally.pictures, tally.wrong.len());
        if tally.pictures != pictures {
            failures.push(format!("{folder}: {} pictures instead of {pictures}", tally.pictures));
        }
        if tally.right < at_least {
            failures.push(format!("{folder}: {} right, fewer than {at_least}: missed {:?}", tally.right, tally.missed));
        }
        failures.extend(tally.wrong.iter().cloned());
    }
    assert_eq!(folders.len(), PHOTOS.len());
    assert_eq!(failures, Vec::<String>::new());
}
