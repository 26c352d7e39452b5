//! What stands where: finding a copy, going through a box, what to buy, and room for what will come.

use std::ops::RangeInclusive;

use boxward::code::{AddOnState, Code};
use boxward::collection::SizeClass;
use boxward::filing::{BoxKind, Item, Purpose};
use boxward::workflow::{
    self, BoxChange, PlanAsked, PurposeAsked, StockChange, WasRead, WorkflowError, audit, box_add, file_done,
    file_plan, find, stock_set, supplies,
};
use jiff::civil::{Date, date};
use serde_json::json;

use crate::workflow_support::{Home, home, now, upc};

const TODAY: Date = date(2026, 11, 25);

fn bring(home: &Home, item: u32, name: &str, issues: RangeInclusive<u32>) {
    let symbols: String = issues.map(|n| format!("{} {n:03}11\n", upc(item))).collect();
    home.stack(&symbols);
    home.answer(&[("title", json!({"title": name, "publisher": "Lantern Row", "year": 2019, "layout": "IIICP"}))]);
}

fn read(home: &Home, query: &str) {
    let what = [WasRead::Named { query: query.to_owned(), all: true }];
    workflow::pile_read(&home.store, &what, TODAY, now()).unwrap();
}

fn shelf(home: &Home, label: &str, inner_mm: u32, purpose: PurposeAsked) {
    let new = BoxChange {
        label: Some(label.to_owned()),
        kind: Some(BoxKind::Own),
        inner_mm: Some(inner_mm),
        purpose: Some(purpose),
        note: Some("by the door".to_owned()),
        ..BoxChange::default()
    };
    box_add(&home.store, &new, now()).unwrap();
}

/// 'Ash Harbour' 1 to 5 in box A, 'Brine' 1 and 2 in box B, 'Brine' 3 unread.
fn filed() -> Home {
    let home = home();
    bring(&home, 41, "Ash Harbour", 1..=5);
    bring(&home, 42, "Brine", 1..=3);
    read(&home, "ash harbour 1-5");
    read(&home, "brine 1-2");
    shelf(&home, "A", 100, PurposeAsked::Known(Purpose::Rest));
    shelf(&home, "B", 100, PurposeAsked::TitleNamed("brine".to_owned()));
    file_plan(&home.store, &PlanAsked::default(), now()).unwrap();
    file_done(&home.store, None, now()).unwrap();
    home
}

fn code(item: u32, add_on: &str) -> Code {
    Code { gtin: upc(item).parse().unwrap(), add_on: AddOnState::Read(add_on.parse().unwrap()) }
}

#[test]
fn a_copy_is_found_between_its_neighbours() {
    let home = filed();
    let found = find(&home.store, "ash harbour 3").unwrap();
    let spot = found[0].stands.as_ref().unwrap();
    let issue = |copy: &Option<boxward::filing::NamedCopy>| copy.as_ref().map(|copy| copy.issue.clone());
    assert_eq!((found.len(), spot.label.as_str(), spot.note.as_str()), (1, "A", "by the door"));
    assert_eq!((issue(&spot.after), issue(&spot.before)), (Some("2".to_owned()), Some("4".to_owned())));
    // A divider of 0.8 mm and two copies of 3.072 mm stand before it.
    assert_eq!((spot.divider.as_str(), spot.mm), ("Ash Harbour (2019)", 6));
    let ends = find(&home.store, "ash harbour").unwrap();
    assert_eq!(ends.len(), 5);
    assert_eq!((&ends[0].stands.as_ref().unwrap().after, &ends[4].stands.as_ref().unwrap().before), (&None, &None));
    let pile = find(&home.store, &format!("{} 00311", upc(42))).unwrap();
    assert_eq!((pile[0].stands.as_ref(), pile[0].read, pile[0].goes_to.as_ref()), (None, false, None));
    read(&home, "brine 3");
    file_plan(&home.store, &PlanAsked::default(), now()).unwrap();
    assert_eq!(find(&home.store, "brine 3").unwrap()[0].goes_to.as_deref(), Some("B"));
    assert!(matches!(find(&home.store, "nobody knows"), Err(WorkflowError::NoTitleFits(_))));
}

#[test]
fn going_through_a_box_tells_missing_misplaced_and_unknown_books() {
    let home = filed();
    let seen = [
        code(41, "00111"),
        code(41, "00111"),
        code(41, "00211"),
        code(41, "00411"),
        code(42, "00111"),
        code(42, "00311"),
        code(77, "00111"),
    ];
    let found = audit(&home.store, "a", &seen).unwrap();
    let issues = |issues: Vec<&str>| issues.join(" ");
    assert_eq!((found.label.as_str(), found.right), ("A", 3));
    assert_eq!(issues(found.missing.iter().map(|missing| missing.copy.issue.as_str()).collect()), "3 5");
    assert!(found.missing.iter().all(|missing| missing.has_code));
    let misplaced: Vec<_> = found.misplaced.iter().map(|m| (m.copy.issue.as_str(), m.belongs_to.as_deref())).collect();
    assert_eq!(misplaced, [("1", Some("B")), ("3", None)]);
    assert_eq!((found.unknown.len(), found.unknown[0].seen, found.unknown[0].code), (1, 1, upc(77).parse().unwrap()));
    let all = audit(&home.store, "B", &[code(42, "00111"), code(42, "00211")]).unwrap();
    assert_eq!((all.right, all.missing.len() + all.misplaced.len() + all.unknown.len()), (2, 0));
    assert!(audit(&home.store, "none", &[]).is_err());
}

#[test]
fn room_is_left_for_what_will_come() {
    let home = home();
    bring(&home, 41, "Ash Harbour", 1..=13);
    read(&home, "ash harbour 1-13");
    shelf(&home, "A", 50, PurposeAsked::Known(Purpose::Rest));
    shelf(&home, "B", 50, PurposeAsked::Known(Purpose::Rest));
    let plan = |grow| {
        let asked = PlanAsked { dry_run: true, grow, ..PlanAsked::default() };
        let sheet = file_plan(&home.store, &asked, now()).unwrap().sheet;
        let copies = |shelf: &boxward::filing::SheetBox| shelf.put_in.iter().map(|run| run.copies.len()).sum::<usize>();
        (sheet.boxes.iter().map(copies).collect::<Vec<_>>(), sheet.cost.new_boxes)
    };
    // 13 of 3.072 mm fit into 46 mm with two dividers of 0.8 mm.
    assert_eq!(plan(None), (vec![13], 0));
    // 13 came in 13 weeks: in 4 weeks 4 come, and 17 don't fit into one box.
    let (boxes, new) = plan(Some((4, TODAY)));
    assert_eq!((boxes.iter().sum::<usize>(), new), (13, 0));
    // In 30 weeks 30 come: too many for both boxes, so all go where all will stand together.
    let (boxes, new) = plan(Some((30, TODAY)));
    assert_eq!((boxes.iter().sum::<usize>(), new), (13, 1));
}

#[test]
fn what_to_buy_is_counted_from_what_is_here_and_the_pace() {
    let home = filed();
    let lines = || supplies(&home.store, 13, TODAY).unwrap();
    let of = |item| lines().into_iter().find(|line| line.item == item).unwrap();
    // One copy is in no box; eight came in the last weeks, and so many come in the next thirteen.
    let bags = of(Item::Bags(SizeClass::Current));
    assert_eq!((bags.here, bags.coming, bags.on_hand, bags.packs), (1, 8, 0, 1));
    stock_set(&home.store, bags.item, &StockChange { on_hand: Some(9), ..StockChange::default() }, now()).unwrap();
    assert_eq!((of(bags.item).missing, of(bags.item).packs), (0, 0));
    // Both titles have their dividers already.
    assert_eq!(of(Item::Dividers).here, 0);
    bring(&home, 43, "Copper Wren", 1..=60);
    let boards = of(Item::Boards(SizeClass::Current));
    assert_eq!((boards.here, of(Item::Dividers).here), (61, 1));
    // They are more than fits into A.
    assert_eq!(of(Item::Boxes(BoxKind::Short)).here, 1);
    let price = StockChange { pack: Some(50), pack_price: "8 USD".parse().ok(), ..StockChange::default() };
    stock_set(&home.store, boards.item, &price, now()).unwrap();
    let boards = of(boards.item);
    assert_eq!((boards.missing, boards.packs, boards.cost), (61 + 68, 3, "24 USD".parse().ok()));
    workflow::undo(&home.store, None, now()).unwrap();
    assert_eq!(of(boards.item).cost, None);
}
