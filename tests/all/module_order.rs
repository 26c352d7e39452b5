//! lib.rs lists the modules in the order in which a book passes through them; imports point backwards only. Libraries
//! that one module keeps to itself, and what belongs to the command line, stay where they are.

use std::fs;
use std::path::{Path, PathBuf};

/// A library, and the only modules that may name it.
const KEPT: &[(&str, &[&str])] = &[
    ("image", &["picture"]),
    ("zune_core", &["picture"]),
    ("zune_jpeg", &["picture"]),
    ("libheif_rs", &["picture"]),
    ("memchr", &["picture"]),
    ("rxing", &["reader"]),
    ("isbn", &["meaning"]),
    ("calamine", &["list"]),
    ("csv", &["report"]),
    ("csv_core", &["list"]),
    ("encoding_rs", &["list"]),
    ("zip", &["list"]),
    ("nokhwa", &["source"]),
    ("v4l", &["source"]),
    ("pulp", &["picture", "reader"]),
    ("smallvec", &["reader", "filing"]),
    ("maud", &["report", "desk"]),
    ("rusqlite", &["store"]),
    ("base64", &["report", "store"]),
    ("axum", &["desk"]),
    ("hyper", &["desk"]),
    ("hyper_util", &["desk"]),
    ("tokio", &["desk"]),
    ("tokio_io_timeout", &["desk"]),
    ("futures_util", &["desk"]),
    ("getrandom", &["desk"]),
    ("open", &["cli"]),
    ("clap", &["cli"]),
    ("clap_complete", &["cli"]),
    ("clap_mangen", &["cli"]),
    ("etcetera", &["cli"]),
    ("indicatif", &["cli"]),
    ("rustix", &["cli", "desk"]),
    ("if_addrs", &["desk"]),
    ("qrcode", &["desk"]),
    ("tempfile", &["desk"]),
];

/// What only the command line does.
const COMMAND_LINE_ONLY: [&str; 10] = [
    "std::env",
    "process::exit",
    "process::Command",
    "println!",
    "print!",
    "eprintln!",
    "eprint!",
    "stdout()",
    "stderr()",
    "stdin()",
];

/// The modules of `lib.rs`, in its order.
fn order_in(lib: &str) -> Vec<String> {
    let lib = code(lib);
    let names = lib.lines().filter_map(|line| {
        let line = line.trim();
        line.strip_prefix("pub mod ").or(line.strip_prefix("mod "))?.strip_suffix(';').map(str::to_owned)
    });
    names.collect()
}

/// `text` without comments and without what stands in quotes.
fn code(text: &str) -> String {
    let mut code = String::new();
    let mut rest = text;
    while let Some(c) = rest.chars().next() {
        let skipped = if rest.starts_with("//") {
            rest.find('\n').unwrap_or(rest.len())
        } else if rest.starts_with("/*") {
            rest.find("*/").map_or(rest.len(), |at| at + 2)
        } else if let Some(raw) = rest.strip_prefix("r#\"") {
            raw.find("\"#").map_or(rest.len(), |at| at + 5)
        } else if c == '"' {
            end_of_string(rest)
        } else if let Some(length) = quoted_character(rest) {
            length
        } else {
            code.push(c);
            rest = &rest[c.len_utf8()..];
            continue;
        };
        rest = &rest[skipped..];
    }
    code
}

fn end_of_string(text: &str) -> usize {
    let mut escaped = false;
    for (at, c) in text.char_indices().skip(1) {
        match c {
            _ if escaped => escaped = false,
            '\\' => escaped = true,
            '"' => return at + 1,
            _ => {}
        }
    }
    text.len()
}

/// The length of `'x'` or `'\n'`; `None` for a lifetime.
fn quoted_character(text: &str) -> Option<usize> {
    let inner = text.strip_prefix('\'')?;
    let length = if inner.starts_with('\\') {
        inner[2..].find('\'')? + 2
    } else {
        let first = inner.chars().next()?.len_utf8();
        inner[first..].starts_with('\'').then_some(first)?
    };
    Some(length + 2)
}

fn is_word(c: char) -> bool {
    c.is_alphanumeric() || c == '_'
}

/// The first names of the paths in `code` that begin with `start`, those in braces among them.
fn names_behind<'a>(code: &'a str, start: &str) -> Vec<&'a str> {
    let mut names = Vec::new();
    for (at, _) in code.match_indices(start) {
        if code[..at].ends_with(|c: char| is_word(c) || c == ':') {
            continue;
        }
        let rest = &code[at + start.len()..];
        let first = |text: &'a str| text.trim_start().split(|c| !is_word(c)).next().unwrap_or_default();
        let Some(inner) = rest.strip_prefix('{') else {
            names.push(first(rest));
            continue;
        };
        let mut depth = 0;
        let mut begin = 0;
        for (i, c) in inner.char_indices() {
            match c {
                '{' => depth += 1,
                '}' if depth > 0 => depth -= 1,
                ',' | '}' if depth == 0 => {
                    names.push(first(&inner[begin..i]));
                    begin = i + 1;
                    if c == '}' {
                        break;
                    }
                }
                _ => {}
            }
        }
    }
    names
}

fn uses_library(code: &str, library: &str) -> bool {
    let path = format!("{library}::");
    let used =
        |text: &str| code.match_indices(text).any(|(at, _)| !code[..at].ends_with(|c: char| is_word(c) || c == ':'));
    used(&path) || used(&format!("use {library};")) || used(&format!("use {library} "))
}

/// What the file `path` (below `src`) with this text breaks.
fn violations(order: &[String], path: &Path, text: &str) -> Vec<String> {
    let parts: Vec<_> = path.iter().map(|p| p.to_str().unwrap()).collect();
    let module = parts[0].trim_end_matches(".rs");
    if matches!(module, "lib" | "main") {
        return Vec::new();
    }
    let shown = path.display();
    let Some(own) = order.iter().position(|m| m == module) else {
        return vec![format!("{shown}: lib.rs does not list {module}")];
    };
    let all = code(text);
    let without_tests = all.split("#[cfg(test)]").next().unwrap_or_default();
    // Unit tests sit one level deeper, where the same words reach less far.
    let up = "super::".repeat(parts.len() - usize::from(parts.ends_with(&["mod.rs"])));
    let mut found = Vec::new();
    let named = names_behind(&all, "crate::").into_iter().chain(names_behind(without_tests, &up));
    for name in named {
        if let Some(other) = order.iter().position(|m| m == name)
            && other > own
        {
            found.push(format!("{shown}: {module} imports {name}, which comes after it"));
        }
    }
    for &(library, modules) in KEPT {
        if !modules.contains(&module) && uses_library(without_tests, library) {
            found.push(format!("{shown}: only {modules:?} may use {library}"));
        }
    }
    if module != "cli" {
        let words = COMMAND_LINE_ONLY
            .iter()
            .filter(|&&w| without_tests.match_indices(w).any(|(at, _)| !without_tests[..at].ends_with(is_word)));
        found.extend(words.map(|w| format!("{shown}: {w} is for the command line only")));
    }
    found
}

fn sources(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            sources(&path, found);
        } else if path.extension().is_some_and(|e| e == "rs") {
            found.push(path);
        }
    }
}

#[test]
fn imports_point_backwards() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let order = order_in(&fs::read_to_string(src.join("lib.rs")).unwrap());
    let designed = ["code", "picture", "reader", "meaning", "source", "intake", "collection", "resolve", "filing"];
    assert!(order.iter().take(designed.len()).eq(&designed), "lib.rs lists {order:?}; was it sorted?");
    let mut files = Vec::new();
    sources(&src, &mut files);
    assert!(files.len() > order.len());
    let broken: Vec<_> = files
        .iter()
        .flat_map(|file| violations(&order, file.strip_prefix(&src).unwrap(), &fs::read_to_string(file).unwrap()))
        .collect();
    assert!(broken.is_empty(), "{broken:#?}");
}

#[test]
fn planted_violations_are_found() {
    let order: Vec<_> = ["code", "reader", "store", "cli"].map(str::to_owned).into();
    let check = |path: &str, text: &str| violations(&order, Path::new(path), text).len();
    for (path, text) in [
        ("code/a.rs", "use crate::reader::Symbol;"),
        ("code.rs", "fn f() { crate::store::open() }"),
        ("code/mod.rs", "use crate::{code::Gtin, reader::{self, x}, store};"),
        ("code/mod.rs", "use super::reader;"),
        ("code/a.rs", "use super::super::reader;"),
        ("code/a/b.rs", "use super::super::super::reader;"),
        ("reader/mod.rs", "const C: char = '\"'; use crate::store;"),
        ("reader/mod.rs", "#[cfg(test)] mod tests { use crate::store; }"),
        ("reader/mod.rs", "use rusqlite::Connection;"),
        ("reader/mod.rs", "use ::clap::Parser as _; fn f() { clap::command!() }"),
        ("store/mod.rs", "fn f() { std::process::exit(1) }"),
        ("store/mod.rs", "fn f() { println!() }"),
        ("new/mod.rs", ""),
    ] {
        assert_eq!(check(path, text).min(1), 1, "not seen: {path}: {text}");
    }
    assert_eq!(check("code/mod.rs", "use crate::{code, reader::{self, x}, store};"), 2);
}

#[test]
fn what_is_allowed_is_allowed() {
    let order: Vec<_> = ["code", "reader", "store", "cli"].map(str::to_owned).into();
    for (path, text) in [
        ("store/a.rs", "use crate::reader; use crate::{code::Gtin, reader::Symbol}; use rusqlite::Row;"),
        (
            "code/a.rs",
            "/// Left to [`crate::reader`].\n// crate::store\nfn f() { \"crate::store\"; r#\"crate::cli\"#; }",
        ),
        ("reader/a.rs", "mod store; use super::store; use my_image::x; fn f<'a>(x: &'a str) { self::image::y() }"),
        ("reader/a.rs", "use crate::reader::store::image::X;"),
        ("cli/a.rs", "use crate::store; fn f() { std::env::args(); println!() }"),
        ("store/a.rs", "fn f() { fingerprint!() } #[cfg(test)] mod tests { fn f() { println!() } }"),
        ("main.rs", "use crate::cli;"),
    ] {
        assert_eq!(violations(&order, Path::new(path), text), [""; 0], "{path}: {text}");
    }
}
