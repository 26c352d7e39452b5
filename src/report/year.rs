//! A year in review as a page: plots, and the same numbers in tables.

use maud::{Markup, html};

use super::page::page;
use super::plot;
use crate::collection::{Currency, Money, SpendGroup, Spent, WithoutDay, YearReview};

const MONTHS: [&str; 12] = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];

/// As many publishers are drawn; the table has all.
const DRAWN: usize = 12;

/// The page of a year.
#[must_use]
pub fn year_page(review: &YearReview) -> String {
    let (bought, read) = review.totals();
    let spent = &review.spending.total;
    let body = html! {
        p.lead { (bought) " bought" @if !spent.paid.is_empty() { " for " (sums(spent)) } "; " (read) " read." }
        section { (months(review)) }
        section { (publishers(review)) }
        @if !review.left.is_empty() { section { (left(review)) } }
        p.note {
            "Counted is what has a day: copies acquired, and copies read. "
            @if review.without_day != WithoutDay::default() {
                "Without one are " (review.without_day.bought) " acquired and " (review.without_day.read) " read. "
            }
            "Currencies are never added to each other."
        }
    };
    page(&format!("{} in comics", review.year), plot::PLOT_STYLE, &body)
}

fn months(review: &YearReview) -> Markup {
    let bars: Vec<_> = MONTHS.into_iter().zip(&review.months).map(|(name, m)| (name, [m.bought, m.read])).collect();
    html! {
        (plot::pairs("months", "Issues by month", ["bought", "read"], &bars))
        div.wide { table {
            caption { "Issues by month" }
            thead { tr { th scope="col" { "Month" } th.number scope="col" { "Bought" } th.number scope="col" { "Read" } } }
            tbody {
                @for (name, [bought, read]) in bars {
                    tr { th scope="row" { (name) } td.number { (bought) } td.number { (read) } }
                }
            }
        } }
    }
}

fn publishers(review: &YearReview) -> Markup {
    let groups: Vec<_> = review.spending.groups().collect();
    let currencies: Vec<Currency> = review.spending.total.paid.iter().map(|sum| sum.currency).collect();
    html! {
        @for currency in &currencies {
            (plot::lying(&format!("spent-{currency}"), &format!("Spent by publisher, {currency}"), &most_spent(&groups, *currency)))
        }
        div.wide { table {
            caption { "Spent by publisher" }
            thead { tr {
                th scope="col" { "Publisher" }
                th.number scope="col" { "Copies" }
                th.number scope="col" { "Paid" }
                th.number scope="col" { "Without a price" }
            } }
            tbody {
                @for (group, spent) in &groups {
                    tr {
                        th scope="row" { (name(*group)) }
                        td.number { (spent.copies) }
                        td.number { (sums(spent)) }
                        td.number { (spent.without_price) }
                    }
                }
            }
        } }
    }
}

fn name(group: Option<&SpendGroup>) -> &str {
    group.map_or("no publisher known", |group| &group.name)
}

fn sums(spent: &Spent) -> String {
    spent.paid.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ")
}

/// The publishers that most was spent on in a currency, most first.
fn most_spent(groups: &[(Option<&SpendGroup>, &Spent)], currency: Currency) -> Vec<(String, i64, String)> {
    let of = |spent: &Spent| spent.paid.iter().find(|sum| sum.currency == currency).copied();
    let mut bars: Vec<(String, Money)> =
        groups.iter().filter_map(|(group, spent)| Some((name(*group).to_owned(), of(spent)?))).collect();
    bars.sort_by_key(|(_, sum)| std::cmp::Reverse(sum.minor_units));
    bars.truncate(DRAWN);
    bars.into_iter().map(|(name, sum)| (name, sum.minor_units, sum.to_string())).collect()
}

fn left(review: &YearReview) -> Markup {
    html! {
        div.wide { table {
            caption { "Left the collection" }
            thead { tr { th scope="col" { "How" } th.number scope="col" { "Copies" } th.number scope="col" { "For" } } }
            tbody {
                @for left in &review.left {
                    tr {
                        th scope="row" { (left.how) }
                        td.number { (left.copies) }
                        td.number { @if let Some(price) = left.price { (price) } @else { "no price" } }
                    }
                }
            }
        } }
    }
}
