//! The desk's questions about its queue: what is asked of a person, what an answer does, and who else does it meanwhile.

use boxward::code::AddOnState;
use boxward::collection::SpendBy;
use boxward::intake::{ItemId, ItemState};
use boxward::resolve::Answers;
use boxward::store::QueueFilter;
use boxward::workflow::{self, QueueChange, ResolveOptions};

use crate::desk_queue::{desk, in_order, item, location, printed, runs, send, with_ferry, with_ferry_of};
use crate::desk_support::{NOW, Opened};
use crate::workflow_support::{ferry, fill, upc};

#[test]
fn one_answer_settles_a_title_and_is_one_run() {
    let desk = desk(&[&format!("{0} 00411\n{0} 00521\n{1} 00111", upc(41), upc(43))]);
    let list = desk.page("/queue/settle");
    assert!(
        list.contains(&format!("{}: which title is it? (2 books)", printed(41)))
            && list.contains("href=\"/queue/ask/title/1\"")
    );
    let page = desk.page("/queue/ask/title/1");
    // Only one of the layouts makes sense of both, so it is proposed; a person may know better.
    assert!(page.contains("value=\"IIICP\" checked"), "{page}");
    assert!(
        page.contains("00411 is issue 4, cover 1, printing 1")
            && page.contains("00411 is issue 0, cover 41, printing 1")
    );
    let example = desk.page("/queue/ask/title/1/example?issue_base=1000&title=x");
    assert!(
        example.contains("issue 1005, cover 2, printing 1") && example.contains("counted from issue 1000"),
        "{example}"
    );
    let before = runs(&desk);
    // What can't be used stays in its field, and nothing is written.
    let filled = [
        ("title", "Tide Wardens"),
        ("publisher", "Lantern Row"),
        ("year", "20x3"),
        ("layout", "IIICP"),
        ("do", "save"),
    ];
    let said = send(&desk, &page, "/queue/ask/title/1", &filled);
    assert!(
        said.status == 422 && said.text().contains("&#39;20x3&#39; is no year")
            || said.text().contains("'20x3' is no year"),
        "{}",
        said.text()
    );
    for kept in ["value=\"Tide Wardens\"", "value=\"Lantern Row\"", "value=\"20x3\""] {
        assert!(said.text().contains(kept), "{kept}: {}", said.text());
    }
    assert_eq!(runs(&desk), before);
    for missing in [&filled[..1], &filled[1..2]] {
        assert_eq!(send(&desk, &page, "/queue/ask/title/1", missing).status, 422);
    }
    let filled = [
        ("title", "Tide Wardens"),
        ("publisher", "Lantern Row"),
        ("year", "2023"),
        ("layout", "IIICP"),
        ("shop", "Corner Comics"),
        ("date", "2026-03-04"),
        ("paid", "3.99 USD"),
        ("do", "save"),
    ];
    let said = send(&desk, &page, "/queue/ask/title/1", &filled);
    // The next question follows, and knows where the books were bought.
    assert_eq!(location(&said), "/queue/ask/title/3?shop=Corner+Comics&date=2026-03-04&paid=3.99+USD&run=2");
    assert_eq!(runs(&desk), before + 1);
    let next = desk.page(location(&said));
    assert!(
        next.contains("value=\"Corner Comics\"")
            && next.contains("value=\"Lantern Row\"")
            && next.contains("Run 2 (resolve) is done."),
        "{next}"
    );
    assert!(
        next.contains("Tide Wardens (2023, Lantern Row), owned up to issue 5"),
        "a title of the same company is proposed: {next}"
    );
    assert_eq!(
        [1, 2, 3].map(|id| item(&desk, id).state),
        [ItemState::Accepted, ItemState::Accepted, ItemState::Waiting]
    );
    let spent = workflow::spend(&desk.store(), SpendBy::Shop, None, None).unwrap();
    assert_eq!(
        (
            spent.groups().next().unwrap().0.unwrap().name.as_str(),
            spent.total.copies,
            spent.total.paid[0].to_string().as_str()
        ),
        ("Corner Comics", 2, "7.98 USD")
    );
    // A proposal is taken by its button alone; with a name beside it, it is asked which is meant.
    let title = workflow::title_list(&desk.store(), "tide wardens", 0, 9).unwrap()[0].title.id.to_string();
    let both = send(&desk, &next, "/queue/ask/title/3", &[("known", &title), ("title", "Other"), ("do", "save")]);
    assert!(both.status == 422 && both.text().contains("a title that is known is chosen"));
    location(&send(&desk, &next, "/queue/ask/title/3", &[("known", &title), ("do", "save")]));
    assert_eq!(workflow::title_list(&desk.store(), "", 0, 9).unwrap().len(), 1);
    assert_eq!(item(&desk, 3).state, ItemState::Accepted);
    // One undo takes the whole answer back.
    desk.post("/undo", &[("run", "3")]);
    desk.post("/undo", &[("run", "2")]);
    assert_eq!([1, 2].map(|id| item(&desk, id).state), [ItemState::Waiting; 2]);
}

#[test]
fn what_is_no_comic_is_dropped_by_its_button() {
    let desk = desk(&[&format!("{0} 00411\n{0} 00521\n0400000000015", upc(41))]);
    let page = desk.page("/queue/ask/title/1");
    location(&send(&desk, &page, "/queue/ask/title/1", &[("title", "typed in vain"), ("do", "no")]));
    let page = desk.page("/queue/ask/keep/3");
    assert!(page.contains("for use inside one company"), "{page}");
    assert_eq!(send(&desk, &page, "/queue/ask/keep/3", &[]).status, 422);
    location(&send(&desk, &page, "/queue/ask/keep/3", &[("do", "no")]));
    assert_eq!([1, 2, 3].map(|id| item(&desk, id).state), [ItemState::Dropped; 3]);
    assert!(desk.page("/queue").contains("Nothing waits."));
}

#[test]
fn what_needs_no_answer_is_taken_in_as_shown() {
    let desk = with_ferry(&[&format!("{0} 00421\n{0} 00511\n{0} ~", upc(41)), &format!("{} 00111", upc(42))]);
    let page = desk.page("/queue/settle");
    in_order(&page, &["2 items: 1 another cover, 1 new", "Take 2 items into the collection"]);
    assert!(
        page.contains("another cover: The Night Ferry 4, cover 2, printing 1") && page.contains("1 item to complete")
    );
    for (name, value, problem) in [("date", "soon", "is no day"), ("paid", "3.99", "is no amount")] {
        let said = send(&desk, &page, "/queue/settle", &[(name, value), ("shop", "Corner Comics")]);
        assert!(said.status == 422 && said.text().contains(problem), "{}", said.text());
        assert!(said.text().contains(&format!("value=\"{value}\"")) && said.text().contains("value=\"Corner Comics\""));
    }
    assert_eq!(item(&desk, 2).state, ItemState::Waiting);
    // What comes in meanwhile was not shown, and stays.
    let store = desk.store();
    let now = NOW.parse().unwrap();
    workflow::queue_set(
        &store,
        ItemId::new(4),
        &QueueChange { add_on: Some("00611".parse().map(AddOnState::Read).unwrap()), ..Default::default() },
        now,
    )
    .unwrap();
    let said =
        send(&desk, &page, "/queue/settle", &[("shop", "Corner Comics"), ("date", "2026-03-04"), ("paid", "3.99 USD")]);
    assert_eq!(location(&said), "/queue/settle?shop=Corner+Comics&date=2026-03-04&paid=3.99+USD&run=6");
    assert_eq!([2, 3, 4, 5].map(|id| item(&desk, id).state.word()), ["accepted", "accepted", "waiting", "waiting"]);
    // The same form once more has nothing left to take, and says so.
    let said = send(&desk, &page, "/queue/settle", &[]);
    assert!(said.status == 409 && said.text().contains("settled meanwhile"), "{}", said.text());
    assert_eq!(item(&desk, 4).state.word(), "waiting");
    assert_eq!(desk.post("/queue/settle", &[("items", "1,x")]).status, 422);
}

#[test]
fn questions_about_one_book_are_asked_until_it_is_settled() {
    // Shown twice, and owned already: two questions, the second of which hangs on the first.
    let desk = with_ferry(&[&format!("{0} 00411\n{0} 00411", upc(41))]);
    let page = desk.page("/queue/ask/repeat/2");
    let said = send(&desk, &page, "/queue/ask/repeat/2", &[("copies", "0"), ("do", "save")]);
    assert!(said.status == 422 && said.text().contains("counted from 1"), "{}", said.text());
    let said = send(&desk, &page, "/queue/ask/repeat/2", &[("copies", "2"), ("shop", "Corner Comics"), ("do", "save")]);
    assert!(said.status == 200 && said.text().contains("Another copy"), "{}", said.text());
    assert!(said.text().contains("value=\"Corner Comics\""));
    assert_eq!(item(&desk, 2).state, ItemState::Waiting);
    let said = send(&desk, said.text(), "/queue/ask/another_copy/2", &[("shop", "Corner Comics"), ("do", "yes")]);
    assert_eq!(location(&said), "/queue/settle?shop=Corner+Comics&run=4");
    assert_eq!(workflow::have(&desk.store(), &format!("{}00411", upc(41))).unwrap().titles[0].copies, 3);
}

#[test]
fn two_of_a_book_in_the_queue_are_settled_together() {
    let photos = [format!("{} 00511", upc(41)), format!("{} 00511", upc(41))];
    for (button, copies, states) in [("yes", 2, ["accepted", "accepted"]), ("no", 0, ["waiting", "dropped"])] {
        let desk = with_ferry(&photos.each_ref().map(String::as_str));
        let page = desk.page("/queue/ask/another_copy/3");
        location(&send(&desk, &page, "/queue/ask/another_copy/3", &[("do", button)]));
        assert_eq!([2, 3].map(|id| item(&desk, id).state.word()), states);
        assert_eq!(workflow::have(&desk.store(), &format!("{}00511", upc(41))).unwrap().titles[0].copies, copies);
    }
}

#[test]
fn a_number_past_the_digits_and_a_two_digit_add_on_are_asked() {
    let desk = with_ferry_of("99811", &[&format!("{0} 00111\n{0} 12", upc(41)), "9789295055124 51995"]);
    let page = desk.page("/queue/ask/count/2");
    assert!(page.contains("as printed: issue 1<") && page.contains("the run counts on: issue 1001"), "{page}");
    let said = send(&desk, &page, "/queue/ask/count/2", &[("means", "new_volume"), ("do", "save")]);
    assert!(said.status == 422 && said.text().contains("needs its volume or year"), "{}", said.text());
    location(&send(&desk, &page, "/queue/ask/count/2", &[("means", "as_printed"), ("do", "save")]));
    let page = desk.page("/queue/ask/issue/3");
    assert!(page.contains("a month or a running number"));
    location(&send(
        &desk,
        &page,
        "/queue/ask/issue/3",
        &[("issue", "12"), ("cover", "1"), ("printing", "1"), ("do", "save")],
    ));
    let page = desk.page("/queue/ask/book/4");
    assert!(page.contains("19.95 USD"), "{page}");
    location(&send(
        &desk,
        &page,
        "/queue/ask/book/4",
        &[("title", "Night Ferry Collected"), ("volume", "1"), ("do", "save")],
    ));
    for have in ["the night ferry 1", "the night ferry 12", "night ferry collected 1"] {
        assert_eq!(workflow::have(&desk.store(), have).unwrap().answer, workflow::Have::Owned, "{have}");
    }
}

#[test]
fn markup_in_a_title_stays_text() {
    let desk = desk(&[&format!("{0} 00411", upc(41)), &format!("{0} 00411", upc(41)), &format!("{} 00111", upc(42))]);
    let title = "<script>alert(1)</script>\"><img src=x onerror=alert(2)>";
    let page = desk.page("/queue/ask/title/1");
    let said = send(
        &desk,
        &page,
        "/queue/ask/title/1",
        &[("title", title), ("publisher", title), ("layout", "IIICP"), ("paid", title), ("do", "save")],
    );
    assert_eq!(said.status, 422);
    let mut pages = vec![said.text().to_owned()];
    location(&send(
        &desk,
        &page,
        "/queue/ask/title/1",
        &[("title", title), ("publisher", title), ("layout", "IIICP"), ("shop", title), ("do", "save")],
    ));
    for path in [
        "/queue",
        "/queue/settle",
        "/queue/3",
        "/queue/ask/title/3",
        "/queue/ask/another_copy/2",
        &format!("/queue/3/check?code={}&add_on=00411", upc(41)),
        "/queue/settle?shop=%22%3E%3Cimg%20src%3Dx%3E",
    ] {
        pages.push(desk.page(path));
    }
    for page in pages {
        assert!(!page.contains("<script>alert") && !page.contains("<img src=x"), "{page}");
    }
    let example = format!(
        "/queue/ask/title/3/example?{}",
        form_urlencoded::Serializer::new(String::new()).append_pair("title", title).finish()
    );
    let example = desk.page(&example);
    assert!(example.contains("&lt;script&gt;") && !example.contains("<script>"), "{example}");
}

#[test]
fn what_another_program_did_meanwhile_is_told_and_nothing_is_lost() {
    let desk = desk(&[&format!("{0} ~\n{0} 00511", upc(41))]);
    let (store, now) = (desk.store(), NOW.parse().unwrap());
    let read = |digits: &str| Some(AddOnState::Read(digits.parse().unwrap()));
    let page = desk.page("/queue/1");
    workflow::queue_set(&store, ItemId::new(1), &QueueChange { add_on: read("00611"), ..Default::default() }, now)
        .unwrap();
    let filled = [("code", &upc(41) as &str), ("add_on", "00811"), ("do", "save")];
    let said = send(&desk, &page, "/queue/1", &filled);
    assert_eq!(said.status, 409);
    assert!(
        said.text().contains("with add-on 00611 now") && said.text().contains("value=\"00811\""),
        "{}",
        said.text()
    );
    assert_eq!(item(&desk, 1).code.unwrap().add_on, read("00611").unwrap());
    // The page as it is now can be saved.
    location(&send(&desk, said.text(), "/queue/1", &filled));
    assert_eq!(item(&desk, 1).code.unwrap().add_on, read("00811").unwrap());
    // Settled while a form about its title, and one about the item, were being filled in.
    let (title, one) = (desk.page("/queue/ask/title/1"), desk.page("/queue/1"));
    let open = workflow::preview(&store, &Answers::none(), workflow::Select::All).unwrap().open;
    workflow::resolve(&store, &fill(&open, &[ferry()]), &ResolveOptions::default(), None, now).unwrap();
    assert!(store.items(QueueFilter::Open).unwrap().is_empty());
    let before = runs(&desk);
    let said =
        send(&desk, &title, "/queue/ask/title/1", &[("title", "Tide Wardens"), ("layout", "IIICP"), ("do", "save")]);
    assert!(said.status == 409 && said.text().contains("Answered already") && said.text().contains("Tide Wardens"));
    let said = send(&desk, &one, "/queue/1", &[("code", &upc(41)), ("add_on", "00911"), ("do", "save")]);
    assert!(
        said.status == 409 && said.text().contains("it is in the collection") && said.text().contains("00911"),
        "{}",
        said.text()
    );
    assert_eq!(desk.get("/queue/ask/title/1").status, 404);
    assert!(desk.page("/queue/1").contains("is settled"));
    assert_eq!(runs(&desk), before);
    // More of the title came in since the form was got: it is shown again, with what was typed.
    let other = desk_with_more();
    let said = send(
        &other.0,
        &other.1,
        "/queue/ask/title/1",
        &[("title", "Tide Wardens"), ("layout", "IIICP"), ("do", "save")],
    );
    assert!(
        said.status == 409 && said.text().contains("value=\"Tide Wardens\"") && said.text().contains("(2 books)"),
        "{}",
        said.text()
    );
    location(&send(
        &other.0,
        said.text(),
        "/queue/ask/title/1",
        &[("title", "Tide Wardens"), ("layout", "IIICP"), ("do", "save")],
    ));
}

/// A desk, and a form about a title that was got before more of it came in.
fn desk_with_more() -> (Opened, String) {
    let desk = desk(&[&format!("{} 00411", upc(41)), ""]);
    let page = desk.page("/queue/ask/title/1");
    let gtin = upc(41).parse().unwrap();
    let change = QueueChange {
        gtin: Some(gtin),
        add_on: Some(AddOnState::Read("00511".parse().unwrap())),
        ..Default::default()
    };
    workflow::queue_set(&desk.store(), ItemId::new(2), &change, NOW.parse().unwrap()).unwrap();
    (desk, page)
}
