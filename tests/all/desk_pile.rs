//! The reading pile on the desk: what it shows, and what is ticked off.

use boxward::workflow;
use jiff::civil::date;

use crate::desk_collection::shelf;
use crate::desk_support::Opened;

#[test]
fn the_pile_stands_in_reading_order_with_its_pace() {
    let desk = shelf();
    let page = desk.page("/pile");
    for part in
        ["5 copies", "unread", "The pile grows faster than it is read.", "2026-03-04", "no pace to measure the pile by"]
    {
        assert!(page.contains(part), "{part}: {page}");
    }
    let at = |copy: u32| page.find(&format!("href=\"/copy/{copy}\"")).unwrap();
    assert!(at(5) < at(1) && at(1) < at(2) && at(3) < at(4), "by title, then by issue");
    let empty = Opened::new().page("/pile");
    assert!(empty.contains("Nothing is left to read here."), "{empty}");
}

#[test]
fn ticked_books_are_read_on_a_day() {
    let desk = shelf();
    let said = desk.post("/pile/read", &[("on", "2026-03-02"), ("copy", "1"), ("copy", "3"), ("back", "/pile")]);
    assert_eq!(said.status, 303, "{}", said.text());
    let page = desk.page(said.field("location").unwrap());
    assert!(page.contains("3 copies") && page.contains("Seal the bag of what was read"), "{page}");
    let copy = workflow::copy_show(&desk.store(), "3".parse().unwrap()).unwrap();
    assert_eq!(copy.read_on, Some(date(2026, 3, 2)));
    // Both came off in one run, which is taken back as one.
    let run = desk.store().runs(1).unwrap()[0].id.to_string();
    desk.post("/undo", &[("run", &run)]);
    assert!(desk.page("/pile").contains("5 copies"));
}

#[test]
fn a_books_own_button_reads_it_alone() {
    let desk = shelf();
    let said = desk.post("/pile/read", &[("on", ""), ("copy", "1"), ("copy", "2"), ("one", "5")]);
    assert_eq!(said.status, 303, "{}", said.text());
    let read = |copy: &str| workflow::copy_show(&desk.store(), copy.parse().unwrap()).unwrap().read_on;
    assert_eq!([read("5"), read("1"), read("2")], [Some(date(2026, 3, 4)), None, None]);
}

#[test]
fn what_cant_be_read_takes_nothing_off() {
    let desk = shelf();
    desk.post("/pile/read", &[("one", "5")]);
    for (fields, told) in [
        (vec![("on", "")], "nothing is ticked"),
        (vec![("on", "soon"), ("copy", "1")], "read on: "),
        (vec![("copy", "x")], "copy: "),
        (vec![("copy", "1"), ("copy", "5")], "copy 5 is read already"),
    ] {
        let said = desk.post("/pile/read", &fields);
        assert_eq!(said.status, 422, "{fields:?}");
        assert!(said.text().contains(told), "{fields:?}: {}", said.text());
    }
    assert_eq!(desk.post("/pile/read", &[("copy", "99")]).status, 404);
    assert!(desk.page("/pile").contains("4 copies"));
}
