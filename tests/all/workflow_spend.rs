//! What the hobby costs: groups, days, currencies.

use boxward::collection::{AgainstCover, CopyChange, CopyId, Edit, SpendBy, Spent};
use boxward::resolve::Answers;
use boxward::workflow::{self, Bulk, ResolveOptions, Selection};
use jiff::civil::{Date, date};
use serde_json::json;

use crate::workflow_support::{Home, ferry, home, now, upc};

fn buy(home: &Home, codes: &str, acquired: Option<Date>, shop: &str, paid: &str) {
    home.stack(codes);
    let shop = (!shop.is_empty()).then(|| shop.to_owned());
    let options = ResolveOptions { acquired, shop, paid: paid.parse().ok(), ..ResolveOptions::default() };
    assert_eq!(workflow::resolve(&home.store, &Answers::none(), &options, None, now()).unwrap().open, []);
}

/// Two titles of one name, one of them without a publisher.
fn bought() -> Home {
    let home = home();
    home.stack(&format!("{} 00111", upc(41)));
    home.answer(&[ferry()]);
    home.stack(&format!("{} 00111", upc(60)));
    home.answer(&[("title", json!({"title": "Night Ferry", "year": 1988, "layout": "IIICP"}))]);
    let ferry = upc(41);
    buy(&home, &format!("{ferry} 00211\n{ferry} 00311"), Some(date(2026, 3, 1)), "Corner Comics", "3.99 USD");
    buy(&home, &format!("{ferry} 00411"), Some(date(2026, 3, 2)), "CORNER COMICS", "2.50 GBP");
    buy(&home, &format!("{} 00211", upc(60)), Some(date(2026, 4, 1)), "The Back Room", "");
    home
}

fn in_words(spent: &Spent) -> String {
    let paid: Vec<_> = spent.paid.iter().map(ToString::to_string).collect();
    format!("{} {:?} {}", spent.copies, paid, spent.without_price)
}

fn spent(home: &Home, by: SpendBy, from: Option<Date>, to: Option<Date>) -> Vec<String> {
    let spending = workflow::spend(&home.store, by, from, to).unwrap();
    let groups = spending.groups().map(|(group, spent)| {
        let name = group.map_or("-", |group| &group.name);
        let year = group.and_then(|group| group.title.as_ref()?.year).map(|y| format!(" {y}")).unwrap_or_default();
        format!("{name}{year}: {}", in_words(spent))
    });
    groups.chain([in_words(&spending.total)]).collect()
}

const TOTAL: &str = r#"6 ["2.50 GBP", "7.98 USD"] 3"#;

#[test]
fn groups_are_in_order_and_what_is_unknown_comes_last() {
    let home = bought();
    for (by, groups) in [
        (SpendBy::Month, &[r#"2026-03: 3 ["2.50 GBP", "7.98 USD"] 0"#, "2026-04: 1 [] 1", "-: 2 [] 2"][..]),
        // The first of March 2026 is a Sunday.
        (
            SpendBy::Week,
            &[r#"2026-W09: 2 ["7.98 USD"] 0"#, r#"2026-W10: 1 ["2.50 GBP"] 0"#, "2026-W14: 1 [] 1", "-: 2 [] 2"],
        ),
        (SpendBy::Shop, &[r#"The Back Room: 1 [] 1"#, r#"Corner Comics: 3 ["2.50 GBP", "7.98 USD"] 0"#, "-: 2 [] 2"]),
        (SpendBy::Publisher, &[r#"Lantern Street: 4 ["2.50 GBP", "7.98 USD"] 1"#, "-: 2 [] 2"]),
        (SpendBy::Title, &["Night Ferry 1988: 2 [] 2", r#"The Night Ferry 2019: 4 ["2.50 GBP", "7.98 USD"] 1"#]),
    ] {
        let mut found = spent(&home, by, None, None);
        assert_eq!(found.pop().as_deref(), Some(TOTAL), "{by:?}");
        // Of spellings of one shop, either may be shown.
        let found: Vec<_> = found.iter().map(|line| line.replace("CORNER COMICS", "Corner Comics")).collect();
        assert_eq!(found, groups, "{by:?}");
    }
}

#[test]
fn days_bound_what_is_counted() {
    let home = bought();
    let march = spent(&home, SpendBy::Month, Some(date(2026, 3, 1)), Some(date(2026, 3, 31)));
    assert_eq!(march.len(), 2);
    assert_eq!(march[1], r#"3 ["2.50 GBP", "7.98 USD"] 0"#);
    assert_eq!(spent(&home, SpendBy::Shop, Some(date(2026, 3, 2)), None)[2], r#"2 ["2.50 GBP"] 1"#);
    assert_eq!(spent(&home, SpendBy::Title, None, Some(date(2026, 3, 1)))[1], r#"2 ["7.98 USD"] 0"#);
    assert_eq!(spent(&home, SpendBy::Week, Some(date(2027, 1, 1)), None), ["0 [] 0"]);
}

#[test]
fn a_months_limit_is_held_against_that_month_and_currency() {
    let home = bought();
    let before = home.dump();
    let stand = |today| {
        let limits = workflow::month_limits(&home.store, today).unwrap();
        limits.iter().map(|l| format!("{} {} {}", l.month, l.spent, l.left)).collect::<Vec<_>>()
    };
    assert_eq!(stand(date(2026, 3, 31)), [""; 0]);
    for limit in ["60 USD", "1 GBP", "5 USD"] {
        workflow::set_month_limit(&home.store, limit.parse().unwrap(), now()).unwrap();
    }
    assert_eq!(stand(date(2026, 3, 31)), ["2026-03 2.50 GBP -1.50 GBP", "2026-03 7.98 USD -2.98 USD"]);
    assert_eq!(stand(date(2026, 2, 28)), ["2026-02 0.00 GBP 1.00 GBP", "2026-02 0.00 USD 5.00 USD"]);
    workflow::undo(&home.store, None, now()).unwrap();
    assert_eq!(stand(date(2026, 3, 1))[1], "2026-03 7.98 USD 52.02 USD");
    workflow::remove_month_limit(&home.store, "USD".parse().unwrap(), now()).unwrap();
    assert!(workflow::remove_month_limit(&home.store, "USD".parse().unwrap(), now()).is_err());
    for _ in 0..3 {
        workflow::undo(&home.store, None, now()).unwrap();
    }
    assert_eq!(home.dump(), before);
}

#[test]
fn sums_are_the_same_whatever_the_group() {
    let home = bought();
    for by in [SpendBy::Week, SpendBy::Month, SpendBy::Publisher, SpendBy::Title, SpendBy::Shop] {
        let spending = workflow::spend(&home.store, by, None, None).unwrap();
        let copies: u64 = spending.groups().map(|(_, spent)| spent.copies).sum();
        assert_eq!(copies, spending.total.copies, "{by:?}");
    }
}

#[test]
fn covers_count_where_both_prices_are_known_in_one_currency() {
    let home = bought();
    let set = |copies: &[i64], cover: &str| {
        let copies = copies.iter().copied().map(CopyId::new).collect();
        let change = CopyChange { cover_price: Edit::To(cover.parse().unwrap()), ..CopyChange::default() };
        let bulk = Bulk { dry_run: false, several: true, day: date(2026, 4, 1) };
        let selection = Selection { copies, ..Selection::default() };
        workflow::copy_set(&home.store, &selection, &change, &Edit::Keep, bulk, now()).unwrap();
    };
    // Two of 3.99 USD and one of 2.50 GBP are paid; the first has a price on its cover already, in the catalogue.
    let change = workflow::IssueChange { cover_price: Edit::To("4.99 USD".parse().unwrap()), ..Default::default() };
    workflow::catalogue_set(&home.store, "night ferry 2019 2", &change, now()).unwrap();
    set(&[4], "3.50 USD");
    set(&[5], "4.99 USD");
    set(&[6], "4.99 USD");
    let spending = workflow::spend_against_cover(&home.store, SpendBy::Shop, None, None).unwrap();
    let words = |of: &AgainstCover| format!("{} {} {} {}", of.copies, of.cover, of.paid, of.saved());
    let total: Vec<_> = spending.total.against_cover.iter().map(words).collect();
    assert_eq!(total, ["2 8.49 USD 7.98 USD 0.51 USD"]);
    let groups: Vec<_> = spending.groups().map(|(_, spent)| spent.against_cover.len()).collect();
    assert_eq!(groups, [0, 1, 0]);
    // A copy's own cover price counts before its printing's.
    set(&[3], "2.99 USD");
    let spending = workflow::spend_against_cover(&home.store, SpendBy::Month, None, Some(date(2026, 3, 1))).unwrap();
    assert_eq!(words(&spending.total.against_cover[0]), "2 6.49 USD 7.98 USD -1.49 USD");
    // Without the comparison, the sums are the same.
    assert_eq!(in_words(&workflow::spend(&home.store, SpendBy::Shop, None, None).unwrap().total), TOTAL);
}
