//! Importing: content known, repeats, certainty, bad files, order, interruption.

use std::num::NonZeroUsize;
use std::ops::ControlFlow;

use boxward::code::Certainty;
use boxward::intake::{ItemId, ItemState, RunId};
use boxward::source::Origin;
use boxward::store::QueueFilter;
use boxward::workflow::{self, FileResult};

use crate::workflow_support::{home, now, read, upc};

#[test]
fn the_same_content_is_staged_once_whatever_its_name() {
    let home = home();
    let first = home.photo("first.jpg", &format!("{} 00411", upc(41)));
    let twin = home.photo("twin.jpg", &format!("{} 00411", upc(41)));
    let (summary, outcomes) = home.import(&[first.clone(), twin.clone()]);
    assert_eq!((summary.staged, summary.known), (1, 1));
    assert_eq!(outcomes[1].result, FileResult::Known { as_path: first.clone() });
    let before = home.dump();
    let (summary, _) = home.import(&[twin, first]);
    assert_eq!((summary.run, summary.staged, summary.known), (None, 0, 2));
    assert_eq!(home.dump(), before);
    assert_eq!(workflow::runs(&home.store, 10).unwrap().len(), 1);
}

#[test]
fn a_staged_item_keeps_what_was_seen() {
    let home = home();
    let path = home.photo("a.jpg", &format!("{} 00411\n{} ~", upc(41), upc(42)));
    home.import(std::slice::from_ref(&path));
    let items = workflow::queue_list(&home.store, QueueFilter::Open).unwrap();
    let Origin::Photo { path: kept, sha256, position } = &items[1].origin else { panic!("{:?}", items[1].origin) };
    assert_eq!((kept, *position), (&path, 1));
    assert_eq!(sha256[..], <sha2::Sha256 as sha2::Digest>::digest(std::fs::read(&path).unwrap())[..]);
    assert_eq!(items.iter().map(|i| i.state).collect::<Vec<_>>(), [ItemState::Waiting, ItemState::Incomplete]);
    assert_eq!(items[0].corners.unwrap()[2], [30.0, 9.25]);
    assert_eq!((items[0].module_px, items[0].by.as_deref(), items[0].seen_at), (Some(2.7), Some("test"), now()));
    let crop = workflow::crop_to(&home.store, home.folder.path(), items[1].id).unwrap().unwrap();
    assert_eq!(std::fs::read_to_string(crop).unwrap(), format!("png of {} ~", upc(42)));
}

#[test]
fn a_book_photographed_twice_is_staged_once_and_said_so() {
    let home = home();
    let code = upc(41);
    let paths = [
        home.photo("a.jpg", &format!("{code} 00411")),
        home.photo("b.jpg", &format!("#again\n{code} 00411")),
        home.photo("c.jpg", &format!("{code} 00412")),
        home.photo("d.jpg", &format!("{code} ~\n{code} ~")),
        home.photo("e.jpg", &code),
        home.photo("f.jpg", &format!("#absent again\n{code}")),
    ];
    let (summary, outcomes) = home.import(&paths);
    // Only a read add-on tells issues apart: the two unread and the two without are staged each for itself.
    assert_eq!((summary.staged, summary.seen_again), (6, 1));
    let FileResult::Staged { staged, seen_again } = &outcomes[1].result else { panic!("{outcomes:?}") };
    assert_eq!((staged.len(), seen_again[0].item, seen_again[0].confirmed), (0, ItemId::new(1), false));
    let item = workflow::queue_show(&home.store, ItemId::new(1)).unwrap();
    assert_eq!(item.seen_again[0].path.as_ref(), Some(&paths[1]));
}

#[test]
fn a_later_import_stages_the_same_book_anew() {
    let home = home();
    assert_eq!(home.stack(&format!("{} 00411", upc(41))).staged, 1);
    assert_eq!(home.stack(&format!("{} 00411", upc(41))).staged, 1);
}

#[test]
fn a_second_photo_confirms_what_was_uncertain_but_the_same_photo_does_not() {
    let home = home();
    let code = upc(41);
    home.stack(&format!("{code} 00411?\n{code} 00411?"));
    let item = workflow::queue_show(&home.store, ItemId::new(1)).unwrap();
    assert_eq!((item.state, item.certainty, item.seen_again.len()), (ItemState::Incomplete, Certainty::Confirm, 1));

    let paths = [
        home.photo("a.jpg", &format!("{code} 00511?")),
        home.photo("b.jpg", &format!("#from the left\n{code} 00511?")),
    ];
    home.import(&paths);
    let item = workflow::queue_show(&home.store, ItemId::new(2)).unwrap();
    assert_eq!((item.state, item.certainty, item.seen_again.len()), (ItemState::Waiting, Certainty::Sure, 1));
}

#[test]
fn one_bad_file_is_its_own_error() {
    let home = home();
    let paths = [
        home.photo("a.jpg", "broken"),
        home.photo("b.jpg", "panic"),
        home.folder.path().join("none.jpg"),
        home.folder.path().to_owned(),
        home.photo("c.jpg", &format!("{} 00411", upc(41))),
        home.photo("d.jpg", ""),
    ];
    let (summary, outcomes) = home.import(&paths);
    assert_eq!((summary.files, summary.failed, summary.staged, summary.nothing_read), (6, 4, 2, 1));
    assert_eq!(outcomes.iter().map(|o| &o.path).collect::<Vec<_>>(), paths.iter().collect::<Vec<_>>());
    // A file that failed is not known: repaired, it is read.
    std::fs::write(&paths[0], format!("{} 00511", upc(41))).unwrap();
    assert_eq!(home.import(&paths[..1]).0.staged, 1);
    let FileResult::NothingRead { item } = outcomes[5].result else { panic!("{outcomes:?}") };
    assert_eq!(home.store.crop(item).unwrap(), Some(b"png of all".to_vec()));
}

#[test]
fn an_interrupted_import_goes_on_where_it_ended() {
    let home = home();
    let paths: Vec<_> = (0..40).map(|n| home.photo(&format!("{n}.jpg"), &format!("{} {n:03}11", upc(41)))).collect();
    let mut reported = 0;
    let jobs = NonZeroUsize::new(4).unwrap();
    let summary =
        workflow::import(&home.store, &paths, &boxward::picture::Limits::default(), &read, jobs, &now, &mut |_| {
            reported += 1;
            if reported == 17 { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
        })
        .unwrap();
    assert_eq!((summary.files, summary.staged), (17, 17));
    assert_eq!(workflow::queue_list(&home.store, QueueFilter::Open).unwrap().len(), 17);
    let (summary, _) = home.import(&paths);
    assert_eq!((summary.known, summary.staged), (17, 23));
    // As the same run, which is taken back as one.
    assert_eq!((summary.run, workflow::runs(&home.store, 9).unwrap().len()), (Some(RunId::new(1)), 1));
    workflow::undo(&home.store, None, now()).unwrap();
    assert_eq!(home.dump(), "");
}

#[test]
fn an_import_goes_on_only_with_what_was_done_last() {
    let home = home();
    let code = upc(41);
    let path = |name: &str| home.photo(name, &format!("#{name}\n{code} 00411"));
    let (first, second, third) = (path("a.jpg"), path("b.jpg"), path("c.jpg"));
    let run = |paths: &[std::path::PathBuf]| home.import(paths).0;
    assert_eq!(run(std::slice::from_ref(&first)).run, Some(RunId::new(1)));
    // The book of the photo before is the same book, though the import was broken off between them.
    let gone_on = run(&[first.clone(), second.clone()]);
    assert_eq!((gone_on.run, gone_on.seen_again), (Some(RunId::new(1)), 1));
    // Other photos, or anything done since, make another import of it.
    assert_eq!(run(&[path("d.jpg")]).run, Some(RunId::new(2)));
    let later = run(&[first, second, third]);
    assert_eq!((later.run, later.seen_again, later.staged), (Some(RunId::new(3)), 0, 1));
}

#[test]
fn items_are_staged_in_the_order_given() {
    let home = home();
    let paths: Vec<_> = (0..60).map(|n| home.photo(&format!("{n}.jpg"), &format!("{} {n:03}11", upc(41)))).collect();
    home.import(&paths);
    let items = workflow::queue_list(&home.store, QueueFilter::Open).unwrap();
    let add_ons: Vec<_> = items.iter().map(|i| i.code.unwrap().add_on.read().unwrap().to_string()).collect();
    assert_eq!(add_ons, (0..60).map(|n| format!("{n:03}11")).collect::<Vec<_>>());
}
