//! How long 'do I own this?' and the resolving of one staged item take, and that neither grows with the collection; and
//! how long the week's questions take: the reading pile, spending by month; and what reads every copy.
//!
//! Goal: each median under 1 ms at a million copies and 50,000 titles (5 ms for a title typed loosely), the week's questions
//! under 200 ms, a list of 100,000 rows taken into the catalogue under 10 s. Resolving ends in a commit that waits for the disk
//! (`synchronous = FULL`), so its figure is the disk's as well: run with `TMPDIR` on a memory disk to see the
//! program's share.
#![allow(missing_docs, reason = "criterion's macros make undocumented items")]
#![allow(clippy::unwrap_used, reason = "a benchmark that can't go on has failed")]

mod fill;

use std::hint::black_box;
use std::path::Path;
use std::time::{Duration, Instant};

use boxward::code::{AddOnState, Certainty, Code};
use boxward::collection::{CopyFilter, CopyRecord, SpendBy};
use boxward::intake::ItemId;
use boxward::list::Choices;
use boxward::resolve::Answers;
use boxward::source::{Origin, Sighting};
use boxward::store::{CopyOrder, Store};
use boxward::workflow::{
    self, Have, ListTaking, Part, ResolveOptions, Select, Selection, Session, StageOutcome, WorkflowError,
};
use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use jiff::Timestamp;

const SIZES: [u32; 3] = [1_000, 100_000, 1_000_000];

fn collection(criterion: &mut Criterion) {
    for copies in SIZES {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("collection.boxward");
        fill::fill(&path, copies);
        let store = Store::open(&path).unwrap();
        have(criterion, &store, copies);
        week(criterion, &store, copies);
        resolve(criterion, &store, copies);
        list(criterion, &store, folder.path(), copies);
    }
}

/// Another title and issue each time, so that no page is always warm.
fn pick(copies: u32, n: &mut u32) -> (u32, u32) {
    *n = n.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
    let row = ((u64::from(*n) * u64::from(copies)) >> 32) as u32;
    (row / fill::ISSUES, row % fill::ISSUES + 1)
}

fn have(criterion: &mut Criterion, store: &Store, copies: u32) {
    let mut group = criterion.benchmark_group("have");
    let mut n = 1;
    group.bench_function(BenchmarkId::new("code", copies), |bencher| {
        bencher.iter(|| {
            let (title, issue) = pick(copies, &mut n);
            let answer = workflow::have(store, &format!("{}{issue:03}11", fill::code(title))).unwrap();
            assert_eq!(black_box(answer).answer, Have::Owned);
        });
    });
    group.bench_function(BenchmarkId::new("title and issue", copies), |bencher| {
        bencher.iter(|| {
            let (title, issue) = pick(copies, &mut n);
            let answer = workflow::have(store, &format!("{} {issue}", fill::name(title).to_lowercase())).unwrap();
            assert_eq!(black_box(answer).answer, Have::Owned);
        });
    });
    group.bench_function(BenchmarkId::new("words in any order", copies), |bencher| {
        bencher.iter(|| {
            let (title, issue) = pick(copies, &mut n);
            let name = fill::name(title);
            let words: Vec<_> = name.split(' ').skip(1).collect();
            let answer = workflow::have(store, &format!("{} {} #{issue}", words[1], words[0])).unwrap();
            assert_eq!(black_box(answer).answer, Have::Owned);
        });
    });
    group.bench_function(BenchmarkId::new("one word, cut short", copies), |bencher| {
        bencher.iter(|| {
            let (title, issue) = pick(copies, &mut n);
            let name = fill::name(title);
            let word = name.split(' ').nth(2).unwrap();
            let answer = workflow::have(store, &format!("{} {issue}", &word[..3])).unwrap();
            assert!(!black_box(answer).titles.is_empty());
        });
    });
    // What the desk's page asks as one types.
    for counted in [false, true] {
        let name = if counted { "a page of titles, counted" } else { "a page of titles" };
        group.bench_function(BenchmarkId::new(name, copies), |bencher| {
            bencher.iter(|| {
                let (title, _) = pick(copies, &mut n);
                let name = fill::name(title);
                let word = name.split(' ').nth(2).unwrap();
                let part = Part { skip: 0, most: 20, counted };
                let (answer, all) = workflow::have_part(store, &word[..3], part).unwrap();
                assert!(black_box(answer).titles.len() <= all);
            });
        });
    }
    group.bench_function(BenchmarkId::new("whole title by code", copies), |bencher| {
        bencher.iter(|| {
            let (title, _) = pick(copies, &mut n);
            let answer = workflow::have(store, &fill::code(title)).unwrap();
            assert_eq!(black_box(answer).answer, Have::Owned);
        });
    });
    group.finish();
}

fn week(criterion: &mut Criterion, store: &Store, copies: u32) {
    let mut group = criterion.benchmark_group("week");
    group.sample_size(20);
    group.bench_function(BenchmarkId::new("pile in reading order", copies), |bencher| {
        bencher.iter(|| black_box(workflow::pile_list(store, u32::MAX).unwrap().len()));
    });
    group.bench_function(BenchmarkId::new("pile in numbers", copies), |bencher| {
        bencher.iter(|| assert!(black_box(workflow::pile(store, fill::LAST_DAY).unwrap()).came > 0));
    });
    group.bench_function(BenchmarkId::new("spend by month", copies), |bencher| {
        bencher.iter(|| {
            let spending = workflow::spend(store, SpendBy::Month, None, None).unwrap();
            assert_eq!(black_box(spending).total.copies, u64::from(fill::ever_bought(copies)));
        });
    });
    group.finish();
    shelf(criterion, store, copies);
}

/// What reads every copy, and so grows with the collection; and what reads those of one title.
fn shelf(criterion: &mut Criterion, store: &Store, copies: u32) {
    let mut group = criterion.benchmark_group("shelf");
    group.sample_size(10);
    group.bench_function(BenchmarkId::new("spend by month against covers", copies), |bencher| {
        bencher.iter(|| {
            let spending = workflow::spend_against_cover(store, SpendBy::Month, None, None).unwrap();
            assert_eq!(black_box(spending).total.against_cover[0].copies, u64::from(copies));
        });
    });
    let count = |selection: &Selection| {
        let mut found = 0;
        let each = &mut |_: CopyRecord| {
            found += 1;
            Ok::<_, WorkflowError>(())
        };
        workflow::each_copy(store, selection, CopyOrder::Title, each).unwrap();
        found
    };
    group.bench_function(BenchmarkId::new("every copy with all that is known", copies), |bencher| {
        bencher.iter(|| assert_eq!(count(&Selection::default()), copies));
    });
    let mut n = 1;
    group.bench_function(BenchmarkId::new("one title's bagged copies", copies), |bencher| {
        bencher.iter(|| {
            let (title, _) = pick(copies, &mut n);
            let filter = CopyFilter { bagged: Some(true), ..CopyFilter::default() };
            let selection = Selection { words: format!("{} 1-9", fill::name(title)), filter, ..Selection::default() };
            assert!(count(&selection) > 0);
        });
    });
    group.bench_function(BenchmarkId::new("year in review", copies), |bencher| {
        bencher.iter(|| assert!(workflow::year_review(store, 2020).unwrap().totals().0 > 0));
    });
    group.finish();
}

/// Stages an item that needs no answer: a cover and printing that is not owned yet.
fn stage(store: &Store, copies: u32, n: &mut u32, staged: &mut u32) -> ItemId {
    *staged += 1;
    let (title, issue) = pick(copies, n);
    let add_on = format!("{issue:03}{}{}", *staged % 8 + 2, *staged / 8 % 9 + 1);
    let add_on = AddOnState::Read(add_on.parse().unwrap());
    let sighting = Sighting {
        code: Some(Code { gtin: fill::code(title).parse().unwrap(), add_on }),
        symbology: None,
        certainty: Certainty::Sure,
        origin: Origin::Device { name: "handheld".to_owned() },
        seen_at: Timestamp::UNIX_EPOCH,
        evidence: None,
    };
    match Session::new().stage(store, &sighting, Timestamp::UNIX_EPOCH).unwrap() {
        StageOutcome::Staged(new) => new.item,
        StageOutcome::SeenAgain(_) => unreachable!("a session of its own repeats nothing"),
    }
}

fn resolve(criterion: &mut Criterion, store: &Store, copies: u32) {
    let mut group = criterion.benchmark_group("resolve");
    group.sample_size(50);
    let (mut n, mut staged) = (1, 0_u32);
    let now = Timestamp::UNIX_EPOCH;
    for undone in [false, true] {
        let name = if undone { "undo it" } else { "one staged item" };
        group.bench_function(BenchmarkId::new(name, copies), |bencher| {
            bencher.iter_custom(|iterations| {
                let mut spent = Duration::ZERO;
                for _ in 0..iterations {
                    let item = stage(store, copies, &mut n, &mut staged);
                    let options = ResolveOptions { select: Select::Item(item), ..ResolveOptions::default() };
                    let begun = Instant::now();
                    let report = workflow::resolve(store, &Answers::none(), &options, None, now).unwrap();
                    if undone {
                        let begun = Instant::now();
                        workflow::undo(store, report.run, now).unwrap();
                        spent += begun.elapsed();
                    } else {
                        spent += begun.elapsed();
                    }
                }
                spent
            });
        });
    }
    group.finish();
}

/// Takes a list of issues that are not known yet, and takes the run back.
fn list(criterion: &mut Criterion, store: &Store, folder: &Path, copies: u32) {
    const ROWS: u32 = 100_000;
    let path = folder.join("list.csv");
    let mut text = String::from("title,publisher,year,issue,cover,code,on sale,price,pages\n");
    for row in 0..ROWS {
        // Half of the rows add to titles that are known, half make new ones.
        let (title, issue) = (row / 20, row % 20 + 801);
        let (name, code) = (fill::name(title), fill::code(title));
        let reborn = if title % 2 == 0 { "" } else { " Afresh" };
        let year = if title % 2 == 0 { 1990 + title % 36 } else { 2026 };
        text += &format!("{name}{reborn},Lantern Street,{year},{issue},1,{code} {issue:03}11,2026-03-04,3.99 USD,32\n");
    }
    std::fs::write(&path, text).unwrap();
    let mut group = criterion.benchmark_group("list of 100,000 rows");
    group.sample_size(10);
    let now = Timestamp::UNIX_EPOCH;
    let taking = ListTaking::default();
    for undone in [false, true] {
        let name = if undone { "undo it" } else { "take" };
        group.bench_function(BenchmarkId::new(name, copies), |bencher| {
            bencher.iter_custom(|iterations| {
                let mut spent = Duration::ZERO;
                for _ in 0..iterations {
                    let begun = Instant::now();
                    let report = workflow::list_import(store, &path, &Choices::default(), &taking, now, &mut |_| {});
                    let report = report.unwrap();
                    let (taken, begun) = (begun.elapsed(), Instant::now());
                    assert_eq!((report.failed, report.issues), (0, ROWS as usize));
                    workflow::undo(store, report.run, now).unwrap();
                    spent += if undone { begun.elapsed() } else { taken };
                }
                spent
            });
        });
    }
    group.finish();
}

criterion_group!(benches, collection);
criterion_main!(benches);
