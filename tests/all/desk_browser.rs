//! The desk in a real Chromium: its pages judged by axe-core, in light and dark, at a phone's width and enlarged.

use std::fs;
use std::path::PathBuf;

use boxward::workflow;
use jiff::civil::date;
use serde_json::{Value, json};

use crate::browser::{Browser, missing};
use crate::code_reference;
use crate::desk_support::{NOW, Opened};

/// The pages that are judged. Each must be in its place, or the test fails.
const PAGES: [&str; 4] = ["/", "/wall", "/wall/walk", "/safety"];

/// axe-core (Deque Systems, from the npm registry), where BOXWARD_AXE says it is.
fn axe() -> Option<String> {
    let path = std::env::var_os("BOXWARD_AXE").map(PathBuf::from);
    let script = path.and_then(|path| fs::read_to_string(path).ok());
    if code_reference::missing("axe-core", script.is_some()) { None } else { script }
}

/// The pictures of a run are kept here, to be looked at.
fn keep(name: &str, picture: &[u8]) {
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
    if missing() {
        return;
    }
    let Some(axe) = axe() else { return };
    let desk = Opened::new();
    let browser = Browser::at(&desk.desk.link(), 1200, 900);
    let mut wrong = Vec::new();
    for page in PAGES {
        browser.go(&format!("http://{}{page}", desk.host));
        let name = format!("axe{}", page.replace('/', "-"));
        for dark in [false, true] {
            browser.dark(dark);
            // A phone's width is also a window of 640 px enlarged to 200 %.
            for (width, height) in [(1200, 900), (320, 640)] {
                browser.size(width, height);
                let scheme = if dark { "dark" } else { "light" };
                keep(&format!("{name}-{scheme}-{width}"), &browser.picture());
                let found = faults(&browser, &axe);
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
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
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
