//! What is typed to name, to order and to set: questions to the collection, sums, weeks, grades, rules.

use std::cell::OnceCell;

use boxward::collection::{
    CoverDate, Discount, Grade, IssueNumber, Money, SizeClass, Week, issue_number, search_key, words,
};
use boxward::filing::{FilingRule, Item};
use boxward::list::Choices;
use boxward::store::{RunKind, Store};
use boxward::workflow::{checklists, gaps_of, have, title_list};

use super::answers::settled;
use super::{Target, texts};

pub const TARGET: Target = Target {
    name: "words",
    check,
    seeds,
    words: &[
        "tide wardens",
        "volume",
        "annual",
        "½",
        "-1",
        "USD",
        "2026-W11",
        "publisher",
        " NOT ",
        "*",
        "\"",
        "NEAR(",
        "#",
    ],
};

thread_local! {
    static STORE: OnceCell<(tempfile::TempDir, Store)> = const { OnceCell::new() };
}

fn check(bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes);
    // What is understood is written so that it is understood again.
    if let Ok(money) = text.parse::<Money>() {
        assert_eq!(money.to_string().parse(), Ok(money));
    }
    if let Ok(week) = text.parse::<Week>() {
        assert_eq!(week.to_string().parse(), Ok(week));
    }
    if let Ok(grade) = text.parse::<Grade>() {
        assert_eq!(grade.to_string().parse(), Ok(grade));
    }
    let kept = issue_number(&text);
    assert_eq!(issue_number(&kept), kept, "{text:?}");
    let _ = IssueNumber::new(&kept).sort_key().len();
    let _ = (text.parse::<Discount>(), text.parse::<CoverDate>(), text.parse::<SizeClass>(), text.parse::<RunKind>());
    let _ = (text.parse::<FilingRule>(), text.parse::<Item>(), serde_json::from_str::<Choices>(&text));
    assert!(words(&search_key(&text)).iter().all(|word| !word.is_empty()));
    STORE.with(|store| {
        let (_, store) = store.get_or_init(settled);
        let found = have(store, &text);
        assert!(!matches!(found, Err(boxward::workflow::WorkflowError::Store(_))), "{text:?}: {found:?}");
        for error in
            [gaps_of(store, &text).err(), checklists(store, &text).err(), title_list(store, &text, 0, 10).err()]
        {
            assert!(!matches!(error, Some(boxward::workflow::WorkflowError::Store(_))), "{text:?}: {error:?}");
        }
    });
}

fn seeds() -> Vec<Vec<u8>> {
    texts(&[
        "tide wardens 12",
        "the tide-wardens (2023) #12-14, 20",
        "614141001040 01211",
        "publisher, family, title, volume, issue, cover, printing",
        "3.99 USD",
        "12,99 EUR",
        "2026-W11",
        "9.4",
        "10 %",
        "½",
        "-1",
        "Annual 3",
        "2026-05",
        "bags=current",
        "{\"columns\":{\"title\":\"Series\"},\"sheet\":null,\"skip\":1,\"unnamed\":false,\"days\":null,\"currency\":\"USD\"}",
    ])
}
