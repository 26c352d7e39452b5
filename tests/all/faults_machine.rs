//! A machine that fails: a full disk, a disk that can't be written, files that grow while they are read, a clock that jumps
//! back, and many processes at once.

use std::fs;
use std::io::Write;
use std::process::{Child, Stdio};
use std::time::Duration;

use serde_json::Value;

use crate::cli_home::{Home, Ran};
use crate::cli_import;
use crate::faults::{COLLECTION, Dice, Disk, record, sound};
use crate::faults_kill::{scenes, stack};
use crate::workflow_support::upc;

/// Room for any scene and what it writes, twice.
const DISK: u64 = 48 << 20;

/// Runs scenes on a disk with so little room left that some fail at each step.
fn on_a_full_disk(times: u32, seed: u64) {
    let Some(disk) = Disk::new(DISK) else { return };
    let (mut failed, mut tried) = (0, 0);
    for scene in scenes() {
        let calm = scene.undisturbed();
        let mut dice = Dice(seed);
        for _ in 0..times {
            let home = scene.start.copy_to(Home::within(disk.path()));
            // Most writes are small; some room lets a command begin.
            let room = dice.below(8) * dice.below(64) * 4096;
            let filler = disk.fill(room);
            let ran = scene.run(&home);
            tried += 1;
            if ran.code > 1 || ran.code < 0 {
                failed += 1;
                assert_eq!(ran.code, 4, "{}: {}", scene.name, ran.err);
                assert!(
                    named(&ran) && ran.err.contains("full") | ran.err.contains("No space"),
                    "{}: {}",
                    scene.name,
                    ran.err
                );
            }
            fs::remove_file(filler).unwrap();
            scene.check(&home, &lines(&ran), &calm);
        }
    }
    println!("a full disk: {tried} runs, {failed} of them failed");
    assert!(failed * 3 > tried, "the disk was hardly ever full: {failed} of {tried}");
}

fn named(ran: &Ran) -> bool {
    ["c.sqlite", "c.backups"].iter().any(|name| ran.err.contains(name))
}

fn lines(ran: &Ran) -> Vec<String> {
    ran.out.split_inclusive('\n').filter(|line| line.ends_with('\n')).map(str::to_owned).collect()
}

#[test]
fn a_full_disk_loses_nothing() {
    on_a_full_disk(1, 5);
}

/// `cargo test --test all -- --ignored --nocapture a_full_disk_many_times`
#[test]
#[ignore = "takes minutes"]
fn a_full_disk_many_times() {
    on_a_full_disk(25, 500);
}

#[test]
fn what_can_not_be_written_is_named_and_stays() {
    let Some(disk) = Disk::new(DISK) else { return };
    for scene in scenes() {
        let calm = scene.undisturbed();
        let home = scene.start.copy_to(Home::within(disk.path()));
        let before = fs::read(home.path().join(COLLECTION)).ok();
        disk.writable(false);
        let ran = scene.run(&home);
        let after = fs::read(home.path().join(COLLECTION)).ok();
        disk.writable(true);
        assert_eq!((ran.code, ran.out.as_str()), (4, ""), "{}: {}", scene.name, ran.err);
        assert!(named(&ran), "{}: {}", scene.name, ran.err);
        assert!(before == after, "{}", scene.name);
        scene.check(&home, &[], &calm);
    }
}

/// A photo that a phone is still sending: whatever is read of its beginning, no code is wrong, and in the end it is there.
#[test]
fn a_photo_that_grows_while_it_is_read_gives_no_wrong_code() {
    let home = Home::new();
    fs::create_dir(home.path().join("photos")).unwrap();
    let whole = fs::read(stack().join("photo-01.jpg")).unwrap();
    let path = home.path().join("photos/photo.jpg");
    let import = || home.run(["import", "--json", "--collection", COLLECTION, "photos"]);
    std::thread::scope(|scope| {
        let writer = scope.spawn(|| {
            let mut file = fs::File::create(&path).unwrap();
            for chunk in whole.chunks(whole.len() / 40 + 1) {
                file.write_all(chunk).unwrap();
                std::thread::sleep(Duration::from_millis(25));
            }
        });
        while !writer.is_finished() {
            let ran = import();
            assert!((0..=3).contains(&ran.code), "{}", ran.err);
        }
    });
    assert_eq!(import().code, 0);
    sound(&home.path().join(COLLECTION));
    let queue = home.run(["queue", "list", "--json", "--collection", COLLECTION]);
    let items: Vec<Value> = queue.out.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    let read: Vec<_> = items.iter().filter(|item| !item["gtin"].is_null()).collect();
    assert!(!read.is_empty());
    for item in read {
        assert_eq!(item["gtin"], "0614141001040", "{item}");
        assert!(item["add_on"] == "01211" || item["add_on"].is_null(), "{item}");
    }
}

#[test]
fn data_that_is_still_being_written_is_not_taken_for_all() {
    let full = Home::new();
    let codes: String = (0..40).map(|n| format!("{} 00111\n", upc(n))).collect();
    fs::write(full.path().join("codes"), codes).unwrap();
    let scan = format!(
        "boxward scan --handheld --quiet --collection {COLLECTION} < codes && boxward export data --collection {COLLECTION}"
    );
    assert_eq!(full.shell(&scan).code, 0);
    let data = fs::read(full.path().join("data")).unwrap();
    let home = Home::new();
    let mut dice = Dice(3);
    for _ in 0..20 {
        fs::write(home.path().join("data"), &data[..dice.below(data.len() as u64 - 1) as usize]).unwrap();
        let ran = home.run(["import", "--collection-data", "data", "--collection", COLLECTION]);
        assert_eq!(ran.code, 3, "{}{}", ran.out, ran.err);
    }
    fs::write(home.path().join("data"), &data).unwrap();
    assert_eq!(home.run(["import", "--collection-data", "data", "--collection", COLLECTION]).code, 0);
    assert_eq!(record(&home, true), record(&full, true));
}

#[test]
fn a_clock_that_jumps_back_confuses_nothing() {
    let home = Home::new();
    let at = |now: &str, line: &str| {
        let ran = home.shell(&format!("BOXWARD_NOW={now} boxward --collection {COLLECTION} --quiet {line}"));
        // Questions stay open while nobody answers them.
        assert_eq!(ran.code, i32::from(line.contains("> questions")), "{line}: {}", ran.out);
        ran.out
    };
    let code = upc(104);
    fs::write(home.path().join("codes"), format!("{code} 00111\n{code} 00211\n")).unwrap();
    at("2026-03-04T18:30:00Z", "scan --handheld < codes");
    at("2025-03-04T18:30:00Z", "resolve --json > questions");
    let answered = "sed 's/\"title\":null/\"title\":\"Tide Wardens\"/; s/\"layout\":null/\"layout\":\"IIICP\"/' questions > answers";
    assert_eq!(home.shell(answered).code, 0);
    at("2024-03-04T18:30:00Z", "resolve --answers answers");
    at("2026-03-05T18:30:00Z", "backup --keep 2");
    at("1999-12-31T23:59:59Z", "pile read tide wardens 1");
    at("1999-12-31T23:59:58Z", "pile");
    // The newest backup is the one that was just made, whatever its clock said: it is never the one that goes.
    let made = at("1998-01-01T00:00:00Z", "backup --keep 1");
    let path = made.split(':').next().unwrap();
    assert!(home.path().join(path).exists(), "{made}");
    at("1997-01-01T00:00:00Z", "box add A");
    at("1996-01-01T00:00:00Z", "file plan");
    at("1995-01-01T00:00:00Z", "file done");
    let before = record(&home, false);
    // Undo goes by the order of runs, not by their times.
    assert!(at("1994-01-01T00:00:00Z", "undo").contains("(file)"));
    at("2030-01-01T00:00:00Z", "undo 7");
    assert_eq!(record(&home, false), before);
    sound(&home.path().join(COLLECTION));
    for command in ["pull list", "spend --by month", "report year 1999", "undo --list", "supplies"] {
        at("1994-01-01T00:00:00Z", command);
    }
}

fn start(home: &Home, arguments: &[&str], input: Option<&str>) -> Child {
    let mut command = home.command(env!("CARGO_BIN_EXE_boxward"));
    command.args(arguments).args(["--collection", COLLECTION]);
    command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut child = command.spawn().unwrap();
    // A program that ended already reads nothing.
    let _ = child.stdin.take().unwrap().write_all(input.unwrap_or_default().as_bytes());
    child
}

fn end(child: Child) -> Ran {
    child.wait_with_output().unwrap().into()
}

#[test]
fn two_and_ten_scanners_at_once_stage_every_book_once() {
    for many in [2, 10] {
        let home = Home::new();
        let codes = |n: u32| (0..15).map(|k| format!("{} {k:03}11\n", upc(n))).collect::<String>();
        let inputs: Vec<String> = (0..many).map(codes).collect();
        let scanners: Vec<Child> =
            inputs.iter().map(|input| start(&home, &["scan", "--handheld", "--json"], Some(input))).collect();
        // Others read and copy meanwhile.
        let others: Vec<Child> = [&["queue", "list"][..], &["backup"], &["have", "x"], &["pile"]]
            .iter()
            .map(|arguments| start(&home, arguments, None))
            .collect();
        for ran in scanners.into_iter().map(end) {
            assert_eq!((ran.code, ran.out.lines().count()), (0, 15), "{}", ran.err);
        }
        // There may have been no collection yet when they looked.
        for ran in others.into_iter().map(end) {
            assert!(matches!(ran.code, 0 | 2), "{}", ran.err);
        }
        sound(&home.path().join(COLLECTION));
        let items = home.run(["queue", "list", "--json", "--collection", COLLECTION]);
        let codes: std::collections::BTreeSet<(String, String)> = items
            .out
            .lines()
            .map(|line| serde_json::from_str::<Value>(line).unwrap())
            .map(|item| (item["gtin"].to_string(), item["add_on"].to_string()))
            .collect();
        assert_eq!((items.out.lines().count(), codes.len()), (15 * many as usize, 15 * many as usize));
    }
}

/// What is done once is done once, however many do it at the same time.
#[test]
fn ten_at_once_come_to_what_one_comes_to() {
    let once = ["resolve", "file done", "undo", "pile read", "catalogue import", "migration"];
    for scene in scenes().into_iter().filter(|scene| once.contains(&scene.name)) {
        let calm = scene.undisturbed();
        for many in [2, 10] {
            let home = scene.start.copy();
            let arguments: Vec<&str> = scene.command.iter().map(String::as_str).collect();
            let all: Vec<Child> = (0..many).map(|_| start(&home, &arguments, None)).collect();
            let ended: Vec<Ran> = all.into_iter().map(end).collect();
            assert!(ended.iter().any(|ran| ran.code == 0), "{}: {:?}", scene.name, ended[0]);
            assert!(ended.iter().all(|ran| (0..4).contains(&ran.code)), "{}: {ended:#?}", scene.name);
            scene.check(&home, &lines(ended.iter().find(|ran| ran.code == 0).unwrap()), &calm);
        }
    }
}

/// Photos may be shared out among imports in any way: each is there once.
#[test]
fn ten_imports_at_once_stage_every_photo_once() {
    let scene = cli_import::scene();
    let alone = scene.start.copy();
    scene.run(&alone);
    let expected = cli_import::check(&alone, &[]);
    let home = scene.start.copy();
    let arguments: Vec<&str> = scene.command.iter().map(String::as_str).collect();
    let all: Vec<Child> = (0..10).map(|_| start(&home, &arguments, None)).collect();
    let mut promised = Vec::new();
    for ran in all.into_iter().map(end) {
        assert_eq!(ran.code, 0, "{}", ran.err);
        promised.extend(lines(&ran).iter().flat_map(|line| cli_import::promised(line)));
    }
    assert_eq!(cli_import::check(&home, &promised), expected);
    sound(&home.path().join(COLLECTION));
}
