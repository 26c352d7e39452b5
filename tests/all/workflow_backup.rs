//! Backups: whole whatever is written meanwhile, so many and no more, and nothing overwritten that is not kept.

use std::fs;
use std::num::NonZeroU32;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};

use boxward::resolve::Answers;
use boxward::store::{BackupFile, QueueFilter, Store, StoreError};
use boxward::workflow::{self, BackupError, BackupMade, WorkflowError};
use jiff::{Timestamp, ToSpan};

use crate::workflow_support::{Home, dump, ferry, home, kept, now, upc};

/// A collection with two copies, an item that waits, and photos.
fn filled() -> Home {
    let home = home();
    home.stack(&format!("{0} 00411\n{0} 00511", upc(41)));
    home.answer(&[ferry()]);
    home.stack(&format!("{} ~", upc(41)));
    home
}

fn folder(home: &Home) -> PathBuf {
    home.folder.path().join("backups")
}

fn keep(n: u32) -> NonZeroU32 {
    NonZeroU32::new(n).unwrap()
}

fn back_up(home: &Home, n: u32, now: Timestamp) -> BackupMade {
    workflow::backup(&home.store, &folder(home), keep(n), now).unwrap()
}

fn restore(home: &Home, file: &Path) -> Result<workflow::Restored, WorkflowError> {
    workflow::restore(home.store.path(), file, &folder(home), now())
}

/// Names of the folder's backups, without the lock.
fn names(home: &Home) -> Vec<String> {
    let entries = fs::read_dir(folder(home)).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap());
    let mut names: Vec<_> = entries.filter(|name| !name.starts_with('.')).collect();
    names.sort();
    names
}

#[test]
fn a_backup_is_one_file_with_all_that_the_collection_holds() {
    let home = filled();
    let made = back_up(&home, 10, now());
    assert_eq!(made.path, folder(&home).join("collection-20261125T120000Z.sqlite"));
    assert_eq!((made.summary.titles, made.summary.copies), (1, 2));
    assert_eq!(dump(&made.path), home.dump());
    assert_eq!(names(&home), ["collection-20261125T120000Z.sqlite"]);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        assert_eq!(fs::metadata(&made.path).unwrap().permissions().mode() & 0o777, 0o600);
    }
    // It is a collection like any other, its journal included.
    let copy = Store::open(&made.path).unwrap();
    for _ in 0..3 {
        workflow::undo(&copy, None, now()).unwrap();
    }
    assert_eq!(dump(&made.path), "");
    assert_ne!(home.dump(), "");
}

#[test]
fn backups_made_while_others_write_are_each_of_one_moment() {
    let home = filled();
    let over = AtomicBool::new(false);
    let staged = |path: &Path| Store::open(path).unwrap().items(QueueFilter::Open).unwrap().len();
    let (store, over_there) = (home.store.again().unwrap(), &over);
    std::thread::scope(|scope| {
        scope.spawn(move || {
            let mut session = workflow::Session::new();
            for n in 0.. {
                let sighting = boxward::source::Sighting {
                    code: Some(boxward::code::Code {
                        gtin: upc(1000 + n).parse().unwrap(),
                        add_on: boxward::code::AddOnState::Absent,
                    }),
                    symbology: None,
                    certainty: boxward::code::Certainty::Sure,
                    origin: boxward::source::Origin::Device { name: "handheld".to_owned() },
                    seen_at: now(),
                    evidence: None,
                };
                session.stage(&store, &sighting, now()).unwrap();
                if over_there.load(Ordering::Relaxed) {
                    break;
                }
            }
        });
        for n in 0..8 {
            let before = home.store.items(QueueFilter::Open).unwrap().len();
            let made = back_up(&home, 10, now() + n.seconds());
            let after = home.store.items(QueueFilter::Open).unwrap().len();
            let copied = staged(&made.path);
            assert!((before..=after).contains(&copied), "{before} {copied} {after}");
        }
        over.store(true, Ordering::Relaxed);
    });
}

#[test]
fn the_newest_stay_and_nothing_else_is_touched() {
    let home = filled();
    let other = crate::workflow_support::home();
    other.stack(&format!("{} 00911", upc(43)));
    // Another collection of the same name, whose first run began at another moment.
    rusqlite::Connection::open(other.store.path()).unwrap().execute("UPDATE run SET started_ms = 5", []).unwrap();
    let foreign = workflow::backup(&other.store, &folder(&home), keep(1), now() - 9.hours()).unwrap();
    for name in ["notes.txt", "collection-20200101T000000Z.sqlite", "collection.sqlite"] {
        fs::write(folder(&home).join(name), "something else").unwrap();
    }
    let mut made = Vec::new();
    for n in 0..5 {
        made.push(back_up(&home, 3, now() + n.minutes()));
    }
    let removed: Vec<_> = made.iter().flat_map(|made| made.removed.clone()).collect();
    assert_eq!(removed, [made[0].path.clone(), made[1].path.clone()]);
    assert!(made[2..].iter().all(|made| made.path.exists()) && foreign.path.exists());
    assert_eq!(names(&home).len(), 3 + 1 + 3);
    // A clock that was set back does not cost the newest.
    let earlier = back_up(&home, 1, now() - 1.hours());
    assert_eq!((earlier.path.exists(), earlier.removed.len()), (true, 3));
    // Two in one second both get a name.
    let twice = [back_up(&home, 9, now()), back_up(&home, 9, now())].map(|made| made.path);
    assert_eq!(twice[1], folder(&home).join("collection-20261125T120000Z-2.sqlite"));
    let listed: Vec<_> = workflow::backups(home.store.path(), &folder(&home)).unwrap();
    assert_eq!(listed[0].path, twice[1]);
    assert!(listed.last().unwrap().summary.is_err(), "what is no backup is listed as such");
}

#[test]
fn a_backup_brings_back_what_it_was_made_of_and_the_rest_is_kept() {
    let home = filled();
    let first = home.dump();
    let made = back_up(&home, 10, now());
    home.stack(&format!("{} 00611", upc(41)));
    home.resolve(&Answers::none());
    let second = home.dump();
    let restored = restore(&home, &made.path).unwrap();
    assert_eq!((home.dump(), restored.summary), (first.clone(), made.summary));
    let before = restored.before.unwrap();
    assert_eq!(dump(&before), second);
    // And there again: the restore is taken back by the backup that it made.
    restore(&home, &before).unwrap();
    assert_eq!(home.dump(), second);
    // Where nothing was, nothing is kept.
    let fresh = home.folder.path().join("new.boxward");
    let restored = workflow::restore(&fresh, &made.path, &folder(&home), now()).unwrap();
    assert_eq!((dump(&fresh), restored.before), (first, None));
}

#[test]
fn an_older_backup_is_brought_up_to_date_and_itself_left_alone() {
    let home = filled();
    let old = home.folder.path().join("old.sqlite");
    rusqlite::Connection::open(&old).unwrap().execute_batch(include_str!("../fixtures/collection_1.sql")).unwrap();
    let before = fs::read(&old).unwrap();
    restore(&home, &old).unwrap();
    let store = Store::open(home.store.path()).unwrap();
    assert_eq!(workflow::have(&store, "night ferry 4").unwrap().titles[0].copies, 1);
    assert_eq!(home.dump(), kept(&dump(&old)));
    assert_eq!(fs::read(&old).unwrap(), before);
}

#[test]
fn what_is_no_whole_collection_is_refused_and_nothing_replaced() {
    let home = filled();
    let made = back_up(&home, 10, now()).path;
    let state = home.dump();
    let bytes = fs::read(&made).unwrap();
    let file = |name: &str, bytes: &[u8]| {
        let path = home.folder.path().join(name);
        fs::write(&path, bytes).unwrap();
        path
    };
    let sql = |name: &str, sql: &str| {
        let path = file(name, &bytes);
        rusqlite::Connection::open(&path).unwrap().execute_batch(sql).unwrap();
        path
    };
    let mut overwritten = bytes.clone();
    // A page in the middle: a tree of SQLite's, whatever it belongs to.
    overwritten[4096 * 5..4096 * 6].fill(0xa5);
    type Expected = fn(&WorkflowError) -> bool;
    let refused: [(PathBuf, Expected); 8] = [
        (file("text.sqlite", &b"no database".repeat(100)), |e| {
            matches!(e, WorkflowError::Store(StoreError::NotACollection { .. }))
        }),
        (file("empty.sqlite", b""), |e| matches!(e, WorkflowError::Store(StoreError::NotACollection { .. }))),
        (file("cut.sqlite", &bytes[..bytes.len() / 2]), |e| {
            matches!(e, WorkflowError::Store(StoreError::NotWhole { .. }))
        }),
        (file("overwritten.sqlite", &overwritten), |e| matches!(e, WorkflowError::Store(StoreError::NotWhole { .. }))),
        (sql("newer.sqlite", "PRAGMA user_version = 99"), |e| {
            matches!(e, WorkflowError::Store(StoreError::Newer { found: 99, .. }))
        }),
        (sql("loose.sqlite", "PRAGMA foreign_keys = OFF; DELETE FROM issue"), |e| {
            matches!(e, WorkflowError::Store(StoreError::NotWhole { .. }))
        }),
        (home.folder.path().join("missing.sqlite"), |e| matches!(e, WorkflowError::Store(StoreError::Open { .. }))),
        (home.store.path().clone(), |e| matches!(e, WorkflowError::Backup(BackupError::Itself(_)))),
    ];
    let kept = names(&home);
    for (path, expected) in refused {
        let error = restore(&home, &path).unwrap_err();
        assert!(expected(&error), "{}: {error:?}", path.display());
        assert_eq!(home.dump(), state, "{}", path.display());
    }
    assert_eq!(names(&home), kept, "what is refused makes no backup");
}

#[test]
fn a_collection_that_cant_be_kept_is_not_overwritten() {
    let home = filled();
    let made = back_up(&home, 10, now()).path;
    let damaged = home.folder.path().join("damaged.sqlite");
    let mut bytes = fs::read(&made).unwrap();
    bytes[4096 * 5..4096 * 6].fill(0xa5);
    fs::write(&damaged, &bytes).unwrap();
    let error = workflow::restore(&damaged, &made, &folder(&home), now()).unwrap_err();
    assert!(matches!(error, WorkflowError::Backup(BackupError::Present { .. })), "{error:?}");
    assert_eq!(names(&home).len(), 1, "a backup that is not whole has no name");
    // A folder that can't be made is as good as none.
    let file = home.folder.path().join("file");
    fs::write(&file, "").unwrap();
    let state = home.dump();
    let error = workflow::restore(home.store.path(), &made, &file.join("below"), now()).unwrap_err();
    assert!(matches!(error, WorkflowError::Backup(BackupError::File { .. })), "{error:?}");
    assert_eq!(home.dump(), state);
}

#[test]
fn what_was_written_since_the_backup_is_not_lost() {
    let home = filled();
    let made = back_up(&home, 10, now()).path;
    let from = BackupFile::open(&made).unwrap();
    let moment = home.store.copy_to(&home.folder.path().join("kept.sqlite")).unwrap();
    let second = home.store.again().unwrap();
    let item = second.items(QueueFilter::Open).unwrap()[0].id;
    workflow::queue_drop(&second, &[item], now()).unwrap();
    let state = home.dump();
    let error = home.store.replace_by(&from, Some(&moment)).unwrap_err();
    assert!(matches!(error, StoreError::WrittenMeanwhile), "{error:?}");
    assert_eq!(home.dump(), state);
    // The same without anybody in between goes through.
    let moment = home.store.copy_to(&home.folder.path().join("again.sqlite")).unwrap();
    home.store.replace_by(&from, Some(&moment)).unwrap();
    assert_eq!(home.dump(), dump(&made));
}
