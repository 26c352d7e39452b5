//! The desk's collection: found as one types, titles with their runs, and correcting them.

use boxward::collection::NewTitle;
use boxward::resolve::Answers;
use boxward::store::{RunKind, Store};
use boxward::workflow::{self, ResolveOptions};
use jiff::civil::date;
use serde_json::json;

use crate::desk_support::{NOW, Opened};
use crate::workflow_support::{Home, ferry, fill, upc};

/// A title that tries to be markup.
pub const MARKUP: &str = "Ash <b>&</b> \"Amber\"";

/// The Night Ferry 1, 2 and 4 with a second copy of 4 (copies 1 to 4), and issue 2 of a title that tries to be markup
/// (copy 5), bought on the desk's day.
pub fn shelf() -> Opened {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(&folder.path().join("collection.sqlite")).unwrap();
    let home = Home { folder, store };
    home.stack(&format!("{0} 00111\n{0} 00211\n{0} 00411", upc(41)));
    home.answer(&[ferry()]);
    home.stack(&format!("{} 00411", upc(41)));
    home.answer(&[("another_copy", json!({"accept": true}))]);
    home.stack(&format!("{} 00211", upc(50)));
    let open = home.resolve(&Answers::none()).open;
    let title = ("title", json!({"title": MARKUP, "layout": "IIICP"}));
    let options = ResolveOptions {
        acquired: Some(date(2026, 3, 4)),
        shop: Some("Corner Comics".to_owned()),
        paid: "3.99 USD".parse().ok(),
        ..ResolveOptions::default()
    };
    workflow::resolve(&home.store, &fill(&open, &[title]), &options, None, NOW.parse().unwrap()).unwrap();
    let Home { folder, store } = home;
    drop(store);
    Opened::on(folder)
}

fn found(desk: &Opened, query: &str) -> String {
    let query: String = form_urlencoded::byte_serialize(query.as_bytes()).collect();
    desk.page(&format!("/collection/found?q={query}"))
}

#[test]
fn a_code_or_an_issue_says_whether_it_is_owned() {
    let desk = shelf();
    let code = upc(41);
    for (asked, word) in [
        (format!("{code}00111"), "<strong class=\"good\">owned</strong>"),
        (format!("{code}00121"), "another cover of it is owned"),
        (format!("{code}00112"), "another printing of it is owned"),
        (format!("{code}00311"), "not owned"),
        ("night ferry 4".to_owned(), "<strong class=\"good\">owned</strong>"),
        ("night ferry 3".to_owned(), "not owned"),
        ("no such thing 3".to_owned(), "no title fits"),
    ] {
        let part = found(&desk, &asked);
        assert!(part.contains(word), "{asked}: {part}");
        // The whole page says the same without a script.
        let query: String = form_urlencoded::byte_serialize(asked.as_bytes()).collect();
        assert!(desk.page(&format!("/collection?q={query}")).contains(word), "{asked}");
    }
    assert!(found(&desk, "night ferry 4").contains("cover 1, printing 1: 2 copies"));
}

#[test]
fn a_code_that_is_cut_short_is_no_error_while_one_types() {
    let desk = shelf();
    for asked in ["06141410", "0614141000419", "#", "  "] {
        let part = found(&desk, asked);
        assert!(!part.contains("<html"), "{asked}: a part has no frame");
    }
    assert!(found(&desk, "06141410").contains("is no code"));
}

#[test]
fn words_give_titles_with_counts_and_quickly_without() {
    let desk = shelf();
    let part = found(&desk, "fer");
    assert!(part.contains("href=\"/title/1\"") && part.contains("<td class=\"number\">3</td>"), "{part}");
    assert!(part.contains("<td class=\"number\">4</td>"), "{part}");
    let quick = desk.page("/collection/found?q=fer&quick=true");
    assert!(quick.contains("href=\"/title/1\"") && quick.contains("yes") && quick.contains('…'), "{quick}");
}

#[test]
fn what_a_title_holds_stays_text() {
    let desk = shelf();
    let escaped = "Ash &lt;b&gt;&amp;&lt;/b&gt; &quot;Amber&quot;";
    for path in ["/collection", "/collection?q=ash", "/collection/found?q=amber", "/title/2", "/copy/5", "/pile"] {
        let page = desk.page(path);
        assert!(page.contains(escaped) && !page.contains("<b>&"), "{path}");
    }
    let echoed = found(&desk, "<script>alert(1)</script>");
    assert!(!echoed.contains("<script"), "{echoed}");
}

#[test]
fn many_titles_come_in_parts() {
    let desk = Opened::new();
    let (store, now) = (desk.store(), NOW.parse().unwrap());
    store
        .write(&mut None, RunKind::Title, now, |writer| {
            (1..=45).try_for_each(|n| {
                let name = format!("Paper Anvil {n:02}");
                writer.insert_title(&NewTitle { name, ..NewTitle::default() }).map(drop)
            })
        })
        .unwrap();
    for path in ["/collection?", "/collection?q=paper&"] {
        let first = desk.page(path);
        assert!(first.contains("Paper Anvil 20") && !first.contains("Paper Anvil 21"), "{path}");
        let last = desk.page(&format!("{path}skip=40"));
        assert!(last.contains("Paper Anvil 45") && !last.contains("Paper Anvil 40"), "{path}");
        assert!(last.contains("rel=\"prev\"") && !last.contains("rel=\"next\""), "{path}");
        assert_eq!(desk.get(&format!("{path}skip=4000000000")).status, 200);
    }
    assert_eq!(desk.get("/collection?skip=x").status, 400);
}

#[test]
fn a_title_shows_its_run_its_copies_and_its_codes() {
    let desk = shelf();
    let page = desk.page("/title/1");
    for part in [
        "1 issue missing from 1 to 4: <strong>3</strong>",
        "href=\"/copy/4\"",
        &upc(41)[1..],
        "3 issues, 4 copies owned",
    ] {
        assert!(page.contains(part), "{part}: {page}");
    }
    assert_eq!(desk.get("/title/99").status, 404);
    assert_eq!(desk.get("/title/x").status, 400);
}

/// The form's fields as the page shows them.
fn fields<'a>(change: &[(&'a str, &'a str)]) -> Vec<(&'a str, &'a str)> {
    let mut fields = vec![
        ("name", "The Night Ferry"),
        ("publisher", "Lantern Street"),
        ("volume", ""),
        ("year", "2019"),
        ("layout", "IIICP"),
        ("issue_base", "0"),
        ("family", ""),
        ("size", ""),
        ("pages", ""),
        ("back", "/title/1"),
    ];
    fields.retain(|(name, _)| change.iter().all(|(changed, _)| changed != name));
    fields.extend(change);
    fields
}

#[test]
fn a_title_is_corrected_and_that_is_taken_back() {
    let desk = shelf();
    let before = desk.store().runs(99).unwrap().len();
    // A form that says what it showed changes nothing.
    let said = desk.post("/title/1/set", &fields(&[]));
    assert_eq!((said.status, said.field("location")), (303, Some("/title/1")));
    assert_eq!(desk.store().runs(99).unwrap().len(), before);
    let change =
        [("name", "Night Ferries"), ("family", "Boats"), ("pages", "28"), ("size", "silver"), ("code", &upc(42))];
    let said = desk.post("/title/1/set", &fields(&change));
    let back = said.field("location").unwrap().to_owned();
    assert!(back.starts_with("/title/1?run="), "{back}");
    let page = desk.page(&back);
    assert!(page.contains("Night Ferries (2019, Lantern Street)") && page.contains(&upc(42)[1..]), "{page}");
    assert!(page.contains("value=\"Boats\"") && page.contains("(title) is done."), "{page}");
    let run = back.split_once("run=").unwrap().1.to_owned();
    assert_eq!(desk.post("/undo", &[("run", &run), ("back", "/title/1")]).status, 303);
    assert!(desk.page("/title/1").contains("The Night Ferry (2019, Lantern Street)"));
    // What is not known any more is emptied.
    assert_eq!(desk.post("/title/1/set", &fields(&[("year", ""), ("layout", "")])).status, 303);
    let page = desk.page("/title/1");
    assert!(page.contains("The Night Ferry (Lantern Street)") && !page.contains("Its add-ons are laid out"), "{page}");
}

#[test]
fn a_title_is_not_corrected_by_what_cant_be() {
    let desk = shelf();
    let before = desk.store().runs(99).unwrap().len();
    for (field, value, told) in [
        ("name", " ", "a title has a name"),
        ("year", "soon", "year: &#x27;soon&#x27;"),
        ("layout", "IIIIC", "layout:"),
        ("size", "huge", "size: "),
        ("pages", "0", "pages:"),
        ("code", "0614141000410", "code:"),
        ("since", "2026-03-04", "give the code too"),
    ] {
        let said = desk.post("/title/1/set", &fields(&[(field, value)]));
        let text = said.text().replace("&#39;", "'").replace('\'', "&#x27;");
        assert_eq!(said.status, 422, "{field}: {}", said.text());
        assert!(text.contains(told), "{field}: {text}");
    }
    assert_eq!(desk.post("/title/1/set", &[("name", "x")]).status, 422, "fields are missing");
    assert_eq!(desk.post("/title/9/set", &fields(&[])).status, 404);
    assert_eq!(desk.store().runs(99).unwrap().len(), before);
}
