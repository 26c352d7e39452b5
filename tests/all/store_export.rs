//! The whole record out and in again: nothing is lost, nothing is added, and what is wrong is refused with its line.

use std::path::{Path, PathBuf};

use boxward::collection::TitleId;
use boxward::store::{DataError, Store, StoreError};
use boxward::workflow::{self, Have, WorkflowError};
use proptest::prelude::*;

use crate::workflow_invariants::{Step, is_expected, run, step};
use crate::workflow_support::{dump, ferry, home, now, upc};

fn export(store: &Store) -> String {
    let mut out = Vec::new();
    let records = store.export(&mut out).unwrap();
    let text = String::from_utf8(out).unwrap();
    assert_eq!(text.lines().count() as u64, records + 2);
    text
}

/// A new collection with what the export holds.
fn import(folder: &Path, text: &str) -> Result<PathBuf, WorkflowError> {
    let path = folder.join(format!("{}.sqlite", std::fs::read_dir(folder).unwrap().count()));
    workflow::import_data(&path, &mut text.as_bytes()).map(|_| path)
}

/// Runs are part of the record as well; their numbers and times are compared by the export itself.
fn comes_back(store: &Store, folder: &Path) {
    let first = export(store);
    let path = import(folder, &first).unwrap();
    assert_eq!(dump(&path), dump(store.path()));
    let second = export(&Store::open(&path).unwrap());
    assert!(first == second, "--- first\n{first}\n--- second\n{second}");
    let connection = rusqlite::Connection::open(&path).unwrap();
    let verdict: String = connection.query_row("PRAGMA integrity_check", [], |row| row.get(0)).unwrap();
    assert_eq!(verdict, "ok");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 16, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn whatever_was_done_comes_back(steps in prop::collection::vec(step(), 1..16)) {
        let home = home();
        for step in &steps {
            if let Err(error) = run(&home, step) {
                prop_assert!(is_expected(&error), "{step:?}: {error:?}");
            }
        }
        comes_back(&home.store, home.folder.path());
    }

    #[test]
    fn every_text_number_and_picture_comes_back(
        name in "\\PC{1,20}", note in any::<String>(), module_px in any::<f32>().prop_filter("a number", |n| n.is_finite()),
        png in prop::collection::vec(any::<u8>(), 1..200),
    ) {
        let home = home();
        home.stack(&format!("{} 00411", upc(41)));
        home.answer(&[ferry()]);
        let connection = rusqlite::Connection::open(home.store.path()).unwrap();
        // A text of SQLite's may hold anything but a zero, which ends it for some of its functions.
        connection.execute("UPDATE item SET note = ?1, module_px = ?2", (note.replace('\0', ""), f64::from(module_px) / 3.0)).unwrap();
        connection.execute("UPDATE crop SET png = ?1", [png]).unwrap();
        let change = boxward::collection::TitleChange { name: Some(name), ..Default::default() };
        // A name of nothing but marks is refused; then the old one is as good.
        let _ = workflow::title_set(&home.store, TitleId::new(1), &change, now());
        comes_back(&home.store, home.folder.path());
    }
}

#[test]
fn collections_of_every_schema_come_back() {
    let fixtures = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures");
    let mut seen = 0;
    for entry in std::fs::read_dir(fixtures).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|e| e != "sql") {
            continue;
        }
        let folder = tempfile::tempdir().unwrap();
        let old = folder.path().join("old.sqlite");
        let connection = rusqlite::Connection::open(&old).unwrap();
        connection.execute_batch(&std::fs::read_to_string(path).unwrap()).unwrap();
        drop(connection);
        comes_back(&Store::open(&old).unwrap(), folder.path());
        seen += 1;
    }
    assert!(seen >= 8);
}

/// What a collection of schema 1 would have written: rows of its tables, one of which is gone since.
const OLD: &str = r#"{"format":"boxward collection","version":1}
{"copy":{"id":1,"printing":1,"acquired":"2026-03-04","paid_minor":399,"currency":"USD","reading":"unread","filing":"unfiled"}}
{"issue":{"id":1,"title":1,"number":"½","sort_key":"an old key","whole_number":null}}
{"printing":{"id":1,"issue":1,"cover":"1","number":1,"gtin":614141000418,"add_on":"00411"}}
{"publisher":{"id":1,"name":"Lantern Street","search_key":"lantern street"}}
{"title":{"id":1,"publisher":1,"name":"The Night Ferry","search_key":"night ferry","volume":"","layout":"IIICP"}}
{"title_code":{"id":1,"gtin":614141000418,"title":1}}
{"title_word":{"id":1,"word":"ferry","title":1}}
{"title_word":{"id":2,"word":"night","title":1}}
{"end":{"records":8}}
"#;

#[test]
fn an_older_export_is_brought_up_to_date() {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(&import(folder.path(), OLD).unwrap()).unwrap();
    // By its words, which are indexed otherwise now, and by a key that is made otherwise now.
    assert_eq!(workflow::have(&store, "ferry night 1/2").unwrap().answer, Have::Owned);
    assert!(
        export(&store).starts_with(&format!("{{\"format\":\"boxward collection\",\"version\":{}}}\n", Store::SCHEMA))
    );
    comes_back(&store, folder.path());
}

#[test]
fn what_is_wrong_is_refused_with_its_line_and_leaves_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let replaced = |from: &str, to: &str| {
        assert!(OLD.contains(from), "{from}");
        OLD.replacen(from, to, 1)
    };
    let newer = Store::SCHEMA + 1;
    let cases: [(String, &str); 19] = [
        (String::new(), "this is no export"),
        ("{\"title\":{\"id\":1}}\n".to_owned(), "this is no export"),
        (replaced("boxward collection", "another"), "this is no export"),
        (replaced("\"version\":1", "\"version\":0"), "this is no export"),
        (replaced("\"version\":1", &format!("\"version\":{newer}")), "use a newer boxward"),
        (replaced("{\"end\":{\"records\":8}}\n", ""), "cut short"),
        (replaced("\"records\":8", "\"records\":9"), "line 10: there are 8 records, not 9"),
        (format!("{OLD}{{}}\n"), "line 11: the line before says that it is the last"),
        (replaced("{\"issue\":{", "{\"isue\":{"), "line 3: there is no record named 'isue'"),
        (replaced("{\"issue\":{", "{\"change\":{"), "line 3: there is no record named 'change'"),
        (replaced("\"number\":\"½\"", "\"nmber\":\"½\""), "line 3: issue has no field 'nmber'"),
        (replaced("\"number\":\"½\"", "\"number\":4"), "line 3: issue.number: a text is expected"),
        (replaced("\"paid_minor\":399", "\"paid_minor\":3.99"), "line 2: copy.paid_minor: a whole number is expected"),
        (
            replaced("\"gtin\":614141000418", "\"gtin\":614141000419"),
            "line 4: printing.gtin: check digit 9 does not fit",
        ),
        (replaced("{\"issue\":{\"id\":1,", "{\"issue\":{"), "line 3: the id of issue is missing"),
        (replaced("\"unread\"", "\"half\""), "line 2: CHECK constraint failed"),
        (replaced("{\"id\":2,\"word\"", "{\"id\":1,\"word\""), "line 9: UNIQUE constraint failed"),
        (replaced("\"publisher\":1", "\"publisher\":7"), "line 6: title 1 refers to a publisher that is not there"),
        (replaced("{\"publisher\":{\"id\":1,", "{\"publisher\":{\"id\":1,,"), "line 5: this is no record"),
    ];
    for (text, expected) in cases {
        let path = folder.path().join("new.sqlite");
        let error = workflow::import_data(&path, &mut text.as_bytes()).unwrap_err();
        assert!(error.to_string().contains(expected), "{expected}: {error}");
        let left: Vec<_> = std::fs::read_dir(folder.path()).unwrap().map(|entry| entry.unwrap().path()).collect();
        assert_eq!(left, Vec::<std::path::PathBuf>::new(), "{expected}");
        // Into one that is there, it changes nothing.
        Store::open(&path).unwrap();
        workflow::import_data(&path, &mut text.as_bytes()).unwrap_err();
        assert_eq!(dump(&path), "", "{expected}");
        workflow::import_data(&path, &mut OLD.as_bytes()).unwrap();
        std::fs::remove_file(path).unwrap();
    }
    let mut bytes = OLD.as_bytes().to_vec();
    bytes[150] = 0xff;
    let error = workflow::import_data(&folder.path().join("new.sqlite"), &mut &bytes[..]).unwrap_err();
    assert!(error.to_string().contains("line 2: this is no text in UTF-8"), "{error}");
}

#[test]
fn only_an_empty_collection_takes_an_export() {
    let home = home();
    home.stack(&format!("{} 00411", upc(41)));
    let before = home.dump();
    let error = workflow::import_data(home.store.path(), &mut OLD.as_bytes()).unwrap_err();
    assert!(error.to_string().contains("is not empty; name a new file"), "{error}");
    assert_eq!(home.dump(), before);
    // Neither does one whose only run was undone: its numbers would be used twice.
    workflow::undo(&home.store, None, now()).unwrap();
    let error = workflow::import_data(home.store.path(), &mut OLD.as_bytes()).unwrap_err();
    let WorkflowError::Export(workflow::ExportError::Data(error)) = error else { panic!("{error:?}") };
    assert!(matches!(error, DataError::NotEmpty(_)));
}

#[test]
fn what_came_with_an_export_is_built_on_but_not_taken_back() {
    let home = home();
    run(&home, &Step::Import(vec![(0, 1, 3), (0, 2, 3)])).unwrap();
    run(&home, &Step::Resolve(true)).unwrap();
    let path = import(home.folder.path(), &export(&home.store)).unwrap();
    let store = Store::open(&path).unwrap();
    let before = dump(&path);
    assert!(matches!(workflow::undo(&store, None, now()), Err(WorkflowError::Store(StoreError::NothingToUndo))));
    for run in workflow::runs(&store, 9).unwrap() {
        let refused = workflow::undo(&store, Some(run.id), now());
        assert!(matches!(refused, Err(WorkflowError::Store(StoreError::NothingKept(_)))), "{refused:?}");
    }
    workflow::queue_drop(&store, &[], now()).unwrap();
    let change = boxward::collection::TitleChange { name: Some("Day Ferry".to_owned()), ..Default::default() };
    workflow::title_set(&store, TitleId::new(1), &change, now()).unwrap();
    workflow::undo(&store, None, now()).unwrap();
    assert_eq!(dump(&path), before);
}

#[test]
fn every_record_and_field_is_documented() {
    let text = std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("DEVELOPERS.md")).unwrap();
    let section = text.split("## The records of an export").nth(1).unwrap().split("\n## ").next().unwrap();
    let home = home();
    let connection = rusqlite::Connection::open(home.store.path()).unwrap();
    let mut statement = connection
        .prepare(
            "SELECT t.name, c.name FROM pragma_table_list t, pragma_table_info(t.name) c \
             WHERE t.schema = 'main' AND t.type = 'table' AND t.name NOT LIKE 'sqlite%' AND t.name <> 'change'",
        )
        .unwrap();
    let fields: Vec<(String, String)> =
        statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?))).unwrap().map(Result::unwrap).collect();
    assert!(fields.len() > 100);
    let missing: Vec<_> = fields
        .iter()
        .filter(|(table, column)| {
            let row = section.lines().find(|line| line.starts_with(&format!("| `{table}` |")));
            row.is_none_or(|row| !row.rsplit_once(" | ").is_some_and(|_| row.contains(&format!("`{column}`"))))
        })
        .collect();
    assert!(missing.is_empty(), "DEVELOPERS.md does not tell of {missing:?}");
    let rows = section.lines().filter_map(|line| line.strip_prefix("| `")?.split('`').next());
    let gone: Vec<_> = rows.filter(|row| fields.iter().all(|(table, _)| table != row)).collect();
    assert!(gone.is_empty(), "DEVELOPERS.md tells of {gone:?}");
}
