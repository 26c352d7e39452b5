//! Lists as text: separated values and JSON lines.

use std::cell::OnceCell;
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use boxward::code::Gtin;
use boxward::list::{ListError, ListOptions, Mapping, Spelling, Table, entry};

use super::{Target, example, folder, texts};

pub const TARGET: Target = Target {
    name: "lists",
    check,
    seeds,
    words: &[
        "sep=",
        "title",
        "issue",
        "upc",
        "price",
        "\"\"",
        "\r\n",
        "\u{feff}",
        "{\"title\":\"",
        "$3.99",
        "2026-02-04",
    ],
};

thread_local! {
    static FOLDER: OnceCell<tempfile::TempDir> = const { OnceCell::new() };
}

fn check(bytes: &[u8]) {
    let mut options = ListOptions::default();
    // The last byte chooses how the list is read.
    let last = bytes.last().copied().unwrap_or_default();
    options.skip = usize::from(last % 3);
    options.unnamed = last & 0x40 != 0;
    FOLDER.with(|kept| {
        let path = kept.get_or_init(folder).path().join("list");
        fs::write(&path, bytes).unwrap();
        assert_read(&path, &options, true);
    });
}

/// Reads a list; its rows have its columns, its codes pass their check, and its lines count up where they must.
pub fn assert_read(path: &Path, options: &ListOptions, in_order: bool) {
    let Ok(mut table) = Table::open(path, options) else { return };
    let columns = table.columns().to_vec();
    assert!(!columns.is_empty() && columns.len() <= 1000);
    let mapping = Mapping::new(&BTreeMap::new(), &columns);
    let spelling = Spelling { currency: "USD".parse().ok(), ..Spelling::default() };
    let mut line = 0;
    let _ = table.rows(|row| {
        assert!(row.line > line || !in_order, "line {} after {line}", row.line);
        line = row.line;
        assert!(row.cells.as_ref().is_ok_and(|cells| cells.len() == columns.len()) || row.cells.is_err());
        if let Ok(mapping) = &mapping
            && let Ok(entry) = entry(&row, mapping, &columns, spelling)
            && let Some(code) = entry.code
        {
            assert_eq!(code.to_string().parse::<Gtin>(), Ok(code));
        }
        Ok::<_, ListError>(())
    });
}

fn seeds() -> Vec<Vec<u8>> {
    let shop = example("lists/shop.csv");
    let utf_16 = String::from_utf8(shop.clone()).unwrap();
    let utf_16: Vec<u8> = format!("\u{feff}{utf_16}").encode_utf16().flat_map(u16::to_le_bytes).collect();
    let mut seeds = vec![shop, utf_16, example("lists/shop.xlsx")];
    seeds.extend(texts(&[
        "sep=;\r\ntitle;issue;upc\r\nTide Wardens;1;614141001040 01211\r\n",
        "title,issue\n\"Tide\nWardens\",\"1 \"\"a\"\"\"\n",
        "{\"title\":\"Tide Wardens\",\"issue\":1,\"price\":3.99}\n\n{\"title\":null,\"upc\":\"614141001040\"}\n",
        "Books\nTide Wardens,1\nTide Wardens,2\n",
    ]));
    seeds
}
