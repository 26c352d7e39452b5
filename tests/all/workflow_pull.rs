//! Expected and wanted books, as the record sees them.

use boxward::collection::{Due, Want, Week};
use boxward::resolve::Answers;
use boxward::store::StoreError;
use boxward::workflow::{self, ListError, Named, PullRequest, ResolveOptions, Wanted, WorkflowError};
use jiff::civil::{Date, date};

use crate::workflow_support::{Home, ferry, fill, home, now, upc};

/// The Wednesday of the tests' week, 2026-W48.
const TODAY: Date = date(2026, 11, 25);

fn week(text: &str) -> Week {
    text.parse().unwrap()
}

fn named(text: &str) -> Named {
    Named::new(&[text.to_owned()])
}

fn request(text: &str, due: Option<&str>, every: Option<u32>) -> PullRequest {
    PullRequest { named: named(text), due: due.map(week), every, new: None }
}

fn add(home: &Home, text: &str, due: Option<&str>, every: Option<u32>) -> Result<Vec<String>, WorkflowError> {
    let (dues, _) = workflow::pull_add(&home.store, &request(text, due, every), TODAY, now())?;
    Ok(shown(&dues))
}

fn shown(dues: &[Due]) -> Vec<String> {
    let one = |due: &Due| format!("{} {}", due.issue, due.due.map_or("-".to_owned(), |week| week.to_string()));
    dues.iter().map(one).collect()
}

fn want(home: &Home, text: &str, up_to: Option<&str>) -> Result<usize, WorkflowError> {
    let want = Want { up_to: up_to.map(|money| money.parse().unwrap()), note: String::new() };
    let wanted = Wanted::Issues(named(text), None);
    workflow::want_add(&home.store, &wanted, &want, now()).map(|(list, _)| list.len())
}

/// Night Ferry 4 and 5, bought on a day, and Ash & Amber 2.
fn shelf(acquired: Option<Date>) -> Home {
    let home = home();
    home.stack(&format!("{0} 00411\n{0} 00511\n{1} 00211", upc(41), upc(43)));
    let open = home.resolve(&Answers::none()).open;
    let ash =
        fill(&open[1..], &[("title", serde_json::json!({"title": "Ash & Amber", "year": 2020, "layout": "IIICP"}))]);
    let options = ResolveOptions { acquired, ..ResolveOptions::default() };
    for answers in [fill(&open[..1], &[ferry()]), ash] {
        workflow::resolve(&home.store, &answers, &options, None, now()).unwrap();
    }
    home
}

/// Buys issues of the Night Ferry.
fn buy(home: &Home, issues: &[u32], acquired: Date) {
    home.stack(&issues.iter().map(|n| format!("{} {n:03}11\n", upc(41))).collect::<String>());
    let options = ResolveOptions { acquired: Some(acquired), ..ResolveOptions::default() };
    workflow::resolve(&home.store, &Answers::none(), &options, None, now()).unwrap();
}

/// What of a week came, is missing, was not asked for.
fn check(home: &Home, of: &str) -> [Vec<String>; 3] {
    let found = workflow::pull_check(&home.store, week(of)).unwrap().found;
    let books = |list: &[boxward::collection::Arrived]| {
        list.iter().map(|b| format!("{} {}x{}", b.title.name, b.issue, b.copies)).collect::<Vec<_>>()
    };
    [books(&found.came), shown(&found.missing), books(&found.unasked)]
}

#[test]
fn a_standing_title_goes_on_from_the_newest_that_came() {
    let home = shelf(Some(date(2026, 11, 4)));
    // Number 5 came in week 45; the next is due four weeks on, as most titles are monthly.
    assert_eq!(add(&home, "night ferry", None, Some(4)).unwrap(), ["6 2026-W49"]);
    assert_eq!(add(&home, "night ferry 7", Some("2026-W50"), Some(2)).unwrap(), ["7 2026-W50"]);
    buy(&home, &[6], date(2026, 12, 2));
    assert_eq!(shown(&workflow::pull_list(&home.store, week("2026-W49"), None).unwrap()), ["7 2026-W50"]);
    buy(&home, &[7], date(2026, 12, 16));
    let ahead = workflow::pull_list(&home.store, week("2026-W51"), Some(6)).unwrap();
    assert_eq!(shown(&ahead), ["8 2026-W53", "9 2027-W02", "10 2027-W04"]);
    assert_eq!(workflow::pull_list(&home.store, week("2026-W51"), Some(0)).unwrap(), []);
}

#[test]
fn a_week_is_held_against_what_was_expected_before_it() {
    let home = shelf(Some(date(2026, 11, 4)));
    add(&home, "night ferry", Some("2026-W48"), Some(4)).unwrap();
    add(&home, "ash and amber 3 7", Some("2026-W48"), None).unwrap();
    add(&home, "ash and amber 9", Some("2026-W50"), None).unwrap();
    let missing = ["3 2026-W48", "7 2026-W48", "6 2026-W48"].map(str::to_owned).to_vec();
    assert_eq!(check(&home, "2026-W48"), [vec![], missing, vec![]]);
    assert_eq!(check(&home, "2026-W47")[1], [""; 0]);
    // In the queue already, two of one, and one that nobody asked for; and an add-on that can't be read.
    home.stack(&format!("{0} 00611\n{1} 00311\n{1} 00511\n{1} ~\n9780306406157", upc(41), upc(43)));
    let in_queue = check(&home, "2026-W48");
    let came = ["The Night Ferry 6x1", "Ash & Amber 3x1"].map(str::to_owned).to_vec();
    assert_eq!(in_queue, [came.clone(), vec!["7 2026-W48".to_owned()], vec!["Ash & Amber 5x1".to_owned()]]);
    assert_eq!(workflow::pull_check(&home.store, week("2026-W48")).unwrap().unknown.len(), 2);
    // Once they are in the collection, the same holds, and in the weeks after as well.
    let options = ResolveOptions { acquired: Some(TODAY), ..ResolveOptions::default() };
    workflow::resolve(&home.store, &Answers::none(), &options, None, now()).unwrap();
    let mut resolved = check(&home, "2026-W48");
    resolved[0].sort();
    assert_eq!(
        resolved,
        [
            vec!["Ash & Amber 3x1".to_owned(), "The Night Ferry 6x1".to_owned()],
            in_queue[1].clone(),
            in_queue[2].clone()
        ]
    );
    assert_eq!(check(&home, "2026-W49"), [vec![], vec!["7 2026-W48".to_owned()], vec![]]);
    // What came is off the list by itself, and back if the resolve is undone.
    let list = |home: &Home| shown(&workflow::pull_list(&home.store, week("2026-W48"), None).unwrap());
    assert_eq!(list(&home), ["7 2026-W48", "9 2026-W50", "7 2026-W52"]);
    workflow::undo(&home.store, None, now()).unwrap();
    assert_eq!(list(&home), ["3 2026-W48", "7 2026-W48", "6 2026-W48", "9 2026-W50"]);
}

#[test]
fn what_has_no_price_day_came_when_it_was_seen() {
    let home = shelf(None);
    assert_eq!(check(&home, "2026-W48")[2].len(), 3);
    assert_eq!(check(&home, "2026-W47")[2].len(), 0);
    assert_eq!(add(&home, "night ferry", None, Some(4)).unwrap(), ["6 2026-W52"]);
}

#[test]
fn lists_are_changed_by_runs_that_are_undone() {
    let home = shelf(None);
    let before = home.dump();
    add(&home, "night ferry 8-10", None, None).unwrap();
    add(&home, "night ferry", None, Some(4)).unwrap();
    want(&home, "night ferry 1 2", Some("5 USD")).unwrap();
    let wanted = Wanted::Gaps("night ferry".to_owned());
    let refused = workflow::want_add(&home.store, &wanted, &Want::default(), now()).unwrap_err();
    assert!(matches!(refused, WorkflowError::List(ListError::NothingMissing(_))));
    let after = home.dump();
    workflow::pull_drop(&home.store, &named("night ferry 9"), now()).unwrap();
    workflow::pull_drop(&home.store, &named("night ferry"), now()).unwrap();
    workflow::want_drop(&home.store, &named("night ferry"), now()).unwrap();
    assert_eq!(workflow::pull_list(&home.store, week("2026-W48"), None).unwrap(), []);
    assert_eq!(workflow::want_list(&home.store, true).unwrap(), []);
    for _ in 0..3 {
        workflow::undo(&home.store, None, now()).unwrap();
    }
    assert_eq!(home.dump(), after);
    for _ in 0..3 {
        workflow::undo(&home.store, None, now()).unwrap();
    }
    assert_eq!(home.dump(), before);
}

#[test]
fn a_want_is_told_and_fulfilled_by_a_copy() {
    let home = shelf(None);
    buy(&home, &[9], TODAY);
    let gaps = Wanted::Gaps("night ferry".to_owned());
    let limit = Want { up_to: "5 USD".parse().ok(), note: "any cover".to_owned() };
    assert_eq!(workflow::want_add(&home.store, &gaps, &limit, now()).unwrap().0.len(), 3);
    // Said again, the new word counts.
    want(&home, "night ferry 7", Some("7.50 USD")).unwrap();
    let wanted = |query: &str| home.have(query).titles[0].wanted.clone();
    assert_eq!(wanted("night ferry 6"), Some(limit));
    assert_eq!(wanted("night ferry 7").unwrap().up_to, "7.50 USD".parse().ok());
    assert!(wanted(&format!("{} 00611", upc(41))).is_some(), "also by its code");
    assert_eq!((wanted("night ferry 5"), wanted("night ferry")), (None, None));
    buy(&home, &[6], TODAY);
    assert_eq!(wanted("night ferry 6"), None);
    let list = |all| workflow::want_list(&home.store, all).unwrap();
    let came: Vec<_> = list(true).iter().map(|wanted| (wanted.issue.clone(), wanted.came)).collect();
    assert_eq!(came, [("6".to_owned(), true), ("7".to_owned(), false), ("8".to_owned(), false)]);
    assert_eq!(list(false).len(), 2);
    // It was asked for, so it is no surprise.
    assert!(check(&home, "2026-W48")[0].contains(&"The Night Ferry 6x1".to_owned()));
}

#[test]
fn a_title_that_is_not_there_is_made_when_that_is_said() {
    let home = shelf(None);
    let mut new = request("Salt Meridian 1-2", Some("2026-W50"), None);
    let refused = workflow::pull_add(&home.store, &new, TODAY, now()).unwrap_err();
    assert!(matches!(refused, WorkflowError::NoTitleFits(_)), "{refused:?}");
    let title = boxward::collection::NewTitle {
        publisher: Some("Brass Heron".to_owned()),
        year: Some(2026),
        ..Default::default()
    };
    new.new = Some(title);
    let (dues, _) = workflow::pull_add(&home.store, &new, TODAY, now()).unwrap();
    assert_eq!(shown(&dues), ["1 2026-W50", "2 2026-W50"]);
    assert_eq!(dues[0].title.publisher.as_deref(), Some("Brass Heron"));
    let again = workflow::pull_add(&home.store, &new, TODAY, now()).unwrap_err();
    assert!(matches!(again, WorkflowError::List(ListError::KnownTitle(_))), "{again:?}");
    // When it comes, its code finds the title that is waiting for it.
    home.stack(&format!("{} 00111", upc(77)));
    home.answer(&[(
        "title",
        serde_json::json!({"title": "Salt Meridian", "publisher": "Brass Heron", "year": 2026, "layout": "IIICP"}),
    )]);
    assert_eq!(check(&home, "2026-W48")[0], ["Salt Meridian 1x1"]);
}

#[test]
fn what_is_unclear_is_refused_and_changes_nothing() {
    let home = shelf(None);
    home.stack(&format!("{} 00411", upc(60)));
    home.answer(&[("title", serde_json::json!({"title": "Night Ferry", "year": 1988, "layout": "IIICP"}))]);
    let before = home.dump();
    let refused = |text: &str, every| match add(&home, text, None, every).unwrap_err() {
        WorkflowError::List(error) => error,
        error => panic!("{text}: {error:?}"),
    };
    assert!(matches!(refused("ash amber", None), ListError::NoIssueNamed(_)));
    assert!(matches!(refused("ash amber 2", None), ListError::OwnedAlready { .. }));
    assert!(matches!(refused("ash amber 3 4", Some(4)), ListError::SeveralFirst));
    assert!(matches!(refused("ash amber 1.5", Some(4)), ListError::NoPlainNumber(_)));
    assert!(matches!(refused("ash amber 9-3", None), ListError::NoRange(_)));
    assert!(matches!(add(&home, "night ferry 9", None, None), Err(WorkflowError::SeveralTitles { titles: 2, .. })));
    assert!(matches!(add(&home, "no such thing 9", None, None), Err(WorkflowError::NoTitleFits(_))));
    assert!(matches!(want(&home, "ash amber 3 2", None), Err(WorkflowError::List(ListError::OwnedAlready { .. }))));
    let drop = workflow::pull_drop(&home.store, &named("ash amber 3"), now()).unwrap_err();
    assert!(matches!(drop, WorkflowError::List(ListError::NotListed { .. })));
    let drop = workflow::want_drop(&home.store, &named("ash amber"), now()).unwrap_err();
    assert!(matches!(drop, WorkflowError::List(ListError::NotListed { .. })));
    assert_eq!(home.dump(), before);
    assert_eq!(add(&home, "night ferry 1988 9", None, None).unwrap(), ["9 -"]);
    // A resolve that a list hangs on can't be taken back from under it.
    let resolve = workflow::runs(&home.store, 2).unwrap()[1].id;
    let undo = workflow::undo(&home.store, Some(resolve), now());
    assert!(matches!(undo, Err(WorkflowError::Store(StoreError::BuiltOn { .. }))));
}
