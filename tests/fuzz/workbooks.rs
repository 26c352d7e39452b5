//! Workbooks whose parts are strange: the archive is sound, so that what is in it is reached.

use std::cell::OnceCell;
use std::fs;
use std::io::{Cursor, Write};

use boxward::list::ListOptions;
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

use super::lists::assert_read;
use super::{Target, folder};

pub const TARGET: Target = Target {
    name: "workbooks",
    check,
    seeds,
    words: &[
        "<row r=\"1\">",
        "<c r=\"A1\" t=\"s\"><v>0</v></c>",
        "<si><t>",
        "uniqueCount=\"",
        "t=\"inlineStr\"><is><t>",
        "<dimension ref=\"A1:B2\"/>",
        "XFD1048576",
        "&#x41;",
        "<![CDATA[",
        "t=\"e\"",
        "t=\"d\"",
        "t=\"b\"",
        "<f t=\"shared\" ref=\"A1:A9\" si=\"0\">",
        "<sheet name=\"One\" sheetId=\"1\" r:id=\"r1\"/>",
    ],
};

thread_local! {
    static FOLDER: OnceCell<tempfile::TempDir> = const { OnceCell::new() };
}

/// The parts of a small workbook, as ECMA-376 has them at the least.
const PARTS: [(&str, &str); 6] = [
    (
        "xl/worksheets/sheet1.xml",
        "<worksheet><dimension ref=\"A1:C3\"/><sheetData><row r=\"1\"><c r=\"A1\" t=\"s\"><v>0</v></c><c r=\"B1\" t=\"s\"><v>1</v></c></row>\
         <row r=\"2\"><c r=\"A2\" t=\"inlineStr\"><is><t>Tide Wardens</t></is></c><c r=\"B2\"><f t=\"shared\" ref=\"B2:B3\" si=\"0\">A1+1</f><v>1</v></c></row>\
         <row r=\"3\"><c r=\"A3\" s=\"1\"><v>45000.5</v></c><c r=\"B3\"><f t=\"shared\" si=\"0\"/><v>2</v></c><c r=\"C3\" t=\"e\"><v>#N/A</v></c></row></sheetData></worksheet>",
    ),
    (
        "xl/sharedStrings.xml",
        "<sst count=\"2\" uniqueCount=\"2\"><si><t>title</t></si><si><r><t>iss</t></r><r><t>ue</t></r></si></sst>",
    ),
    (
        "xl/styles.xml",
        "<styleSheet><numFmts count=\"1\"><numFmt numFmtId=\"164\" formatCode=\"yyyy\\-mm\\-dd\"/></numFmts>\
         <cellXfs><xf numFmtId=\"0\"/><xf numFmtId=\"164\"/></cellXfs></styleSheet>",
    ),
    (
        "xl/workbook.xml",
        "<workbook><workbookPr date1904=\"0\"/><sheets><sheet name=\"One\" sheetId=\"1\" r:id=\"r1\"/></sheets></workbook>",
    ),
    (
        "xl/_rels/workbook.xml.rels",
        "<Relationships><Relationship Id=\"r1\" Type=\"http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet\" Target=\"worksheets/sheet1.xml\"/></Relationships>",
    ),
    (
        "_rels/.rels",
        "<Relationships><Relationship Id=\"r1\" Type=\"http://schemas.openxmlformats.org/officeDocument/2006/relationships/officeDocument\" Target=\"xl/workbook.xml\"/></Relationships>",
    ),
];

/// The first byte says which part the others are.
fn check(bytes: &[u8]) {
    let Some((&which, part)) = bytes.split_first() else { return };
    let mut archive = ZipWriter::new(Cursor::new(Vec::new()));
    let stored = SimpleFileOptions::default().compression_method(CompressionMethod::Stored);
    for (number, (name, text)) in PARTS.iter().enumerate() {
        archive.start_file(*name, stored).unwrap();
        archive.write_all(if number == usize::from(which) % PARTS.len() { part } else { text.as_bytes() }).unwrap();
    }
    FOLDER.with(|kept| {
        let path = kept.get_or_init(folder).path().join("list.xlsx");
        fs::write(&path, archive.finish().unwrap().into_inner()).unwrap();
        assert_read(&path, &ListOptions::default(), false);
    });
}

fn seeds() -> Vec<Vec<u8>> {
    PARTS.iter().enumerate().map(|(number, (_, text))| [&[number as u8], text.as_bytes()].concat()).collect()
}
