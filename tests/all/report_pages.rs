//! Pages, judged by a browser's parser (html5ever, of the WHATWG's HTML standard): no parse error, nothing that runs or is
//! loaded, a name for every picture, and every text as it was typed.

use boxward::collection::{CopyChange, CopyId, Edit};
use boxward::report::{Inventory, run_page, year_page};
use boxward::store::CopyOrder;
use boxward::workflow::{self, Bulk, Selection, WorkflowError};
use html5ever::tendril::TendrilSink;
use html5ever::{ParseOpts, parse_document};
use jiff::civil::date;
use markup5ever_rcdom::{Handle, NodeData, RcDom};
use serde_json::json;

use crate::workflow_support::{Home, home, now, upc};

const EVIL: &str = "</title></style><script>alert('1')</script> \"&amp;' <!-- -->";

/// A copy whose every text is markup.
fn shelf() -> Home {
    let home = home();
    home.stack(&format!("{0} 00111\n{0} 00411", upc(41)));
    let title = json!({"title": EVIL, "publisher": EVIL, "volume": EVIL, "year": 2019, "layout": "IIICP"});
    home.answer(&[("title", title)]);
    let text = || Edit::To(EVIL.to_owned());
    let change = CopyChange {
        defects: text(),
        signed_by: text(),
        shop: text(),
        acquired: Edit::To(date(2026, 3, 4)),
        paid: Edit::To("3.99 USD".parse().unwrap()),
        value: Edit::To("12 USD".parse().unwrap()),
        ..CopyChange::default()
    };
    let bulk = Bulk { dry_run: false, several: true, day: date(2026, 3, 4) };
    let selection = Selection { copies: vec![CopyId::new(1)], ..Selection::default() };
    let photo = Edit::To(b"\xff\xd8\xff".to_vec());
    workflow::copy_set(&home.store, &selection, &change, &photo, bulk, now()).unwrap();
    workflow::copy_lend(&home.store, &selection, EVIL, bulk, now()).unwrap();
    home
}

fn pages(home: &Home) -> Vec<String> {
    let lists = workflow::checklists(&home.store, "alert").unwrap();
    assert_eq!(lists.len(), 1);
    let mut inventory = Inventory::default();
    workflow::each_copy(&home.store, &Selection::default(), CopyOrder::Publisher, &mut |copy| {
        let photo = workflow::copy_photo(&home.store, copy.copy)?;
        inventory.add(copy, photo).map_err(WorkflowError::from)
    })
    .unwrap();
    let year = workflow::year_review(&home.store, 2026).unwrap();
    vec![run_page(EVIL, &lists), inventory.page(date(2026, 3, 4)), year_page(&year)]
}

fn parsed(page: &str) -> RcDom {
    parse_document(RcDom::default(), ParseOpts::default()).one(page)
}

fn each(node: &Handle, look: &mut dyn FnMut(&Handle)) {
    look(node);
    node.children.borrow().iter().for_each(|child| each(child, look));
}

fn attributes(node: &Handle) -> Option<(String, Vec<(String, String)>)> {
    let NodeData::Element { name, attrs, .. } = &node.data else { return None };
    let attributes = attrs.borrow().iter().map(|a| (a.name.local.to_string(), a.value.to_string())).collect();
    Some((name.local.to_string(), attributes))
}

/// What is wrong with a page.
fn faults(page: &str) -> Vec<String> {
    let dom = parsed(page);
    let mut faults: Vec<String> = dom.errors.borrow().iter().map(|error| format!("parse error: {error}")).collect();
    each(&dom.document, &mut |node| {
        let Some((name, attributes)) = attributes(node) else { return };
        let value = |wanted: &str| attributes.iter().find(|(name, _)| name == wanted).map(|(_, value)| value.as_str());
        let mut fault = |what: &str| faults.push(format!("<{name}>: {what}"));
        if matches!(name.as_str(), "script" | "iframe" | "object" | "embed" | "link" | "form") {
            fault("no page needs it");
        }
        for (attribute, text) in &attributes {
            if attribute.starts_with("on") || text.trim_start().to_lowercase().starts_with("javascript:") {
                fault("it would run");
            }
            let loads = matches!(attribute.as_str(), "src" | "href" | "data" | "action");
            if loads && !text.starts_with("data:image/") && !text.starts_with('#') {
                fault("it would load or lead elsewhere");
            }
        }
        match name.as_str() {
            "html" if value("lang") != Some("en") => fault("no language"),
            "img" if value("alt").is_none_or(str::is_empty) => fault("no text for those who don't see it"),
            "svg" => {
                let named = node.children.borrow().iter().any(|child| {
                    self::attributes(child).is_some_and(|(name, of)| {
                        name == "title"
                            && of.iter().any(|(a, id)| a == "id" && Some(id.as_str()) == value("aria-labelledby"))
                    })
                });
                if !named || value("role") != Some("img") {
                    fault("no title for those who don't see it");
                }
            }
            "th" if value("scope").is_none() => fault("no scope"),
            _ => {}
        }
    });
    faults
}

fn text(page: &str) -> String {
    let mut text = String::new();
    each(&parsed(page).document, &mut |node| {
        if let NodeData::Text { contents } = &node.data {
            text.push_str(&contents.borrow());
            text.push('\n');
        }
    });
    text
}

#[test]
fn pages_are_sound_and_show_every_text_as_it_was_typed() {
    let home = shelf();
    // Title, volume and publisher; beside them defects, signature, borrower and shop; the publisher in plot and table.
    for (page, times) in pages(&home).iter().zip([3, 7, 1]) {
        assert_eq!(faults(page), [""; 0], "{page}");
        let text = text(page);
        assert!(text.matches(EVIL).count() >= times, "{times}: {text}");
    }
}

#[test]
fn every_plot_has_its_numbers_in_a_table() {
    let home = shelf();
    let page = &pages(&home)[2];
    assert!(page.contains("<svg") && page.contains("3.99 USD"));
    assert_eq!(page.matches("<caption>").count(), page.matches("<section>").count());
}

#[test]
fn faults_are_found() {
    let page = |body: &str| {
        format!("<!DOCTYPE html><html lang=\"en\"><head><title>x</title></head><body>{body}</body></html>")
    };
    assert_eq!(faults(&page("<p>good &amp; sound</p>")), [""; 0]);
    for body in [
        "<p>a</b></p>",
        "<script>1</script>",
        "<img src=\"data:image/png;base64,\">",
        "<img alt=\"x\" src=\"https://example.com/x.png\">",
        "<p onclick=\"x()\">x</p>",
        "<svg role=\"img\"></svg>",
        "<table><tbody><tr><th>x</th></tr></tbody></table>",
        "<a href=\"javascript:x()\">x</a>",
        "<p title=\"a\" title=\"b\">x</p>",
    ] {
        assert_ne!(faults(&page(body)), [""; 0], "{body}");
    }
    assert_ne!(faults("<p>no doctype</p>"), [""; 0]);
}
