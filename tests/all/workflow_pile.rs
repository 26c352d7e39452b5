//! The reading pile: its order, its pace, and taking off what was read.

use boxward::collection::CopyId;
use boxward::resolve::Answers;
use boxward::store::StoreError;
use boxward::workflow::{self, ResolveOptions, WasRead, WorkflowError};
use jiff::ToSpan;
use jiff::civil::{Date, date};
use serde_json::json;

use crate::workflow_support::{Home, ferry, home, now, upc};

const TODAY: Date = date(2026, 11, 25);

/// The Night Ferry 4 (two covers, and one of them twice), 5, 10, and Annual 1; Ash & Amber 2.
fn pile() -> Home {
    let home = home();
    home.stack(&format!("{0} 01011\n{0} 00421\n{0} 00411\n{0} 00511", upc(41)));
    home.answer(&[ferry()]);
    home.stack(&format!("{} 00411\n{} 11", upc(41), upc(41)));
    home.answer(&[("another_copy", json!({"accept": true})), ("issue", json!({"issue": "Annual 1"}))]);
    home.stack(&format!("{} 00211", upc(50)));
    home.answer(&[("title", json!({"title": "Ash & Amber", "layout": "IIICP"}))]);
    home
}

fn listed(home: &Home) -> Vec<String> {
    let copies = workflow::pile_list(&home.store, u32::MAX).unwrap();
    copies.iter().map(|c| format!("{} {}/{}/{}", c.title.name, c.issue, c.cover, c.copy)).collect()
}

fn read(home: &Home, query: &str, all: bool) -> Result<Vec<String>, WorkflowError> {
    let what = [WasRead::Named { query: query.to_owned(), all }];
    let (copies, run) = workflow::pile_read(&home.store, &what, TODAY, now())?;
    assert!(run.is_some());
    Ok(copies.iter().map(|c| format!("{}/{}/{}", c.issue, c.cover, c.copy)).collect())
}

#[test]
fn the_pile_stands_by_title_and_number_older_copies_first() {
    assert_eq!(
        listed(&pile()),
        [
            "Ash & Amber 2/1/7",
            "The Night Ferry 4/1/3",
            "The Night Ferry 4/1/5",
            "The Night Ferry 4/2/2",
            "The Night Ferry 5/1/4",
            "The Night Ferry 10/1/1",
            "The Night Ferry Annual 1/1/6",
        ]
    );
}

#[test]
fn what_was_read_is_named_by_code_by_issue_by_run_or_by_number() {
    let home = pile();
    assert_eq!(read(&home, &format!("{}00421", upc(41)), false).unwrap(), ["4/2/2"]);
    assert_eq!(read(&home, "night ferry 4", false).unwrap(), ["4/1/3"]);
    assert_eq!(read(&home, "night ferry annual 1", false).unwrap(), ["Annual 1/1/6"]);
    assert_eq!(read(&home, "night ferry 4-9", false).unwrap(), ["4/1/5", "5/1/4"]);
    let (copies, _) = workflow::pile_read(&home.store, &[WasRead::Copy(CopyId::new(1))], TODAY, now()).unwrap();
    assert_eq!(copies[0].issue, "10");
    assert_eq!(listed(&home), ["Ash & Amber 2/1/7"]);
}

#[test]
fn of_several_copies_one_is_read_unless_all_are_meant() {
    let home = pile();
    assert_eq!(read(&home, "night ferry 1-12", false).unwrap(), ["4/1/3", "5/1/4", "10/1/1"]);
    workflow::undo(&home.store, None, now()).unwrap();
    assert_eq!(read(&home, "night ferry 4", true).unwrap(), ["4/1/3", "4/1/5", "4/2/2"]);
    assert_eq!(read(&home, "ash and amber", true).unwrap(), ["2/1/7"]);
}

#[test]
fn what_is_unclear_or_not_there_changes_nothing() {
    let home = pile();
    home.stack(&format!("{} 00411", upc(60)));
    home.answer(&[("title", json!({"title": "Night Ferry", "year": 1988, "layout": "IIICP"}))]);
    let before = home.dump();
    assert!(matches!(read(&home, "ash and amber", false), Err(WorkflowError::WholeTitle(_))));
    assert!(matches!(read(&home, &upc(41), false), Err(WorkflowError::WholeTitle(_))));
    assert!(matches!(read(&home, "night ferry 6", false), Err(WorkflowError::NothingUnread(_))));
    assert!(matches!(read(&home, "no such title 6", false), Err(WorkflowError::NothingUnread(_))));
    assert!(matches!(read(&home, "night ferry 4", false), Err(WorkflowError::SeveralTitles { titles: 2, .. })));
    assert!(matches!(read(&home, "", false), Err(WorkflowError::NothingAsked(_))));
    let copies = |numbers: [i64; 2]| numbers.map(|n| WasRead::Copy(CopyId::new(n)));
    let refused = workflow::pile_read(&home.store, &copies([1, 99]), TODAY, now()).unwrap_err();
    assert!(matches!(refused, WorkflowError::Store(StoreError::NoCopy(_))));
    assert_eq!(home.dump(), before);
    assert_eq!(read(&home, "night ferry 1988 4", false).unwrap(), ["4/1/8"]);
    let again = workflow::pile_read(&home.store, &copies([8, 1]), TODAY, now()).unwrap_err();
    assert!(matches!(again, WorkflowError::Store(StoreError::ReadAlready(_))));
}

#[test]
fn reading_is_undone_and_comes_back_byte_for_byte() {
    let home = pile();
    let before = home.dump();
    read(&home, "night ferry 1-12", true).unwrap();
    let after = home.dump();
    assert!(after.contains("reading:") && after != before);
    let undo = workflow::undo(&home.store, None, now()).unwrap().undo.id;
    assert_eq!(home.dump(), before);
    workflow::undo(&home.store, Some(undo), now()).unwrap();
    assert_eq!(home.dump(), after);
}

#[test]
fn a_copy_that_was_read_keeps_its_resolve_from_being_undone() {
    let home = pile();
    read(&home, "ash and amber 2", false).unwrap();
    let resolve = workflow::runs(&home.store, 2).unwrap()[1].id;
    let refused = workflow::undo(&home.store, Some(resolve), now());
    assert!(matches!(refused, Err(WorkflowError::Store(StoreError::BuiltOn { .. }))));
}

#[test]
fn the_pace_is_that_of_the_last_eight_weeks() {
    let home = home();
    home.stack(&format!("{} 00111", upc(41)));
    home.answer(&[ferry()]);
    let before_window = TODAY.saturating_sub(8.weeks());
    let buy = |add_ons: &[&str], acquired: Option<Date>, paid: &str| {
        home.stack(&add_ons.iter().map(|a| format!("{} {a}", upc(41))).collect::<Vec<_>>().join("\n"));
        let options = ResolveOptions { acquired, paid: paid.parse().ok(), ..ResolveOptions::default() };
        workflow::resolve(&home.store, &Answers::none(), &options, None, now()).unwrap();
    };
    buy(&["00211", "00311"], Some(before_window), "3.99 USD");
    buy(&["00411"], Some(before_window.tomorrow().unwrap()), "2.50 GBP");
    buy(&["00511"], Some(TODAY), "");
    let pile = workflow::pile(&home.store, TODAY).unwrap();
    // Bought on the first and the last day of the window, and the one of no date, which was seen today.
    assert_eq!((pile.copies, pile.came, pile.read, pile.grows()), (5, 3, 0, true));
    assert_eq!(pile.paid, ["2.50 GBP".parse().unwrap(), "7.98 USD".parse().unwrap()]);
    assert_eq!((pile.without_price, pile.lasts_tenths_of_weeks()), (2, None));
    let read_on = |issue: &str, day: Date| {
        let query = format!("night ferry {issue}");
        workflow::pile_read(&home.store, &[WasRead::Named { query, all: false }], day, now()).unwrap();
    };
    read_on("1", before_window);
    read_on("2", TODAY);
    let pile = workflow::pile(&home.store, TODAY).unwrap();
    assert_eq!((pile.copies, pile.read, pile.lasts_tenths_of_weeks()), (3, 1, Some(240)));
    read_on("3", TODAY);
    read_on("4", TODAY);
    assert!(!workflow::pile(&home.store, TODAY).unwrap().grows());
    // As of a day on which none of it had happened.
    let pile = workflow::pile(&home.store, date(2020, 1, 1)).unwrap();
    assert_eq!((pile.came, pile.read), (0, 0));
}
