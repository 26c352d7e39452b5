//! A scanning session: what its books are bought for, dropping and taking back.

use boxward::code::{AddOnState, Certainty, Code, Symbology};
use boxward::collection::Purchase;
use boxward::resolve::Answers;
use boxward::source::handheld::Heard;
use boxward::store::{QueueFilter, StoreError};
use boxward::workflow::{self, Live, Said, Step, Voice, WorkflowError};
use jiff::Timestamp;
use rusqlite::Connection;

use crate::workflow_support::{Home, ferry, home, now, upc};

fn heard(item: u32, add_on: &str) -> Heard {
    let add_on = if add_on == "~" { AddOnState::Unread } else { AddOnState::Read(add_on.parse().unwrap()) };
    let code = Code { gtin: upc(item).parse().unwrap(), add_on };
    Heard { code, symbology: Symbology::UpcA, certainty: Certainty::Sure, at: now() }
}

fn say(home: &Home, live: &mut Live, item: u32, add_on: &str) -> Voice {
    live.heard(&home.store, now(), &heard(item, add_on)).unwrap().unwrap().voice()
}

#[test]
fn each_book_is_said_in_a_word() {
    let home = home();
    home.stack(&format!("{} 00411", upc(41)));
    home.answer(&[ferry()]);
    let mut live = Live::default();
    let books = [
        (41, "00511", Voice::New),
        (41, "00511", Voice::SameBook),
        (41, "00411", Voice::AnotherCopy),
        (41, "00421", Voice::AnotherCover),
        (41, "00412", Voice::AnotherPrinting),
        (77, "00111", Voice::WaitsForTitle),
        (41, "00511", Voice::SecondCopy),
        (41, "~", Voice::WaitsForPerson),
    ];
    for (item, add_on, voice) in books {
        assert_eq!(say(&home, &mut live, item, add_on), voice, "{item} {add_on}");
    }
    let totals = live.totals();
    assert_eq!((totals.new, totals.incomplete, totals.again.len()), (6, 1, 2));
    // What waits since an earlier session is another copy, too.
    assert_eq!(say(&home, &mut Live::default(), 77, "00111"), Voice::AnotherCopy);
}

#[test]
fn what_is_taken_back_was_never_there() {
    let home = home();
    let mut live = Live::new(Purchase { shop: Some("Corner Comics".to_owned()), ..Purchase::default() });
    say(&home, &mut live, 1, "00111");
    let one = home.dump();
    say(&home, &mut live, 2, "00211");
    say(&home, &mut live, 1, "00111");
    let all = home.dump();
    assert!(matches!(live.drop_last(&home.store, now()), Ok(Some(Step::Dropped { .. }))));
    assert_ne!(home.dump(), all);
    assert!(matches!(live.undo_last(&home.store), Ok(Some(Step::Dropped { .. }))));
    assert_eq!(home.dump(), all);
    live.undo_last(&home.store).unwrap();
    live.undo_last(&home.store).unwrap();
    assert_eq!(home.dump(), one);
    assert_eq!((live.totals().new, live.totals().again.len(), live.totals().dropped), (1, 0, 0));
    // It counts as new again, and the session as a whole can be undone as ever.
    assert_eq!(say(&home, &mut live, 2, "00211"), Voice::WaitsForTitle);
    live.undo_last(&home.store).unwrap();
    live.undo_last(&home.store).unwrap();
    assert_eq!(live.undo_last(&home.store).unwrap(), None);
    assert_eq!(home.store.items(QueueFilter::Open).unwrap(), []);
}

#[test]
fn a_session_that_was_built_on_is_not_taken_back() {
    let home = home();
    let mut live = Live::default();
    say(&home, &mut live, 41, "00411");
    home.answer(&[ferry()]);
    let before = home.dump();
    let refused = live.undo_last(&home.store).unwrap_err();
    assert!(matches!(refused, WorkflowError::Store(StoreError::BuiltOn { .. })), "{refused}");
    assert_eq!(home.dump(), before);
    // Once that is undone, it is.
    workflow::undo(&home.store, None, now()).unwrap();
    assert!(live.undo_last(&home.store).unwrap().is_some());
    assert_eq!(home.store.items(QueueFilter::Open).unwrap(), []);
}

#[test]
fn copies_cost_what_their_session_said() {
    let home = home();
    let purchase = |shop: &str, price: &str| Purchase {
        shop: Some(shop.to_owned()),
        acquired: Some("2026-03-04".parse().unwrap()),
        cover_price: price.parse().ok(),
        discount: "10".parse().ok(),
    };
    let mut live = Live::new(purchase("Corner Comics", "4.99 USD"));
    say(&home, &mut live, 41, "00411");
    say(&home, &mut live, 41, "00511");
    live.set_purchase(purchase("The Back Room", "1 USD"));
    say(&home, &mut live, 41, "00611");
    home.answer(&[ferry()]);
    assert_eq!(home.resolve(&Answers::none()).open, []);
    let connection = Connection::open(home.store.path()).unwrap();
    let mut statement =
        connection.prepare("SELECT shop, acquired, paid_minor, currency FROM copy ORDER BY id").unwrap();
    let copies: Vec<(String, String, i64, String)> = statement
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?)))
        .unwrap()
        .map(Result::unwrap)
        .collect();
    let copy = |shop: &str, paid| (shop.to_owned(), "2026-03-04".to_owned(), paid, "USD".to_owned());
    assert_eq!(copies, [copy("Corner Comics", 449), copy("Corner Comics", 449), copy("The Back Room", 90)]);
}

#[test]
fn nothing_before_the_camera_gives_nothing() {
    let home = home();
    let mut live = Live::default();
    let said: Vec<Said> = live.frame(&home.store, Timestamp::UNIX_EPOCH, Vec::new()).unwrap();
    assert_eq!((said, live.rest(&home.store, now()).unwrap(), live.run()), (Vec::new(), Vec::new(), None));
}
