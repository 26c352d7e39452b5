//! The wall of boxes on the desk: boxes added and changed, the walk planned, ticked off box by box, and taken back.

use boxward::workflow::{self, WasRead, box_list, box_show};
use jiff::civil::date;
use serde_json::json;

use crate::desk_support::Opened;
use crate::workflow_support::{Home, home, now, upc};

const EVIL: &str = "<b>&\"'%/?#+ ä";

/// Three read issues of each of two titles.
fn read_books() -> Home {
    let home = home();
    for (item, name) in [(41, "Ash Harbour"), (42, "Brine <i>")] {
        let symbols: String = (1..=3).map(|n| format!("{} {n:03}11\n", upc(item))).collect();
        home.stack(&symbols);
        home.answer(&[("title", json!({"title": name, "publisher": "Lantern Row", "year": 2019, "layout": "IIICP"}))]);
        let what = [WasRead::Named { query: format!("{name} 1-3"), all: true }];
        workflow::pile_read(&home.store, &what, date(2026, 2, 25), now()).unwrap();
    }
    home
}

fn new_box<'a>(label: &'a str, purpose: &'a str) -> [(&'a str, &'a str); 7] {
    [
        ("new_label", label),
        ("kind", "short"),
        ("inner_mm", ""),
        ("purpose", purpose),
        ("row", ""),
        ("column", ""),
        ("note", ""),
    ]
}

#[test]
fn the_walk_is_planned_ticked_off_and_taken_back() {
    let home = read_books();
    let desk = Opened::of(home.store.path());
    for (label, purpose) in [("A", "title=ash harbour"), (EVIL, "rest")] {
        let said = desk.post("/wall/add", &new_box(label, purpose));
        assert_eq!(said.status, 303, "{}", said.text());
    }
    let wall = desk.page("/wall");
    assert!(wall.contains("2 boxes, 0 copies in them") && wall.contains("Plan the walk"));
    assert!(!wall.contains("<b>") && wall.contains("&lt;b&gt;&amp;&quot;"));
    let said = desk.post("/wall/plan", &[("fill", "90"), ("grow", ""), ("limit", "")]);
    assert!(said.field("location").unwrap().starts_with("/wall/walk?run="), "{}", said.head);
    let walk = desk.page("/wall/walk");
    assert!(walk.contains("2 stops left, 6 copies to put in") && walk.contains("Brine &lt;i&gt; 1"), "{walk}");
    assert!(desk.page("/wall").contains("A walk is begun: 2 stops left"));
    // One box, whose label holds everything that addresses and markup are made of.
    let said = desk.post("/wall/done", &[("label", EVIL)]);
    assert_eq!(said.status, 303, "{}", said.text());
    let copies = || box_list(&home.store).unwrap().iter().map(|fill| fill.copies).collect::<Vec<_>>();
    assert_eq!(copies(), [0, 3]);
    // It is taken back by the button that the next page shows.
    let page = desk.page(said.field("location").unwrap());
    assert!(page.contains("role=\"status\"") && page.contains("(file)"));
    let run = said.field("location").unwrap().split_once("run=").unwrap().1.to_owned();
    assert_eq!(desk.post("/undo", &[("run", &run)]).status, 303);
    assert_eq!(copies(), [0, 0]);
    // All that is left at once; then nothing is.
    assert_eq!(desk.post("/wall/done", &[]).status, 303);
    assert_eq!(copies(), [3, 3]);
    assert!(desk.page("/wall/walk").contains("Nothing is to be put away"));
    assert_eq!(desk.post("/wall/done", &[]).status, 422);
    assert!(desk.page("/wall").contains("2 boxes, 6 copies in them"));
}

#[test]
fn a_box_shows_what_stands_in_it_and_can_be_changed() {
    let home = read_books();
    let desk = Opened::of(home.store.path());
    desk.post("/wall/add", &new_box(EVIL, "publisher=Lantern Row"));
    desk.post("/wall/plan", &[]);
    desk.post("/wall/done", &[]);
    let wall = desk.page("/wall");
    let link = wall
        .split("href=\"")
        .find_map(|part| part.split('"').next().filter(|to| to.starts_with("/wall/box?")))
        .unwrap();
    let page = desk.page(link);
    assert_eq!(page.matches("<li>").count(), 6, "{page}");
    assert!(page.contains("value=\"publisher=Lantern Row\"") && page.contains("Brine &lt;i&gt; 3"));
    let mut typed = new_box("B", "rest").to_vec();
    typed.push(("label", EVIL));
    let said = desk.post("/wall/box/change", &typed);
    assert!(said.field("location").unwrap().starts_with("/wall/box?label=B"), "{}", said.text());
    assert_eq!(box_show(&home.store, "B").unwrap().content.len(), 6);
    // A box that is not empty stays.
    assert_eq!(desk.post("/wall/box/retire", &[("label", "B")]).status, 422);
    assert_eq!(desk.get("/wall/box?label=no%20such").status, 404);
}

#[test]
fn a_wrong_field_is_named_and_changes_nothing() {
    let desk = Opened::new();
    for (field, wrong, said) in [
        ("purpose", "colour=red", "For: a box is for unread"),
        ("inner_mm", "long", "Inner length: 'long' is no whole number"),
        ("kind", "huge", "Kind: 'huge' is no kind of box"),
        ("row", "-1", "Row: "),
        ("new_label", "  ", "a box needs a label"),
    ] {
        let fields: Vec<_> = new_box("A", "rest")
            .into_iter()
            .map(|(name, value)| (name, if name == field { wrong } else { value }))
            .collect();
        let answer = desk.post("/wall/add", &fields);
        assert_eq!(answer.status, 422);
        assert!(answer.text().contains(said), "{field}: {}", answer.text());
    }
    for (field, wrong) in [("fill", "5"), ("fill", "101"), ("fill", "x"), ("grow", "521"), ("limit", "-2")] {
        assert_eq!(desk.post("/wall/plan", &[(field, wrong)]).status, 422, "{field} {wrong}");
    }
    assert!(box_list(&desk.store()).unwrap().is_empty());
}
