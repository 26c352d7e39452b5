use clap::builder::PossibleValue;
use clap::{Args, Subcommand, ValueEnum};
use serde::Serialize;

use super::day::{Day, day};
use super::failure::{Failure, Outcome};
use super::ui::{Tone, Ui};
use super::words::{count, title_in_words};
use super::{Exit, Global, spend_limit};
use crate::collection::{AgainstCover, Money, SpendBy, SpendGroup, Spent};
use crate::workflow;

/// What the collection cost, by week, month, publisher, title or shop
///
/// By the prices that were recorded; copies without one are counted apart. Currencies are never added to each other.
#[derive(Debug, Args)]
#[command(args_conflicts_with_subcommands = true, after_help = "Example:\n  boxward spend --by shop --from 2026-01-01")]
pub(super) struct Arguments {
    #[command(subcommand)]
    command: Option<Command>,
    /// What the sums are grouped by
    #[arg(long, value_name = "GROUP", default_value = "month")]
    by: SpendBy,
    /// Only what was bought on this day or later: today, or such as 2026-03-04
    #[arg(long, value_name = "DAY", value_parser = day)]
    from: Option<Day>,
    /// Only what was bought on this day or earlier
    #[arg(long, value_name = "DAY", value_parser = day)]
    to: Option<Day>,
    /// With what the covers say against what was paid, where both are known
    #[arg(long)]
    cover: bool,
    /// One JSON object a line, one line a group, then the total
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Subcommand)]
enum Command {
    Limit(spend_limit::Arguments),
}

impl ValueEnum for SpendBy {
    fn value_variants<'a>() -> &'a [Self] {
        &[Self::Week, Self::Month, Self::Publisher, Self::Title, Self::Shop]
    }

    fn to_possible_value(&self) -> Option<PossibleValue> {
        Some(PossibleValue::new(match self {
            Self::Week => "week",
            Self::Month => "month",
            Self::Publisher => "publisher",
            Self::Title => "title",
            Self::Shop => "shop",
        }))
    }
}

/// A group in JSON; its fields are documented in the README and must stay.
#[derive(Debug, Serialize)]
struct GroupLine<'a> {
    by: SpendBy,
    group: Option<&'a str>,
    title: Option<i64>,
    #[serde(flatten)]
    spent: &'a Spent,
}

/// The last line in JSON.
#[derive(Debug, Serialize)]
struct TotalLine<'a> {
    total: &'a Spent,
}

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    if let Some(Command::Limit(limit)) = &arguments.command {
        return spend_limit::run(limit, global, ui);
    }
    let by = arguments.by;
    let [from, to] = [arguments.from, arguments.to].map(|day| day.map(|day| day.date(global.now())));
    if from.zip(to).is_some_and(|(from, to)| from > to) {
        return Err(Failure::call("--from is a later day than --to"));
    }
    let store = global.existing_store()?;
    let spend = if arguments.cover { workflow::spend_against_cover } else { workflow::spend };
    let spending = spend(&store, by, from, to)?;
    for (group, spent) in spending.groups() {
        if arguments.json {
            let title = group.and_then(|group| group.title.as_ref()).map(|title| title.id.number());
            ui.json(&GroupLine { by, group: group.map(|group| group.name.as_str()), title, spent })?;
        } else {
            let name = ui.paint(&named(by, group), Tone::Strong);
            ui.line(format_args!("{name}: {}", in_words(spent)))?;
        }
    }
    if arguments.json {
        ui.json(&TotalLine { total: &spending.total })?;
    } else {
        ui.line(format_args!("in all: {}", in_words(&spending.total)))?;
        spend_limit::tell(&store, global, ui)?;
    }
    Ok(Exit::Done)
}

fn named(by: SpendBy, group: Option<&SpendGroup>) -> String {
    let Some(group) = group else {
        let unknown = match by {
            SpendBy::Week | SpendBy::Month => "no date",
            SpendBy::Publisher => "no publisher",
            SpendBy::Title => "no title",
            SpendBy::Shop => "no shop",
        };
        return unknown.to_owned();
    };
    group.title.as_ref().map_or_else(|| group.name.clone(), title_in_words)
}

/// `3 copies, 3.99 USD, 2.50 GBP, 1 without a price`.
fn in_words(spent: &Spent) -> String {
    let mut parts = vec![count(spent.copies, "copy")];
    parts.extend(spent.paid.iter().map(ToString::to_string));
    if spent.without_price > 0 {
        parts.push(format!("{} without a price", spent.without_price));
    }
    let against = spent.against_cover.iter().map(|of| format!("; {}", against_cover(of))).collect::<String>();
    parts.join(", ") + &against
}

/// `2 copies with a cover price: 7.98 USD on the cover, 7.18 USD paid, 0.80 USD less`.
fn against_cover(of: &AgainstCover) -> String {
    let saved = of.saved();
    let apart = match saved.minor_units {
        0 => "the same".to_owned(),
        less if less > 0 => format!("{saved} less"),
        more => format!("{} more", Money { minor_units: more.saturating_neg(), ..saved }),
    };
    let copies = count(of.copies, "copy");
    format!("{copies} with a cover price: {} on the cover, {} paid, {apart}", of.cover, of.paid)
}
