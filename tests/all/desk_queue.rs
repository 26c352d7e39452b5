//! The desk's queue: its sheet of what waits, and what is done with one item. `desk_queue_ask.rs` settles it.

use boxward::code::AddOnState;
use boxward::intake::{ItemId, ItemState};
use boxward::store::QueueFilter;
use boxward::workflow;

use crate::browser::{Browser, missing};
use crate::desk_browser::judge;
use crate::desk_support::{Opened, Said};
use crate::workflow_support::{Home, ferry, upc};

/// A desk on a queue of these photos, each given by its symbols.
pub fn desk(photos: &[&str]) -> Opened {
    let desk = Opened::new();
    let home = Home { folder: tempfile::tempdir().unwrap(), store: desk.store() };
    for symbols in photos {
        home.stack(symbols);
    }
    desk
}

/// The digits of that code as they stand under its bars.
pub fn printed(item: u32) -> String {
    upc(item)[1..].to_owned()
}

/// What the browser would send of the form that goes to `action`, without its check token.
fn hidden(page: &str, action: &str) -> Vec<(String, String)> {
    let form =
        page.split_once(&format!("action=\"{action}\"")).unwrap_or_else(|| panic!("no form to {action}: {page}")).1;
    let form = form.split("</form>").next().unwrap();
    let fields = form.split("<input type=\"hidden\" name=\"").skip(1).map(|field| {
        let (name, rest) = field.split_once("\" value=\"").unwrap();
        let value = rest.split('"').next().unwrap();
        let value = value.replace("&quot;", "\"").replace("&lt;", "<").replace("&gt;", ">").replace("&amp;", "&");
        (name.to_owned(), value)
    });
    fields.filter(|(name, _)| name != "check").collect()
}

/// Sends the form of a page that was got, with what a person filled in.
pub fn send(desk: &Opened, page: &str, action: &str, filled: &[(&str, &str)]) -> Said {
    let hidden = hidden(page, action);
    let fields: Vec<_> =
        hidden.iter().map(|(name, value)| (name.as_str(), value.as_str())).chain(filled.iter().copied()).collect();
    desk.post(action, &fields)
}

pub fn location(said: &Said) -> &str {
    assert_eq!(said.status, 303, "{}\n{}", said.head, said.text());
    said.field("location").unwrap()
}

pub fn item(desk: &Opened, id: i64) -> boxward::intake::Item {
    workflow::queue_show(&desk.store(), ItemId::new(id)).unwrap()
}

pub fn runs(desk: &Opened) -> usize {
    workflow::runs(&desk.store(), 100).unwrap().len()
}

/// The places of these texts in a page, which must be there in this order.
pub fn in_order(page: &str, texts: &[&str]) {
    let places: Vec<_> =
        texts.iter().map(|text| page.find(text).unwrap_or_else(|| panic!("no {text} in {page}"))).collect();
    assert!(places.is_sorted(), "{texts:?} stand at {places:?}");
}

#[test]
fn the_sheet_shows_the_hard_ones_first() {
    let desk = desk(&[&format!("{0} 00411\n{1} ~\n{1} 00111?", upc(41), upc(42)), ""]);
    let page = desk.page("/queue");
    // 4 has no code, 2 no add-on, 3 is to be confirmed, of 1 the title is unknown.
    in_order(&page, &["value=\"4\"", "value=\"2\"", "value=\"3\"", "value=\"1\""]);
    in_order(&page, &["all 4", "no code read 1", "add-on unread 1", "to be confirmed 1", "title unknown 1"]);
    let alt = format!("alt=\"UPC-A {} with add-on 00411\"", printed(41));
    assert!(page.contains(&alt), "{page}");
    assert!(page.contains("alt=\"picture of item 4, no code read\""));
    let only = desk.page("/queue?only=add-on");
    assert!(only.contains("value=\"2\"") && !only.contains("value=\"1\""));
    let crop = desk.get("/queue/1/crop.png");
    assert_eq!(
        (crop.field("content-type"), crop.text()),
        (Some("image/png"), format!("png of {} 00411", upc(41)).as_str())
    );
    assert_eq!(desk.get("/queue/9/crop.png").status, 404);
    assert_eq!(desk.get("/queue/9").status, 404);
}

#[test]
fn a_sheet_of_many_is_paged() {
    let symbols: Vec<String> = (1..=70).map(|number| format!("{} 00111", upc(number))).collect();
    let desk = desk(&[&symbols.join("\n")]);
    let first = desk.page("/queue");
    assert!(first.contains("1–60 of 70 items") && first.contains("href=\"/queue?skip=60\""));
    let second = desk.page("/queue?skip=60&only=title");
    assert!(
        second.contains("61–70 of 70 items") && !second.contains("value=\"60\"") && second.contains("value=\"70\"")
    );
    assert_eq!(desk.get("/queue?skip=-1").status, 422);
    desk.page("/queue?skip=99999&only=%3Cb%3E");
}

#[test]
fn an_unread_add_on_is_completed_and_the_next_hard_one_follows() {
    let desk = desk(&[&format!("{0} ~\n{0} 00411", upc(41)), &format!("{} ~", upc(42))]);
    let page = desk.page("/queue/1");
    assert!(
        page.contains("which digits stand beside the bars?") && page.contains(&format!("value=\"{}\"", printed(41)))
    );
    let nothing = send(&desk, &page, "/queue/1", &[("code", &upc(41)), ("add_on", ""), ("do", "save")]);
    assert!(nothing.status == 422 && nothing.text().contains("none are printed"), "{}", nothing.text());
    let said = send(&desk, &page, "/queue/1", &[("code", &upc(41)), ("add_on", "00511"), ("do", "save")]);
    assert_eq!(location(&said), "/queue/3?run=3");
    let now = item(&desk, 1);
    assert_eq!((now.state, now.code.unwrap().add_on), (ItemState::Waiting, AddOnState::Read("00511".parse().unwrap())));
    // The notice takes it back.
    let next = desk.page("/queue/3?run=3");
    assert!(next.contains("Run 3 (queue) is done."));
    desk.post("/undo", &[("run", "3")]);
    assert_eq!(item(&desk, 1).state, ItemState::Incomplete);
    // None printed is said by its own button; behind the last hard one comes the first, then taking in.
    let said = send(&desk, &next, "/queue/3", &[("code", &upc(42)), ("add_on", ""), ("do", "absent")]);
    assert!(location(&said).starts_with("/queue/1?run="));
    assert_eq!(item(&desk, 3).code.unwrap().add_on, AddOnState::Absent);
    let said = send(
        &desk,
        &desk.page("/queue/1"),
        "/queue/1",
        &[("code", &format!("{} 00611", upc(41))), ("add_on", ""), ("do", "save")],
    );
    assert!(location(&said).starts_with("/queue/settle?run="));
}

#[test]
fn a_wrong_check_digit_is_refused_with_proposals_and_stays_in_its_field() {
    let desk = desk(&[""]);
    let page = desk.page("/queue/1");
    // Digits 11 and 12 swapped.
    let right = printed(4100);
    let (head, tail) = right.split_at(10);
    let wrong = format!("{head}{}", tail.chars().rev().collect::<String>());
    let said = send(&desk, &page, "/queue/1", &[("code", &wrong), ("add_on", "00411"), ("do", "save")]);
    assert_eq!(said.status, 422);
    let again = said.text();
    assert!(again.contains(&format!("value=\"{wrong}\"")) && again.contains("value=\"00411\""), "{again}");
    assert!(again.contains(&format!("name=\"take\" value=\"{right}\"")) && again.contains("swapped"), "{again}");
    assert_eq!((item(&desk, 1).code, runs(&desk)), (None, 1));
    // A proposal is filled in, to be looked at; nothing is saved by it.
    let taken = send(&desk, again, "/queue/1", &[("code", &wrong), ("add_on", "00411"), ("take", &right)]);
    assert_eq!(taken.status, 200);
    assert!(taken.text().contains(&format!("value=\"{right}\"")) && taken.text().contains("the check digit fits"));
    assert_eq!(item(&desk, 1).code, None);
    // An add-on of three digits, an add-on alone, two add-ons.
    for (code, add_on, problem) in [
        (right.as_str(), "004", "two or five digits"),
        ("00411", "", "add-on alone"),
        (&format!("{right} 00411"), "00511", "take one of them away"),
        ("", "", "there are no digits"),
    ] {
        let said = send(&desk, &page, "/queue/1", &[("code", code), ("add_on", add_on), ("do", "save")]);
        assert!(said.status == 422 && said.text().contains(problem), "{code} {add_on}: {}", said.text());
    }
    assert_eq!((item(&desk, 1).code, runs(&desk)), (None, 1));
}

#[test]
fn what_was_repaired_is_saved_only_as_it_is_understood() {
    let desk = desk(&[""]);
    let page = desk.page("/queue/1");
    let filled = [("code", "95212340041 72"), ("add_on", ""), ("do", "save")];
    let said = send(&desk, &page, "/queue/1", &filled);
    assert!(said.status == 422 && said.text().contains("the blank is inside the number"), "{}", said.text());
    assert!(said.text().contains("value=\"9521234004172\""));
    assert_eq!(item(&desk, 1).code, None);
    location(&send(&desk, said.text(), "/queue/1", &[("code", "9521234004172"), ("add_on", ""), ("do", "save")]));
    assert_eq!(item(&desk, 1).code.unwrap().gtin.to_string(), "9521234004172");
}

#[test]
fn an_add_on_taken_out_of_its_field_is_unread_again() {
    let desk = desk(&[&format!("{} 00411?", upc(41))]);
    let page = desk.page("/queue/1");
    location(&send(&desk, &page, "/queue/1", &[("code", &upc(41)), ("add_on", ""), ("do", "save")]));
    assert_eq!(item(&desk, 1).code.unwrap().add_on, AddOnState::Unread);
}

#[test]
fn what_is_typed_is_told_at_once() {
    let desk = desk(&[&format!("{} 00411", upc(41)), ""]);
    let told = desk.page(&format!("/queue/2/check?code={}&add_on=00411", upc(41)));
    for words in [
        "the check digit fits",
        "issue 4, cover 1, printing 1 (layout IIICP)",
        "not owned",
        "waiting in the queue: item 1",
    ] {
        assert!(told.contains(words), "{words}: {told}");
    }
    assert!(!told.contains("<html"), "a part of a page: {told}");
    let told = desk.page("/queue/2/check?code=614141000419&add_on=");
    assert!(told.contains("check digit") && told.contains("name=\"take\" value=\"614141000418\""), "{told}");
    assert!(desk.page("/queue/2/check").contains("checked here"));
    assert!(desk.page("/queue/2/check?code=%3Cb%3E").contains("&lt;"));
}

#[test]
fn ticked_items_are_dropped_and_come_back() {
    let desk = desk(&[&format!("{0} 00411\n{0} 00511\n{0} 00611", upc(41))]);
    assert_eq!(desk.post("/queue/drop", &[("back", "/queue")]).status, 422);
    let said = desk.post("/queue/drop", &[("item", "1"), ("item", "3"), ("back", "/queue?skip=0")]);
    assert_eq!(location(&said), "/queue?skip=0&run=2");
    assert_eq!([1, 2, 3].map(|id| item(&desk, id).state), [ItemState::Dropped, ItemState::Waiting, ItemState::Dropped]);
    assert!(desk.page("/queue/1").contains("it was dropped"));
    // All or none, and it says why.
    let said = desk.post("/queue/drop", &[("item", "2"), ("item", "3")]);
    assert!(said.status == 409 && said.text().contains("item 3"), "{}", said.text());
    assert_eq!(item(&desk, 2).state, ItemState::Waiting);
    location(&desk.post("/undo", &[("run", "2"), ("back", "/queue")]));
    assert_eq!(item(&desk, 1).state, ItemState::Waiting);
    // One by its own page, which leads on.
    let page = desk.page("/queue/1");
    assert!(location(&send(&desk, &page, "/queue/1", &[("do", "drop")])).starts_with("/queue/settle?run="));
    assert_eq!(item(&desk, 1).state, ItemState::Dropped);
}

/// A desk whose collection knows The Night Ferry and owns its issue 4.
pub fn with_ferry(photos: &[&str]) -> Opened {
    with_ferry_of("00411", photos)
}

pub fn with_ferry_of(add_on: &str, photos: &[&str]) -> Opened {
    let desk = Opened::new();
    let home = Home { folder: tempfile::tempdir().unwrap(), store: desk.store() };
    home.stack(&format!("{} {add_on}", upc(41)));
    home.answer(&[ferry()]);
    for symbols in photos {
        home.stack(symbols);
    }
    desk
}

#[test]
fn the_queues_pages_are_fit_for_everyone() {
    let desk = with_ferry(&[
        &format!("{0} 00421\n{0} ~\n{1} 00111\n{1} 00111\n{0} 12\n0400000000015", upc(41), upc(43)),
        "9789295055124 51995",
        &format!("{} 00411", upc(41)),
        "",
    ]);
    judge(
        &desk,
        &[
            "/queue",
            "/queue?only=title",
            "/queue/3",
            "/queue/1",
            "/queue/settle",
            "/queue/ask/title/4",
            "/queue/ask/repeat/4",
            "/queue/ask/issue/5",
            "/queue/ask/keep/6",
            "/queue/ask/book/7",
            "/queue/ask/another_copy/8",
        ],
    );
}

#[test]
fn the_queue_is_worked_off_by_keyboard() {
    if missing() {
        return;
    }
    let desk = with_ferry(&[&format!("{0} 00421\n{0} ~\n{0} 00511", upc(41)), ""]);
    let browser = Browser::at(&desk.desk.link(), 1200, 900);
    browser.go(&format!("http://{}/queue", desk.host));
    // Right, then ticked, then opened: the second picture is that with the unread add-on.
    browser.run("document.querySelector('.sheet a').focus()");
    browser.keys("\u{e014}t");
    assert_eq!(browser.run("return document.querySelector('.sheet input:checked').value"), "3");
    browser.keys("\u{e007}");
    browser.wait_for_text("h1", "Item 3: which digits stand beside the bars?");
    // The field is where one types; what it means is told before anything is sent.
    browser.keys("00611");
    browser.wait_for_text("[data-live-into]", "not owned: The Night Ferry 6, cover 1, printing 1");
    browser.keys("\u{e007}");
    browser.wait_for_text("[role=status]", "Run 5 (queue) is done.");
    assert_eq!(item(&desk, 3).code.unwrap().add_on, AddOnState::Read("00611".parse().unwrap()));
    // A wrong digit of the next one gets its proposals, of which one is taken.
    browser.wait_for_text("h1", "Item 5: which code does the picture show?");
    browser.keys("614141000419");
    browser.wait_for_text("[data-live-into]", "check digit is 8, a code of the collection");
    browser.press("[data-live-into] button");
    browser.wait_for_text("[data-live-into]", "the check digit fits");
    assert_eq!(browser.run("return document.querySelector('#code').value"), printed(41));
    assert_eq!(item(&desk, 5).code, None);
    browser.type_into("#add_on", "00711");
    browser.keys("\u{e007}");
    browser.wait_for_text("h1", "Into the collection");
    browser.press("form[action='/queue/settle'] button");
    browser.wait_for_text("[role=status]", "Run 7 (resolve) is done.");
    assert!(desk.store().items(QueueFilter::Open).unwrap().is_empty());
}
