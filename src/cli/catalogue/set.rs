use clap::Args;
use jiff::civil::Date;

use super::super::edit::{edit, or_none};
use super::show::tell;
use super::{Exit, Global, Outcome, Ui};
use crate::collection::{CoverDate, Edit, Money, SizeClass};
use crate::workflow::{IssueChange, catalogue_set};

/// Completes or corrects what is known of an issue; 'none' makes a thing unknown again
///
/// The issue need not be owned. On-sale day and price are those of one cover and printing: the code's, or what --cover and
/// --printing say.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  boxward catalogue set tide wardens 12 --cover-date 2026-05 --key 'first appearance of the Lamplighter'"
)]
pub(super) struct Arguments {
    /// A code, or a title and an issue
    #[arg(required = true, value_name = "WORD", allow_negative_numbers = true)]
    query: Vec<String>,
    /// The date on its cover, such as 2026-05
    #[arg(long, value_name = "DATE", value_parser = or_none::<CoverDate>)]
    cover_date: Option<Edit<CoverDate>>,
    /// How many pages it has, cover not counted
    #[arg(long, value_name = "NUMBER", value_parser = or_none::<std::num::NonZeroU32>)]
    pages: Option<Edit<std::num::NonZeroU32>>,
    /// What bag and board it takes: current, silver, golden, magazine, treasury, digest; or paperback, hardcover
    #[arg(long, value_parser = or_none::<SizeClass>)]
    size: Option<Edit<SizeClass>>,
    /// The character or family that it is filed under
    #[arg(long, value_name = "NAME", value_parser = or_none::<String>)]
    family: Option<Edit<String>>,
    /// What makes it a key issue
    #[arg(long, value_name = "TEXT", value_parser = or_none::<String>)]
    key: Option<Edit<String>>,
    /// Which cover, such as A or 1:25
    #[arg(long, value_name = "COVER")]
    cover: Option<String>,
    /// Which printing
    #[arg(long, value_name = "NUMBER", value_parser = clap::value_parser!(u32).range(1..))]
    printing: Option<u32>,
    /// The day on which that cover and printing came out
    #[arg(long, value_name = "DAY", value_parser = or_none::<Date>)]
    on_sale: Option<Edit<Date>>,
    /// The price on it, such as '3.99 USD'
    #[arg(long, value_name = "MONEY", value_parser = or_none::<Money>)]
    price: Option<Edit<Money>>,
    /// The issue as a JSON object
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    let change = IssueChange {
        cover_date: edit(&arguments.cover_date),
        pages: edit(&arguments.pages).map(std::num::NonZeroU32::get),
        size: edit(&arguments.size),
        family: edit(&arguments.family),
        key: edit(&arguments.key),
        cover: arguments.cover.clone(),
        printing: arguments.printing,
        on_sale: edit(&arguments.on_sale),
        cover_price: edit(&arguments.price),
    };
    let (known, _) = catalogue_set(&global.existing_store()?, &arguments.query.join(" "), &change, global.now())?;
    tell(&known, arguments.json, ui)?;
    Ok(Exit::Done)
}
