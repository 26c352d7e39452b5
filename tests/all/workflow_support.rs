//! What the tests of the queue and the collection share: a store in a folder of its own, photos that are made up.
//!
//! A photo's bytes are its own description: one symbol a line, code and add-on as typed; '?' behind a code marks it as
//! uncertain, '~' an add-on that could not be read. The reader handed to the import only parses that.

use std::num::NonZeroUsize;
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

use boxward::code::{AddOnState, Certainty, Code, Symbology, check_digit};
use boxward::resolve::{Answers, Question};
use boxward::source::Evidence;
use boxward::store::Store;
use boxward::workflow::{self, FileOutcome, ImportSummary, ReadPhoto, ResolveOptions, ResolveReport, SymbolSighting};
use jiff::Timestamp;
use serde_json::{Value, json};

pub struct Home {
    pub folder: tempfile::TempDir,
    pub store: Store,
}

pub fn home() -> Home {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(&folder.path().join("collection.boxward")).unwrap();
    Home { folder, store }
}

pub fn now() -> Timestamp {
    "2026-11-25T12:00:00Z".parse().unwrap()
}

/// A UPC-A of GS1 US's example prefix with this item number.
pub fn upc(item: u32) -> String {
    let digits = format!("0614141{:05}", item % 100_000);
    let values: Vec<u8> = digits.bytes().map(|b| b - b'0').collect();
    format!("{digits}{}", check_digit(&values))
}

pub fn read(_: &Path, bytes: &[u8]) -> Result<ReadPhoto, String> {
    let text = std::str::from_utf8(bytes).map_err(|error| error.to_string())?;
    if text.starts_with("broken") {
        return Err("the picture is broken".to_owned());
    }
    assert!(!text.starts_with("panic"), "a defect");
    let symbols = text.lines().filter(|line| !line.starts_with('#') && !line.is_empty()).map(symbol).collect();
    Ok(ReadPhoto { symbols, fallback_png: b"png of all".to_vec() })
}

fn symbol(line: &str) -> SymbolSighting {
    let certainty = if line.ends_with('?') { Certainty::Confirm } else { Certainty::Sure };
    let mut parts = line.trim_end_matches('?').split(' ');
    let gtin = parts.next().unwrap().parse().unwrap();
    let add_on = match parts.next() {
        None | Some("") => AddOnState::Absent,
        Some("~") => AddOnState::Unread,
        Some(digits) => AddOnState::Read(digits.parse().unwrap()),
    };
    SymbolSighting {
        code: Code { gtin, add_on },
        symbology: Symbology::UpcA,
        certainty,
        evidence: Evidence {
            crop_png: format!("png of {line}").into_bytes(),
            corners: Some([[1.5, 2.0], [30.0, 2.0], [30.0, 9.25], [1.5, 9.0]]),
            by: Some("test".to_owned()),
            module_px: Some(2.7),
        },
    }
}

impl Home {
    /// Writes a photo and gives its path.
    pub fn photo(&self, name: &str, symbols: &str) -> PathBuf {
        let path = self.folder.path().join(name);
        std::fs::write(&path, symbols).unwrap();
        path
    }

    pub fn import(&self, paths: &[PathBuf]) -> (ImportSummary, Vec<FileOutcome>) {
        let mut outcomes = Vec::new();
        let jobs = NonZeroUsize::new(3).unwrap();
        let summary = workflow::import(
            &self.store,
            paths,
            &boxward::picture::Limits::default(),
            &read,
            jobs,
            &now,
            &mut |outcome| {
                outcomes.push(outcome.clone());
                ControlFlow::Continue(())
            },
        );
        (summary.unwrap(), outcomes)
    }

    /// Imports one photo of these symbols.
    pub fn stack(&self, symbols: &str) -> ImportSummary {
        let name = format!("{}.txt", std::fs::read_dir(self.folder.path()).unwrap().count());
        // A comment line makes each photo's content its own.
        let path = self.photo(&name, &format!("#{name}\n{symbols}"));
        self.import(&[path]).0
    }

    pub fn resolve(&self, answers: &Answers) -> ResolveReport {
        workflow::resolve(&self.store, answers, &ResolveOptions::default(), None, now()).unwrap()
    }

    /// Resolves with these answer fields filled into the questions that are open, by `ask`.
    pub fn answer(&self, filled: &[(&str, Value)]) -> ResolveReport {
        let open = self.resolve(&Answers::none()).open;
        self.resolve(&fill(&open, filled))
    }

    pub fn have(&self, query: &str) -> workflow::HaveAnswer {
        workflow::have(&self.store, query).unwrap()
    }

    /// Every table of the record as text, to compare states.
    pub fn dump(&self) -> String {
        dump(self.store.path())
    }
}

pub fn fill(open: &[Question], filled: &[(&str, Value)]) -> Answers {
    let mut text = String::new();
    for question in open {
        let mut object = serde_json::to_value(question).unwrap();
        for (_, fields) in filled.iter().filter(|(ask, _)| *ask == question.ask()) {
            for (name, value) in fields.as_object().unwrap() {
                assert!(object.get(name).is_some(), "{name} is no field of {object}");
                object[name] = value.clone();
            }
        }
        text.push_str(&format!("{object}\n"));
    }
    Answers::parse(&text).unwrap()
}

pub fn ferry() -> (&'static str, Value) {
    ("title", json!({"title": "The Night Ferry", "publisher": "Lantern Street", "year": 2019, "layout": "IIICP"}))
}

pub fn dump(path: &Path) -> String {
    let connection = rusqlite::Connection::open(path).unwrap();
    let names: Vec<String> = connection
        .prepare("SELECT name FROM pragma_table_list WHERE schema = 'main' AND type = 'table' AND name NOT LIKE 'sqlite%' AND name NOT IN ('run', 'change') ORDER BY name")
        .unwrap()
        .query_map([], |row| row.get(0))
        .unwrap()
        .map(Result::unwrap)
        .collect();
    let mut text = String::new();
    for name in names {
        let mut statement = connection.prepare(&format!("SELECT * FROM {name} ORDER BY id")).unwrap();
        let columns = statement.column_count();
        let mut rows = statement.query([]).unwrap();
        while let Some(row) = rows.next().unwrap() {
            let values: Vec<String> = (0..columns).map(|c| format!("{:?}", row.get_ref(c).unwrap())).collect();
            text.push_str(&format!("{name}: {}\n", values.join(" | ")));
        }
    }
    text
}

/// The rows that every later schema keeps: the words of titles are in the full-text index since schema 8.
pub fn kept(dump: &str) -> String {
    dump.lines().filter(|line| !line.starts_with("title_word: ")).map(|line| format!("{line}\n")).collect()
}
