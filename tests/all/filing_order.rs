//! The filing order: total, stable, as the trade has it.

use boxward::collection::{CopyId, IssueNumber, Title, TitleId};
use boxward::filing::{Annuals, FilingKey, FilingRule};

fn title(id: i64, publisher: &str, name: &str, volume: &str, year: Option<i16>) -> Title {
    Title {
        id: TitleId::new(id),
        publisher: Some(publisher.to_owned()).filter(|p| !p.is_empty()),
        name: name.to_owned(),
        volume: volume.to_owned(),
        year,
        layout: None,
        issue_base: 0,
    }
}

fn key(rule: &FilingRule, title: &Title, issue: &str, cover: &str, printing: u32, copy: i64) -> FilingKey {
    rule.key(title, None, &IssueNumber::new(issue), cover, printing, CopyId::new(copy))
}

#[test]
fn titles_stand_by_publisher_then_by_name_without_article_and_with_numbers_by_value() {
    let rule = FilingRule::default();
    let ordered = [
        title(9, "Brass Heron", "The 9 Lanterns", "", None),
        title(8, "Brass Heron", "10 Lanterns", "", None),
        title(7, "Brass Heron", "100 Lanterns", "", None),
        title(6, "Brass Heron", "An Almanac", "", None),
        title(5, "Brass Heron", "Moth Parliament", "", Some(2016)),
        title(4, "Brass Heron", "Moth Parliament", "", Some(2020)),
        title(3, "Brass Heron", "Moth Parliament", "", None),
        title(2, "Brass Heron", "Moth Parliament", "2", None),
        title(1, "Brass Heron", "Moth Parliament", "10", None),
        title(12, "Brass Heron", "Moth Parliament Annual", "", None),
        title(11, "Lantern Row", "Almanac", "", None),
        title(10, "", "Almanac", "", None),
    ];
    for (at, one) in ordered.iter().enumerate() {
        for (other_at, other) in ordered.iter().enumerate() {
            let order = key(&rule, one, "1", "1", 1, 1).cmp(&key(&rule, other, "1", "1", 1, 1));
            assert_eq!(order, at.cmp(&other_at), "{} and {}", one.name, other.name);
        }
    }
}

#[test]
fn copies_stand_by_issue_cover_printing_and_at_last_by_their_own_number() {
    let rule = FilingRule::default();
    let of = title(1, "Lantern Row", "Tide Wardens", "", None);
    let ordered = [
        ("-1", "1", 1, 9),
        ("0", "1", 1, 8),
        ("\u{bd}", "1", 1, 7),
        ("1", "1", 1, 5),
        ("1", "1", 1, 6),
        ("1", "1", 2, 1),
        ("1", "1", 253, 1),
        ("1", "1", 254, 1),
        ("1", "1", 255, 1),
        ("1", "1", 256, 1),
        ("1", "1", 70_000, 1),
        ("1", "1", u32::MAX, 1),
        ("1", "2", 1, 1),
        ("1", "9", 1, 1),
        ("1", "10", 1, 1),
        ("1", "B", 1, 1),
        ("1A", "1", 1, 1),
        ("2", "1", 1, 1),
        ("10", "1", 1, 1),
        ("Annual 1", "1", 1, 1),
        ("Annual 10", "1", 1, 1),
    ];
    let keys: Vec<_> = ordered.iter().map(|(i, c, p, n)| key(&rule, &of, i, c, *p, *n)).collect();
    assert!(keys.is_sorted_by(|one, next| one < next), "{keys:?}");
    let before = FilingRule::default().with_annuals(Annuals::Before);
    assert!(key(&before, &of, "Annual 2", "1", 1, 1) < key(&before, &of, "-1", "1", 1, 1));
    let dated = FilingRule::default().with_annuals(Annuals::Dated);
    let sort = |issue: &str| IssueNumber::new(issue).sort_key().to_owned();
    let among = [
        dated.copy_key(&sort("12"), "9", 9),
        dated.copy_key_behind(Some(&sort("12")), &sort("Annual 1"), "1", 1),
        dated.copy_key(&sort("12A"), "1", 1),
        dated.copy_key(&sort("13"), "1", 1),
        dated.copy_key(&sort("Annual 2"), "1", 1),
    ];
    assert!(among.is_sorted_by(|one, next| one < next), "{among:?}");
    // A later title of the same name never mixes with it.
    let later = title(2, "Lantern Row", "Tide Wardens", "", None);
    assert!(key(&rule, &of, "Annual 10", "9", 9, 9) < key(&rule, &later, "-1", "1", 1, 1));
}

#[test]
fn the_usual_key_takes_no_memory_of_its_own() {
    let key = FilingRule::default().copy_key(IssueNumber::new("123").sort_key(), "1", 1);
    assert!(!key.spilled(), "{} bytes", key.len());
}

#[test]
fn the_collector_sets_the_order() {
    let rule: FilingRule = "title, printing,issue".parse().unwrap();
    assert_eq!(rule.to_string(), "title, printing, issue");
    let of = title(1, "Lantern Row", "Tide Wardens", "", None);
    assert!(key(&rule, &of, "9", "1", 1, 1) < key(&rule, &of, "1", "1", 2, 1));
    // What the rule leaves out still decides at the end: no two keys are the same.
    assert!(key(&rule, &of, "9", "1", 1, 1) < key(&rule, &of, "9", "2", 1, 1));
    let families: FilingRule = "publisher, family, title, volume, issue, cover, printing".parse().unwrap();
    assert!(families.keeps_families() && !rule.keeps_families() && !FilingRule::default().keeps_families());
    let other = title(2, "Lantern Row", "Ash Harbour", "", None);
    let in_family = families.title_key(&of, Some("Harbour")) < families.title_key(&other, Some("Tides"));
    assert!(in_family && families.title_key(&of, Some("Z")) < families.title_key(&other, None));
    for (wrong, why) in [
        ("colour, title, issue", "'colour' is nothing to order by"),
        ("title, issue, title", "'title' stands in the order twice"),
        ("publisher, issue", "the order has no 'title'"),
        ("title, cover", "the order has no 'issue'"),
        ("title, issue, volume", "'volume' stands behind issue"),
        ("", "'' is nothing to order by"),
    ] {
        let error = wrong.parse::<FilingRule>().unwrap_err().to_string();
        assert!(error.starts_with(why), "{wrong}: {error}");
    }
}
