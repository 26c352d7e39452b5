//! Collections that are read back from lines of JSON.

use std::cell::{Cell, OnceCell};
use std::fs;

use boxward::store::{BackupFile, Store};
use boxward::workflow::import_data;

use super::answers::settled;
use super::{Target, folder, texts};

pub const TARGET: Target = Target {
    name: "data",
    check,
    seeds,
    words: &[
        "{\"format\":\"boxward collection\",\"version\":11}",
        "{\"end\":{\"records\":",
        "{\"title\":{\"id\":",
        "{\"copy\":{\"id\":",
        "{\"box\":{\"id\":",
        "\"gtin\":614141001040",
        "null",
        "9223372036854775807",
        "-1",
        "1e999",
        "\"; DROP TABLE copy; --",
        "\"search_key\":\"",
        "\"layout\":\"IIICP\"",
        "{\"change\":{\"id\":1}}",
        "{\"sqlite_schema\":{\"id\":1}}",
    ],
};

thread_local! {
    static FOLDER: OnceCell<tempfile::TempDir> = const { OnceCell::new() };
    static NUMBER: Cell<u64> = const { Cell::new(0) };
}

fn check(bytes: &[u8]) {
    NUMBER.set(NUMBER.get() + 1);
    FOLDER.with(|kept| {
        let folder = kept.get_or_init(folder).path().join(NUMBER.get().to_string());
        fs::create_dir(&folder).unwrap();
        let (path, again) = (folder.join("read.sqlite"), folder.join("again.sqlite"));
        let read = import_data(&path, &mut &bytes[..]);
        match read {
            Err(_) => assert_eq!(fs::read_dir(&folder).unwrap().count(), 0, "something of it was kept"),
            Ok(_) => {
                BackupFile::open(&path).unwrap().verify().expect("what was read is whole");
                let mut written = Vec::new();
                Store::open(&path).unwrap().export(&mut written).unwrap();
                import_data(&again, &mut &written[..]).expect("what was written is read back");
                let mut twice = Vec::new();
                Store::open(&again).unwrap().export(&mut twice).unwrap();
                assert!(written == twice, "what was read back differs");
            }
        }
        fs::remove_dir_all(&folder).unwrap();
    });
}

fn seeds() -> Vec<Vec<u8>> {
    let (_folder, store) = settled();
    let mut whole = Vec::new();
    store.export(&mut whole).unwrap();
    let mut seeds = vec![whole];
    seeds.extend(texts(&[
        "{\"format\":\"boxward collection\",\"version\":1}\n{\"end\":{\"records\":0}}\n",
        "{\"format\":\"boxward collection\",\"version\":4}\n{\"publisher\":{\"id\":1,\"name\":\"Lantern Row\",\"search_key\":\"lantern row\"}}\n{\"end\":{\"records\":1}}\n",
    ]));
    seeds
}
