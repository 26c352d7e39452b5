//! From paths to photos: suffixes, order, links, what can't be listed.

use std::fs;
use std::os::unix::fs::symlink;
use std::path::{Path, PathBuf};

use boxward::source::{FolderError, pictures};

fn folder_with(names: &[&str]) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for name in names {
        let path = folder.path().join(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, "").unwrap();
    }
    folder
}

fn listed(root: &Path, paths: &[PathBuf]) -> Vec<String> {
    let short = |path: &Path| path.strip_prefix(root).unwrap_or(path).display().to_string();
    pictures(paths).into_iter().map(|p| p.map_or_else(|e| e.to_string(), |path| short(&path))).collect()
}

#[test]
fn pictures_come_in_natural_order_from_all_levels() {
    let folder = folder_with(&[
        "10.jpg",
        "2.jpg",
        "1.JPG",
        "a/3.heic",
        "a/b/4.png",
        "notes.txt",
        "._2.jpg",
        ".hidden/5.jpg",
        "Z.webp",
        "b.tiff",
    ]);
    let found = listed(folder.path(), &[folder.path().to_owned()]);
    assert_eq!(found, ["1.JPG", "2.jpg", "10.jpg", "a/3.heic", "a/b/4.png", "b.tiff", "Z.webp"]);
}

#[test]
fn files_are_taken_as_given() {
    let folder = folder_with(&["b", "a.txt"]);
    let paths = ["b", "a.txt", "missing.jpg"].map(|n| folder.path().join(n));
    assert_eq!(listed(folder.path(), &paths), ["b", "a.txt", "missing.jpg"]);
}

#[test]
fn links_in_a_circle_end() {
    let folder = folder_with(&["a/1.jpg", "b/2.jpg"]);
    symlink(folder.path(), folder.path().join("a/up")).unwrap();
    symlink("../b", folder.path().join("a/across")).unwrap();
    symlink("self", folder.path().join("self")).unwrap();
    let found = listed(folder.path(), &[folder.path().to_owned()]);
    assert_eq!(found, ["a/1.jpg", "a/across/2.jpg", "b/2.jpg"]);
}

#[test]
fn a_folder_without_pictures_says_so() {
    let folder = folder_with(&["words/a.txt", "photos/1.jpg"]);
    let found = pictures(&[folder.path().join("words"), folder.path().join("photos")]);
    assert!(matches!(&found[0], Err(FolderError::NoPicture { path }) if path.ends_with("words")));
    assert!(found[1].is_ok() && found.len() == 2);
}
