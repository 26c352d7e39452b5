//! What the collection costs, what a month may cost, and what was bought and read.

use std::sync::Arc;

use axum::Router;
use axum::extract::Query;
use axum::routing::{get, post};
use jiff::ToSpan;
use jiff::civil::Date;
use maud::{Markup, html};
use serde::Deserialize;

use crate::collection::{AgainstCover, Currency, Money, SpendBy, SpendGroup, Spending, Spent};
use crate::desk::frame::Place;
use crate::desk::site::Site;
use crate::desk::trouble::{Answer, Trouble};
use crate::desk::view::{Fields, View, lead};
use crate::desk::words::{choice, day, day_field, field, given, in_query, named, pager};
use crate::report::{lying, pairs};
use crate::workflow::{self, BoughtAndRead, MonthLimit, WorkflowError};

/// As many groups are drawn; the table has all.
const DRAWN: usize = 12;

/// So many groups stand in the table at once.
const GROUPS: usize = 100;

const BY: [(SpendBy, &str); 5] = [
    (SpendBy::Month, "month"),
    (SpendBy::Week, "week"),
    (SpendBy::Publisher, "publisher"),
    (SpendBy::Title, "title"),
    (SpendBy::Shop, "shop"),
];

pub(super) fn routes() -> Router<Arc<Site>> {
    Router::new()
        .route("/money", get(show))
        .route("/money/limit", post(set_limit))
        .route("/money/limit/remove", post(remove_limit))
}

#[derive(Debug, Default, Deserialize)]
struct Asked {
    #[serde(default)]
    by: String,
    #[serde(default)]
    from: String,
    #[serde(default)]
    to: String,
    #[serde(default)]
    skip: usize,
}

/// What is asked for, as it was meant.
#[derive(Clone, Copy)]
struct Question {
    by: SpendBy,
    word: &'static str,
    from: Date,
    to: Date,
    skip: usize,
}

impl Question {
    /// The last twelve months by month, unless something else is said.
    fn new(asked: &Asked, today: Date) -> Result<Self, Trouble> {
        let known = BY.iter().find(|(_, word)| *word == asked.by).or(BY.first().filter(|_| asked.by.is_empty()));
        let &(by, word) = known.ok_or_else(|| Trouble::data(format!("by: nothing is grouped by '{}'", asked.by)))?;
        let to = day("to", &asked.to)?.unwrap_or(today);
        let from = day("from", &asked.from)?.unwrap_or_else(|| to.saturating_sub(11.months()).first_of_month());
        if from > to {
            return Err(Trouble::data(format!("from: {from} is later than {to}")));
        }
        Ok(Self { by, word, from, to, skip: asked.skip })
    }

    fn in_time(self) -> bool {
        matches!(self.by, SpendBy::Month | SpendBy::Week)
    }

    fn address(self, skip: usize) -> String {
        format!("/money?by={}&from={}&to={}&skip={skip}", in_query(self.word), self.from, self.to)
    }
}

async fn show(view: View, Query(asked): Query<Asked>) -> Answer {
    let today = view.today();
    let question = Question::new(&asked, today)?;
    let (limits, spending, months) = view
        .ask(move |store| {
            let limits = workflow::month_limits(store, today)?;
            let spending = workflow::spend_against_cover(store, question.by, Some(question.from), Some(question.to))?;
            let months = workflow::bought_and_read(store, question.from, question.to)?;
            Ok::<_, WorkflowError>((limits, spending, months))
        })
        .await?;
    let body = html! {
        section { h2 { "This month's limit" } (limit_table(&view, &limits)) }
        form method="get" action="/money" {
            div.row {
                (choice("Sums by", "by", Some(question.word), None, BY.map(|(_, word)| word)))
                (day_field("From", "from", Some(question.from)))
                (day_field("To", "to", Some(question.to)))
                button.plain { "Show" }
            }
        }
        section { h2 { "Spent by " (question.word) } (spent(question, &spending)) }
        section { h2 { "Bought and read" } (counts(&months)) }
        p.dim { "Counted is what has a day. Currencies are never added to each other; copies without a price are counted apart." }
    };
    view.page(Place::Money, "Money and reading", body).await
}

fn limit_table(view: &View, limits: &[MonthLimit]) -> Markup {
    html! {
        @if limits.is_empty() { p { "No limit is set." } } @else {
            div.wide tabindex="0" role="region" aria-label="Month limits" { table {
                caption { "What may be spent in " (limits.first().map(|limit| limit.month.as_str()).unwrap_or_default()) }
                thead { tr { th.number scope="col" { "Limit" } th.number scope="col" { "Spent" } th.number scope="col" { "Left" } th scope="col" { "" span.unseen { "Remove" } } } }
                tbody { @for limit in limits {
                    tr {
                        td.number { (limit.limit) } td.number { (limit.spent) }
                        td.number { @if limit.left.minor_units < 0 { strong.bad { (limit.left) ", too much" } } @else { (limit.left) } }
                        td { (view.form("/money/limit/remove", html! {
                            input type="hidden" name="currency" value=(limit.limit.currency);
                            button.small { "Remove" span.unseen { " the limit of " (limit.limit) } }
                        })) }
                    }
                } }
            } }
        }
        (view.form("/money/limit", html! { div.row {
            (field("A month's limit", "limit", "", "such as 60.00 USD")) button.plain { "Set it" }
        } }))
    }
}

type Group<'a> = (Option<&'a SpendGroup>, &'a Spent);

fn paid_in(spent: &Spent, currency: Currency) -> Option<Money> {
    spent.paid.iter().find(|sum| sum.currency == currency).copied()
}

fn cover_in(spent: &Spent, currency: Currency) -> Option<&AgainstCover> {
    spent.against_cover.iter().find(|known| known.cover.currency == currency)
}

fn group_name(group: Option<&SpendGroup>) -> String {
    match group {
        None => "not known".to_owned(),
        Some(SpendGroup { title: Some(title), .. }) => named(title, ""),
        Some(group) => group.name.clone(),
    }
}

/// Sums in whole units of the currency: a plot's axis is as coarse.
fn whole(money: Money) -> u64 {
    money.amount().split('.').next().and_then(|whole| whole.parse().ok()).unwrap_or(0)
}

fn spent(question: Question, spending: &Spending) -> Markup {
    let mut groups: Vec<Group<'_>> = spending.groups().collect();
    let currencies: Vec<Currency> = spending.total.paid.iter().map(|sum| sum.currency).collect();
    let most = |groups: &mut Vec<Group<'_>>, currency: Currency| {
        groups.sort_by_key(|(_, spent)| std::cmp::Reverse(paid_in(spent, currency).map_or(0, |sum| sum.minor_units)));
    };
    if let (false, Some(first)) = (question.in_time(), currencies.first()) {
        // What is drawn stands on the table's first page.
        most(&mut groups, *first);
    }
    let all = groups.len();
    let shown: Vec<Group<'_>> = groups.iter().skip(question.skip).take(GROUPS).copied().collect();
    html! {
        @if all == 0 { p { "Nothing was bought from " (question.from) " to " (question.to) "." } }
        @for currency in &currencies {
            @let drawn = {
                let mut drawn: Vec<Group<'_>> = groups.iter().filter(|(_, spent)| paid_in(spent, *currency).is_some()).copied().collect();
                if question.in_time() { drawn.drain(..drawn.len().saturating_sub(DRAWN)); } else { most(&mut drawn, *currency); drawn.truncate(DRAWN); }
                drawn
            };
            (plots(question, *currency, &drawn))
        }
        @if all > 0 {
            (table(question, &shown, &spending.total))
            (pager("groups", question.skip, shown.len(), all, GROUPS, |skip| question.address(skip)))
        }
    }
}

fn plots(question: Question, currency: Currency, drawn: &[Group<'_>]) -> Markup {
    let bars: Vec<_> = drawn
        .iter()
        .filter_map(|(group, spent)| {
            let paid = paid_in(spent, currency)?;
            Some((group_name(*group), paid.minor_units, paid.to_string()))
        })
        .collect();
    let against: Vec<_> = drawn
        .iter()
        .filter_map(|(group, spent)| {
            let known = cover_in(spent, currency)?;
            Some((group_name(*group), [whole(known.cover), whole(known.paid)], known.saved()))
        })
        .collect();
    let which = match (drawn.len() < DRAWN, question.in_time()) {
        (true, _) => String::new(),
        (false, true) => format!(", the last {DRAWN}"),
        (false, false) => format!(", the first {DRAWN}"),
    };
    html! {
        (lying(&format!("spent-{currency}"), &format!("Spent by {}, {currency}{which}", question.word), &bars))
        @if question.by == SpendBy::Month && !against.is_empty() {
            @let pairs_of: Vec<(&str, [u64; 2])> = against.iter().map(|(name, sums, _)| (name.as_str(), *sums)).collect();
            (pairs(&format!("cover-{currency}"), &format!("Covers against paid, whole {currency}"), ["covers say", "paid"], &pairs_of))
        } @else if !against.is_empty() {
            @let saved: Vec<_> = against.iter().map(|(name, _, saved)| (name.clone(), saved.minor_units, saved.to_string())).collect();
            (lying(&format!("saved-{currency}"), &format!("Paid less than the covers say, {currency}"), &saved))
        }
    }
}

fn sums(sums: impl Iterator<Item = Money>) -> String {
    sums.map(|sum| sum.to_string()).collect::<Vec<_>>().join(", ")
}

fn table(question: Question, groups: &[Group<'_>], total: &Spent) -> Markup {
    let cells = |spent: &Spent| {
        html! {
            td.number { (spent.copies) }
            td.number { (sums(spent.paid.iter().copied())) }
            td.number { (spent.without_price) }
            td.number { (sums(spent.against_cover.iter().map(|known| known.cover))) }
            td.number { (sums(spent.against_cover.iter().map(|known| known.paid))) }
            td.number { (sums(spent.against_cover.iter().map(AgainstCover::saved))) }
        }
    };
    html! {
        div.wide tabindex="0" role="region" aria-label=(format!("Spent by {}", question.word)) { table {
            caption { "From " (question.from) " to " (question.to) "; covers are compared where both prices are known" }
            thead { tr {
                th scope="col" { (question.word) } th.number scope="col" { "Copies" } th.number scope="col" { "Paid" }
                th.number scope="col" { "Without a price" } th.number scope="col" { "Covers say" }
                th.number scope="col" { "Paid for these" } th.number scope="col" { "Less than covers" }
            } }
            tbody { @for (group, spent) in groups {
                tr {
                    th scope="row" { @match group.and_then(|group| group.title.as_ref()) {
                        Some(title) => a href=(format!("/title/{}", title.id)) { (named(title, "")) },
                        None => (group_name(*group)),
                    } }
                    (cells(spent))
                }
            } }
            tfoot { tr { th scope="row" { "all" } (cells(total)) } }
        } }
    }
}

fn counts(months: &[BoughtAndRead]) -> Markup {
    let drawn = &months[months.len().saturating_sub(DRAWN)..];
    let bars: Vec<(&str, [u64; 2])> = drawn.iter().map(|m| (m.month.as_str(), [m.bought, m.read])).collect();
    html! {
        (pairs("bought-read", "Issues by month", ["bought", "read"], &bars))
        div.wide tabindex="0" role="region" aria-label="Issues by month" { table {
            caption { "Issues by month" }
            thead { tr { th scope="col" { "month" } th.number scope="col" { "Bought" } th.number scope="col" { "Read" } } }
            tbody { @for month in months.iter().rev().take(GROUPS) {
                tr { th scope="row" { (month.month) } td.number { (month.bought) } td.number { (month.read) } }
            } }
        } }
    }
}

#[derive(Debug, Deserialize)]
struct LimitAsked {
    #[serde(default)]
    limit: String,
    #[serde(default)]
    currency: String,
    #[serde(default)]
    back: String,
}

async fn set_limit(view: View, Fields(asked): Fields<LimitAsked>) -> Answer {
    let now = view.now();
    let limit: Money = given("a month's limit", &asked.limit)?
        .ok_or_else(|| Trouble::data("a month's limit: write it with its currency, such as 60.00 USD"))?;
    let run = view.ask(move |store| workflow::set_month_limit(store, limit, now)).await?;
    lead(&asked.back, run)
}

async fn remove_limit(view: View, Fields(asked): Fields<LimitAsked>) -> Answer {
    let now = view.now();
    let currency: Currency = given("currency", &asked.currency)?
        .ok_or_else(|| Trouble::data("currency: say which limit is to be removed"))?;
    let run = view.ask(move |store| workflow::remove_month_limit(store, currency, now)).await?;
    lead(&asked.back, run)
}
