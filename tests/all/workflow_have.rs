//! Do I own this? From codes and from what people type.

use boxward::workflow::{self, Have, WorkflowError};

use crate::workflow_support::{Home, ferry, home, now, upc};

fn owning() -> Home {
    let home = home();
    home.stack(&format!("{0} 00411\n{0} 00412\n{0} 00421\n{0} 01211", upc(41)));
    home.answer(&[ferry()]);
    home
}

#[test]
fn codes_of_12_13_17_and_18_digits() {
    let home = owning();
    let code = upc(41);
    for (query, answer, copies) in [
        (code.clone(), Have::Owned, 4),
        (format!("0{code}"), Have::Owned, 4),
        (format!("{code}00411"), Have::Owned, 1),
        (format!("0{code} 00411"), Have::Owned, 1),
        (format!("{code}-00422"), Have::AnotherPrinting, 0),
        (format!("{code}00431"), Have::AnotherCover, 0),
        (format!("{code}00511"), Have::NotOwned, 0),
    ] {
        let found = home.have(&query);
        assert_eq!((found.answer, found.titles[0].copies), (answer, copies), "{query}");
    }
    let owned = &home.have(&format!("{code}00431")).titles[0].owned;
    let shown: Vec<_> = owned.iter().map(|o| (o.cover.as_str(), o.printing, o.copies)).collect();
    assert_eq!(shown, [("1", 1, 1), ("1", 2, 1), ("2", 1, 1)]);
    let unknown = home.have(&upc(99));
    assert_eq!((unknown.answer, unknown.titles.len()), (Have::NotOwned, 0));
}

#[test]
fn titles_typed_loosely() {
    let home = owning();
    for query in [
        "the night ferry #12",
        "Night Ferry 12",
        "NIGHT  FERRY #012",
        "night-ferry 12",
        "Nïght Férry 12",
        "night fer 12",
        "ferry night 12",
        "night ferry 2019 12",
        "The Night Ferry (2019) #12",
        "ferry #12",
    ] {
        let found = home.have(query);
        assert_eq!(found.answer, Have::Owned, "{query}");
        assert_eq!(found.titles[0].issue.as_deref(), Some("12"), "{query}");
    }
    for query in ["night ferry 13", "night ferry 2020 12", "day ferry 12", "night ferry 1"] {
        assert_eq!(home.have(query).answer, Have::NotOwned, "{query}");
    }
    assert_eq!(home.have("the night ferry").titles[0].issues, Some(2));
}

#[test]
fn issues_in_all_forms_of_the_trade() {
    let home = owning();
    let forms = ["\u{00bd}", "-1", "1.5", "1A", "Annual 2", "1000000"];
    for (at, form) in forms.iter().enumerate() {
        // A two-digit add-on says no issue: a person does.
        home.stack(&format!("{} {:02}", upc(41), at + 1));
        home.answer(&[("issue", serde_json::json!({"issue": form}))]);
        assert_eq!(home.have(&format!("night ferry {form}")).answer, Have::Owned, "{form}");
    }
    for spelling in ["1/2", "0.5", "#-1", "\u{2212}1", "1a", "ANNUAL 02"] {
        assert_eq!(home.have(&format!("night ferry {spelling}")).answer, Have::Owned, "{spelling}");
    }
    for other in ["1", "-2", "2", "1B", "1.6"] {
        assert_eq!(home.have(&format!("night ferry {other}")).answer, Have::NotOwned, "{other}");
    }
}

#[test]
fn gaps_are_what_is_missing_between_the_lowest_and_the_highest_number() {
    let home = owning();
    home.stack(&format!("{0} 00711\n{0} 11", upc(41)));
    home.answer(&[("issue", serde_json::json!({"issue": "Annual 8"}))]);
    let gaps = workflow::gaps_of(&home.store, "night ferry").unwrap();
    assert_eq!((gaps.len(), gaps[0].first, gaps[0].last), (1, Some(4), Some(12)));
    assert_eq!((gaps[0].missing.as_slice(), gaps[0].missing_issues), (&[(5, 6), (8, 11)][..], 6));
    // What was taken back is missing again: the annual, then issue 7.
    workflow::undo(&home.store, None, now()).unwrap();
    workflow::undo(&home.store, None, now()).unwrap();
    assert_eq!(workflow::gaps_of(&home.store, "the night ferry").unwrap()[0].missing, [(5, 11)]);
    assert_eq!(workflow::gaps_of(&home.store, "no such title").unwrap(), []);
    assert!(matches!(workflow::gaps_of(&home.store, " "), Err(WorkflowError::NothingAsked(_))));
}

#[test]
fn a_title_that_ends_in_a_number_is_found_by_its_name() {
    let home = owning();
    home.stack(&format!("{} 00311", upc(50)));
    home.answer(&[("title", serde_json::json!({"title": "Pier 12", "layout": "IIICP"}))]);
    assert_eq!(home.have("pier 12").titles[0].issues, Some(1));
    assert_eq!(home.have("pier 12 #3").answer, Have::Owned);
    assert_eq!(home.have("pier 12 3").answer, Have::Owned);
    assert_eq!(home.have("pier 12 4").answer, Have::NotOwned);
}

#[test]
fn a_book_that_waits_is_said_as_such() {
    let home = owning();
    home.stack(&format!("{0} 00611\n{1} 00111\n{0} ~", upc(41), upc(77)));
    let found = home.have(&format!("{} 00611", upc(41)));
    // Item 5 is the book; item 7's add-on was not read, so it may be.
    assert_eq!(
        (found.answer, found.waiting.iter().map(|i| i.number()).collect::<Vec<_>>()),
        (Have::NotOwned, vec![5, 7])
    );
    assert_eq!(home.have("night ferry 6").waiting.len(), 1);
    assert_eq!(home.have(&upc(77)).waiting.len(), 1);
    assert_eq!(home.have("night ferry 7").waiting, []);
}

#[test]
fn digits_that_fail_their_check_are_no_answer() {
    let home = owning();
    let wrong = "061414100041900411";
    assert!(matches!(workflow::have(&home.store, wrong), Err(WorkflowError::NoCode { .. })));
    assert!(matches!(workflow::have(&home.store, "  "), Err(WorkflowError::NothingAsked(_))));
}
