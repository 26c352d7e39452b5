use clap::Args;
use serde::Serialize;

use super::super::failure::Outcome;
use super::super::ui::{Tone, Ui};
use super::super::words::{count, issue_in_words, named};
use super::super::{Exit, Global};
use crate::filing::{Annuals, FilingRule};
use crate::workflow::{RuleExample, filing_settings, rule_example, rule_set};

/// The order in which copies stand, shown with an example before it is set
///
/// Words in their order: publisher, family, title and volume order titles; issue, cover and printing the copies of a title. A leading
/// article counts nothing, and numbers in names stand by value. Family before title keeps a family together: only then its
/// short series share a divider. Issues with names, such as annuals, stand behind the numbered
/// ones, before them, or dated: among them by the dates on their covers. No record says where in its box a copy stands: it is
/// taken to stand in this order, so that boxes which hold some in another are named, to be sorted. Without --apply nothing is set.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward file rule 'family, title, volume, issue, cover, printing' --apply")]
pub(super) struct Arguments {
    /// The order [default: the present one]
    #[arg(value_name = "ORDER")]
    order: Option<FilingRule>,
    /// Where annuals stand: behind, before, or dated
    #[arg(long, value_name = "WHERE")]
    annuals: Option<Annuals>,
    /// Sets the order
    #[arg(long)]
    apply: bool,
    /// The order and its example as a JSON object
    #[arg(long)]
    json: bool,
}

/// How many boxes a line names.
const BOXES_NAMED: usize = 20;

/// Its fields are documented in the README and must stay.
#[derive(Debug, Serialize)]
struct RuleLine<'a> {
    #[serde(flatten)]
    example: &'a RuleExample,
    set: bool,
}

pub(in super::super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    let store = global.existing_store()?;
    let present = filing_settings(&store)?.rule;
    let annuals = arguments.annuals.unwrap_or(present.annuals());
    let rule = arguments.order.clone().unwrap_or(present.clone()).with_annuals(annuals);
    let example = rule_example(&store, &rule)?;
    if arguments.apply {
        rule_set(&store, &rule, global.now())?;
    }
    let set = arguments.apply || rule == present;
    if arguments.json {
        ui.json(&RuleLine { example: &example, set })?;
        return Ok(Exit::Done);
    }
    let order = ui.paint(&example.order, Tone::Strong);
    ui.line(format_args!("{order}; annuals {}", annuals_in_words(example.annuals)))?;
    for copy in &example.example {
        let issue = issue_in_words(&copy.issue, &copy.cover, copy.printing);
        ui.line(format_args!("  {}", named(&copy.title, &issue)))?;
    }
    if example.out_of_place > 0 {
        let copies = count(example.out_of_place, "copy");
        ui.line(format_args!("{copies} in boxes would stand behind another than now"))?;
    }
    if let Some(boxes) = boxes_in_words(&example.to_sort) {
        let when = if arguments.apply { "now to be sorted" } else { "would have to be sorted" };
        ui.line(format_args!("{when}: {boxes}; boxward box show LABEL lists one in its new order"))?;
        ui.note("find and file plan go by the new order: what they say of places in a box is true once it is sorted");
    }
    if rule.tears_families() {
        ui.note("family stands behind title: a family's titles are apart, and its short series share no divider; put it before title");
    }
    if !set {
        ui.note("nothing is set yet; --apply sets it");
    }
    Ok(Exit::Done)
}

/// `Box 1, Box 2`; of many only the first.
fn boxes_in_words(labels: &[String]) -> Option<String> {
    let named = labels.iter().take(BOXES_NAMED).map(String::as_str).collect::<Vec<_>>().join(", ");
    match labels.len().saturating_sub(BOXES_NAMED) {
        _ if labels.is_empty() => None,
        0 => Some(named),
        more => Some(format!("{named} and {more} more")),
    }
}

fn annuals_in_words(annuals: Annuals) -> &'static str {
    match annuals {
        Annuals::Behind => "behind the numbered issues",
        Annuals::Before => "before the numbered issues",
        Annuals::Dated => "among the numbered issues by the dates on their covers",
    }
}
