//! What the program keeps is for its owner's eyes, also where everything is for everybody's (umask 0).
#![cfg(unix)]

use std::collections::BTreeSet;
use std::fs;
use std::io::{BufRead, BufReader, Write};
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::process::Stdio;

use crate::cli_home::Home;

/// Every file and folder below, with what others and the group may do to it.
fn open_to_others(folder: &Path, found: &mut Vec<(PathBuf, u32)>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        found.push((path.clone(), path.metadata().unwrap().permissions().mode() & 0o077));
        if path.is_dir() {
            open_to_others(&path, found);
        }
    }
}

/// The names of all files and folders below, none of which may be open to others.
fn made(folder: &Path) -> Vec<String> {
    let mut found = Vec::new();
    open_to_others(folder, &mut found);
    let open: Vec<_> = found.iter().filter(|(_, mode)| *mode != 0).collect();
    assert!(open.is_empty(), "others may look into {open:?}");
    found.iter().map(|(path, _)| path.file_name().unwrap().to_string_lossy().into_owned()).collect()
}

#[test]
fn nothing_that_is_kept_is_readable_for_others() {
    let home = Home::new();
    // While it is open, SQLite's files lie beside it.
    let mut scan = home
        .command("/bin/sh")
        .args(["-c", "umask 000; exec boxward scan --handheld --quiet"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut input = scan.stdin.take().unwrap();
    let mut lines = BufReader::new(scan.stdout.take().unwrap()).lines();
    input.write_all(b"614141001040 01511\n614141001040 01611\n").unwrap();
    lines.next().unwrap().unwrap();
    let names = made(&home.path().join(".local"));
    for name in ["boxward", "collection.sqlite", "collection.sqlite-wal", "collection.sqlite-shm"] {
        assert!(names.iter().any(|found| found == name), "{name} is not among {names:?}");
    }
    drop(input);
    assert!(scan.wait().unwrap().success());

    let folder = home.path().join(".local/share/boxward");
    let photo = Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/stack/photo-21.jpg");
    fs::copy(photo, home.path().join("photo.jpg")).unwrap();
    let ran = home.shell(&format!(
        "umask 000; boxward import photo.jpg; boxward resolve --json; boxward backup && boxward export {0}/export.jsonl && \
         boxward import --collection {0}/other.sqlite --collection-data {0}/export.jsonl && \
         boxward backup restore {0}/collection.backups/*.sqlite",
        folder.display()
    ));
    assert_eq!(ran.code, 0, "{}", ran.out);
    let names = made(&home.path().join(".local"));
    for part in [
        "collection.backups",
        "collection-2026",
        ".boxward-backup.lock",
        "collection.crops",
        "item-",
        "export.jsonl",
        "other.sqlite",
    ] {
        assert!(names.iter().any(|found| found.starts_with(part)), "{part} is not among {names:?}");
    }
}

#[test]
fn the_demo_s_folder_is_the_owner_s() {
    let home = Home::new();
    let ran = home.shell("umask 000; boxward demo --quiet --keep kept >/dev/null");
    assert_eq!(ran.code, 0, "{}", ran.out);
    assert_eq!(home.path().join("kept").metadata().unwrap().permissions().mode() & 0o077, 0);
}

/// The copy of a damaged file, and the new one while it grows, hold as much as what is left in the end.
#[test]
fn what_is_repaired_is_its_owner_s_from_the_first_byte_on() {
    let home = Home::new();
    let ran = home.shell("printf '614141001040 01511\n' | boxward scan --handheld --quiet --collection damaged.sqlite");
    assert_eq!(ran.code, 0, "{}", ran.out);
    let damaged = home.path().join("damaged.sqlite");
    fs::set_permissions(&damaged, fs::Permissions::from_mode(0o666)).unwrap();
    // Copying all that behind the collection's pages takes long enough to be seen.
    fs::OpenOptions::new().write(true).open(&damaged).unwrap().set_len(64 << 20).unwrap();
    let folder = home.path().join("saved");
    fs::create_dir(&folder).unwrap();
    let line = "umask 000; exec boxward repair damaged.sqlite --to saved/new.sqlite --quiet >out 2>&1";
    let mut repair = home.command("/bin/sh").args(["-c", line]).spawn().unwrap();
    let (mut seen, mut open) = (BTreeSet::new(), BTreeSet::new());
    let status = loop {
        // Before looking, so that what is there in the end is looked at too.
        let ended = repair.try_wait().unwrap();
        for entry in fs::read_dir(&folder).unwrap() {
            // One that was removed meanwhile is of no concern.
            let entry = entry.unwrap();
            let Ok(metadata) = entry.metadata() else { continue };
            let name = entry.file_name().to_string_lossy().into_owned();
            if metadata.permissions().mode() & 0o777 != 0o600 {
                open.insert(name.clone());
            }
            seen.insert(name);
        }
        if let Some(status) = ended {
            break status;
        }
    };
    assert!(status.success(), "{}", fs::read_to_string(home.path().join("out")).unwrap());
    assert_eq!(open, BTreeSet::new());
    for name in ["new.sqlite.damaged.partial", "new.sqlite"] {
        assert!(seen.contains(name), "{name} is not among {seen:?}");
    }
    // What comes to lie beside it when it is used.
    let photo = Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/stack/photo-21.jpg");
    fs::copy(photo, home.path().join("photo.jpg")).unwrap();
    let ran = home.shell(
        "umask 000; export BOXWARD_COLLECTION=saved/new.sqlite; boxward import photo.jpg; boxward resolve --json; \
         boxward backup && boxward have 614141001040",
    );
    assert_eq!(ran.code, 0, "{}", ran.out);
    let names = made(&folder);
    for part in ["new.backups", "new-2026", ".boxward-backup.lock", "new.crops", "item-"] {
        assert!(names.iter().any(|found| found.starts_with(part)), "{part} is not among {names:?}");
    }
}
