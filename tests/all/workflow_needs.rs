//! What each waiting item needs, and settling some of them without the others.

use boxward::intake::{ItemId, ItemState};
use boxward::resolve::{Answers, Verdict};
use boxward::workflow::{self, Need, QueueChange, ResolveOptions, Select, WorkflowError};

use crate::workflow_support::{ferry, home, now, upc};

#[test]
fn the_hardest_come_first_then_the_oldest() {
    let home = home();
    home.stack(&format!("{} 00411", upc(41)));
    home.answer(&[ferry()]);
    home.stack(&format!(
        "{0} 00511\n{1} 00111\n{0} 00411\n{1} 00211?\n{0} ~\n9789295055124 51995\n{1} ~",
        upc(41),
        upc(42)
    ));
    home.stack("");
    let waiting = workflow::queue_needs(&home.store).unwrap();
    let needs: Vec<_> = waiting.iter().map(|waiting| (waiting.item.id.number(), waiting.need, waiting.ask)).collect();
    assert_eq!(
        needs,
        [
            (9, Need::Code, None),
            (6, Need::AddOn, None),
            (8, Need::AddOn, Some("title")),
            (5, Need::Confirm, None),
            (3, Need::Title, Some("title")),
            (7, Need::Title, Some("book")),
            (4, Need::Answer, Some("another_copy")),
            (2, Need::Nothing, None),
        ]
    );
    assert_eq!(waiting[7].decided.as_ref().map(|decided| decided.verdict), Some(Verdict::New));
    let hard: Vec<_> = workflow::queue_hard(&home.store).unwrap().iter().map(|(_, item)| item.number()).collect();
    assert_eq!(hard, [9, 6, 8, 5]);
}

#[test]
fn some_are_settled_as_if_all_were() {
    let home = home();
    home.stack(&format!("{} 00411", upc(41)));
    home.answer(&[ferry()]);
    home.stack(&format!("{} 00511", upc(41)));
    home.stack(&format!("{0} 00511\n{0} 00521", upc(41)));
    let options = |items: &[i64]| ResolveOptions {
        select: Select::Items(items.iter().map(|item| ItemId::new(*item)).collect()),
        ..ResolveOptions::default()
    };
    let resolve =
        |items: &[i64]| workflow::resolve(&home.store, &Answers::none(), &options(items), None, now()).unwrap();
    // 3 is the same book as 2, which waits too: it is asked about, though nothing of it is owned yet.
    let report = resolve(&[3]);
    assert_eq!((report.run, report.decided.len(), report.open.len()), (None, 0, 1));
    // Of 4 another cover waits: that is what it will be called, whichever goes first.
    let report = resolve(&[4, 99]);
    assert_eq!(report.decided.iter().map(|decided| decided.verdict).collect::<Vec<_>>(), [Verdict::AnotherCover]);
    assert_eq!(report.open, []);
    let state = |id| workflow::queue_show(&home.store, ItemId::new(id)).unwrap().state;
    assert_eq!([2, 3, 4].map(state), [ItemState::Waiting, ItemState::Waiting, ItemState::Accepted]);
}

#[test]
fn a_change_of_what_was_not_seen_is_refused() {
    let home = home();
    home.stack(&format!("{} ~", upc(41)));
    let before = home.dump();
    let item = ItemId::new(1);
    let seen = workflow::queue_show(&home.store, item).unwrap().code;
    let change = |seen, digits: &str| {
        let add_on = Some(boxward::code::AddOnState::Read(digits.parse().unwrap()));
        let change = QueueChange { add_on, seen: Some(seen), ..QueueChange::default() };
        workflow::queue_set(&home.store, item, &change, now())
    };
    assert!(matches!(change(None, "00411"), Err(WorkflowError::ChangedMeanwhile { .. })));
    assert_eq!(home.dump(), before);
    change(seen, "00411").unwrap();
    assert!(matches!(change(seen, "00511"), Err(WorkflowError::ChangedMeanwhile { .. })));
}
