//! Strangers' bytes into every target of `tests/fuzz`: a few changed examples of each by seed, and what was found before.
//! Pictures are changed in `reader_fuzz.rs` as well, where it is known which code they show.
//!
//! The long tests try many, each for some three minutes of one core: `cargo test --release --test all -- --ignored
//! --nocapture fuzz_targets::many_words`.

use std::panic::catch_unwind;
use std::time::{Duration, Instant};

use crate::fuzz::{TARGETS, Target, changed, found};
use crate::render::random::Random;

/// Far beyond what any of these small inputs takes, on a busy machine and unoptimised.
const LONGEST: Duration = Duration::from_secs(10);

fn target(name: &str) -> &'static Target {
    TARGETS.iter().find(|target| target.name == name).unwrap()
}

/// What does not hold for these bytes; they are kept to look at.
fn fault(target: &Target, what: &str, bytes: &[u8]) -> Option<String> {
    let start = Instant::now();
    let held = catch_unwind(|| (target.check)(bytes)).is_ok();
    if held && start.elapsed() < LONGEST {
        return None;
    }
    let path = std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("{}-{what}", target.name));
    std::fs::write(&path, bytes).unwrap();
    Some(format!("{} {what}, kept as {}, {:?}", target.name, path.display(), start.elapsed()))
}

fn assert_holds(name: &str, rounds: u64, first_seed: u64) {
    let target = target(name);
    let seeds = (target.seeds)();
    let of_seeds =
        seeds.iter().enumerate().filter_map(|(number, bytes)| fault(target, &format!("example-{number}"), bytes));
    let mut faults: Vec<String> = of_seeds.collect();
    faults.extend(
        (first_seed..first_seed + rounds)
            .filter_map(|seed| fault(target, &seed.to_string(), &changed(target, &seeds, &mut Random::new(seed)))),
    );
    faults.truncate(20);
    assert_eq!(faults, [""; 0]);
}

#[test]
fn typed_codes_hold() {
    assert_holds("codes", 3000, 0);
}

#[test]
fn words_hold() {
    assert_holds("words", 600, 0);
}

#[test]
fn lists_hold() {
    assert_holds("lists", 1500, 0);
}

#[test]
fn workbooks_hold() {
    assert_holds("workbooks", 800, 0);
}

#[test]
fn answers_hold() {
    assert_holds("answers", 400, 0);
}

#[test]
fn read_back_data_hold() {
    assert_holds("data", 40, 0);
}

#[test]
fn pictures_hold() {
    assert_holds("pictures", 20, 0);
}

#[test]
fn what_was_found_stays_mended() {
    for target in &TARGETS {
        for (path, bytes) in found(target.name) {
            assert_eq!(fault(target, "found", &bytes), None, "{}", path.display());
        }
    }
}

/// Tries many, and says how many and how long that took.
fn assert_many_hold(name: &str, rounds: u64) {
    let start = Instant::now();
    assert_holds(name, rounds, 1_000_000);
    println!("{name}: {rounds} changed examples in {:.0} s", start.elapsed().as_secs_f64());
}

#[test]
#[ignore = "long: three minutes"]
fn many_typed_codes_hold() {
    assert_many_hold("codes", 30_000_000);
}

#[test]
#[ignore = "long: three minutes"]
fn many_words_hold() {
    assert_many_hold("words", 150_000);
}

#[test]
#[ignore = "long: three minutes"]
fn many_lists_hold() {
    assert_many_hold("lists", 3_000_000);
}

#[test]
#[ignore = "long: three minutes"]
fn many_workbooks_hold() {
    assert_many_hold("workbooks", 4_000_000);
}

#[test]
#[ignore = "long: three minutes"]
fn many_answers_hold() {
    assert_many_hold("answers", 20_000_000);
}

#[test]
#[ignore = "long: three minutes"]
fn many_read_back_data_hold() {
    assert_many_hold("data", 20_000);
}

#[test]
#[ignore = "long: three minutes"]
fn many_pictures_hold() {
    assert_many_hold("pictures", 8_000);
}
