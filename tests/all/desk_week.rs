//! A week at the desk, in a real Chromium, on the photos of the example stack: from the photos to the box, and back by undo.

use std::path::Path;

use boxward::intake::ItemState;
use boxward::store::QueueFilter;
use boxward::workflow::{self, box_list};

use crate::browser::{Browser, missing};
use crate::desk_browser::keep;
use crate::desk_support::Opened;

fn photo(number: u32) -> String {
    let file = format!("testdata/stack/photo-{number:02}.jpg");
    Path::new(env!("CARGO_MANIFEST_DIR")).join(file).display().to_string()
}

#[test]
fn a_stack_goes_from_its_photos_to_its_box() {
    if missing() {
        return;
    }
    let desk = Opened::new();
    let store = desk.store();
    let browser = Browser::at(&desk.desk.link(), 1200, 900);
    let go = |path: &str| browser.go(&format!("http://{}{path}", desk.host));
    let look = |name: &str| keep(&format!("week-{name}"), &browser.picture());

    // Twenty photos: nineteen books whose codes are read, and one (photo 23) whose add-on is covered.
    go("/intake");
    let photos: Vec<_> = (1..=19).chain([23]).map(photo).collect();
    browser.choose("#files", &photos);
    browser.wait_for_text(".photos .count", "20 of 20 photos done");
    look("1-photos");
    let open = store.items(QueueFilter::Open).unwrap();
    // Photos 1 and 2 show one book.
    assert_eq!(open.len(), 19);
    let hard: Vec<_> = open.iter().filter(|item| item.state == ItemState::Incomplete).map(|item| item.id).collect();
    assert_eq!(hard.len(), 1);

    // The hard one comes first; its add-on is typed beside its picture.
    go("/queue");
    look("2-queue");
    browser.press(".sheet li:first-child a");
    browser.wait_for_text("h1", &format!("Item {}", hard[0]));
    browser.keys("00511");
    browser.wait_for_text("[data-live-into]", "issue 5, cover 1, printing 1");
    look("3-completed");
    browser.keys("\u{e007}");
    browser.wait_for_text("[role=status]", "(queue) is done.");

    // One answer settles all books of a title: the code of photos 1 to 6.
    go("/queue/settle");
    look("4-settle");
    let asked = |words: &str| {
        go("/queue/settle");
        let link = browser.run(&format!(
            "const link = [...document.querySelectorAll('#asked ~ ul a')].find(a => a.textContent.includes('{words}'));
             return link.pathname + link.search"
        ));
        go(link.as_str().unwrap());
    };
    asked("614141001040");
    browser.type_into("[name=title]", "Tide Wardens");
    browser.type_into("[name=publisher]", "Lantern Row");
    browser.type_into("[name=year]", "2023");
    browser.run("document.querySelector('[name=layout][value=IIICP]').click()");
    look("5-title");
    browser.press("button[name=do][value=save]");
    browser.wait_for_text("[role=status]", "(resolve) is done.");
    // All but the one that two photos show: is it one book, or are there two?
    let tide = || {
        let titles = workflow::title_list(&store, "tide wardens", 0, 9).unwrap();
        (titles.len(), titles[0].copies, titles[0].issues)
    };
    assert_eq!(tide(), (1, 4, 3));
    asked("one book seen 2 times");
    browser.press("button[name=do][value=save]");
    browser.wait_for_text("[role=status]", "(resolve) is done.");
    assert_eq!(tide(), (1, 5, 4));

    // It is in the collection as soon as one has typed two letters of its name.
    go("/collection");
    browser.type_into("[name=q]", "moth");
    browser.wait_for_text("#found", "no title fits");
    browser.type_into("[name=q]", "ti");
    browser.wait_for_text("#found", "Tide Wardens");
    look("6-collection");

    // Two are read: the first by its key, another one by its tick.
    go("/pile");
    browser.keys("r");
    browser.wait_for_text("[role=status]", "(pile) is done.");
    browser.run("document.querySelector('tbody input[type=checkbox]').click()");
    look("7-pile");
    browser.press("form[action='/pile/read'] .row button");
    browser.wait_for_text("[role=status]", "(pile) is done.");

    // They go where the plan says.
    go("/wall");
    browser.type_into("[name=new_label]", "Tide A");
    browser.type_into("[name=purpose]", "publisher=Lantern Row");
    browser.press("form[action='/wall/add'] button");
    browser.wait_for_text("[role=status]", "(box) is done.");
    browser.press("form[action='/wall/plan'] > button");
    browser.wait_for_text("main", "1 stop left, 2 copies to put in");
    look("8-walk");
    browser.keys("d");
    browser.wait_for_text("main", "Nothing is to be put away");
    go("/wall");
    look("9-wall");
    assert_eq!(box_list(&store).unwrap()[0].copies, 2);

    // All of it is taken back, the newest first, from the page of what was done.
    let mut undone = 0;
    loop {
        go("/safety");
        let left = browser.run(
            "const rows = [...document.querySelectorAll('tbody tr')].filter(row => row.querySelector('button')
                 && !row.cells[1].textContent.includes('undo'));
             if (rows.length) rows[0].querySelector('button').click();
             return rows.length",
        );
        if left == 0 {
            break;
        }
        browser.wait_for_text("[role=status]", "(undo) is done.");
        undone += 1;
        assert!(undone < 30);
    }
    look("10-undone");
    assert_eq!(store.items(QueueFilter::Open).unwrap().len(), 0);
    assert!(box_list(&store).unwrap().is_empty() && workflow::title_list(&store, "", 0, 9).unwrap().is_empty());
}
