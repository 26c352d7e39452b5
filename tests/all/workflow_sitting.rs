//! A session as it runs, without a terminal or a page: what comes in, in which order it is told, and how it ends.

use std::collections::VecDeque;

use boxward::collection::Purchase;
use boxward::store::{QueueFilter, Store};
use boxward::workflow::{self, Hand, News, Sitting};
use jiff::Timestamp;

const NOW: &str = "2026-03-04T12:00:00Z";

fn store() -> (tempfile::TempDir, Store) {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(&folder.path().join("collection.sqlite")).unwrap();
    (folder, store)
}

fn sitting() -> (Sitting<&'static str>, Hand<&'static str>) {
    let now: Timestamp = NOW.parse().unwrap();
    let mut sitting = Sitting::new(Purchase::default(), move || now);
    let hand = sitting.hand().unwrap();
    (sitting, hand)
}

/// What is told until the session is over, if a person does all this: steps by their names, all else are lines.
fn told(store: &Store, steps: &[&'static str]) -> Vec<String> {
    let (mut sitting, hand) = sitting();
    let mut steps: VecDeque<_> = steps.iter().copied().collect();
    let brought = std::thread::spawn(move || while steps.pop_front().is_some_and(|step| hand.give(step)) {});
    let mut told = Vec::new();
    while let Some(news) = sitting.next(store).unwrap() {
        match news {
            News::Given { what: "undo", .. } => sitting.undo_last(store).unwrap(),
            News::Given { what: "drop", .. } => sitting.drop_last(store).unwrap(),
            News::Given { what: "pause", .. } => sitting.pause(store).unwrap(),
            News::Given { what: "end", .. } => sitting.end(),
            News::Given { at, what } => sitting.line(store, at, what).unwrap(),
            news => told.push(news.told().unwrap().to_string()),
        }
    }
    brought.join().unwrap();
    told
}

#[test]
fn what_is_brought_in_is_told_in_order_and_the_end_takes_what_is_pending() {
    let (_folder, store) = store();
    let steps = ["614141000418 00411", "undo", "no code", "614141023660", "10411", "drop", "drop", "614141001040"];
    let told = told(&store, &steps);
    let expected = [
        "waits for its title: 614141000418 00411",
        "taken back: item 1",
        "not understood: ",
        "waits for its title: 614141023660 10411",
        "dropped: item 1",
        "nothing is left to drop",
        // Nothing more comes, so its add-on will not either.
        "waits for a person: 614141001040",
    ];
    assert_eq!(told.len(), expected.len(), "{told:?}");
    assert!(told.iter().zip(expected).all(|(told, expected)| told.starts_with(expected)), "{told:?}");
    assert_eq!(workflow::queue_list(&store, QueueFilter::Open).unwrap().len(), 1);
}

#[test]
fn a_pause_takes_nothing_and_says_so() {
    let (_folder, store) = store();
    let told = told(&store, &["pause", "614141000418 00411", "pause", "614141000418 00411"]);
    let expected = ["paused: p goes on", "paused: p goes on", "going on", "waits for its title: 614141000418 00411"];
    assert_eq!(told, expected);
}

#[test]
fn a_code_begun_stands_before_the_step_that_follows_it() {
    let (_folder, store) = store();
    // The step back is for the code that was sent just before, not for the one before that.
    let told = told(&store, &["614141000418 00411", "614141023660", "undo"]);
    assert_eq!(told[1..], ["waits for a person: 614141023660", "taken back: item 2"]);
}

#[test]
fn after_its_end_nothing_more_is_taken() {
    let (_folder, store) = store();
    assert_eq!(told(&store, &["end", "614141000418 00411"]), [""; 0]);
    let (sitting, hand) = sitting();
    drop(sitting);
    assert!(!hand.give("614141000418 00411"));
}
