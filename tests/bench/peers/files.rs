//! Pictures from files, with their `truth.tsv`.

use std::fs;
use std::path::{Path, PathBuf};

use boxward::picture::{Limits, Luma, load};

use super::score::{AddOn, Picture, Printed};

/// A file of the repository's `testdata`.
pub fn testdata(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata").join(name)
}

/// The real photos, by folder: beside the checkout, or where BOXWARD_PHOTOS says.
pub fn photos() -> impl Iterator<Item = Picture> {
    let beside = Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/photos");
    let root = std::env::var_os("BOXWARD_PHOTOS").map_or(beside, PathBuf::from);
    listed(root, |path| path.split('/').next().unwrap_or_default().to_owned())
}

/// The real photos in which nothing may be read.
pub fn photos_without() -> impl Iterator<Item = Picture> {
    photos().filter(|picture| picture.class.starts_with("negatives"))
}

/// The example stack and the negatives beside it.
pub fn examples() -> impl Iterator<Item = Picture> {
    let mut negatives: Vec<_> = fs::read_dir(testdata("negatives")).unwrap().map(|e| e.unwrap().path()).collect();
    negatives.sort();
    let negatives = negatives.into_iter().map(|path| Picture {
        class: "negatives".to_owned(),
        name: path.file_name().unwrap_or_default().to_string_lossy().into_owned(),
        luma: luma(&path),
        codes: Vec::new(),
        also: Vec::new(),
    });
    listed(testdata("stack"), |_| "stack".to_owned()).chain(negatives)
}

/// A file as every reader gets it.
pub fn luma(path: &Path) -> Luma {
    load(path, &Limits::default()).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

fn listed(root: PathBuf, class: fn(&str) -> String) -> impl Iterator<Item = Picture> {
    let list = root.join("truth.tsv");
    let text = fs::read_to_string(&list).unwrap_or_else(|e| panic!("{}: {e}", list.display()));
    let lines: Vec<String> = text.lines().filter(|line| !line.starts_with('#')).map(str::to_owned).collect();
    lines.into_iter().map(move |line| picture(&root, &line, class))
}

/// The list's columns are told in its first line.
fn picture(root: &Path, line: &str, class: fn(&str) -> String) -> Picture {
    let fields: Vec<&str> = line.split('\t').collect();
    let field = |i: usize| fields.get(i).copied().unwrap_or_default();
    let digits = |text: &str| AddOn::Digits(text.to_owned());
    let add_on = match (field(2), field(4)) {
        ("", "absent") => Some(AddOn::Absent),
        ("", "unread") => Some(AddOn::Hidden(String::new())),
        ("", _) => None,
        (text, _) => Some(digits(text)),
    };
    let main = Printed { main: field(1).to_owned(), add_on };
    let more = field(5).split(' ').filter_map(|code| code.split_once('+'));
    let more = more.map(|(main, add_on)| Printed { main: main.to_owned(), add_on: Some(digits(add_on)) });
    Picture {
        class: class(field(0)),
        name: field(0).to_owned(),
        luma: luma(&root.join(field(0))),
        codes: Some(main).filter(|code| !code.main.is_empty()).into_iter().chain(more).collect(),
        also: field(3).split_whitespace().map(str::to_owned).collect(),
    }
}
