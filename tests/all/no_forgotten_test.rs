//! A test file that no `mod` line names is never run. None is.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

/// Files below `folder` that `parent` does not name, and so on down.
fn forgotten(folder: &Path, parent: &Path) -> Vec<String> {
    let text = fs::read_to_string(parent).unwrap();
    let named: BTreeSet<&str> = text
        .lines()
        .filter_map(|line| line.trim_start_matches("pub ").strip_prefix("mod ")?.strip_suffix(';'))
        .collect();
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_stem().unwrap().to_str().unwrap();
        let own = [folder.join(format!("{name}.rs")), folder.join(name).join("mod.rs")];
        if path == parent || path.is_file() && path.extension().is_none_or(|e| e != "rs") {
            continue;
        }
        match own.iter().find(|file| file.is_file()) {
            Some(file) if path.is_dir() => found.extend(forgotten(&path, file)),
            None if path.is_dir() && !has_source(&path) => continue,
            _ => {}
        }
        if !named.contains(name) {
            found.push(path.display().to_string());
        }
    }
    found
}

fn has_source(folder: &Path) -> bool {
    fs::read_dir(folder).unwrap().any(|entry| {
        let path = entry.unwrap().path();
        path.extension().is_some_and(|e| e == "rs") || path.is_dir() && has_source(&path)
    })
}

#[test]
fn every_test_file_is_named() {
    let all = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/all");
    assert_eq!(forgotten(&all, &all.join("main.rs")), [""; 0]);
}

#[test]
fn forgotten_files_are_found() {
    let folder = tempfile::tempdir().unwrap();
    let write = |name: &str, text: &str| {
        let path = folder.path().join(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, text).unwrap();
    };
    write("main.rs", "mod here;\npub mod deep;\n// mod not_here;\n");
    write("here.rs", "");
    write("deep/mod.rs", "mod below;");
    write("deep/below.rs", "");
    write("data/words.txt", "");
    assert_eq!(forgotten(folder.path(), &folder.path().join("main.rs")), [""; 0]);
    write("not_here.rs", "");
    write("deep/lost.rs", "");
    write("data/more/lost.rs", "");
    let mut found = forgotten(folder.path(), &folder.path().join("main.rs"));
    found.sort();
    let names: Vec<_> = found.iter().map(|f| f.rsplit('/').next().unwrap()).collect();
    assert_eq!(names, ["data", "lost.rs", "not_here.rs"]);
}
