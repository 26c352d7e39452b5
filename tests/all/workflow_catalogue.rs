//! What is known of titles, issues and printings, owned or not.

use boxward::collection::{Edit, IssueNumber, SizeClass, TitleChange, TitleId};
use boxward::workflow::{self, Have, IssueChange, WorkflowError};

use crate::workflow_support::{Home, ferry, home, now, upc};

/// Night Ferry 4 and 12, owned.
fn owning() -> Home {
    let home = home();
    home.stack(&format!("{0} 00411\n{0} 01211", upc(41)));
    home.answer(&[ferry()]);
    home
}

fn pages(number: u32) -> IssueChange {
    IssueChange { pages: Edit::To(number), ..IssueChange::default() }
}

#[test]
fn what_is_known_of_an_issue_is_kept_shown_and_taken_back() {
    let home = owning();
    let before = home.dump();
    let change = IssueChange {
        cover_date: Edit::To("2019-06".parse().unwrap()),
        size: Edit::To(SizeClass::Current),
        key: Edit::To("first appearance of the Harbour Master".to_owned()),
        on_sale: Edit::To("2019-04-03".parse().unwrap()),
        cover_price: Edit::To("3.99 USD".parse().unwrap()),
        ..pages(32)
    };
    let (known, run) = workflow::catalogue_set(&home.store, "night ferry 4", &change, now()).unwrap();
    assert_eq!((known.facts.pages, known.facts.cover_date.map(|date| date.year())), (Some(32), Some(2019)));
    assert_eq!(known.printings[0].facts.cover_price, "3.99 USD".parse().ok());
    assert_eq!((known.printings.len(), known.printings[0].copies), (1, 1));
    assert_eq!(workflow::catalogue_show(&home.store, "night ferry 4").unwrap(), [known]);
    // The same again is no change, and no run.
    assert_eq!(workflow::catalogue_set(&home.store, "night ferry 4", &change, now()).unwrap().1, None);
    let clear = IssueChange { pages: Edit::Clear, ..IssueChange::default() };
    let (known, _) = workflow::catalogue_set(&home.store, &format!("{} 00411", upc(41)), &clear, now()).unwrap();
    assert_eq!((known.facts.pages, known.facts.size), (None, Some(SizeClass::Current)));
    workflow::undo(&home.store, None, now()).unwrap();
    workflow::undo(&home.store, run, now()).unwrap();
    assert_eq!(home.dump(), before);
}

#[test]
fn an_issue_that_is_only_known_is_not_owned() {
    let home = owning();
    let of_cover = |cover: &str| IssueChange { cover: Some(cover.to_owned()), ..pages(40) };
    for (query, change) in
        [("night ferry 5", of_cover("A")), ("night ferry 5", of_cover("1:25")), ("night ferry 999", pages(32))]
    {
        workflow::catalogue_set(&home.store, query, &change, now()).unwrap();
    }
    workflow::catalogue_set(&home.store, "night ferry # Annual 2", &pages(64), now()).unwrap();
    assert_eq!(home.have("night ferry 5").answer, Have::NotOwned);
    // Known, so that its number is no word of another title.
    assert_eq!(home.have("night ferry annual 2").titles[0].issue.as_deref(), Some("annual 2"));
    assert_eq!(home.have("night ferry annual 2").answer, Have::NotOwned);
    let known = workflow::catalogue_show(&home.store, "night ferry").unwrap();
    let numbers: Vec<_> = known.iter().map(|issue| issue.issue.as_str()).collect();
    assert_eq!(numbers, ["4", "5", "12", "999", "Annual 2"]);
    let covers: Vec<_> = known[1].printings.iter().map(|printing| printing.cover.as_str()).collect();
    assert_eq!(covers, ["1:25", "A"]);
    // The run counts by what is owned, not by what is known.
    assert_eq!(home.store.highest_number(TitleId::new(1)).unwrap(), Some(12));
    let gaps = workflow::gaps_of(&home.store, "night ferry").unwrap();
    assert_eq!((gaps[0].last, gaps[0].missing_issues), (Some(12), 7));
    assert_eq!(workflow::title_show(&home.store, TitleId::new(1)).unwrap().issues, 2);
}

#[test]
fn a_title_says_what_its_issues_do_not() {
    let home = owning();
    let change = TitleChange {
        family: Edit::To("Harbour".to_owned()),
        size: Edit::To(SizeClass::Magazine),
        pages: Edit::To(48),
        code: Some(upc(41).parse().unwrap()),
        since: Some("2019-04-01".parse().unwrap()),
        ..TitleChange::default()
    };
    let (title, _) = workflow::title_set(&home.store, TitleId::new(1), &change, now()).unwrap();
    assert_eq!((title.facts.size, title.codes_since.len()), (Some(SizeClass::Magazine), 1));
    workflow::catalogue_set(&home.store, "night ferry 12", &pages(64), now()).unwrap();
    let shown = |query: &str| workflow::catalogue_show(&home.store, query).unwrap().remove(0).facts;
    assert_eq!((shown("night ferry 4").pages, shown("night ferry 12").pages), (Some(48), Some(64)));
    assert_eq!(shown("night ferry 12").family.as_deref(), Some("Harbour"));
    let day_alone = TitleChange { since: change.since, ..TitleChange::default() };
    let error = workflow::title_set(&home.store, TitleId::new(1), &day_alone, now()).unwrap_err();
    assert!(matches!(error, WorkflowError::NoCodeForDay));
}

#[test]
fn a_code_passes_to_a_later_volume_on_a_day() {
    let home = owning();
    let next = serde_json::json!({"title": "The Night Ferry", "publisher": "Lantern Street", "volume": "2", "layout": "IIICP"});
    home.stack(&format!("{} 00111", upc(42)));
    home.answer(&[("title", next)]);
    let code: boxward::code::Gtin = upc(41).parse().unwrap();
    for (title, since) in [(1, "2019-04-01"), (2, "2024-01-15")] {
        let change = TitleChange { code: Some(code), since: since.parse().ok(), ..TitleChange::default() };
        workflow::title_set(&home.store, TitleId::new(title), &change, now()).unwrap();
    }
    let order: Vec<_> = home.store.titles_of_code(code).unwrap().iter().map(|title| title.id.number()).collect();
    assert_eq!(order, [1, 2]);
    let title = workflow::title_show(&home.store, TitleId::new(2)).unwrap();
    assert_eq!((title.codes.len(), title.codes_since[0].code), (2, code));
}

#[test]
fn what_names_no_single_issue_is_refused() {
    let home = owning();
    let set = |query: &str| workflow::catalogue_set(&home.store, query, &pages(32), now()).unwrap_err();
    assert!(matches!(set("night ferry"), WorkflowError::NoIssueNamed(_)));
    assert!(matches!(set("no such title 4"), WorkflowError::NoTitleFits(_)));
    assert!(matches!(workflow::catalogue_show(&home.store, "no such title"), Err(WorkflowError::NoTitleFits(_))));
    home.stack(&format!("{} 00711", upc(50)));
    home.answer(&[("title", serde_json::json!({"title": "Night Ferry Tales", "layout": "IIICP"}))]);
    // Of two titles that fit, the one that has the issue is meant.
    let (known, _) = workflow::catalogue_set(&home.store, "night fer 7", &pages(32), now()).unwrap();
    assert_eq!(known.title.name, "Night Ferry Tales");
    assert!(matches!(set("night fer 8"), WorkflowError::SeveralTitles { titles: 2, .. }));
    assert_eq!(home.store.issue_id(TitleId::new(1), &IssueNumber::new("8")).unwrap(), None);
}
