use std::path::PathBuf;

use clap::Args;
use serde::Serialize;

use super::super::failure::Outcome;
use super::super::ui::{Tone, Ui};
use super::super::{Exit, Global, page_file};
use crate::collection::{LeftCount, Money, MonthCounts, Spent, WithoutDay, YearReview};
use crate::report::year_page;
use crate::workflow::year_review;

/// A year in review: what was bought and read by month, what was spent by publisher, what left
///
/// Counted is what has a day; how many copies have none is said at the end. With --page, a page with plots.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward report year 2026 --page 2026.html")]
pub(super) struct Arguments {
    /// The year, such as 2026
    #[arg(value_parser = a_year)]
    year: i16,
    /// Writes a page with plots into this file
    #[arg(long, value_name = "OUT.html", conflicts_with = "json")]
    page: Option<PathBuf>,
    /// As a JSON object
    #[arg(long)]
    json: bool,
}

fn a_year(text: &str) -> Result<i16, String> {
    let year = text.parse().ok().filter(|year| (1..=9999).contains(year));
    year.ok_or_else(|| "a year has up to four digits, such as 2026".to_owned())
}

/// A year in JSON; its fields are documented in the README and must stay.
#[derive(Debug, Serialize)]
struct YearLine<'a> {
    year: i16,
    bought: u64,
    was_read: u64,
    months: &'a [MonthCounts],
    publishers: Vec<Publisher<'a>>,
    total: &'a Spent,
    left: &'a [LeftCount],
    without_day: &'a WithoutDay,
}

#[derive(Debug, Serialize)]
struct Publisher<'a> {
    publisher: Option<&'a str>,
    #[serde(flatten)]
    spent: &'a Spent,
}

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    let review = year_review(&global.existing_store()?, arguments.year)?;
    if let Some(out) = &arguments.page {
        page_file::write(out, &year_page(&review))?;
        ui.note(format_args!("the year {} is in {}", review.year, out.display()));
    } else if arguments.json {
        ui.json(&line(&review))?;
    } else {
        tell(&review, ui)?;
    }
    Ok(Exit::Done)
}

fn line(review: &YearReview) -> YearLine<'_> {
    let (bought, read) = review.totals();
    let publisher = |(group, spent)| {
        let group: Option<&crate::collection::SpendGroup> = group;
        Publisher { publisher: group.map(|group| group.name.as_str()), spent }
    };
    YearLine {
        year: review.year,
        bought,
        was_read: read,
        months: &review.months,
        publishers: review.spending.groups().map(publisher).collect(),
        total: &review.spending.total,
        left: &review.left,
        without_day: &review.without_day,
    }
}

fn tell(review: &YearReview, ui: &mut Ui) -> std::io::Result<()> {
    let (bought, read) = review.totals();
    let year = ui.paint(&review.year.to_string(), Tone::Strong);
    ui.line(format_args!("{year}: {bought} bought{}, {read} read", for_much(&review.spending.total.paid)))?;
    for month in review.months.iter().filter(|month| month.bought + month.read > 0) {
        let MonthCounts { month, bought, read } = month;
        ui.line(format_args!("  {}-{month:02}: {bought} bought, {read} read", review.year))?;
    }
    for (group, spent) in review.spending.groups() {
        let name = group.map_or("no publisher", |group| &group.name);
        ui.line(format_args!("  {name}: {} bought{}", spent.copies, for_much(&spent.paid)))?;
    }
    for LeftCount { how, copies, price } in &review.left {
        let price = price.map(|price| format!(" for {price}")).unwrap_or_default();
        ui.line(format_args!("  {how}: {copies}{price}"))?;
    }
    if review.without_day != WithoutDay::default() {
        let WithoutDay { bought, read } = review.without_day;
        ui.line(format_args!("  in no year, because no day is known: {bought} bought, {read} read"))?;
    }
    Ok(())
}

/// ` for 3.99 USD and 2.50 GBP`, or nothing.
fn for_much(paid: &[Money]) -> String {
    if paid.is_empty() {
        return String::new();
    }
    format!(" for {}", paid.iter().map(ToString::to_string).collect::<Vec<_>>().join(" and "))
}
