//! Money and reading on the desk: sums, limits, plots with their tables.

use crate::desk_collection::shelf;
use crate::desk_support::Opened;

#[test]
fn what_is_drawn_stands_in_a_table_too() {
    let desk = shelf();
    desk.post("/pile/read", &[("one", "5")]);
    for (by, group) in [
        ("month", "2026-03"),
        ("week", "2026-W10"),
        ("publisher", "not known"),
        ("title", "Ash &lt;b&gt;"),
        ("shop", "Corner Comics"),
    ] {
        let page = desk.page(&format!("/money?by={by}"));
        let (plots, table) = page.split_once("<table").unwrap();
        assert!(plots.contains("<svg") && plots.contains(group), "{by}: {page}");
        assert!(table.contains(group) && table.contains("3.99 USD"), "{by}: {page}");
        assert!(!page.contains("style=") && !page.contains("<style"), "{by}");
    }
    let page = desk.page("/money");
    let months = page.split_once("Issues by month").unwrap().1;
    assert!(months.contains("2026-03</th><td class=\"number\">1</td><td class=\"number\">1</td>"), "{months}");
    assert!(months.contains("2025-04"), "twelve months are shown");
}

#[test]
fn covers_are_held_against_what_was_paid() {
    let desk = shelf();
    let fields = [
        "condition",
        "defects",
        "signed_by",
        "bag",
        "board",
        "bag_size",
        "bagged_on",
        "asked",
        "discount",
        "tax",
        "value",
    ];
    let mut form: Vec<_> = fields.into_iter().map(|name| (name, "")).collect();
    form.extend([
        ("shop", "Corner Comics"),
        ("acquired", "2026-03-04"),
        ("paid", "3.99 USD"),
        ("cover_price", "4.99 USD"),
    ]);
    assert_eq!(desk.post("/copy/5/set", &form).status, 303);
    let page = desk.page("/money");
    assert!(page.contains("Covers against paid") && page.contains("4.99 USD") && page.contains("1.00 USD"), "{page}");
}

#[test]
fn a_days_range_is_what_it_says() {
    let desk = shelf();
    let page = desk.page("/money?by=shop&from=2026-01-01&to=2026-03-03");
    assert!(page.contains("Nothing was bought from 2026-01-01 to 2026-03-03."), "{page}");
    for (query, told) in [
        ("by=colour", "by: nothing is grouped by"),
        ("from=soon", "from: "),
        ("from=2026-05-01&to=2026-04-01", "later than"),
    ] {
        let said = desk.get(&format!("/money?{query}"));
        assert_eq!(said.status, 422, "{query}");
        assert!(said.text().contains(told), "{query}: {}", said.text());
    }
}

#[test]
fn a_months_limit_is_set_and_removed() {
    let desk = shelf();
    let said = desk.post("/money/limit", &[("limit", "3 USD"), ("back", "/money")]);
    let page = desk.page(said.field("location").unwrap());
    assert!(page.contains("-0.99 USD, too much"), "{page}");
    assert!(desk.page("/").contains("3.99 USD of 3.00 USD spent"), "{}", desk.page("/"));
    assert_eq!(desk.post("/money/limit", &[("limit", "50")]).status, 422);
    assert_eq!(desk.post("/money/limit", &[("limit", "")]).status, 422);
    assert_eq!(desk.post("/money/limit/remove", &[("currency", "EUR")]).status, 422, "none is set");
    assert_eq!(desk.post("/money/limit/remove", &[("currency", "USD")]).status, 303);
    assert!(desk.page("/money").contains("No limit is set."));
    let run = desk.store().runs(1).unwrap()[0].id.to_string();
    desk.post("/undo", &[("run", &run)]);
    assert!(desk.page("/money").contains("too much"));
}

#[test]
fn an_empty_collection_has_its_page() {
    let page = Opened::new().page("/money");
    assert!(page.contains("Nothing was bought") && page.contains("No limit is set."), "{page}");
}
