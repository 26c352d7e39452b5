//! Every decision and every question, through the queue and the collection.

use boxward::intake::{ItemId, ItemState};
use boxward::resolve::{Answers, Means, Question, Verdict};
use boxward::store::QueueFilter;
use boxward::workflow::{self, Decided, Have, ResolveOptions};
use serde_json::{Value, json};

use crate::workflow_support::{Home, ferry, home, now, upc};

fn verdicts(decided: &[Decided]) -> Vec<(String, Verdict, usize)> {
    decided.iter().map(|d| (d.issue.clone().unwrap_or_default(), d.verdict, d.copies.len())).collect()
}

fn asked(home: &Home) -> Vec<&'static str> {
    home.resolve(&Answers::none()).open.iter().map(Question::ask).collect()
}

/// A collection that knows The Night Ferry and owns these issues (three digits, cover, printing).
fn owning(add_ons: &[&str]) -> Home {
    let home = home();
    let lines: Vec<_> = add_ons.iter().map(|a| format!("{} {a}", upc(41))).collect();
    home.stack(&lines.join("\n"));
    let report = home.answer(&[ferry()]);
    assert!(report.open.is_empty(), "{:?}", report.open);
    assert_eq!(report.decided.len(), add_ons.len());
    home
}

fn state(home: &Home, item: i64) -> ItemState {
    workflow::queue_show(&home.store, ItemId::new(item)).unwrap().state
}

#[test]
fn one_answer_settles_all_items_of_a_title() {
    let home = home();
    home.stack(&format!("{0} 00411\n{0} 00412\n{0} 00421\n{0} 00511\n{1} 00111", upc(41), upc(42)));
    assert_eq!(asked(&home), ["title", "title"]);
    let open = home.resolve(&Answers::none()).open;
    let Question::Title(question) = &open[0] else { panic!("{open:?}") };
    assert_eq!((question.items.len(), &question.add_ons[..2]), (4, &["00411".to_owned(), "00412".to_owned()][..]));
    let report = home.resolve(&crate::workflow_support::fill(&open[..1], &[ferry()]));
    assert_eq!(
        verdicts(&report.decided),
        [
            ("4".into(), Verdict::New, 1),
            ("4".into(), Verdict::AnotherPrinting, 1),
            ("4".into(), Verdict::AnotherCover, 1),
            ("5".into(), Verdict::New, 1)
        ]
    );
    assert_eq!(report.unknown, [ItemId::new(5)]);
    // The next of the same company is proposed what its neighbour is.
    let Question::Title(question) = &report.open[0] else { panic!("{report:?}") };
    assert!(question.proposals.is_empty(), "proposals are looked up before titles are made");
    let open = home.resolve(&Answers::none()).open;
    let Question::Title(question) = &open[0] else { panic!("{open:?}") };
    assert_eq!(question.proposals[0].publisher.as_deref(), Some("Lantern Street"));
    assert_eq!(question.proposals[0].highest, Some(5));
}

#[test]
fn accepted_copies_carry_date_shop_and_price_unread_and_unfiled() {
    let home = home();
    home.stack(&format!("{} 00411", upc(41)));
    let options = ResolveOptions {
        acquired: Some("2026-11-25".parse().unwrap()),
        shop: Some("Corner Comics".to_owned()),
        paid: Some("3.99 USD".parse().unwrap()),
        ..ResolveOptions::default()
    };
    let open = home.resolve(&Answers::none()).open;
    let answers = crate::workflow_support::fill(&open, &[ferry()]);
    workflow::resolve(&home.store, &answers, &options, None, now()).unwrap();
    let copy = home.dump().lines().find(|l| l.starts_with("copy:")).unwrap().to_owned();
    for part in ["2026-11-25", "Corner Comics", "Integer(399)", "USD", "unread", "unfiled"] {
        // rusqlite shows text as bytes.
        let shown = format!("{:?}", part.as_bytes());
        assert!(copy.contains(part) || copy.contains(&shown), "{part} in {copy}");
    }
}

#[test]
fn another_copy_is_asked_and_an_answer_decides() {
    for (accept, copies, state_after) in [(true, 2, ItemState::Accepted), (false, 1, ItemState::Dropped)] {
        let home = owning(&["00411"]);
        home.stack(&format!("{} 00411", upc(41)));
        let open = home.resolve(&Answers::none()).open;
        let Question::AnotherCopy(question) = &open[0] else { panic!("{open:?}") };
        assert_eq!((question.title.as_str(), question.issue.as_str(), question.owned), ("The Night Ferry", "4", 1));
        let report = home.answer(&[("another_copy", json!({ "accept": accept }))]);
        assert_eq!(report.decided[0].verdict, Verdict::AnotherCopy);
        assert_eq!(state(&home, 2), state_after);
        assert_eq!(home.have("night ferry 4").titles[0].copies, copies);
    }
}

#[test]
fn two_of_one_book_in_two_imports_are_one_and_a_question() {
    let home = home();
    home.stack(&format!("{} 00411", upc(41)));
    home.stack(&format!("{} 00411", upc(41)));
    let report = home.answer(&[ferry()]);
    assert_eq!(verdicts(&report.decided), [("4".into(), Verdict::New, 1)]);
    assert_eq!(report.open[0].ask(), "another_copy");
}

#[test]
fn a_repeat_is_asked_and_can_be_two_copies() {
    for copies in [1, 2] {
        let home = home();
        home.stack(&format!("{0} 00411\n{0} 00411", upc(41)));
        assert_eq!(asked(&home), ["title", "repeat"]);
        let report = home.answer(&[ferry()]);
        assert!(report.decided.is_empty());
        let report = home.answer(&[ferry(), ("repeat", json!({ "copies": copies }))]);
        assert_eq!(verdicts(&report.decided), [("4".into(), Verdict::New, copies)]);
    }
}

#[test]
fn an_unread_add_on_is_asked_for_with_its_crop() {
    let home = owning(&["00411"]);
    home.stack(&format!("{0} ~\n{0} ~", upc(41)));
    let folder = home.folder.path().join("crops");
    let report =
        workflow::resolve(&home.store, &Answers::none(), &ResolveOptions::default(), Some(&folder), now()).unwrap();
    let Question::AddOn(question) = &report.open[0] else { panic!("{report:?}") };
    assert!(std::fs::read(question.crop.as_ref().unwrap()).unwrap().starts_with(b"png of"));
    let report = home.answer(&[("add_on", json!({"add_on": "00511"}))]);
    assert_eq!(verdicts(&report.decided), [("5".into(), Verdict::New, 1)]);
    assert_eq!(report.open[0].ask(), "another_copy");
    let report = home.answer(&[("another_copy", json!({"accept": true}))]);
    assert_eq!(verdicts(&report.decided), [("5".into(), Verdict::AnotherCopy, 1)], "the add-on was kept");
}

#[test]
fn an_uncertain_code_never_enters_by_itself() {
    let home = owning(&["00411"]);
    home.stack(&format!("{} 00511?", upc(41)));
    assert_eq!(asked(&home), ["code"]);
    let report = home.answer(&[("code", json!({"code": format!("{} 00611", upc(41))}))]);
    assert_eq!(verdicts(&report.decided), [("6".into(), Verdict::New, 1)]);
    assert_eq!(home.have("night ferry 5").answer, Have::NotOwned);
}

#[test]
fn a_photo_without_code_is_typed_or_dropped() {
    let home = owning(&["00411"]);
    home.stack("");
    home.stack("");
    let items = workflow::queue_list(&home.store, QueueFilter::Open).unwrap();
    let lines = [
        json!({"ask": "code", "item": items[0].id, "code": upc(41)}),
        json!({"ask": "add_on", "item": items[0].id, "add_on": "00711"}),
        json!({"ask": "code", "item": items[1].id, "drop": true}),
    ];
    let report = home.resolve(&Answers::parse(&Value::from(lines.to_vec()).to_string()).unwrap());
    let found: Vec<_> = report.decided.iter().map(|d| (d.item, d.verdict)).collect();
    assert_eq!(found, [(items[1].id, Verdict::NotAComic), (items[0].id, Verdict::New)]);
    assert_eq!(home.have("night ferry 7").answer, Have::Owned);
}

#[test]
fn issues_without_five_digits_are_asked_for() {
    let home = home();
    home.stack(&format!("{0} 03\n{1}", upc(41), upc(42)));
    let open = home.resolve(&Answers::none()).open;
    assert_eq!(open.len(), 2);
    let answers = crate::workflow_support::fill(
        &open,
        &[("title", json!({"title": "Harbour Lights", "publisher": "Lantern Street", "year": 1984}))],
    );
    let report = home.resolve(&answers);
    let kinds: Vec<_> = report.open.iter().map(Question::ask).collect();
    assert_eq!(kinds, ["issue", "issue"]);
    let lines = json!([
        {"ask": "issue", "item": 1, "issue": "#012"},
        {"ask": "issue", "item": 2, "issue": "Annual 1", "cover": "02", "printing": 3},
    ]);
    let report = home.resolve(&Answers::parse(&lines.to_string()).unwrap());
    assert_eq!(verdicts(&report.decided), [("12".into(), Verdict::New, 1), ("Annual 1".into(), Verdict::New, 1)]);
    assert_eq!(home.have("harbour lights annual 1").titles[0].owned[0].printing, 3);
    assert_eq!(home.have("harbor").answer, Have::NotOwned);
    assert_eq!(home.have("harbour lights 12").answer, Have::Owned);
    // One title of two codes.
    assert_eq!(workflow::title_list(&home.store, "harbour", 0, 10).unwrap()[0].codes.len(), 2);
    // The first five-digit add-on of the title asks for its layout.
    home.stack(&format!("{} 01511", upc(41)));
    let report = home.answer(&[("layout", json!({"layout": "IICCP"}))]);
    assert_eq!((report.decided[0].issue.as_deref(), report.decided[0].cover.as_deref()), (Some("1"), Some("51")));
}

#[test]
fn a_shared_code_asks_which_volume() {
    let home = owning(&["00411"]);
    home.stack(&format!("{0} 00111\n{0} 00211", upc(41)));
    // The low numbers are a new volume, the collector says beforehand.
    let items: Vec<_> = workflow::queue_list(&home.store, QueueFilter::Open).unwrap().iter().map(|i| i.id).collect();
    let line =
        json!({"ask": "title", "items": items, "title": "Night Ferry", "volume": "2", "year": 2026, "layout": "IIICP"});
    let report = home.resolve(&Answers::parse(&line.to_string()).unwrap());
    assert_eq!(verdicts(&report.decided).len(), 2);
    home.stack(&format!("{0} 00311\n{0} 00511", upc(41)));
    let open = home.resolve(&Answers::none()).open;
    let Question::Which(question) = &open[0] else { panic!("{open:?}") };
    assert_eq!((question.titles.len(), question.items.len()), (2, 2));
    // Split: one for each volume.
    let lines = format!(
        "{}\n{}",
        json!({"ask": "which", "items": [question.items[0]], "title": question.titles[1].id}),
        json!({"ask": "which", "items": [question.items[1]], "title": question.titles[0].id})
    );
    let report = home.resolve(&Answers::parse(&lines).unwrap());
    assert_ne!(report.decided[0].title_id, report.decided[1].title_id);
    assert_eq!(home.have(&format!("{} 00311", upc(41))).titles[0].title.volume, "2");
    assert_eq!(home.have("night ferry vol 2 #3").titles.len(), 1);
    assert_eq!(home.have("night ferry 2026 #5").answer, Have::NotOwned);
    assert_eq!(home.have("night ferry 2019 #5").answer, Have::Owned);
}

#[test]
fn a_number_past_what_the_digits_hold_is_asked() {
    for (means, number, title_count) in
        [(Means::CountsOn, "1001", 1), (Means::AsPrinted, "1", 1), (Means::NewVolume, "1", 2)]
    {
        let home = owning(&["99711", "99811"]);
        home.stack(&format!("{0} 99911\n{0} 00111\n{0} 50011", upc(41)));
        let report = home.resolve(&Answers::none());
        assert_eq!(report.decided.len(), 2, "999 and 500 are clear");
        let Question::Count(question) = &report.open[0] else { panic!("{report:?}") };
        assert_eq!(
            (question.highest, &question.printed[..], &question.counted_on[..]),
            (Some(998), &[1][..], &[1001][..])
        );
        let report = home.answer(&[("count", json!({"means": means, "volume": "2", "year": 2026}))]);
        assert_eq!(report.decided[0].issue.as_deref(), Some(number), "{means:?}");
        assert_eq!(workflow::title_list(&home.store, "night ferry", 0, 10).unwrap().len(), title_count);
        if means == Means::CountsOn {
            home.stack(&format!("{0} 00211\n{0} 99611", upc(41)));
            assert_eq!(
                home.resolve(&Answers::none()).decided.iter().map(|d| d.issue.clone().unwrap()).collect::<Vec<_>>(),
                ["1002", "996"]
            );
        }
    }
}

#[test]
fn a_book_is_one_answer_and_known_afterwards() {
    // ISBN: the ISBN Users' Manual's example 978-92-95055-12-4; the price add-on means 19.95 US dollar (Book Industry
    // Study Group's guideline, from memory).
    let home = home();
    home.stack("9789295055124 51995");
    let open = home.resolve(&Answers::none()).open;
    let Question::Book(question) = &open[0] else { panic!("{open:?}") };
    assert_eq!(question.cover_price.unwrap().to_string(), "19.95 USD");
    assert_eq!(question.isbn.as_deref(), Some("978-92-95055-12-4"));
    let report = home.answer(&[("book", json!({"title": "The Night Ferry Collected", "volume": "2"}))]);
    assert_eq!(verdicts(&report.decided), [("2".into(), Verdict::New, 1)]);
    assert_eq!(home.have("9789295055124").answer, Have::Owned);
    assert_eq!(home.have("night ferry collected 2").answer, Have::Owned);
    home.stack("#again\n9789295055124 ~");
    assert_eq!(asked(&home), ["another_copy"]);
}

#[test]
fn what_is_no_comic_is_asked_once_for_each_code() {
    // In-store prefix 04 (GS1 General Specifications, 'GS1 prefixes').
    let home = home();
    home.stack("0400000000015\n0400000000015");
    home.stack(&format!("0400000000015\n{}", upc(41)));
    let open = home.resolve(&Answers::none()).open;
    let Question::Keep(question) = &open[0] else { panic!("{open:?}") };
    assert_eq!(question.items.len(), 3);
    let report = home.answer(&[("keep", json!({"keep": false})), ("title", json!({"keep": false}))]);
    assert!(report.decided.iter().all(|d| d.verdict == Verdict::NotAComic && d.copies.is_empty()));
    assert_eq!((report.decided.len(), report.open.len()), (4, 0));
    home.stack("#kept\n0400000000015");
    let report = home.answer(&[("keep", json!({"keep": true}))]);
    assert_eq!(report.open[0].ask(), "title");
}

#[test]
fn the_price_symbol_under_a_book_goes_by_itself_but_alone_is_asked() {
    // 192 and its price: the second tier of a Japanese book, check digit computed.
    let home = home();
    let second = "1920000000009";
    let second = format!(
        "{}{}",
        &second[..12],
        boxward::code::check_digit(&second[..12].bytes().map(|b| b - b'0').collect::<Vec<_>>())
    );
    home.stack(&format!("9789295055124\n{second}"));
    let report = home.resolve(&Answers::none());
    assert_eq!((report.decided[0].item, report.decided[0].verdict), (ItemId::new(2), Verdict::NotAComic));
    assert_eq!(workflow::queue_show(&home.store, ItemId::new(2)).unwrap().note, "the price symbol under a book's own");
    home.stack(&second);
    assert_eq!(asked(&home), ["book", "keep"]);
}

#[test]
fn a_resolve_that_goes_on_is_undone_as_one() {
    let home = home();
    home.stack(&format!("{0} 00411\n{1} 00411", upc(41), upc(42)));
    let before = home.dump();
    let open = home.resolve(&Answers::none()).open;
    let first = home.resolve(&crate::workflow_support::fill(&open[..1], &[ferry()]));
    let options = ResolveOptions { run: first.run, ..ResolveOptions::default() };
    let second =
        crate::workflow_support::fill(&open[1..], &[("title", json!({"title": "Harbour Lights", "layout": "IIICP"}))]);
    let second = workflow::resolve(&home.store, &second, &options, None, now()).unwrap();
    assert_eq!((first.run, second.decided.len()), (second.run, 1));
    workflow::undo(&home.store, None, now()).unwrap();
    assert_eq!(home.dump(), before);
    assert!(workflow::resolve(&home.store, &Answers::none(), &options, None, now()).is_err());
}

#[test]
fn what_becomes_of_an_item_does_not_depend_on_the_order() {
    for (means, expected) in
        [(Means::CountsOn, ["1001", "1002", "500", "999"]), (Means::NewVolume, ["1", "2", "500", "999"])]
    {
        for order in [["001", "002", "500", "999"], ["999", "500", "002", "001"], ["500", "001", "999", "002"]] {
            let home = owning(&["99711", "99811"]);
            let lines: Vec<_> = order.iter().map(|issue| format!("{} {issue}11", upc(41))).collect();
            home.stack(&lines.join("\n"));
            let open = workflow::preview(&home.store, &Answers::none(), workflow::Select::All).unwrap().open;
            let fields = json!({"means": means, "volume": "2", "year": 2026});
            let report = home.resolve(&crate::workflow_support::fill(&open, &[("count", fields)]));
            assert!(report.open.is_empty(), "{order:?}: {:?}", report.open);
            let mut found: Vec<_> = report.decided.iter().map(|d| d.issue.clone().unwrap()).collect();
            found.sort_by_key(|number| expected.iter().position(|e| e == number));
            assert_eq!(found, expected, "{order:?}");
        }
    }
}
