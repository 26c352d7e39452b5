//! Undo: exact, itself undoable, refused with the name of what stands in the way.

use boxward::collection::{TitleChange, TitleId};
use boxward::intake::{ItemId, RunId};
use boxward::resolve::Answers;
use boxward::store::StoreError;
use boxward::workflow::{self, QueueChange, WorkflowError};

use crate::workflow_support::{Home, ferry, home, now, upc};

fn undo(home: &Home, run: i64) -> Result<RunId, StoreError> {
    match workflow::undo(&home.store, Some(RunId::new(run)), now()) {
        Ok(report) => Ok(report.undo.id),
        Err(WorkflowError::Store(error)) => Err(error),
        Err(error) => panic!("{error}"),
    }
}

fn in_the_way(result: Result<RunId, StoreError>) -> i64 {
    match result {
        Err(StoreError::BuiltOn { later, .. }) => later.number(),
        other => panic!("{other:?}"),
    }
}

/// Run 1: an import. Run 2: its resolve.
fn resolved() -> Home {
    let home = home();
    home.stack(&format!("{0} 00411\n{0} 00511", upc(41)));
    home.answer(&[ferry()]);
    home
}

#[test]
fn an_import_whose_items_were_accepted_names_the_resolve() {
    let home = resolved();
    let error = undo(&home, 1).unwrap_err();
    assert_eq!(error.to_string(), "run 1 can't be undone: run 2 (resolve) has built on it; undo run 2 first");
    undo(&home, 2).unwrap();
    undo(&home, 1).unwrap();
    assert_eq!(home.dump(), "");
}

#[test]
fn a_title_that_a_later_run_added_issues_to_stays() {
    let home = resolved();
    home.stack(&format!("{} 00611", upc(41)));
    home.resolve(&Answers::none());
    // Run 4 touched no row of run 2, but hangs its issue on run 2's title.
    assert_eq!(in_the_way(undo(&home, 2)), 4);
    undo(&home, 4).unwrap();
    undo(&home, 2).unwrap();
}

#[test]
fn edits_are_runs_and_come_back_byte_for_byte() {
    let home = resolved();
    home.stack(&format!("{0} ~\n{0} ~", upc(41)));
    let before = home.dump();
    let change = QueueChange {
        add_on: Some(boxward::code::AddOnState::Absent),
        note: Some("it's \"torn\"".to_owned()),
        ..QueueChange::default()
    };
    let (item, run) = workflow::queue_set(&home.store, ItemId::new(3), &change, now()).unwrap();
    assert_eq!((item.note.as_str(), run), ("it's \"torn\"", Some(RunId::new(4))));
    workflow::queue_drop(&home.store, &[ItemId::new(4)], now()).unwrap();
    let change = TitleChange {
        name: Some("Café & Night: Fähre".to_owned()),
        publisher: Some(String::new()),
        ..TitleChange::default()
    };
    let (title, run) = workflow::title_set(&home.store, TitleId::new(1), &change, now()).unwrap();
    assert_eq!((title.title.publisher, run), (None, Some(RunId::new(6))));
    assert_eq!(home.have("cafe and night fahre 4").titles.len(), 1);
    assert_eq!(home.have("night ferry 4").titles.len(), 0);
    let after = home.dump();
    for _ in 0..3 {
        workflow::undo(&home.store, None, now()).unwrap();
    }
    assert_eq!(home.dump(), before);
    // Undone in the order 6, 5, 4 by runs 7, 8, 9; brought back by undoing these.
    for run in [9, 8, 7] {
        undo(&home, run).unwrap();
    }
    assert_eq!(home.dump(), after);
}

#[test]
fn settled_items_are_not_edited_and_a_failed_edit_leaves_no_run() {
    let home = resolved();
    let before = (home.dump(), workflow::runs(&home.store, 100).unwrap());
    let change = QueueChange { gtin: Some(upc(42).parse().unwrap()), ..QueueChange::default() };
    assert!(workflow::queue_set(&home.store, ItemId::new(1), &change, now()).is_err());
    home.stack(&format!("{} ~", upc(41)));
    let error = workflow::queue_drop(&home.store, &[ItemId::new(3), ItemId::new(1)], now()).unwrap_err();
    assert!(error.to_string().contains("item 1"), "{error}");
    workflow::undo(&home.store, None, now()).unwrap();
    assert_eq!(home.dump(), before.0);
    let error = workflow::queue_set(&home.store, ItemId::new(99), &change, now()).unwrap_err();
    assert_eq!(error.to_string(), "there is no item 99 in the queue");
}

#[test]
fn what_was_undone_or_never_was_is_refused() {
    let home = resolved();
    undo(&home, 2).unwrap();
    assert!(matches!(undo(&home, 2), Err(StoreError::AlreadyUndone { by, .. }) if by.number() == 3));
    assert!(matches!(undo(&home, 77), Err(StoreError::NoRun(_))));
}

#[test]
fn undos_of_undos_are_refused_out_of_order() {
    let home = resolved();
    let resolved = home.dump();
    undo(&home, 2).unwrap(); // run 3
    undo(&home, 1).unwrap(); // run 4
    // To bring back the resolve (by undoing 3), the import must come back first (by undoing 4).
    assert_eq!(in_the_way(undo(&home, 3)), 4);
    undo(&home, 4).unwrap(); // run 5: the import is in effect again
    undo(&home, 3).unwrap(); // run 6: the resolve too
    assert_eq!(home.dump(), resolved);
    // And everything is as before: the import can't go while the resolve stands.
    assert_eq!(in_the_way(undo(&home, 1)), 2);
    undo(&home, 2).unwrap();
    undo(&home, 1).unwrap();
    assert_eq!(home.dump(), "");
}

#[test]
fn numbers_used_again_do_not_let_an_old_undo_overwrite() {
    let home = home();
    home.stack(&format!("{} 00411", upc(41)));
    undo(&home, 1).unwrap(); // run 2
    home.stack(&format!("{} 00911", upc(43))); // run 3 stages item 1 again, another book
    assert_eq!(in_the_way(undo(&home, 2)), 3);
}

#[test]
fn a_journal_that_holds_other_statements_is_refused() {
    let home = resolved();
    let path = home.store.path().clone();
    let other = rusqlite::Connection::open(&path).unwrap();
    for inverse in ["DROP TABLE copy", "DELETE FROM copy_of WHERE id=1", "UPDATE issue SET number='9' WHERE id=1"] {
        other
            .execute(
                "UPDATE change SET inverse = ?1 WHERE id = (SELECT max(id) FROM change WHERE tbl = 'copy')",
                [inverse],
            )
            .unwrap();
        let before = home.dump();
        assert!(matches!(undo(&home, 2), Err(StoreError::Damaged(_))), "{inverse}");
        assert_eq!(home.dump(), before);
    }
}

#[test]
fn a_large_crop_comes_back_whole() {
    let home = home();
    let png: Vec<u8> = (0..3_000_000_u32).map(|n| (n.wrapping_mul(2_654_435_761) >> 24) as u8).collect();
    let sighting = boxward::source::Sighting {
        code: None,
        symbology: None,
        certainty: boxward::code::Certainty::Confirm,
        origin: boxward::source::Origin::Device { name: "camera".to_owned() },
        seen_at: now(),
        evidence: Some(boxward::source::Evidence { crop_png: png.clone(), corners: None, by: None, module_px: None }),
    };
    workflow::Session::new().stage(&home.store, &sighting, now()).unwrap();
    undo(&home, 1).unwrap();
    assert_eq!(home.store.crop(ItemId::new(1)).unwrap(), None);
    undo(&home, 2).unwrap();
    assert_eq!(home.store.crop(ItemId::new(1)).unwrap(), Some(png));
}

#[test]
fn an_undo_undone_twice_over_leaves_the_first_run_undone() {
    let home = home();
    home.stack(&format!("{} 00411", upc(41)));
    undo(&home, 1).unwrap(); // run 2
    undo(&home, 2).unwrap(); // run 3: the import is back
    undo(&home, 3).unwrap(); // run 4: run 2 holds again, the import is gone
    assert_eq!(home.dump(), "");
    assert!(matches!(undo(&home, 1), Err(StoreError::AlreadyUndone { by, .. }) if by.number() == 2));
    assert!(matches!(workflow::undo(&home.store, None, now()), Err(WorkflowError::Store(StoreError::NothingToUndo))));
}
