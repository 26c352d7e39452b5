//! Do I own this? From codes and from what people type.

use boxward::workflow::{self, Have, Part, WorkflowError};
use serde_json::json;

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
fn titles_are_found_by_any_of_their_words_however_typed() {
    let home = home();
    for (at, name) in
        ["The Night Ferry", "Ferry Tales", "A Silent Night", "Crème & Harbour 2099", "夜の船", "!?"].iter().enumerate()
    {
        home.stack(&format!("{} 00111", upc(60 + at as u32)));
        home.answer(&[("title", serde_json::json!({"title": name, "layout": "IIICP"}))]);
    }
    let found = |words: &str| -> Vec<String> {
        workflow::title_list(&home.store, words, 0, 500).unwrap().into_iter().map(|title| title.title.name).collect()
    };
    for (words, names) in [
        // What begins so comes first, then what has the words elsewhere.
        ("ferry", vec!["Ferry Tales", "The Night Ferry"]),
        ("night", vec!["The Night Ferry", "A Silent Night"]),
        ("NÏG fer", vec![]),
        ("night fer", vec!["The Night Ferry"]),
        ("the ferry nig", vec!["The Night Ferry"]),
        ("an silent", vec!["A Silent Night"]),
        ("creme and harb", vec!["Crème & Harbour 2099"]),
        ("harbour & crème", vec!["Crème & Harbour 2099"]),
        ("harbour 2099", vec!["Crème & Harbour 2099"]),
        // A number is whole: this may be a second volume.
        ("creme harbour 2", vec![]),
        ("夜", vec!["夜の船"]),
        // Signs of the index's own language are none here.
        ("night OR tales", vec![]),
        ("night* \"", vec!["The Night Ferry", "A Silent Night"]),
        ("search_key:night", vec![]),
        ("NEAR(night ferry)", vec![]),
        ("day", vec![]),
    ] {
        assert_eq!(found(words), names, "{words}");
    }
    assert_eq!(home.have("!?").titles.len(), 1);
    // Renamed and taken back, a title is found by the name that it has.
    let change = boxward::collection::TitleChange { name: Some("Old Lighthouse".to_owned()), ..Default::default() };
    workflow::title_set(&home.store, boxward::collection::TitleId::new(1), &change, now()).unwrap();
    assert_eq!((found("lighthouse").len(), found("night fer").len()), (1, 0));
    workflow::undo(&home.store, None, now()).unwrap();
    assert_eq!((found("lighthouse").len(), found("night fer").len()), (0, 1));
    workflow::undo(&home.store, Some(boxward::intake::RunId::new(2)), now()).unwrap();
    assert_eq!(found("ferry"), ["Ferry Tales"]);
}

#[test]
fn more_titles_than_a_look_up_gives_are_told() {
    let home = home();
    home.store
        .write(&mut None, boxward::store::RunKind::Title, now(), |writer| {
            (0..60).try_for_each(|n| {
                let name =
                    format!("Harbour Watch {}", char::from(b'a' + n % 26).to_string().repeat(1 + usize::from(n / 26)));
                let new = boxward::collection::NewTitle { name, ..Default::default() };
                writer.insert_title(&new).map(drop)
            })
        })
        .map_err(|error: boxward::store::StoreError| error)
        .unwrap();
    let found = home.have("watch 3");
    assert_eq!((found.titles.len(), found.more_titles), (50, true));
    assert!(!home.have("harbour watch aaa 3").more_titles);
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

#[test]
fn parts_of_an_answer_are_the_whole() {
    let home = home();
    // Titles 1 to 12 of one word; issue 4 of every third is owned, under codes of their own.
    for n in 1..=12 {
        let title = json!({"title": format!("Paper Anvil {n}"), "layout": "IIICP"});
        home.stack(&format!("{} {}", upc(60 + n), if n % 3 == 0 { "00411" } else { "00511" }));
        home.answer(&[("title", title)]);
    }
    for query in ["anvil", "anvil 4", "paper anv 5", "paper anvil 3", &upc(63), &format!("{}00411", upc(63))] {
        let whole = home.have(query);
        for most in [1, 5, 50] {
            let mut titles = Vec::new();
            for skip in (0..50).step_by(most) {
                let (part, all) = workflow::have_part(&home.store, query, Part { skip, most, counted: true }).unwrap();
                assert_eq!((part.answer, all), (whole.answer, whole.titles.len()), "{query}");
                titles.extend(part.titles);
            }
            assert_eq!(titles, whole.titles, "{query}, {most} at once");
        }
        let (quick, _) = workflow::have_part(&home.store, query, Part { skip: 0, most: 50, counted: false }).unwrap();
        let short = |titles: &[workflow::HaveTitle]| titles.iter().map(|t| (t.title.id, t.answer)).collect::<Vec<_>>();
        assert_eq!(short(&quick.titles), short(&whole.titles), "{query}: what is not counted is told all the same");
    }
    assert_eq!(home.have("anvil 4").titles.iter().filter(|title| title.answer == Have::Owned).count(), 4);
}
