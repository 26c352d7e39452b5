//! Single copies: what is known of them, selections, loans, and what left.

use boxward::collection::{
    BagMaterial, CopyChange, CopyFilter, CopyId, CopyRecord, Departure, Edit, Leaving, SpendBy, bag_limit,
};
use boxward::resolve::{Answers, Verdict};
use boxward::store::StoreError;
use boxward::workflow::{self, Bulk, Changed, Have, ResolveOptions, Selection, WorkflowError};
use jiff::civil::{Date, date};
use serde_json::json;

use crate::workflow_support::{Home, ferry, home, now, upc};

const TODAY: Date = date(2026, 11, 25);

/// The Night Ferry 1 to 4, and a second copy of 4; Ash & Amber 2, bought elsewhere.
fn shelf() -> Home {
    let home = home();
    home.stack(&format!("{0} 00111\n{0} 00211\n{0} 00311\n{0} 00411", upc(41)));
    home.answer(&[ferry()]);
    home.stack(&format!("{} 00411", upc(41)));
    home.answer(&[("another_copy", json!({"accept": true}))]);
    home.stack(&format!("{} 00211", upc(50)));
    let open = home.resolve(&Answers::none()).open;
    let title = ("title", json!({"title": "Ash & Amber", "layout": "IIICP"}));
    let options = ResolveOptions {
        acquired: Some(date(2026, 3, 4)),
        shop: Some("Corner Comics".to_owned()),
        paid: "3.99 USD".parse().ok(),
        ..ResolveOptions::default()
    };
    let answers = crate::workflow_support::fill(&open, &[title]);
    workflow::resolve(&home.store, &answers, &options, None, now()).unwrap();
    home
}

fn bulk() -> Bulk {
    Bulk { dry_run: false, several: true, day: TODAY }
}

fn words(words: &str) -> Selection {
    Selection { words: words.to_owned(), ..Selection::default() }
}

fn numbers(numbers: &[i64]) -> Selection {
    Selection { copies: numbers.iter().copied().map(CopyId::new).collect(), ..Selection::default() }
}

fn filtered(filter: CopyFilter) -> Selection {
    Selection { filter, ..Selection::default() }
}

fn set(home: &Home, selection: &Selection, change: &CopyChange) -> Changed {
    workflow::copy_set(&home.store, selection, change, &Edit::Keep, bulk(), now()).unwrap()
}

fn leave(home: &Home, selection: &Selection, how: Leaving, on: Date) -> Result<Changed, WorkflowError> {
    let departure = Departure { how, on, price: "12 USD".parse().ok(), to: None };
    workflow::copy_leave(&home.store, selection, &departure, bulk(), now())
}

fn listed(home: &Home, selection: &Selection) -> Vec<i64> {
    let mut found = Vec::new();
    workflow::each_copy(&home.store, selection, boxward::store::CopyOrder::Title, &mut |copy: CopyRecord| {
        found.push(copy.copy.number());
        Ok::<_, WorkflowError>(())
    })
    .unwrap();
    found
}

fn everything() -> CopyChange {
    CopyChange {
        acquired: Edit::To(date(2026, 1, 2)),
        shop: Edit::To("The Back Room".to_owned()),
        condition: Edit::To("9.4".parse().unwrap()),
        defects: Edit::To("small crease".to_owned()),
        signed_by: Edit::To("Ada Quill".to_owned()),
        value: Edit::To("12 USD".parse().unwrap()),
        bag: Edit::To(BagMaterial::Polyester),
        board: Edit::To("buffered".parse().unwrap()),
        bag_size: Edit::To("silver".parse().unwrap()),
        cover_price: Edit::To("0.60 USD".parse().unwrap()),
        asked: Edit::To("10 USD".parse().unwrap()),
        discount: Edit::To("20 %".parse().unwrap()),
        tax: Edit::To("0.56 USD".parse().unwrap()),
        ..CopyChange::default()
    }
}

#[test]
fn all_that_is_known_of_a_copy_is_kept_and_forgotten_again() {
    let home = shelf();
    let before = home.dump();
    let copy = set(&home, &numbers(&[2]), &everything()).copies.remove(0);
    assert_eq!(workflow::copy_show(&home.store, CopyId::new(2)).unwrap(), copy);
    // 10.00 less a fifth, and the tax.
    assert_eq!(copy.paid, "8.56 USD".parse().ok());
    assert_eq!((copy.facts.valued_on, copy.bagging.bagged_on), (Some(TODAY), Some(TODAY)));
    let forget = CopyChange {
        acquired: Edit::Clear,
        shop: Edit::Clear,
        paid: Edit::Clear,
        condition: Edit::Clear,
        defects: Edit::Clear,
        signed_by: Edit::Clear,
        value: Edit::Clear,
        bag: Edit::Clear,
        board: Edit::Clear,
        bag_size: Edit::Clear,
        bagged_on: Edit::Clear,
        cover_price: Edit::Clear,
        asked: Edit::Clear,
        discount: Edit::Clear,
        tax: Edit::Clear,
    };
    let after = home.dump();
    set(&home, &numbers(&[2]), &forget);
    assert_eq!(home.dump(), before, "nothing is left of it");
    workflow::undo(&home.store, None, now()).unwrap();
    assert_eq!(home.dump(), after);
    let undo = workflow::undo(&home.store, None, now()).unwrap().undo.id;
    assert_eq!(home.dump(), before);
    workflow::undo(&home.store, Some(undo), now()).unwrap();
    assert_eq!(home.dump(), after);
}

#[test]
fn a_selection_is_changed_as_one_run_and_what_is_so_already_stays() {
    let home = shelf();
    let before = home.dump();
    let bag = |material| CopyChange { bag: Edit::To(material), ..CopyChange::default() };
    let dry = Bulk { dry_run: true, ..bulk() };
    let selection = words("night ferry 2-9");
    let plan = workflow::copy_set(&home.store, &selection, &bag(BagMaterial::Polyethylene), &Edit::Keep, dry, now());
    assert_eq!((plan.unwrap().copies.len(), home.dump()), (4, before.clone()));
    let changed = set(&home, &numbers(&[3]), &bag(BagMaterial::Polypropylene));
    assert_eq!((changed.copies.len(), changed.unchanged), (1, 0));
    let not_bagged = CopyFilter { bagged: Some(false), ..CopyFilter::default() };
    let changed = set(&home, &Selection { filter: not_bagged, ..selection.clone() }, &bag(BagMaterial::Polyethylene));
    assert_eq!(changed.copies.iter().map(|copy| copy.copy.number()).collect::<Vec<_>>(), [2, 4, 5]);
    let changed = set(&home, &selection, &bag(BagMaterial::Polypropylene));
    assert_eq!((changed.copies.len(), changed.unchanged), (3, 1));
    for _ in 0..3 {
        workflow::undo(&home.store, None, now()).unwrap();
    }
    assert_eq!(home.dump(), before);
    assert!(set(&home, &selection, &CopyChange::default()).run.is_none());
}

#[test]
fn copies_are_selected_by_what_they_are() {
    let home = shelf();
    set(&home, &numbers(&[2]), &everything());
    let old = CopyChange {
        bag: Edit::To(BagMaterial::Unknown),
        bagged_on: Edit::To(date(2019, 11, 24)),
        condition: Edit::To("6".parse().unwrap()),
        ..CopyChange::default()
    };
    set(&home, &numbers(&[1]), &old);
    set(&home, &numbers(&[4]), &CopyChange { bagged_on: Edit::To(date(2019, 11, 25)), ..old.clone() });
    workflow::copy_lend(&home.store, &numbers(&[3]), "Bo Fenn", bulk(), now()).unwrap();
    leave(&home, &numbers(&[5]), Leaving::Lost, TODAY).unwrap();
    let of = |filter: CopyFilter| listed(&home, &filtered(filter));
    let any = CopyFilter::default;
    assert_eq!(of(any()), [6, 1, 2, 3, 4]);
    assert_eq!(of(CopyFilter { gone: true, ..any() }), [5]);
    assert_eq!(of(CopyFilter { bagged: Some(true), ..any() }), [1, 2, 4]);
    assert_eq!(of(CopyFilter { boarded: Some(false), ..any() }), [6, 1, 3, 4]);
    // Seven years and a day; seven years to the day is not older.
    assert_eq!(of(CopyFilter { bagged_before: Some(bag_limit(TODAY, 7)), ..any() }), [1]);
    assert_eq!(of(CopyFilter { graded: Some(false), ..any() }), [6, 3]);
    assert_eq!(of(CopyFilter { condition_below: "9.4".parse().ok(), ..any() }), [1, 4]);
    assert_eq!(of(CopyFilter { condition_from: "9.4".parse().ok(), ..any() }), [2]);
    assert_eq!(of(CopyFilter { shop: Some("CORNER comics".to_owned()), ..any() }), [6]);
    assert_eq!(of(CopyFilter { publisher: Some("lantern-street".to_owned()), ..any() }), [1, 2, 3, 4]);
    assert_eq!(of(CopyFilter { bought_from: Some(date(2026, 3, 4)), ..any() }), [6]);
    assert_eq!(of(CopyFilter { bought_to: Some(date(2026, 3, 3)), ..any() }), [2]);
    assert_eq!(of(CopyFilter { without_price: true, ..any() }), [1, 3, 4]);
    assert_eq!(of(CopyFilter { lent: Some(true), ..any() }), [3]);
    assert_eq!(of(CopyFilter { lent_to: Some("bo fenn".to_owned()), ..any() }), [3]);
    assert_eq!(of(CopyFilter { signed: Some(true), ..any() }), [2]);
    assert_eq!(of(CopyFilter { read: Some(true), ..any() }), [0; 0]);
    assert_eq!(listed(&home, &words(&format!("{}00411", upc(41)))), [4]);
    assert_eq!(listed(&home, &words("night ferry")), [1, 2, 3, 4]);
    assert_eq!(listed(&home, &words("night ferry 2019 3-4")), [3, 4]);
}

#[test]
fn what_left_is_owned_no_more_and_stays_in_what_was_spent() {
    let home = shelf();
    let before = home.dump();
    let spent = |home: &Home| workflow::spend(&home.store, SpendBy::Month, None, None).unwrap().total;
    let spent_before = spent(&home);
    let pile = |home: &Home| workflow::pile(&home.store, TODAY).unwrap();
    assert_eq!((pile(&home).copies, pile(&home).came), (6, 5));
    leave(&home, &words("night ferry 4"), Leaving::Sold, TODAY).unwrap();
    leave(&home, &words("ash & amber"), Leaving::Given, TODAY).unwrap();
    assert_eq!(spent(&home), spent_before);
    assert_eq!((pile(&home).copies, pile(&home).came, pile(&home).paid.len()), (3, 3, 0));
    assert_eq!(workflow::pile_list(&home.store, 9).unwrap().len(), 3);
    let have = home.have("night ferry 4");
    assert_eq!((have.answer, have.titles[0].copies, have.titles[0].gone.len()), (Have::NotOwned, 0, 2));
    assert_eq!(home.have(&format!("{}00411", upc(41))).answer, Have::NotOwned);
    assert_eq!(home.have("night ferry").titles[0].copies, 3);
    assert_eq!(home.have("ash & amber").answer, Have::NotOwned);
    assert_eq!(workflow::gaps_of(&home.store, "night ferry").unwrap()[0].last, Some(3));
    assert_eq!(workflow::checklists(&home.store, "night ferry").unwrap()[0].owned_issues, 3);
    assert_eq!(workflow::title_list(&home.store, "night ferry", 0, 9).unwrap()[0].copies, 3);
    let known = workflow::catalogue_show(&home.store, "night ferry 4").unwrap();
    assert_eq!(known[0].printings[0].copies, 0);
    // Bought again, it is new.
    home.stack(&format!("{} 00411", upc(41)));
    assert_eq!(home.resolve(&Answers::none()).decided[0].verdict, Verdict::New);
    assert_eq!(home.have("night ferry 4").answer, Have::Owned);
    for _ in 0..4 {
        workflow::undo(&home.store, None, now()).unwrap();
    }
    assert_eq!(home.dump(), before);
}

#[test]
fn what_left_is_not_read_lent_or_let_go_again() {
    let home = shelf();
    let resolve = workflow::runs(&home.store, 1).unwrap()[0].id;
    leave(&home, &numbers(&[6]), Leaving::Sold, TODAY).unwrap();
    let before = home.dump();
    let gone = |result: Result<Changed, WorkflowError>| {
        let error = result.unwrap_err();
        assert!(matches!(error, WorkflowError::Store(StoreError::LeftAlready(_))), "{error}");
    };
    gone(leave(&home, &numbers(&[6]), Leaving::Lost, TODAY));
    gone(leave(&home, &filtered(CopyFilter { gone: true, ..CopyFilter::default() }), Leaving::Lost, TODAY));
    // Of several, one that can't be changed keeps all as they are.
    gone(leave(&home, &numbers(&[1, 6]), Leaving::Lost, TODAY));
    gone(workflow::copy_lend(&home.store, &numbers(&[6]), "Bo Fenn", bulk(), now()));
    gone(workflow::copy_set(&home.store, &numbers(&[6]), &everything(), &Edit::Keep, bulk(), now()));
    let read = workflow::pile_read(&home.store, &[workflow::WasRead::Copy(CopyId::new(6))], TODAY, now());
    assert!(matches!(read, Err(WorkflowError::Store(StoreError::LeftAlready(_)))));
    assert!(matches!(
        workflow::undo(&home.store, Some(resolve), now()),
        Err(WorkflowError::Store(StoreError::BuiltOn { .. }))
    ));
    assert_eq!(home.dump(), before);
}

#[test]
fn a_loan_has_a_beginning_and_an_end() {
    let home = shelf();
    let lend = |selection: &Selection| workflow::copy_lend(&home.store, selection, " Bo Fenn ", bulk(), now());
    let lent = lend(&numbers(&[1, 2])).unwrap();
    assert_eq!(lent.copies[0].lent.as_ref().map(|loan| (loan.to.as_str(), loan.since)), Some(("Bo Fenn", TODAY)));
    assert!(matches!(lend(&numbers(&[3, 2])), Err(WorkflowError::Store(StoreError::LentAlready { .. }))));
    let back = |selection| workflow::copy_returned(&home.store, &selection, bulk(), now());
    back(filtered(CopyFilter { lent_to: Some("bo fenn".to_owned()), ..CopyFilter::default() })).unwrap();
    assert!(matches!(back(numbers(&[1])), Err(WorkflowError::Store(StoreError::NotLent(_)))));
    // It may be lent again, and the first loan stays on record.
    lend(&numbers(&[1])).unwrap();
    assert_eq!(home.dump().matches("loan:").count(), 3);
}

#[test]
fn nothing_leaves_before_it_came_or_comes_back_before_it_left() {
    let home = shelf();
    let came = workflow::copy_show(&home.store, CopyId::new(6)).unwrap().acquired.unwrap();
    let before = home.dump();
    let on = |day| Bulk { day, ..bulk() };
    let eve = came.yesterday().unwrap();
    let lend = |day| workflow::copy_lend(&home.store, &numbers(&[6]), "Bo Fenn", on(day), now());
    let error = leave(&home, &numbers(&[6]), Leaving::Sold, eve).unwrap_err();
    assert_eq!(error.to_string(), format!("copy 6 came on {came}; it can't have left on {eve} (--on), before that"));
    assert_eq!(home.dump(), before);
    lend(TODAY).unwrap();
    let back = |day| workflow::copy_returned(&home.store, &numbers(&[6]), on(day), now());
    let eve = TODAY.yesterday().unwrap();
    let error = back(eve).unwrap_err();
    assert_eq!(
        error.to_string(),
        format!("copy 6 was lent on {TODAY}; it can't have come back on {eve} (--on), before that")
    );
    back(TODAY).unwrap();
    leave(&home, &numbers(&[6]), Leaving::Sold, came).unwrap();
}

#[test]
fn what_is_unclear_changes_nothing() {
    let home = shelf();
    home.stack(&format!("{} 00411", upc(60)));
    home.answer(&[("title", json!({"title": "Night Ferry", "year": 1988, "layout": "IIICP"}))]);
    let before = home.dump();
    let try_set = |selection: &Selection, photo: &Edit<Vec<u8>>, bulk| {
        workflow::copy_set(&home.store, selection, &everything(), photo, bulk, now()).unwrap_err()
    };
    let keep = Edit::Keep;
    assert!(matches!(try_set(&Selection::default(), &keep, bulk()), WorkflowError::NothingSelected));
    assert!(matches!(try_set(&words("night ferry 9"), &keep, bulk()), WorkflowError::NoCopyFits));
    assert!(matches!(try_set(&words("quill"), &keep, bulk()), WorkflowError::NoTitleFits(_)));
    assert!(matches!(try_set(&words("night ferry 4"), &keep, bulk()), WorkflowError::SeveralTitles { titles: 2, .. }));
    let one = Bulk { several: false, ..bulk() };
    assert!(matches!(try_set(&words("night ferry 2019 4"), &keep, one), WorkflowError::SeveralCopies { copies: 2 }));
    let photo = Edit::To(b"jpeg".to_vec());
    assert!(matches!(try_set(&numbers(&[1, 2]), &photo, bulk()), WorkflowError::OnePhoto { copies: 2 }));
    assert!(matches!(try_set(&numbers(&[1, 99]), &keep, bulk()), WorkflowError::Store(StoreError::NoCopy(_))));
    assert_eq!(home.dump(), before);
}

#[test]
fn a_photo_is_kept_replaced_and_undone() {
    let home = shelf();
    let photo = |photo| {
        let nothing = CopyChange::default();
        workflow::copy_set(&home.store, &numbers(&[1]), &nothing, &photo, bulk(), now()).unwrap()
    };
    let kept = || workflow::copy_photo(&home.store, CopyId::new(1)).unwrap();
    assert!(photo(Edit::To(b"one".to_vec())).copies[0].photo);
    photo(Edit::To(b"two".to_vec()));
    assert_eq!(kept().as_deref(), Some(&b"two"[..]));
    workflow::undo(&home.store, None, now()).unwrap();
    assert_eq!(kept().as_deref(), Some(&b"one"[..]));
    assert!(!photo(Edit::Clear).copies[0].photo);
    assert_eq!(kept(), None);
}

#[test]
fn what_was_bought_keeps_how_its_price_came_about() {
    let home = home();
    let mut session = workflow::Session::new();
    session.set_purchase(boxward::collection::Purchase {
        cover_price: "3.99 USD".parse().ok(),
        discount: "10 %".parse().ok(),
        ..boxward::collection::Purchase::default()
    });
    let sighting = boxward::source::Sighting {
        code: Some(boxward::code::Code {
            gtin: upc(41).parse().unwrap(),
            add_on: boxward::code::AddOnState::Read("00411".parse().unwrap()),
        }),
        symbology: None,
        certainty: boxward::code::Certainty::Sure,
        origin: boxward::source::Origin::Typed,
        seen_at: now(),
        evidence: None,
    };
    session.stage(&home.store, &sighting, now()).unwrap();
    home.answer(&[ferry()]);
    let copy = workflow::copy_show(&home.store, CopyId::new(1)).unwrap();
    assert_eq!(copy.price.cover_price, "3.99 USD".parse().ok());
    assert_eq!((copy.price.discount, copy.paid), ("10 %".parse().ok(), "3.59 USD".parse().ok()));
}
