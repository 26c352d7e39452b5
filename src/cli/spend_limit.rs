use clap::Args;

use super::day::Day;
use super::failure::{Failure, Outcome};
use super::ui::{Tone, Ui};
use super::{Exit, Global};
use crate::collection::{Currency, Money};
use crate::store::Store;
use crate::workflow::{MonthLimit, month_limits, remove_month_limit, set_month_limit};

/// What may be spent in a month, and what is left of it
///
/// One limit a currency. Without a limit given, shows those that are set.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward spend limit '60 USD'")]
pub(super) struct Arguments {
    /// The limit, such as '60 USD'
    #[arg(value_name = "MONEY", conflicts_with = "remove")]
    limit: Option<Money>,
    /// Removes the limit in this currency
    #[arg(long, value_name = "CURRENCY")]
    remove: Option<Currency>,
    /// One JSON object a line, one line a limit
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    let store = global.existing_store()?;
    if let Some(limit) = arguments.limit {
        set_month_limit(&store, limit, global.now())?;
    }
    if let Some(currency) = arguments.remove {
        remove_month_limit(&store, currency, global.now())?;
    }
    let limits = month_limits(&store, Day::Today.date(global.now()))?;
    for limit in &limits {
        if arguments.json {
            ui.json(limit)?;
        } else {
            let words = in_words(limit, ui);
            ui.line(words)?;
        }
    }
    if limits.is_empty() && !arguments.json {
        ui.line("no limit is set")?;
    }
    Ok(Exit::Done)
}

/// What is left of this month, for the sums of all months.
pub(super) fn tell(store: &Store, global: &Global, ui: &mut Ui) -> Result<(), Failure> {
    for limit in month_limits(store, Day::Today.date(global.now()))? {
        let words = in_words(&limit, ui);
        ui.line(words)?;
    }
    Ok(())
}

/// `limit of 2026-03: 7.98 USD of 60.00 USD spent, 52.02 USD left`.
fn in_words(limit: &MonthLimit, ui: &Ui) -> String {
    let left = match limit.left.minor_units {
        over if over < 0 => {
            let over = Money { minor_units: over.saturating_neg(), ..limit.left };
            ui.paint(&format!("{over} too much"), Tone::Doubt)
        }
        _ => ui.paint(&format!("{} left", limit.left), Tone::Good),
    };
    format!("limit of {}: {} of {} spent, {left}", limit.month, limit.spent, limit.limit)
}
