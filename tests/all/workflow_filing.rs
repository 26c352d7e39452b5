//! The walk that puts copies away: planned, booked, broken off and gone on with, taken back.

use boxward::collection::{CopyId, Departure, Leaving};
use boxward::filing::{Annuals, BoxKind, Make, Purpose};
use boxward::store::StoreError;
use boxward::workflow::{
    self, BoxChange, PlanAsked, PurposeAsked, WasRead, WorkflowError, box_add, box_list, box_retire, box_set, box_show,
    file_done, file_plan, filing_measure, filing_settings, rule_example, rule_set, settings_set,
};
use jiff::civil::date;
use serde_json::json;

use crate::workflow_support::{Home, home, now, upc};

/// Issues of two titles, all read: 'Ash Harbour' 1 to `ash`, 'Brine' 1 to `brine`.
fn filled(ash: u32, brine: u32) -> Home {
    let home = home();
    more(&home, 41, "Ash Harbour", 1..=ash);
    more(&home, 42, "Brine", 1..=brine);
    home
}

fn more(home: &Home, item: u32, name: &str, issues: std::ops::RangeInclusive<u32>) {
    let symbols: String = issues.clone().map(|n| format!("{} {n:03}11\n", upc(item))).collect();
    if symbols.is_empty() {
        return;
    }
    home.stack(&symbols);
    home.answer(&[("title", json!({"title": name, "publisher": "Lantern Row", "year": 2019, "layout": "IIICP"}))]);
    let (first, last) = issues.into_inner();
    let what = [WasRead::Named { query: format!("{name} {first}-{last}"), all: true }];
    workflow::pile_read(&home.store, &what, date(2026, 11, 25), now()).unwrap();
}

fn shelf(home: &Home, label: &str, inner_mm: u32, purpose: Purpose) {
    let new = BoxChange {
        label: Some(label.to_owned()),
        kind: Some(BoxKind::Own),
        inner_mm: Some(inner_mm),
        purpose: Some(PurposeAsked::Known(purpose)),
        ..BoxChange::default()
    };
    box_add(&home.store, &new, now()).unwrap();
}

fn walk(home: &Home) -> workflow::Walk {
    file_plan(&home.store, &PlanAsked::default(), now()).unwrap()
}

/// The label and the copies of each box, in order.
fn standing(home: &Home) -> Vec<(String, Vec<String>)> {
    let content = |label: &str| {
        let content = box_show(&home.store, label).unwrap().content;
        content.iter().map(|line| format!("{} {}", line.copy.title.name, line.copy.issue)).collect()
    };
    let boxes = box_list(&home.store).unwrap();
    boxes.iter().map(|fill| (fill.shelf.label.clone(), content(&fill.shelf.label))).collect()
}

#[test]
fn what_was_read_goes_into_boxes_and_comes_back_by_undo() {
    let home = filled(3, 2);
    shelf(&home, "A", 300, Purpose::Rest);
    let before = home.dump();
    let planned = walk(&home);
    assert_eq!((planned.sheet.cost.to_file, planned.sheet.cost.moved, planned.sheet.boxes.len()), (5, 0, 1));
    assert!(planned.sheet.boxes[0].put_in.iter().all(|run| run.new_divider && run.copies.iter().all(|put| put.seal)));
    let with_plan = home.dump();
    let (done, run) = file_done(&home.store, None, now()).unwrap();
    assert_eq!((done.len(), done[0].put_in, done[0].left), (1, 5, 0));
    let ash = ["Ash Harbour 1", "Ash Harbour 2", "Ash Harbour 3", "Brine 1", "Brine 2"].map(str::to_owned);
    assert_eq!(standing(&home), [("A".to_owned(), ash.to_vec())]);
    // Nothing is left to do, and nothing is written for that.
    let again = walk(&home);
    assert_eq!((again.sheet.boxes.len(), again.run, again.goes_on), (0, None, false));
    assert!(matches!(file_done(&home.store, None, now()), Err(WorkflowError::NothingToFile(None))));
    workflow::undo(&home.store, run, now()).unwrap();
    assert_eq!(home.dump(), with_plan);
    workflow::undo(&home.store, planned.run, now()).unwrap();
    assert_eq!(home.dump(), before);
}

#[test]
fn a_walk_that_was_broken_off_goes_on_and_keeps_to_what_was_printed() {
    let home = filled(7, 8);
    // Fifteen copies of 3.1 mm don't fit into 50 mm.
    shelf(&home, "A", 50, Purpose::Publisher("Lantern Row".to_owned()));
    shelf(&home, "B", 50, Purpose::Publisher("Lantern Row".to_owned()));
    assert_eq!(walk(&home).sheet.boxes.len(), 2);
    file_done(&home.store, Some("a"), now()).unwrap();
    // What comes meanwhile waits for the next walk.
    more(&home, 42, "Brine", 9..=9);
    let rest = walk(&home);
    assert!(rest.goes_on && rest.run.is_none());
    assert_eq!((rest.sheet.boxes.len(), rest.sheet.boxes[0].label.as_str()), (1, "B"));
    assert!(matches!(file_done(&home.store, Some("A"), now()), Err(WorkflowError::NothingToFile(Some(_)))));
    assert!(matches!(
        file_done(&home.store, Some("C"), now()),
        Err(WorkflowError::Store(StoreError::NoBox(label))) if label == "C"
    ));
    file_done(&home.store, None, now()).unwrap();
    let next = walk(&home);
    assert_eq!((next.goes_on, next.sheet.cost.to_file), (false, 1));
}

#[test]
fn an_overflow_moves_a_title_and_a_new_box_gets_a_place() {
    let home = filled(6, 6);
    shelf(&home, "A", 60, Purpose::Rest);
    walk(&home);
    file_done(&home.store, None, now()).unwrap();
    let boxes = box_list(&home.store).unwrap();
    assert_eq!(boxes.len(), 1);
    // Twenty copies of 3.1 mm don't fit into 60 mm.
    more(&home, 41, "Ash Harbour", 7..=14);
    let planned = walk(&home);
    assert_eq!((planned.sheet.cost.moved, planned.sheet.cost.new_boxes, planned.sheet.cost.splits), (6, 1, 0));
    let new = planned.sheet.boxes.iter().find(|shelf| shelf.new_box.is_some()).unwrap();
    assert_eq!((new.label.as_str(), new.place.column), ("Box 2", 2));
    // Taken out of A is in the hand, not in two places and not in none.
    file_done(&home.store, Some("A"), now()).unwrap();
    assert_eq!(standing(&home)[0].1.len(), 14);
    assert_eq!(walk(&home).sheet.cost.to_file, 6);
    file_done(&home.store, Some("box 2"), now()).unwrap();
    let brine: Vec<String> = (1..=6).map(|n| format!("Brine {n}")).collect();
    assert_eq!(standing(&home)[1], ("Box 2".to_owned(), brine));
    assert!(!box_list(&home.store).unwrap()[1].shelf.planned);
}

#[test]
fn a_walk_that_is_dropped_gives_back_spare_boxes_and_forgets_new_ones() {
    let home = filled(30, 0);
    shelf(&home, "A", 60, Purpose::Rest);
    shelf(&home, "S", 60, Purpose::Spare);
    let before = box_list(&home.store).unwrap();
    let planned = walk(&home);
    assert_eq!(planned.sheet.cost.new_boxes, 1);
    assert!(box_list(&home.store).unwrap().iter().any(|fill| fill.shelf.planned));
    workflow::pile_list(&home.store, 1).unwrap();
    let limited = PlanAsked { again: true, limit: Some(5), ..PlanAsked::default() };
    let again = file_plan(&home.store, &limited, now()).unwrap();
    assert_eq!((again.sheet.cost.to_file, again.sheet.cost.new_boxes), (5, 0));
    assert_eq!(box_list(&home.store).unwrap(), before);
    let dry = PlanAsked { dry_run: true, ..PlanAsked::default() };
    let state = home.dump();
    assert_eq!(file_plan(&home.store, &dry, now()).unwrap().sheet.cost.to_file, 30);
    assert_eq!(home.dump(), state);
}

#[test]
fn unread_and_lent_copies_and_those_that_left_are_not_filed() {
    let home = filled(3, 0);
    home.stack(&format!("{} 00911", upc(41)));
    home.resolve(&boxward::resolve::Answers::none());
    assert_eq!(walk(&home).sheet.cost.to_file, 3);
    // A box for unread copies takes them too.
    shelf(&home, "U", 60, Purpose::Unread);
    let again = PlanAsked { again: true, ..PlanAsked::default() };
    let planned = file_plan(&home.store, &again, now()).unwrap();
    assert_eq!((planned.sheet.cost.to_file, planned.sheet.cost.new_boxes), (4, 1));
    let unread = planned.sheet.boxes.iter().find(|shelf| shelf.label == "U").unwrap();
    assert!(!unread.put_in[0].copies[0].seal);
    file_done(&home.store, None, now()).unwrap();
    let bulk = workflow::Bulk { dry_run: false, several: false, day: date(2026, 11, 25) };
    let only = |copy| workflow::Selection { copies: vec![CopyId::new(copy)], ..workflow::Selection::default() };
    // One that stands in a box keeps its place while it is lent; one that left has none any more.
    workflow::copy_lend(&home.store, &only(1), "Ida Fenn", bulk, now()).unwrap();
    assert_eq!(standing(&home)[1].1.len(), 3);
    let gift = Departure { how: Leaving::Given, on: date(2026, 11, 25), price: None, to: None };
    workflow::copy_leave(&home.store, &only(2), &gift, bulk, now()).unwrap();
    assert_eq!(standing(&home)[1].1, ["Ash Harbour 1", "Ash Harbour 3"]);
    // One that is lent before it is filed waits until it is back.
    more(&home, 41, "Ash Harbour", 5..=6);
    workflow::copy_lend(&home.store, &only(5), "Ida Fenn", bulk, now()).unwrap();
    assert_eq!(walk(&home).sheet.cost.to_file, 1);
    file_done(&home.store, None, now()).unwrap();
    // Read at last, it moves to its title.
    workflow::pile_read(&home.store, &[WasRead::Copy(CopyId::new(4))], date(2026, 11, 26), now()).unwrap();
    let moved = walk(&home);
    assert_eq!((moved.sheet.cost.to_file, moved.sheet.cost.moved), (0, 1));
}

#[test]
fn boxes_are_told_apart_by_their_labels_and_leave_only_when_empty() {
    let home = filled(2, 0);
    shelf(&home, "Heron A", 60, Purpose::Rest);
    let twice = BoxChange { label: Some("HERON  a".to_owned()), ..BoxChange::default() };
    let error = box_add(&home.store, &twice, now()).unwrap_err();
    assert_eq!(error.to_string(), "there is a box 'Heron A' already; label this one differently");
    let own = BoxChange { label: Some("X".to_owned()), kind: Some(BoxKind::Own), ..BoxChange::default() };
    assert!(matches!(box_add(&home.store, &own, now()), Err(WorkflowError::NoLength)));
    assert!(matches!(box_add(&home.store, &BoxChange::default(), now()), Err(WorkflowError::NoLabel)));
    walk(&home);
    assert!(matches!(
        box_retire(&home.store, "heron a", now()),
        Err(WorkflowError::Store(StoreError::BoxInUse { copies: 2, .. }))
    ));
    file_done(&home.store, None, now()).unwrap();
    let spare = BoxChange { purpose: Some(PurposeAsked::Known(Purpose::Spare)), ..BoxChange::default() };
    assert!(matches!(box_set(&home.store, "heron a", &spare, now()), Err(WorkflowError::SpareNotEmpty(_))));
    let title = BoxChange { purpose: Some(PurposeAsked::TitleNamed("ash".to_owned())), ..BoxChange::default() };
    assert_eq!(
        box_set(&home.store, "heron a", &title, now()).unwrap().0.shelf.purpose,
        Purpose::Title(boxward::collection::TitleId::new(1))
    );
    let missing = BoxChange { purpose: Some(PurposeAsked::TitleNamed("zz".to_owned())), ..BoxChange::default() };
    assert!(matches!(box_set(&home.store, "heron a", &missing, now()), Err(WorkflowError::NoTitleFits(_))));
    shelf(&home, "B", 60, Purpose::Rest);
    box_retire(&home.store, "b", now()).unwrap();
    shelf(&home, "B", 80, Purpose::Rest);
    assert_eq!(box_list(&home.store).unwrap().len(), 2);
}

#[test]
fn an_order_is_shown_before_it_is_set() {
    let home = filled(2, 2);
    shelf(&home, "A", 300, Purpose::Rest);
    walk(&home);
    file_done(&home.store, None, now()).unwrap();
    let rule = "title, printing, issue".parse::<boxward::filing::FilingRule>().unwrap().with_annuals(Annuals::Before);
    let example = rule_example(&home.store, &rule).unwrap();
    assert_eq!((example.example.len(), example.out_of_place, example.to_sort.len()), (4, 0, 0));
    assert_ne!(filing_settings(&home.store).unwrap().rule, rule);
    rule_set(&home.store, &rule, now()).unwrap();
    assert_eq!(filing_settings(&home.store).unwrap().rule, rule);
    workflow::undo(&home.store, None, now()).unwrap();
    assert_ne!(filing_settings(&home.store).unwrap().rule, rule);
}

#[test]
fn an_order_that_leaves_boxes_unsorted_names_them() {
    let home = home();
    // Of 'Ash Harbour' 1 and 2 both a first and a second printing.
    home.stack(&["00111", "00112", "00211", "00212"].map(|add_on| format!("{} {add_on}\n", upc(41))).concat());
    home.answer(&[(
        "title",
        json!({"title": "Ash Harbour", "publisher": "Lantern Row", "year": 2019, "layout": "IIICP"}),
    )]);
    let what = [WasRead::Named { query: "Ash Harbour 1-2".to_owned(), all: true }];
    workflow::pile_read(&home.store, &what, date(2026, 11, 25), now()).unwrap();
    more(&home, 42, "Brine", 1..=3);
    shelf(&home, "A", 100, Purpose::Rest);
    shelf(&home, "B", 300, Purpose::Title(boxward::collection::TitleId::new(2)));
    walk(&home);
    file_done(&home.store, None, now()).unwrap();
    let rule: boxward::filing::FilingRule = "publisher, title, volume, printing, issue, cover".parse().unwrap();
    let example = rule_example(&home.store, &rule).unwrap();
    assert_eq!(example.to_sort, ["A"]);
    assert!(example.out_of_place > 0);
    rule_set(&home.store, &rule, now()).unwrap();
    assert_eq!(rule_example(&home.store, &rule).unwrap().to_sort, [""; 0]);
    let found = workflow::find(&home.store, "Ash Harbour 2").unwrap();
    let behind = |found: &workflow::FoundCopy| {
        found.stands.as_ref().and_then(|spot| spot.after.as_ref()).map(|copy| (copy.issue.clone(), copy.printing))
    };
    // As the box will stand once it is sorted: both first printings, then both second ones.
    let behind: Vec<_> = found.iter().filter_map(behind).collect();
    assert_eq!(behind, [("1".to_owned(), 1), ("1".to_owned(), 2)]);
}

#[test]
fn annuals_stand_among_the_issues_by_their_dates() {
    let home = filled(3, 0);
    let date = |issue: &str, date: &str| {
        let change = workflow::IssueChange {
            cover_date: boxward::collection::Edit::To(date.parse().unwrap()),
            ..workflow::IssueChange::default()
        };
        workflow::catalogue_set(&home.store, &format!("ash harbour #{issue}"), &change, now()).unwrap();
    };
    for (issue, on) in [("1", "2026-01"), ("2", "2026-02"), ("3", "2026-03"), ("Annual 1", "2026-02")] {
        date(issue, on);
    }
    // The first copy is the annual's.
    rusqlite::Connection::open(home.store.path())
        .unwrap()
        .execute_batch("UPDATE printing SET issue = (SELECT id FROM issue WHERE number = 'Annual 1') WHERE id = 1")
        .unwrap();
    shelf(&home, "A", 300, Purpose::Rest);
    walk(&home);
    file_done(&home.store, None, now()).unwrap();
    let order = |annuals| {
        rule_set(&home.store, &filing_settings(&home.store).unwrap().rule.with_annuals(annuals), now()).unwrap();
        let standing = standing(&home).remove(0).1;
        standing.iter().map(|copy| copy.trim_start_matches("Ash Harbour ").to_owned()).collect::<Vec<_>>().join(", ")
    };
    assert_eq!(order(Annuals::Behind), "2, 3, Annual 1");
    assert_eq!(order(Annuals::Before), "Annual 1, 2, 3");
    assert_eq!(order(Annuals::Dated), "2, Annual 1, 3");
}

#[test]
fn a_measured_box_corrects_what_copies_take() {
    let home = filled(10, 0);
    shelf(&home, "A", 300, Purpose::Rest);
    walk(&home);
    file_done(&home.store, None, now()).unwrap();
    let percent = |home: &Home| box_list(&home.store).unwrap()[0].percent;
    // Ten copies of 3.072 mm and a divider of 0.8 mm.
    assert_eq!(percent(&home), 10);
    let measure = |label, books, mm: u64| {
        filing_measure(&home.store, label, books, Make::default(), mm * 1000, date(2026, 11, 25), now())
    };
    let calibration = measure(Some("a"), None, 61).unwrap();
    assert_eq!((calibration.measurements, calibration.factor_ppm), (1, 1_985_677));
    assert_eq!(percent(&home), 20);
    // A second one, of books that stand in no box: 118 of 352 mm.
    let calibration = measure(None, Some(118), 352).unwrap();
    assert_eq!(calibration.measurements, 2);
    assert!((960_000..1_000_000).contains(&calibration.factor_ppm) && calibration.spread_ppm.is_some());
    assert!(matches!(measure(None, None, 10), Err(WorkflowError::Measurement(_))));
    workflow::measurement_remove(&home.store, 1, now()).unwrap();
    assert!(workflow::measurement_remove(&home.store, 1, now()).is_err());
    let change = workflow::SettingsChange { fill_percent: Some(50), ..workflow::SettingsChange::default() };
    settings_set(&home.store, &change, now()).unwrap();
    assert_eq!(filing_settings(&home.store).unwrap().options.fill_percent, 50);
}
