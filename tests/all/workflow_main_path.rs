//! The main path: import, resolve, have, undo.

use boxward::resolve::{Answers, Question, Verdict};
use boxward::workflow::{self, Have};

use crate::workflow_support::{ferry, home, now, upc};

#[test]
fn a_stack_goes_through_and_comes_back() {
    let home = home();
    let empty = home.dump();
    let code = upc(41);
    let paths = [
        home.photo("a.jpg", &format!("{code} 00411")),
        home.photo("b.jpg", &format!("{code} 00421\n{code} 00511")),
        home.photo("c.jpg", "broken"),
        home.photo("d.jpg", ""),
    ];
    let (summary, outcomes) = home.import(&paths);
    assert_eq!((summary.staged, summary.failed, summary.nothing_read), (4, 1, 1));
    assert_eq!(outcomes.iter().map(|o| o.path.clone()).collect::<Vec<_>>(), paths);
    let imported = home.dump();

    let report = home.resolve(&Answers::none());
    assert_eq!(report.run, None);
    assert_eq!(report.unknown.len(), 3);
    assert!(
        matches!(&report.open[..], [Question::Code(_), Question::Title(q)] | [Question::Title(q), Question::Code(_)] if q.items.len() == 3)
    );
    let report = home.answer(&[ferry()]);
    let verdicts: Vec<_> = report.decided.iter().map(|d| (d.issue.clone().unwrap(), d.verdict)).collect();
    assert_eq!(verdicts, [("4".into(), Verdict::New), ("4".into(), Verdict::AnotherCover), ("5".into(), Verdict::New)]);
    assert_eq!(report.open.len(), 1);

    assert_eq!(home.have(&format!("{code}00411")).answer, Have::Owned);
    assert_eq!(home.have(&format!("{code}00412")).answer, Have::AnotherPrinting);
    assert_eq!(home.have(&format!("{code}00431")).answer, Have::AnotherCover);
    assert_eq!(home.have(&format!("{code}00611")).answer, Have::NotOwned);
    assert_eq!(home.have("the night ferry #4").titles[0].copies, 2);
    assert_eq!(home.have("night ferry 6").answer, Have::NotOwned);
    assert_eq!(home.have("FERRY, night").titles[0].issues, Some(2));

    let resolved = home.dump();
    let undone = workflow::undo(&home.store, None, now()).unwrap();
    assert_eq!(Some(undone.undone.id), report.run);
    assert_eq!(home.dump(), imported);
    workflow::undo(&home.store, Some(undone.undo.id), now()).unwrap();
    assert_eq!(home.dump(), resolved);
    workflow::undo(&home.store, None, now()).unwrap();
    workflow::undo(&home.store, None, now()).unwrap();
    assert_eq!(home.dump(), empty);
    assert!(workflow::undo(&home.store, None, now()).is_err());
}
