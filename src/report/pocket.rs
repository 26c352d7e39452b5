//! The page for the shop's counter: do I own this, do I want this? One file without a network, searched as one types.
//!
//! The page folds names as [`crate::collection::search_key`] does; `tests/all/report_pocket.rs` holds both together in a
//! real browser.

use std::collections::BTreeMap;

use base64::Engine;
use base64::engine::general_purpose::STANDARD as BASE64;
use jiff::civil::Date;
use maud::{PreEscaped, html};
use serde_json::{Value, json};
use sha2::{Digest, Sha256};

use super::page::framed;
use crate::code::Gtin;
use crate::collection::{Due, Owned, Title, Want};

const STYLE: &str = include_str!("pocket.css");
const SCRIPT: &str = include_str!("pocket.js");

/// A title as the page knows it.
#[derive(Debug, Clone, PartialEq)]
pub struct PocketTitle {
    /// The title.
    pub title: Title,
    /// The codes that stand for it.
    pub codes: Vec<Gtin>,
    /// Its issues that are owned, in order: the number, the plain number if it has one, and the printings.
    pub owned: Vec<(String, Option<u32>, Vec<Owned>)>,
    /// What is wanted of it and not owned.
    pub wants: Vec<(String, Want)>,
    /// What is expected of it.
    pub dues: Vec<Due>,
}

/// The page of all titles of which something is owned, wanted or expected, as of `today`.
#[must_use]
pub fn pocket_page(titles: &[PocketTitle], today: Date) -> String {
    let body = html! {
        p.lead { "As of " (today) ". Type a title, a title and an issue, or the digits under the bars." }
        form role="search" id="search" {
            label for="query" { "Do I own this? Do I want this?" }
            input type="search" id="query" name="query" autocomplete="off" autocapitalize="none" spellcheck="false"
                placeholder="tide wardens 12" aria-describedby="count";
        }
        p id="count" role="status" aria-live="polite" {}
        ul id="found" aria-label="Books found" {}
        noscript { p { "This page needs its script to search: allow scripts for it. It loads nothing and sends nothing." } }
        p.note { "Written by boxward. What may be paid is the collector's own limit, no appraisal." }
        script type="application/json" id="books" { (PreEscaped(in_script(&data(titles)))) }
        script { (PreEscaped(SCRIPT)) }
    };
    let script = format!("script-src 'sha256-{}'", BASE64.encode(Sha256::digest(SCRIPT)));
    framed("In my pocket", STYLE, &script, &body)
}

/// JSON that ends no script element: in JSON '<' stands in texts only, where it may be written as its number.
///
/// Source: WHATWG, HTML, 4.12.1.3, 'Restrictions for contents of script elements'.
fn in_script(data: &Value) -> String {
    data.to_string().replace('<', "\\u003c")
}

/// Lists instead of objects, and nothing at their ends: twenty thousand books have to fit a phone.
fn data(titles: &[PocketTitle]) -> Value {
    let mut publishers: BTreeMap<&str, usize> = BTreeMap::new();
    for publisher in titles.iter().filter_map(|known| known.title.publisher.as_deref()) {
        let next = publishers.len();
        publishers.entry(publisher).or_insert(next);
    }
    let mut names: Vec<_> = publishers.iter().collect();
    names.sort_by_key(|(_, index)| **index);
    let titles: Vec<Value> = titles.iter().map(|known| entry(known, &publishers)).collect();
    json!({ "publishers": names.into_iter().map(|(name, _)| name).collect::<Vec<_>>(), "titles": titles })
}

fn entry(known: &PocketTitle, publishers: &BTreeMap<&str, usize>) -> Value {
    let title = &known.title;
    let mut runs: Vec<(u32, u32)> = Vec::new();
    let (mut named, mut more) = (Vec::new(), serde_json::Map::new());
    for (number, whole, printings) in &known.owned {
        match whole {
            Some(whole) => match runs.last_mut() {
                Some((_, last)) if last.checked_add(1) == Some(*whole) => *last = *whole,
                _ => runs.push((*whole, *whole)),
            },
            None => named.push(number),
        }
        let is_usual = |owned: &Owned| owned.cover == "1" && owned.printing == 1 && owned.copies == 1;
        if printings.len() != 1 || !printings.iter().all(is_usual) {
            let printings = printings.iter().map(|owned| json!([owned.cover, owned.printing, owned.copies]));
            more.insert(number.clone(), printings.collect());
        }
    }
    let run = |(from, to): &(u32, u32)| if from == to { from.to_string() } else { format!("{from}-{to}") };
    let wants = known.wants.iter().map(|(number, want)| {
        json!([number, want.up_to.map(|money| money.to_string()).unwrap_or_default(), want.note])
    });
    let dues =
        known.dues.iter().map(|due| json!([due.issue, due.due.map(|week| week.to_string()).unwrap_or_default()]));
    let mut fields = vec![
        json!(title.name),
        json!(title.publisher.as_deref().and_then(|name| publishers.get(name))),
        json!(title.year),
        json!(title.volume),
        json!(runs.iter().map(run).collect::<Vec<_>>().join(",")),
        json!(known.codes.iter().map(|code| code.printed()).collect::<Vec<_>>()),
        json!(named),
        Value::Object(more),
        wants.collect(),
        dues.collect(),
    ];
    let is_empty = |value: &Value| match value {
        Value::Null => true,
        Value::String(text) => text.is_empty(),
        Value::Array(list) => list.is_empty(),
        Value::Object(map) => map.is_empty(),
        _ => false,
    };
    while fields.last().is_some_and(is_empty) {
        fields.pop();
    }
    fields.into()
}
