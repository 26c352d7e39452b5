//! The desk in a real Chromium: its pages judged by axe-core, in light and dark, at a phone's width and enlarged.

use std::fs;
use std::path::PathBuf;

use boxward::store::QueueFilter;
use boxward::workflow;
use jiff::civil::date;
use serde_json::{Value, json};

use crate::browser::{Browser, missing};
use crate::code_reference;
use crate::desk_collection;
use crate::desk_support::{NOW, Opened};

/// The pages that are judged.
const PAGES: [&str; 18] = [
    "/",
    "/intake",
    "/intake/photos",
    "/phone",
    "/collection",
    "/collection?q=fer",
    "/collection?q=night+ferry+4",
    "/title/1",
    "/copy/5",
    "/pile",
    "/wall",
    "/wall/walk",
    "/money",
    "/money?by=shop",
    "/safety",
    "/backups",
    "/settings",
    "/settings/buy?weeks=4",
];

/// The phone's pages.
const PHONE_PAGES: [&str; 3] = ["/", "/have?q=614141001041+01211", "/have?q=tide"];

/// axe-core (Deque Systems, from the npm registry), where BOXWARD_AXE says it is.
fn axe() -> Option<String> {
    let path = std::env::var_os("BOXWARD_AXE").map(PathBuf::from);
    let script = path.and_then(|path| fs::read_to_string(path).ok());
    if code_reference::missing("axe-core", script.is_some()) { None } else { script }
}

/// The pictures of a run are kept here, to be looked at.
pub fn keep(name: &str, picture: &[u8]) {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("desk");
    fs::create_dir_all(&folder).unwrap();
    fs::write(folder.join(format!("{name}.png")), picture).unwrap();
}

/// What axe-core finds wrong by WCAG 2.2 at levels A and AA, and by its own good practice: each rule, and where.
fn faults(browser: &Browser, axe: &str) -> Vec<String> {
    browser.run(axe);
    let told = browser.run_until_told(
        "const done = arguments[arguments.length - 1];
         axe.run(document, {runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice']})
            .then(found => done(found.violations.flatMap(rule => rule.nodes.map(
                node => `${rule.id}: ${node.target} ${node.failureSummary}`))), error => done(['' + error]));",
        Vec::new(),
    );
    serde_json::from_value(told).unwrap()
}

#[test]
fn pages_are_fit_for_everyone() {
    judge(&desk_collection::shelf(), &PAGES);
}

/// Judges pages of a desk; each must be in its place, or this fails. Skipped without browser and axe-core.
pub fn judge(desk: &Opened, pages: &[&str]) {
    if missing() {
        return;
    }
    let Some(axe) = axe() else { return };
    for page in pages {
        assert_eq!(desk.get(page).status, 200, "{page}");
    }
    let browser = Browser::at(&desk.desk.link(), 1200, 900);
    let wrong = judged(&browser, &axe, &desk.host, "axe", pages);
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// What is wrong with pages, wide and narrow, light and dark.
fn judged(browser: &Browser, axe: &str, host: &str, name: &str, pages: &[&str]) -> Vec<String> {
    let mut wrong = Vec::new();
    for page in pages {
        browser.go(&format!("http://{host}{page}"));
        let name = format!("{name}{}", page.replace(['/', '?', '=', '+'], "-"));
        for dark in [false, true] {
            browser.dark(dark);
            // A phone's width is also a window of 640 px enlarged to 200 %.
            for (width, height) in [(1200, 900), (320, 640)] {
                browser.size(width, height);
                let scheme = if dark { "dark" } else { "light" };
                keep(&format!("{name}-{scheme}-{width}"), &browser.picture());
                let found = faults(browser, axe);
                wrong.extend(found.into_iter().map(|fault| format!("{page}, {scheme}, {width} px: {fault}")));
                // WCAG 2.2, 1.4.10 (reflow): nothing is to be scrolled sideways at 320 px.
                let over =
                    browser.run("return document.documentElement.scrollWidth - document.documentElement.clientWidth");
                if over != json!(0) {
                    wrong.push(format!("{page} at {width} px: {over} px too wide"));
                }
            }
        }
    }
    wrong
}

#[test]
fn a_phones_pages_are_fit_for_everyone_and_for_one_hand() {
    if missing() {
        return;
    }
    let Some(axe) = axe() else { return };
    let desk = Opened::new();
    let link = desk.desk.serve_phones("127.0.0.1:0".parse().unwrap()).unwrap();
    let browser = Browser::at(&desk.desk.link(), 1200, 900);
    let mut wrong = judged(&browser, &axe, &desk.host, "axe-served", &["/phone"]);
    browser.go(&link);
    let host = link.strip_prefix("http://").unwrap().split('/').next().unwrap();
    wrong.extend(judged(&browser, &axe, host, "axe-phone", &PHONE_PAGES));
    // WCAG 2.2, 2.5.5 (target size): 44 px a side. The link over a page's top is seen only by keyboard.
    browser.size(320, 640);
    for page in PHONE_PAGES {
        browser.go(&format!("http://{host}{page}"));
        let small = browser.run(
            "return [...document.querySelectorAll('a:not(.skip), button, input:not([type=file]), .pick')]
                 .map(it => [it.outerHTML.slice(0, 80), it.getBoundingClientRect()])
                 .filter(([, box]) => box.width && (box.height < 44 || box.width < 44)).map(([html]) => html)",
        );
        if small != json!([]) {
            wrong.push(format!("{page}: smaller than 44 px: {small}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn photos_are_chosen_and_dropped_and_each_ones_result_shows_up() {
    if missing() {
        return;
    }
    let desk = Opened::new();
    let browser = Browser::at(&desk.desk.link(), 1200, 900);
    browser.go(&format!("http://{}/intake/photos", desk.host));
    let stack = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("testdata/stack");
    let files = [1, 2, 21].map(|n| stack.join(format!("photo-{n:02}.jpg")).display().to_string());
    browser.choose("input[type=file]", &files);
    browser.wait_for_text(".count", "3 of 3 photos done");
    let told = browser.text(".told-list");
    for words in ["item 1", "again item 1", "no code read"] {
        assert!(told.contains(words), "{words}: {told}");
    }
    // Dropped: words, which are no picture; markup in a name stays text.
    browser.run(
        "const data = new DataTransfer();
         data.items.add(new File(['words'], '<b>words.jpg'));
         document.querySelector('[data-photos]').dispatchEvent(new DragEvent('drop', {dataTransfer: data, bubbles: true}));",
    );
    browser.wait_for_text(".count", "4 of 4 photos done");
    assert!(browser.text(".told-list").contains("<b>words.jpg\nfailed: this is no JPEG"));
    keep("photos-told", &browser.picture());
    assert_eq!(desk.store().items(QueueFilter::Open).unwrap().len(), 2);
    // A desk that is gone: nothing is lost, and it is said.
    let host = desk.host.clone();
    drop(desk);
    browser.choose("input[type=file]", &files[..1]);
    browser.wait_for_text(".told-list", "not taken: it did not arrive");
    assert!(browser.address().contains(&host));
}

#[test]
fn the_page_says_that_a_phone_came_in() {
    if missing() {
        return;
    }
    let desk = Opened::new();
    let link = desk.desk.serve_phones("127.0.0.1:0".parse().unwrap()).unwrap();
    let browser = Browser::at(&desk.desk.link(), 1200, 900);
    browser.go(&format!("http://{}/phone", desk.host));
    browser.wait_for_text("#in", "No phone is in.");
    crate::desk_photos::entered(&link);
    browser.wait_for_text("#standing", "A phone came in");
    browser.wait_for_text("#in", "1 phone let in.");
    assert_eq!(browser.text("#code"), "", "the spent link is gone");
}

#[test]
fn an_answer_follows_what_is_typed_on_a_phone() {
    if missing() {
        return;
    }
    let desk = Opened::new();
    let link = desk.desk.serve_phones("127.0.0.1:0".parse().unwrap()).unwrap();
    let browser = Browser::at(&link, 320, 640);
    browser.press("nav a[href='/have']");
    browser.type_into("#q", "614141001041 01211");
    browser.wait_for_text("#answer", "but 0 would fit");
    browser.press("#answer a");
    browser.wait_for_text("#answer", "not owned: no title fits");
    keep("phone-have", &browser.picture());
}

#[test]
fn a_run_is_taken_back_by_mouse_and_by_keyboard() {
    if missing() {
        return;
    }
    let desk = Opened::new();
    let store = desk.store();
    workflow::set_month_limit(&store, "50.00 USD".parse().unwrap(), NOW.parse().unwrap()).unwrap();
    let browser = Browser::at(&desk.desk.link(), 1200, 900);
    assert_eq!(browser.address(), format!("http://{}/", desk.host), "the link's secret does not stay in sight");
    browser.press("nav a[href='/safety']");
    browser.press("tbody tr:first-child button");
    browser.wait_for_text("[role=status]", "Run 2 (undo) is done.");
    assert_eq!(store.runs(9).unwrap()[1].undone_by.map(|run| run.number()), Some(2));
    // And back: from the top of the page by Tab to the notice's button, then Enter.
    browser.run("document.querySelector('main').focus()");
    browser.keys("\u{e004}");
    assert_eq!(browser.run("return document.activeElement.textContent"), "Undo run 2");
    browser.keys("\u{e007}");
    browser.wait_for_text("[role=status]", "Run 3 (undo) is done.");
    assert_eq!(workflow::month_limits(&store, date(2026, 3, 4)).unwrap().len(), 1);
}

#[test]
fn axe_would_find_what_is_wrong() {
    // The check itself: a page with two planted faults.
    if missing() {
        return;
    }
    let Some(axe) = axe() else { return };
    let folder = tempfile::tempdir().unwrap();
    let page = folder.path().join("bad.html");
    fs::write(
        &page,
        "<html><head><title>x</title></head><body><main><h1>x</h1><img src='x'>\
                      <p style='color:#aaa;background:#fff'>pale</p></main></body></html>",
    )
    .unwrap();
    let browser = Browser::open(&page, 800, 600);
    let found = faults(&browser, &axe).join("\n");
    for rule in ["image-alt", "html-has-lang", "color-contrast"] {
        assert!(found.contains(rule), "{rule}: {found}");
    }
    assert_eq!(browser.run("return 1"), Value::from(1));
}
