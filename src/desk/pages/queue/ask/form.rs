//! The form of each question, and what an answer would mean.

use axum::extract::Path;
use maud::{Markup, html};

use super::reply::five;
use super::{find, open};
use crate::code::{AddOn, Gtin};
use crate::collection::{Title, search_key};
use crate::desk::pages::queue::fields::{Faults, Text, typed_or};
use crate::desk::pages::queue::sent::Sent;
use crate::desk::pages::queue::words::{count, listed};
use crate::desk::pages::queue::{bought, part};
use crate::desk::trouble::Answer;
use crate::desk::view::{Fields, View};
use crate::intake::ItemId;
use crate::meaning::{Layout, Reading};
use crate::resolve::{Answers, CountQuestion, IssueQuestion, KnownTitle, Question, TitleQuestion, WhichQuestion};
use crate::store::Store;
use crate::workflow::words::title_in_words;
use crate::workflow::{self, WorkflowError};

/// So many add-ons are shown as examples, and so many titles of a name.
const EXAMPLES: u32 = 6;

/// The question in words.
pub(in crate::desk::pages::queue) fn headline(question: &Question) -> String {
    let printed = |code: &Option<Gtin>| code.map(Gtin::printed).unwrap_or_default();
    match question {
        Question::Code(q) => format!("Item {}: which code does the picture show?", q.item),
        Question::AddOn(q) => format!("Item {}: which add-on stands beside {}?", q.item, printed(&q.code)),
        Question::Title(q) => format!("{}: which title is it? ({})", printed(&q.code), count(q.items.len(), "book")),
        Question::Book(q) => {
            let number = q.isbn.clone().unwrap_or_else(|| printed(&q.code));
            format!("ISBN {number}: which book is it?")
        }
        Question::Which(q) => format!("{}: which of the titles that share the code?", printed(&q.code)),
        Question::Layout(q) => format!("{}: how are its add-ons laid out?", q.title),
        Question::Count(q) => format!("{}: its digits say issue {}", q.title, listed(&q.printed)),
        Question::Issue(q) => format!("Item {}: which issue of {} is it?", q.item, q.title),
        Question::Repeat(q) => format!("Item {}: one book seen {} times, or several?", q.item, q.seen_again.len() + 1),
        Question::AnotherCopy(q) => format!("Item {}: {} {} again?", q.item, q.title, q.issue),
        Question::Keep(q) => format!("{}: {}; record it all the same?", printed(&q.code), q.kind),
    }
}

/// The fields of a question's form and its buttons.
pub(super) fn fields(question: &Question, sent: &Sent, faults: Faults<'_>) -> Markup {
    let typed = Some(sent).filter(|sent| !sent.get("seen").is_empty());
    let text = |name, label, hint, proposal, keys| {
        faults.text(Text { name, label, hint, keys, value: typed_or(typed, name, proposal), ..Text::default() })
    };
    let purchase = bought::fields(sent, faults);
    let save = html! { button name="do" value="save" { "Answer, and on" } };
    match question {
        Question::Code(_) | Question::AddOn(_) => html! {},
        Question::Title(q) => title(
            q,
            typed,
            faults,
            &html! {
                (purchase)
                div.row { (save) button.plain name="do" value="no" { "No comic: drop " (count(q.items.len(), "item")) } }
            },
        ),
        Question::Book(q) => html! {
            @if let Some(price) = q.cover_price { p { "The add-on says " (price) "." } }
            (text("title", "Name", "shared by all volumes of a series", "", ""))
            (text("volume", "Volume", "if it is one of several", "", ""))
            (text("publisher", "Publisher", "", "", ""))
            (text("year", "Year in which the title began", "", "", "numeric"))
            (purchase)
            div.row { (save) button.plain name="do" value="no" { "Not for the collection: drop it" } }
        },
        Question::Which(q) => which(q, typed, faults, &html! { (purchase) (save) }),
        Question::Layout(q) => html! {
            (layout(&q.add_ons, 0, typed, faults))
            (purchase) (save)
        },
        Question::Count(q) => counting(q, typed, faults, &html! { (purchase) (save) }),
        Question::Issue(q) => issue(q, typed, faults, &html! { (purchase) (save) }),
        Question::Repeat(q) => html! {
            p { "Seen again:" }
            ul { @for place in &q.seen_again { li { (place) } } }
            (text("copies", "How many copies are there?", "1 if it is one book", "1", "numeric"))
            (purchase) (save)
        },
        Question::AnotherCopy(q) => html! {
            p { (q.title) " " (q.issue) ", cover " (q.cover) ", printing " (q.printing) ": " (count(q.owned, "copy")) " owned, those that wait in the queue included; these are taken in with another copy." }
            (purchase)
            div.row {
                button name="do" value="yes" data-key="y" { "Another copy" } span { kbd { "y" } }
                button.plain name="do" value="no" data-key="x" { "The same book again: drop it" } span { kbd { "x" } }
            }
        },
        Question::Keep(q) => html! {
            p { "Such a number is no comic's as a rule: " (q.kind) "." }
            (purchase)
            div.row {
                button.plain name="do" value="no" { "No book: drop " (count(q.items.len(), "item")) }
                button name="do" value="yes" { "Record it all the same" }
            }
        },
    }
}

fn title(q: &TitleQuestion, typed: Option<&Sent>, faults: Faults<'_>, end: &Markup) -> Markup {
    let text = |name, label, hint, proposal, keys| {
        faults.text(Text { name, label, hint, keys, value: typed_or(typed, name, proposal), ..Text::default() })
    };
    let same_company = q.proposals.iter().find_map(|known| known.publisher.clone()).unwrap_or_default();
    let known = q.proposals.iter().map(|known| (known.id.to_string(), html! { (known_in_words(known)) }));
    let choices: Vec<_> = known.chain([("new".to_owned(), html! { "another title, named here" })]).collect();
    let base: u32 = typed.and_then(|typed| typed.get("issue_base").parse().ok()).unwrap_or(0);
    html! {
        @if !q.proposals.is_empty() {
            (faults.choice("known", "Which title?", typed_or(typed, "known", "new"), &choices))
        }
        (faults.text(Text {
            name: "title", label: "Name", value: typed_or(typed, "title", ""), first: q.proposals.is_empty(), live: true,
            ..Text::default()
        }))
        (text("publisher", "Publisher", "", &same_company, ""))
        (text("volume", "Volume", "if it has one", "", ""))
        (text("year", "Year in which it began", "", "", "numeric"))
        (layout(&q.add_ons, base, typed, faults))
        @if !five(&q.add_ons).is_empty() {
            (faults.text(Text {
                name: "issue_base", label: "Counts from issue", value: typed_or(typed, "issue_base", ""), keys: "numeric",
                hint: "if the run has passed what its digits hold: 1000, or 100 with two digits", live: true, ..Text::default()
            }))
        }
        div.told role="status" data-live-into { (meaning(&q.add_ons, base, &[])) }
        (end)
    }
}

fn layout(add_ons: &[String], base: u32, typed: Option<&Sent>, faults: Faults<'_>) -> Markup {
    let five = five(add_ons);
    let Some(&first) = five.first() else { return html! {} };
    let likely = Layout::likely(&five).map(|layout| layout.to_string()).unwrap_or_default();
    let says = |layout: Layout| {
        let reading = Reading::new(first, layout);
        html! { (layout) ": " (AddOn::Five(first)) " is " (counted(reading, base)) }
    };
    let choices: Vec<_> = Layout::ALL.into_iter().map(|layout| (layout.to_string(), says(layout))).collect();
    faults.choice("layout", "How are the five digits laid out?", typed_or(typed, "layout", &likely), &choices)
}

/// A reading with its issue counted from a base.
fn counted(reading: Reading, base: u32) -> String {
    Reading { issue: reading.with_base(base), ..reading }.to_string()
}

/// What the add-ons mean under each layout, and which titles have the name already.
fn meaning(add_ons: &[String], base: u32, named: &[String]) -> Markup {
    let five = five(add_ons);
    html! {
        @if !named.is_empty() {
            p.doubt { "Of this name there is already: " (named.join("; ")) ". With the same volume and no other year or publisher it is taken for that." }
        }
        @if !five.is_empty() {
            div.wide tabindex="0" role="region" aria-label="What the add-ons mean" { table {
                caption { "What the add-ons mean" @if base > 0 { ", counted from issue " (base) } }
                thead { tr { th scope="col" { "Add-on" } @for layout in Layout::ALL { th scope="col" { (layout) } } } }
                tbody {
                    @for digits in five.iter().take(EXAMPLES as usize) {
                        tr {
                            td { (AddOn::Five(*digits)) }
                            @for layout in Layout::ALL { td { (counted(Reading::new(*digits, layout), base)) } }
                        }
                    }
                }
            } }
        }
    }
}

/// What an answer would mean, while it is typed.
pub(in crate::desk::pages::queue) async fn example(
    Path((ask, item)): Path<(String, ItemId)>,
    view: View,
    Fields(sent): Fields<Vec<(String, String)>>,
) -> Answer {
    let sent = Sent(sent);
    let base = sent.get("issue_base").parse().unwrap_or(0);
    let (add_ons, named) = view.ask(move |store| told(store, &ask, item, sent.get("title"))).await?;
    part(meaning(&add_ons, base, &named))
}

fn told(store: &Store, ask: &str, item: ItemId, name: &str) -> Result<(Vec<String>, Vec<String>), WorkflowError> {
    let Some(Question::Title(question)) = find(&open(store, &Answers::none())?, ask, item) else {
        return Ok((Vec::new(), Vec::new()));
    };
    let key = search_key(name);
    let named = if key.is_empty() { Vec::new() } else { workflow::title_list(store, name, 0, EXAMPLES)? };
    let same = named.iter().map(|known| &known.title).filter(|known| search_key(&known.name) == key);
    Ok((question.add_ons, same.map(title_in_words).collect()))
}

fn which(q: &WhichQuestion, typed: Option<&Sent>, faults: Faults<'_>, end: &Markup) -> Markup {
    let known = q.titles.iter().map(|known| (known.id.to_string(), html! { (known_in_words(known)) }));
    let choices: Vec<_> = known.chain([("new".to_owned(), html! { "a new volume" })]).collect();
    html! {
        @if !q.add_ons.is_empty() { p { "Add-ons: " (q.add_ons.join(", ")) } }
        (faults.choice("title", "Which title?", typed_or(typed, "title", ""), &choices))
        (volume(typed, faults))
        (end)
    }
}

fn volume(typed: Option<&Sent>, faults: Faults<'_>) -> Markup {
    let text = |name, label, keys| {
        faults.text(Text { name, label, keys, value: typed_or(typed, name, ""), ..Text::default() })
    };
    html! {
        (text("volume", "The new volume, if it is one", ""))
        (text("year", "Year in which it began", "numeric"))
    }
}

fn counting(q: &CountQuestion, typed: Option<&Sent>, faults: Faults<'_>, end: &Markup) -> Markup {
    // The next number in line is what a run that counts on would have.
    let next = q.highest.is_some_and(|highest| q.counted_on.first() == Some(&(highest + 1)));
    let choices = [
        ("counts_on".to_owned(), html! { "the run counts on: issue " (listed(&q.counted_on)) }),
        ("as_printed".to_owned(), html! { "as printed: issue " (listed(&q.printed)) }),
        ("new_volume".to_owned(), html! { "a new volume begins" }),
    ];
    html! {
        @if let Some(highest) = q.highest { p { "The highest issue owned is " (highest) "." } }
        (faults.choice("means", "What does the number mean?", typed_or(typed, "means", if next { "counts_on" } else { "" }), &choices))
        (volume(typed, faults))
        (end)
    }
}

fn issue(q: &IssueQuestion, typed: Option<&Sent>, faults: Faults<'_>, end: &Markup) -> Markup {
    let text = |name, label, proposal, keys| {
        faults.text(Text { name, label, keys, value: typed_or(typed, name, proposal), ..Text::default() })
    };
    html! {
        @match q.add_on.as_deref() {
            Some(two) if two.len() == 2 => p { "Its add-on is " (two) ": a month or a running number. Issue and year are on the cover." },
            Some(digits) => p { "Several that are listed have the add-on " (digits) "." },
            None => {}
        }
        (text("issue", "Issue", "", ""))
        (text("cover", "Cover", "1", ""))
        (text("printing", "Printing", "1", "numeric"))
        (end)
    }
}

fn known_in_words(known: &KnownTitle) -> String {
    let KnownTitle { id, title, publisher, volume, year, layout, highest } = known.clone();
    let title = Title { id, publisher, name: title, volume, year, layout, issue_base: 0 };
    let highest = highest.map(|issue| format!(", owned up to issue {issue}")).unwrap_or_default();
    format!("{}{highest}", title_in_words(&title))
}
