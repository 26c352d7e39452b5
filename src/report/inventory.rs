//! The inventory for an insurer: every copy, grouped by publisher and title, with totals a currency.

use std::borrow::Cow;

use jiff::civil::Date;
use maud::{Markup, html};
use serde::Serialize;

use super::page::{data_url, page};
use super::table::csv_line;
use crate::collection::{CopyRecord, Money, Spent, SumError, Title};

/// What goes with every value.
pub const NO_APPRAISAL: &str =
    "values are their owner's own figures and no appraisal; for insurance or a sale ask a professional appraiser";

/// What goes with old bags (common practice).
pub const OLD_BAGS: &str = "common practice: bags of polypropylene and polyethylene are changed after some years, those of \
     polyester film last longer, and a board that is not free of acid stains paper; for a valued book ask a paper conservator first";

/// Sums over copies.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct Totals {
    /// How many.
    pub copies: u64,
    /// What they cost.
    pub paid: Vec<Money>,
    /// Those without a price.
    pub without_price: u64,
    /// What their owner holds them to be worth.
    pub value: Vec<Money>,
    /// Those without a value.
    pub without_value: u64,
}

impl Totals {
    /// Adds a copy.
    ///
    /// # Errors
    /// If a sum is too large.
    pub fn add(&mut self, copy: &CopyRecord) -> Result<(), SumError> {
        let add = |sums: &mut Vec<Money>, without: &mut u64, money| {
            let mut sum = Spent { paid: std::mem::take(sums), ..Spent::default() };
            let added = sum.add(1, money);
            *sums = sum.paid;
            *without += sum.without_price;
            added
        };
        self.copies += 1;
        add(&mut self.paid, &mut self.without_price, copy.paid)?;
        add(&mut self.value, &mut self.without_value, copy.facts.value)
    }
}

/// Copies of a title.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TitleCopies {
    /// The title.
    pub title: Title,
    /// Its copies, each with its photo (JPEG), if one is wanted and kept.
    pub copies: Vec<(CopyRecord, Option<Vec<u8>>)>,
    /// Their sums.
    pub totals: Totals,
}

/// A publisher's titles, and their sums.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PublisherCopies {
    /// Its name, if it is known.
    pub publisher: Option<String>,
    /// The titles, in order.
    pub titles: Vec<TitleCopies>,
    /// Their sums.
    pub totals: Totals,
}

/// Copies that come in order, grouped.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Inventory {
    /// The publishers, in order.
    pub publishers: Vec<PublisherCopies>,
    /// The sums of all.
    pub totals: Totals,
}

impl Inventory {
    /// Adds the next copy; those of a publisher, and of a title, come one after another.
    ///
    /// # Errors
    /// If a sum is too large.
    pub fn add(&mut self, copy: CopyRecord, photo: Option<Vec<u8>>) -> Result<(), SumError> {
        self.totals.add(&copy)?;
        if self.publishers.last().is_none_or(|last| last.publisher != copy.title.publisher) {
            let (publisher, totals) = (copy.title.publisher.clone(), Totals::default());
            self.publishers.push(PublisherCopies { publisher, titles: Vec::new(), totals });
        }
        let Some(of) = self.publishers.last_mut() else { return Ok(()) };
        of.totals.add(&copy)?;
        if of.titles.last().is_none_or(|last| last.title.id != copy.title.id) {
            let (title, totals) = (copy.title.clone(), Totals::default());
            of.titles.push(TitleCopies { title, copies: Vec::new(), totals });
        }
        let Some(of) = of.titles.last_mut() else { return Ok(()) };
        of.totals.add(&copy)?;
        of.copies.push((copy, photo));
        Ok(())
    }

    /// As a page to print, as of a day.
    #[must_use]
    pub fn page(&self, day: Date) -> String {
        let body = html! {
            p.lead { "As of " (day) ": " (in_words(&self.totals)) "." }
            @if !self.totals.value.is_empty() { p.note { "The " (NO_APPRAISAL) "." } }
            @for of in &self.publishers {
                section {
                    h2 { (of.publisher.as_deref().unwrap_or("No publisher known")) }
                    p.note { (in_words(&of.totals)) }
                    @for title in &of.titles { (table(title)) }
                }
            }
        };
        page("Inventory of comics", STYLE, &body)
    }
}

const STYLE: &str = "
.wide + .wide { margin-top: 1rem; } tfoot td { font-weight: 600; } td img { max-height: 8rem; max-width: 8rem; display: block; }
";

/// `3 copies; paid 7.98 USD, 1 without a price; value 12.00 USD, 2 without a value`.
fn in_words(totals: &Totals) -> String {
    let copies = if totals.copies == 1 { "1 copy".to_owned() } else { format!("{} copies", totals.copies) };
    let paid = sums(&totals.paid, totals.without_price, "a price");
    let value = sums(&totals.value, totals.without_value, "a value");
    format!("{copies}; paid: {paid}; value: {value}")
}

fn sums(money: &[Money], without: u64, what: &str) -> String {
    let mut parts: Vec<String> = money.iter().map(ToString::to_string).collect();
    if without > 0 {
        parts.push(format!("{without} without {what}"));
    }
    if parts.is_empty() { "nothing".to_owned() } else { parts.join(", ") }
}

fn table(of: &TitleCopies) -> Markup {
    let title = &of.title;
    let photos = of.copies.iter().any(|(_, photo)| photo.is_some());
    let money = |money: Option<Money>| money.map(|money| money.to_string()).unwrap_or_default();
    html! {
        div.wide {
            table {
                caption {
                    (title.name)
                    @if !title.volume.is_empty() { ", volume " (title.volume) }
                    @if let Some(year) = title.year { " (" (year) ")" }
                }
                thead {
                    tr {
                        th scope="col" { "Issue" }
                        th scope="col" { "Cover, printing" }
                        th scope="col" { "Condition" }
                        th scope="col" { "Notes" }
                        th scope="col" { "Bought" }
                        th.number scope="col" { "Paid" }
                        th.number scope="col" { "Value" }
                        @if photos { th scope="col" { "Photo" } }
                    }
                }
                tbody {
                    @for (copy, photo) in &of.copies {
                        tr {
                            td { (issue(copy)) }
                            td { (copy.cover) ", " (copy.printing) }
                            td { @if let Some(grade) = copy.facts.condition { (grade) } }
                            td { (notes(copy)) }
                            td { (bought(copy)) }
                            td.number { (money(copy.paid)) }
                            td.number { (money(copy.facts.value)) }
                            @if photos {
                                td {
                                    @if let Some(jpeg) = photo {
                                        img alt={ "photo of " (title.name) " " (copy.issue) }
                                            src=(data_url("image/jpeg", jpeg));
                                    }
                                }
                            }
                        }
                    }
                }
                tfoot { tr { td colspan=(if photos { 8 } else { 7 }) { (in_words(&of.totals)) } } }
            }
        }
    }
}

fn issue(copy: &CopyRecord) -> &str {
    if copy.issue.is_empty() { "whole book" } else { &copy.issue }
}

fn notes(copy: &CopyRecord) -> String {
    let parts = [
        copy.facts.defects.clone(),
        copy.facts.signed_by.as_ref().map(|by| format!("signed by {by}")),
        copy.lent.as_ref().map(|loan| format!("lent to {} since {}", loan.to, loan.since)),
        copy.gone.as_ref().map(|gone| format!("{} on {}", gone.how, gone.on)),
    ];
    parts.into_iter().flatten().collect::<Vec<_>>().join("; ")
}

fn bought(copy: &CopyRecord) -> String {
    let parts = [copy.acquired.map(|day| day.to_string()), copy.shop.clone()];
    parts.into_iter().flatten().collect::<Vec<_>>().join(", ")
}

/// The first line of an inventory as CSV: the columns' names, which must stay.
#[must_use]
pub fn inventory_head() -> Vec<u8> {
    csv_line(COLUMNS.map(Cow::Borrowed))
}

const COLUMNS: [&str; 29] = [
    "copy",
    "publisher",
    "title",
    "volume",
    "year",
    "issue",
    "cover",
    "printing",
    "code",
    "add_on",
    "acquired",
    "shop",
    "paid",
    "paid_currency",
    "cover_price",
    "cover_currency",
    "condition",
    "defects",
    "signed_by",
    "bag",
    "board",
    "bag_size",
    "bagged_on",
    "value",
    "value_currency",
    "valued_on",
    "lent_to",
    "read",
    "read_on",
];

/// A copy's line of an inventory as CSV.
#[must_use]
pub fn inventory_line(copy: &CopyRecord) -> Vec<u8> {
    let text = |text: Option<&str>| text.unwrap_or_default().to_owned();
    let day = |day: Option<Date>| day.map(|day| day.to_string()).unwrap_or_default();
    let money = |money: Option<Money>| money.map(|m| [m.amount(), m.currency.to_string()]).unwrap_or_default();
    let ([paid, paid_in], [cover, cover_in]) = (money(copy.paid), money(copy.price.cover_price));
    let [value, value_in] = money(copy.facts.value);
    let (title, facts, bagging) = (&copy.title, &copy.facts, &copy.bagging);
    let cells: [String; COLUMNS.len()] = [
        copy.copy.to_string(),
        text(title.publisher.as_deref()),
        title.name.clone(),
        title.volume.clone(),
        title.year.map(|year| year.to_string()).unwrap_or_default(),
        copy.issue.clone(),
        copy.cover.clone(),
        copy.printing.to_string(),
        copy.code.map(|code| code.to_string()).unwrap_or_default(),
        copy.add_on.map(|add_on| add_on.to_string()).unwrap_or_default(),
        day(copy.acquired),
        text(copy.shop.as_deref()),
        paid,
        paid_in,
        cover,
        cover_in,
        facts.condition.map(|grade| grade.to_string()).unwrap_or_default(),
        text(facts.defects.as_deref()),
        text(facts.signed_by.as_deref()),
        bagging.bag.map(|bag| bag.to_string()).unwrap_or_default(),
        bagging.board.map(|board| board.to_string()).unwrap_or_default(),
        bagging.bag_size.map(|size| size.to_string()).unwrap_or_default(),
        day(bagging.bagged_on),
        value,
        value_in,
        day(facts.valued_on),
        copy.lent.as_ref().map(|loan| loan.to.clone()).unwrap_or_default(),
        if copy.read { "yes" } else { "no" }.to_owned(),
        day(copy.read_on),
    ];
    csv_line(cells.into_iter().map(Cow::Owned))
}
