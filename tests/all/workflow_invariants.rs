//! Any sequence of imports, resolves, edits and undos keeps the record consistent.

use boxward::collection::{CopyChange, CopyId, Departure, Edit, Leaving, TitleChange, TitleId, Want};
use boxward::intake::{ItemId, ItemState, RunId};
use boxward::resolve::Answers;
use boxward::store::{QueueFilter, StoreError};
use boxward::workflow::{self, QueueChange, WorkflowError};
use proptest::prelude::*;
use serde_json::json;

use crate::workflow_support::{Home, ferry, fill, home, now, upc};

/// One thing that a collector does.
#[derive(Debug, Clone)]
pub enum Step {
    Import(Vec<(u8, u8, u8)>),
    Resolve(bool),
    Set(i64, u8),
    Drop(i64),
    Read(i64),
    Rename(i64, u8),
    Condition(i64, u8),
    Lend(i64),
    TakeBack(i64),
    Leave(i64),
    Pull(u8, bool),
    Want(u8),
    Unlist(u8),
    UndoLatest,
    Undo(i64),
}

/// Any step.
pub fn step() -> impl Strategy<Value = Step> {
    prop_oneof![
        3 => prop::collection::vec((0..3_u8, 0..4_u8, 0..4_u8), 0..4).prop_map(Step::Import),
        3 => any::<bool>().prop_map(Step::Resolve),
        1 => (1..8_i64, 0..4_u8).prop_map(|(item, issue)| Step::Set(item, issue)),
        1 => (1..8_i64).prop_map(Step::Drop),
        2 => (1..8_i64).prop_map(Step::Read),
        1 => (1..4_i64, 0..3_u8).prop_map(|(title, name)| Step::Rename(title, name)),
        1 => (1..8_i64, 0..3_u8).prop_map(|(copy, way)| Step::Condition(copy, way)),
        1 => (1..8_i64).prop_map(Step::Lend),
        1 => (1..8_i64).prop_map(Step::TakeBack),
        1 => (1..8_i64).prop_map(Step::Leave),
        1 => (0..9_u8, any::<bool>()).prop_map(|(issue, every)| Step::Pull(issue, every)),
        1 => (0..9_u8).prop_map(Step::Want),
        1 => (0..9_u8).prop_map(Step::Unlist),
        2 => Just(Step::UndoLatest),
        2 => (1..12_i64).prop_map(Step::Undo),
    ]
}

fn symbols(list: &[(u8, u8, u8)]) -> String {
    let line = |(title, issue, kind): &(u8, u8, u8)| match kind {
        0 => format!("{} ~", upc(41 + u32::from(*title))),
        1 => format!("{} 00{issue}11?", upc(41 + u32::from(*title))),
        _ => format!("{} 00{issue}11", upc(41 + u32::from(*title))),
    };
    list.iter().map(line).collect::<Vec<_>>().join("\n")
}

/// Does a step.
pub fn run(home: &Home, step: &Step) -> Result<(), WorkflowError> {
    match step {
        Step::Import(list) => {
            home.stack(&symbols(list));
        }
        Step::Resolve(all) => {
            let open = home.resolve(&Answers::none()).open;
            let mut fills = vec![ferry()];
            if *all {
                fills.extend([
                    ("add_on", json!({"add_on": "00111"})),
                    ("repeat", json!({"copies": 2})),
                    ("another_copy", json!({"accept": true})),
                    ("code", json!({"code": format!("{} 00211", upc(41))})),
                ]);
            }
            home.resolve(&fill(&open, &fills));
        }
        Step::Set(item, issue) => {
            let add_on = boxward::code::AddOnState::Read(format!("00{issue}11").parse().unwrap());
            let change = QueueChange { add_on: Some(add_on), ..QueueChange::default() };
            workflow::queue_set(&home.store, ItemId::new(*item), &change, now())?;
        }
        Step::Drop(item) => {
            workflow::queue_drop(&home.store, &[ItemId::new(*item)], now())?;
        }
        Step::Read(copy) => {
            let what = [workflow::WasRead::Copy(CopyId::new(*copy))];
            workflow::pile_read(&home.store, &what, jiff::civil::date(2026, 11, 25), now())?;
        }
        Step::Rename(title, name) => {
            let name = ["Crème & Harbour", "The Silent Lagoon", "Night Ferry"][usize::from(*name)].to_owned();
            let change = TitleChange { name: Some(name), ..TitleChange::default() };
            workflow::title_set(&home.store, TitleId::new(*title), &change, now())?;
        }
        Step::Condition(copy, way) => {
            let change = match way {
                0 => CopyChange { condition: Edit::To("9.4".parse().unwrap()), ..CopyChange::default() },
                1 => CopyChange { condition: Edit::Clear, bag: Edit::Clear, ..CopyChange::default() },
                _ => CopyChange { bag: Edit::To("polyester".parse().unwrap()), ..CopyChange::default() },
            };
            workflow::copy_set(&home.store, &one(*copy), &change, &Edit::Keep, bulk(), now())?;
        }
        Step::Lend(copy) => {
            workflow::copy_lend(&home.store, &one(*copy), "Bo Fenn", bulk(), now())?;
        }
        Step::TakeBack(copy) => {
            workflow::copy_returned(&home.store, &one(*copy), bulk(), now())?;
        }
        Step::Leave(copy) => {
            let gone = Departure { how: Leaving::Sold, on: bulk().day, price: None, to: None };
            workflow::copy_leave(&home.store, &one(*copy), &gone, bulk(), now())?;
        }
        Step::Pull(issue, every) => {
            let request =
                workflow::PullRequest { named: ferry_issue(*issue), due: None, every: every.then_some(4), new: None };
            workflow::pull_add(&home.store, &request, jiff::civil::date(2026, 11, 25), now())?;
        }
        Step::Want(issue) => {
            let wanted = workflow::Wanted::Issues(ferry_issue(*issue), None);
            workflow::want_add(&home.store, &wanted, &Want::default(), now())?;
        }
        Step::Unlist(issue) => {
            workflow::want_drop(&home.store, &ferry_issue(*issue), now())?;
        }
        Step::UndoLatest => {
            workflow::undo(&home.store, None, now())?;
        }
        Step::Undo(run) => {
            workflow::undo(&home.store, Some(RunId::new(*run)), now())?;
        }
    }
    Ok(())
}

fn one(copy: i64) -> workflow::Selection {
    workflow::Selection { copies: vec![CopyId::new(copy)], ..workflow::Selection::default() }
}

fn bulk() -> workflow::Bulk {
    workflow::Bulk { dry_run: false, several: true, day: jiff::civil::date(2026, 11, 25) }
}

fn ferry_issue(issue: u8) -> workflow::Named {
    workflow::Named::new(&[format!("night ferry {issue}")])
}

/// A failure that a sequence may meet. Anything else, and a broken reference above all, is a defect.
pub fn is_expected(error: &WorkflowError) -> bool {
    use StoreError::{AlreadyUndone, BuiltOn, NoCopy, NoItem, NoRun, NoTitle, NothingToUndo, ReadAlready, Step};
    use StoreError::{LeftAlready, LentAlready, NotLent};
    match error {
        WorkflowError::Store(error) => {
            matches!(
                error,
                NoItem(_)
                    | NoCopy(_)
                    | ReadAlready(_)
                    | LeftAlready(_)
                    | LentAlready { .. }
                    | NotLent(_)
                    | NoRun(_)
                    | NoTitle(_)
                    | NothingToUndo
                    | AlreadyUndone { .. }
                    | BuiltOn { .. }
                    | Step { .. }
            )
        }
        WorkflowError::NoMainCode { .. } | WorkflowError::NoTitleFits(_) | WorkflowError::List(_) => true,
        _ => false,
    }
}

fn check(home: &Home) {
    let database = rusqlite::Connection::open(home.store.path()).unwrap();
    let count = |sql: &str| database.query_row(sql, [], |row| row.get::<_, i64>(0)).unwrap();
    assert_eq!(count("SELECT count(*) FROM pragma_foreign_key_check"), 0);
    // FTS5's own check, the 1 being 'compare with the titles' (sqlite.org/fts5.html, 'The integrity-check command').
    database.execute("INSERT INTO title_search (title_search, rank) VALUES ('integrity-check', 1)", []).unwrap();
    assert_eq!(database.query_row("PRAGMA integrity_check", [], |row| row.get::<_, String>(0)).unwrap(), "ok");
    assert_eq!(
        count(
            "SELECT count(*) FROM item WHERE (state = 'accepted') <> EXISTS (SELECT 1 FROM copy WHERE copy.item = item.id)"
        ),
        0
    );
    assert_eq!(count("SELECT count(*) FROM copy WHERE item IS NULL OR item NOT IN (SELECT id FROM item)"), 0);
    assert_eq!(count("SELECT count(*) FROM copy WHERE (reading = 'read') <> (id IN (SELECT id FROM reading))"), 0);
    assert_eq!(
        count("SELECT count(*) FROM copy") - count("SELECT count(*) FROM departure"),
        count("SELECT count(*) FROM held")
    );
    assert_eq!(count("SELECT count(*) - count(DISTINCT copy) FROM loan WHERE returned IS NULL"), 0);
    // Nothing is kept of a copy of which nothing is known.
    let empty = "SELECT count(*) FROM copy_fact WHERE coalesce(grade_tenths, defects, signed_by, value_minor, valued_on) IS NULL";
    assert_eq!(count(empty), 0);
    assert_eq!(count("SELECT count(*) FROM copy_bag WHERE coalesce(bag, board, size, since) IS NULL"), 0);
    assert_eq!(count("SELECT count(*) FROM printing WHERE id NOT IN (SELECT printing FROM copy)"), 0);
    // An issue of which no printing is known was named by a person: on a list, or an undo brought it back.
    assert_eq!(
        count(
            "SELECT count(*) FROM issue WHERE id NOT IN (SELECT issue FROM printing) AND id NOT IN \
             (SELECT row FROM change JOIN run ON run.id = change.run WHERE tbl = 'issue' AND kind IN ('pull', 'want', 'undo'))"
        ),
        0
    );
    assert_eq!(
        count(
            "SELECT count(*) FROM run WHERE undone_by IS NOT NULL AND undone_by NOT IN (SELECT id FROM run WHERE undoes IS NOT NULL)"
        ),
        0
    );
    let items: i64 = count("SELECT count(*) FROM item");
    let by_state: usize =
        ItemState::ALL.iter().map(|&state| home.store.items(QueueFilter::State(state)).unwrap().len()).sum();
    assert_eq!(by_state, items as usize);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_sequence_keeps_the_record_consistent(steps in prop::collection::vec(step(), 1..14)) {
        let home = home();
        for step in &steps {
            let before = home.dump();
            if let Err(error) = run(&home, step) {
                prop_assert!(is_expected(&error), "{step:?}: {error:?}");
                prop_assert_eq!(home.dump(), before, "a refused step leaves no trace");
            }
            check(&home);
        }
        // From anywhere, undoing all that is left leads back to nothing.
        while workflow::undo(&home.store, None, now()).is_ok() {}
        prop_assert_eq!(home.dump(), "");
    }
}
