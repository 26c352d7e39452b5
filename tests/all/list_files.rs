//! Lists as files: the same rows from every form that spreadsheets write.

use std::collections::BTreeMap;
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

use boxward::list::{Entry, Field, ListError, ListOptions, Mapping, Problem, Spelling, Table, entry};
use zip::ZipWriter;
use zip::write::SimpleFileOptions;

/// A shop's list; shop.xlsx is the same as openpyxl wrote it, dates and numbers as such, under a heading.
const SHOP: &str = include_str!("../../testdata/lists/shop.csv");

type Read = Vec<(usize, Result<Entry, Vec<Problem>>)>;

fn read(path: &Path, options: &ListOptions) -> Result<Read, ListError> {
    let mut table = Table::open(path, options)?;
    let columns = table.columns().to_vec();
    let mapping = Mapping::new(&BTreeMap::new(), &columns).unwrap();
    let spelling = Spelling { currency: "USD".parse().ok(), ..Spelling::default() };
    let mut found = Vec::new();
    table.rows(|row| {
        found.push((row.line, entry(&row, &mapping, &columns, spelling)));
        Ok::<_, ListError>(())
    })?;
    Ok(found)
}

fn written(folder: &Path, name: &str, bytes: impl AsRef<[u8]>) -> PathBuf {
    let path = folder.join(name);
    fs::write(&path, bytes).unwrap();
    path
}

fn testdata(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/lists").join(name)
}

#[test]
fn a_list_says_what_it_says() {
    let found = read(&testdata("shop.csv"), &ListOptions::default()).unwrap();
    assert_eq!(found.iter().map(|(line, _)| *line).collect::<Vec<_>>(), [2, 3, 4, 5, 6, 7]);
    let second = found[3].1.as_ref().unwrap();
    assert_eq!(
        (second.title.as_str(), second.year, second.cover.as_deref()),
        ("Tide Wardens", Some(2023), Some("1:25"))
    );
    assert_eq!(second.code.map(|code| code.printed()).as_deref(), Some("614141001040"));
    assert_eq!(second.add_on.map(|add_on| add_on.to_string()).as_deref(), Some("01331"));
    assert_eq!(second.printing_facts.cover_price, "9.99 USD".parse().ok());
    assert_eq!(second.printing_facts.on_sale, "2026-02-04".parse().ok());
    let collection = found[4].1.as_ref().unwrap();
    assert_eq!(collection.issue.as_ref().map(|issue| issue.sort_key()), Some("00000000.5"));
    assert_eq!(collection.printing_facts.cover_price, "7.50 EUR".parse().ok());
    let problem = Problem { column: Some("Price".to_owned()), problem: "'$x.99' is no price".to_owned() };
    assert_eq!(found[5].1, Err(vec![problem]));
}

#[test]
fn every_form_gives_the_same_rows() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str, bytes: Vec<u8>| written(folder.path(), name, bytes);
    let expected = read(&testdata("shop.csv"), &ListOptions::default()).unwrap();
    // The list has no separator in its texts but one comma, in quotes.
    let cells: Vec<Vec<String>> = SHOP
        .lines()
        .map(|line| {
            line.replace(", ", "\u{1}").split(',').map(|cell| cell.replace('\u{1}', ", ").replace('"', "")).collect()
        })
        .collect();
    let joined = |separator: &str, end: &str| -> String { cells.iter().map(|row| row.join(separator) + end).collect() };
    let utf_16 =
        |text: &str| -> Vec<u8> { format!("\u{feff}{text}").encode_utf16().flat_map(u16::to_le_bytes).collect() };
    let windows_1252 = |text: &str| -> Vec<u8> {
        let byte = |c: char| if c == '\u{20ac}' { 0x80 } else { u8::try_from(u32::from(c)).unwrap() };
        text.chars().map(byte).collect()
    };
    let json: String = cells[1..]
        .iter()
        .map(|row| {
            let fields: serde_json::Map<_, _> =
                cells[0].iter().cloned().zip(row.iter().map(|cell| cell.clone().into())).collect();
            serde_json::to_string(&fields).unwrap() + "\n"
        })
        .collect();
    for (name, bytes) in [
        ("bom.csv", format!("\u{feff}{SHOP}").into_bytes()),
        ("semicolons.csv", windows_1252(&joined(";", "\r\n"))),
        ("said.csv", format!("sep=|\r\n{}", joined("|", "\r\n")).into_bytes()),
        ("tabs.txt", utf_16(&joined("\t", "\r\n"))),
        ("list.jsonl", json.into_bytes()),
    ] {
        let found = read(&path(name, bytes), &ListOptions::default()).unwrap();
        let values = |read: &Read| read.iter().map(|(_, entry)| entry.clone()).collect::<Vec<_>>();
        assert_eq!(values(&found), values(&expected), "{name}");
    }
    let options = ListOptions { skip: 1, ..ListOptions::default() };
    let sheet = read(&testdata("shop.xlsx"), &options).unwrap();
    for ((line, found), (_, expected)) in sheet.iter().zip(&expected) {
        assert_eq!(found, expected, "row {line}");
    }
    assert_eq!((sheet.len(), sheet[0].0), (6, 4));
}

#[test]
fn what_a_spreadsheet_spoilt_is_an_error_of_its_row() {
    let options = ListOptions { sheet: Some("codes as numbers".to_owned()), ..ListOptions::default() };
    let found = read(&testdata("shop.xlsx"), &options).unwrap();
    let problem = |at: usize| found[at].1.as_ref().unwrap_err()[0].problem.clone();
    // 17 digits don't fit into a 64-bit float (IEEE 754: 53 bits of significand).
    assert!(problem(0).contains("format codes as text"), "{}", problem(0));
    assert!(found[1].1.is_ok());
    assert!(problem(2).contains("is a date"), "{}", problem(2));
}

#[test]
fn rows_without_columns_and_columns_without_names() {
    let folder = tempfile::tempdir().unwrap();
    let path = written(folder.path(), "a.csv", "title,issue\nTide Wardens,1,,\nTide Wardens,2,3\nTide Wardens\n,4\n");
    let found = read(&path, &ListOptions::default()).unwrap();
    let wrong: Vec<usize> = found.iter().filter(|(_, entry)| entry.is_err()).map(|(line, _)| *line).collect();
    assert_eq!(wrong, [3, 5]);
    let path = written(folder.path(), "b.jsonl", "{\"title\":\"Tide Wardens\",\"issue\":1}\n\nno\n{\"title\":[]}\n");
    let found = read(&path, &ListOptions::default()).unwrap();
    assert_eq!(
        found.iter().map(|(line, entry)| (*line, entry.is_ok())).collect::<Vec<_>>(),
        [(1, true), (3, false), (4, false)]
    );
    let path = written(folder.path(), "c.csv", "Books\nTide Wardens,1\nTide Wardens,2\n");
    let options = ListOptions { skip: 1, unnamed: true, ..ListOptions::default() };
    let mut table = Table::open(&path, &options).unwrap();
    assert_eq!(table.columns(), ["1", "2"]);
    let mut lines = Vec::new();
    table
        .rows(|row| {
            lines.push(row.line);
            Ok::<_, ListError>(())
        })
        .unwrap();
    assert_eq!(lines, [2, 3]);
}

#[test]
fn what_is_no_list_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let open = |name: &str, bytes: &[u8], options: &ListOptions| {
        Table::open(&written(folder.path(), name, bytes), options).map(drop).unwrap_err()
    };
    let plain = ListOptions::default();
    assert!(matches!(open("a.csv", b"", &plain), ListError::Empty { .. }));
    assert!(matches!(open("a.csv", b"\n \n", &plain), ListError::Empty { .. }));
    assert!(matches!(open("a.xls", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", &plain), ListError::Form { .. }));
    assert!(matches!(open("a.jpg", b"\xff\xd8\xff\0\0", &plain), ListError::Form { .. }));
    assert!(matches!(open("a.json", b"[{\"title\":\"x\"}]", &plain), ListError::Form { .. }));
    assert!(matches!(open("a.xlsx", b"PK\x03\x04 and no more", &plain), ListError::Workbook { .. }));
    let sheet = ListOptions { sheet: Some("none".to_owned()), ..ListOptions::default() };
    assert!(matches!(open("a.csv", b"title\n", &sheet), ListError::NotAWorkbook { .. }));
    let error = Table::open(&testdata("shop.xlsx"), &sheet).map(drop).unwrap_err();
    assert!(error.to_string().ends_with("it has New books, Codes as numbers"), "{error}");
    assert!(matches!(
        Table::open(&folder.path().join("none.csv"), &plain).map(drop),
        Err(ListError::Unreadable { .. })
    ));
    // A workbook cut short anywhere fails; it never panics.
    let whole = fs::read(testdata("shop.xlsx")).unwrap();
    for end in (4..whole.len()).step_by(97) {
        let path = written(folder.path(), "cut.xlsx", &whole[..end]);
        assert!(read(&path, &plain).is_err(), "{end}");
    }
}

/// A workbook of one sheet with these rows, as ECMA-376 has it at the least.
fn workbook(folder: &Path, rows: &str) -> PathBuf {
    let main = "http://schemas.openxmlformats.org/spreadsheetml/2006/main";
    let office = "http://schemas.openxmlformats.org/officeDocument/2006/relationships";
    let package = "http://schemas.openxmlformats.org/package/2006";
    let path = folder.join("made.xlsx");
    let mut archive = ZipWriter::new(fs::File::create(&path).unwrap());
    for (name, text) in [
        ("[Content_Types].xml", format!("<Types xmlns=\"{package}/content-types\"/>")),
        (
            "_rels/.rels",
            format!(
                "<Relationships xmlns=\"{package}/relationships\"><Relationship Id=\"r1\" Type=\"{office}/officeDocument\" Target=\"xl/workbook.xml\"/></Relationships>"
            ),
        ),
        (
            "xl/_rels/workbook.xml.rels",
            format!(
                "<Relationships xmlns=\"{package}/relationships\"><Relationship Id=\"r1\" Type=\"{office}/worksheet\" Target=\"worksheets/sheet1.xml\"/></Relationships>"
            ),
        ),
        (
            "xl/workbook.xml",
            format!(
                "<workbook xmlns=\"{main}\" xmlns:r=\"{office}\"><sheets><sheet name=\"One\" sheetId=\"1\" r:id=\"r1\"/></sheets></workbook>"
            ),
        ),
        ("xl/worksheets/sheet1.xml", format!("<worksheet xmlns=\"{main}\"><sheetData>{rows}</sheetData></worksheet>")),
    ] {
        archive.start_file(name, SimpleFileOptions::default()).unwrap();
        archive.write_all(text.as_bytes()).unwrap();
    }
    archive.finish().unwrap();
    path
}

#[test]
fn cells_far_apart_make_no_large_table() {
    let folder = tempfile::tempdir().unwrap();
    let cell = |at: &str, text: &str| format!("<c r=\"{at}\" t=\"inlineStr\"><is><t>{text}</t></is></c>");
    let rows = format!(
        "<row r=\"1\">{}{}</row><row r=\"2\">{}</row><row r=\"1048576\">{}{}</row>",
        cell("A1", "title"),
        cell("B1", "issue"),
        cell("A2", "Tide Wardens"),
        cell("A1048576", "Tide Wardens"),
        cell("XFD1048576", "lost")
    );
    let found = read(&workbook(folder.path(), &rows), &ListOptions::default()).unwrap();
    assert_eq!((found.len(), found[0].0, found[0].1.is_ok()), (2, 2, true));
    let problem = &found[1].1.as_ref().unwrap_err()[0].problem;
    assert_eq!((found[1].0, problem.as_str()), (1_048_576, "a cell stands in column 16384; at most 1000 are read"));
}

#[test]
fn no_field_is_forgotten() {
    for field in Field::ALL {
        assert_eq!(field.word().parse::<Field>(), Ok(field));
        assert_eq!(serde_json::to_string(&field).unwrap(), format!("\"{field}\""));
    }
}
