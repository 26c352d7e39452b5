use std::num::NonZeroU32;

use clap::{Args, Subcommand};
use jiff::civil::Date;

use super::edit::{edit, or_none};
use super::failure::Outcome;
use super::ui::{Tone, Ui};
use super::words::{count, title_in_words, typed_code};
use super::{Exit, Global};
use crate::collection::{Edit, SizeClass, TitleChange, TitleId};
use crate::meaning::Layout;
use crate::store::MOST_TITLES;
use crate::workflow::{CodeDate, TitleDetail, title_list, title_set, title_show};

/// How many titles are fetched at once, so that a long list needs little memory.
const PAGE: u32 = 500;

/// Lists titles and corrects what is known of them
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward title list")]
pub(super) struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    List(ListArguments),
    Show(ShowArguments),
    Set(SetArguments),
}

/// Lists titles by name
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward title list tide wardens")]
struct ListArguments {
    /// Only those that fit this name, typed loosely
    #[arg(value_name = "WORD")]
    name: Vec<String>,
    /// One JSON object a line, one line a title
    #[arg(long)]
    json: bool,
}

/// Shows all that is known of a title itself
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward title show 3")]
struct ShowArguments {
    /// Its number
    title: TitleId,
    /// The title as a JSON object
    #[arg(long)]
    json: bool,
}

/// Corrects a title
///
/// Issues that are recorded keep their numbers: a changed layout or base counts for codes that are resolved later.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward title set 3 --publisher 'Brass Heron' --layout IICCP")]
struct SetArguments {
    /// Its number
    title: TitleId,
    /// Its name
    #[arg(long)]
    name: Option<String>,
    /// Its publisher; empty for none
    #[arg(long)]
    publisher: Option<String>,
    /// Its volume; empty for none
    #[arg(long)]
    volume: Option<String>,
    /// The year in which it began, or none
    #[arg(long, value_parser = or_none::<i16>)]
    year: Option<Edit<i16>>,
    /// How its five-digit add-ons are laid out: IIICP or IICCP; or none if that is not known
    #[arg(long, value_parser = or_none::<Layout>)]
    layout: Option<Edit<Layout>>,
    /// What is added to the digits' issue number, if it counts past what they can hold
    #[arg(long, value_name = "NUMBER")]
    issue_base: Option<u32>,
    /// A further code that stands for it
    #[arg(long, value_name = "DIGITS")]
    code: Option<String>,
    /// The day since which that code stands for it
    #[arg(long, value_name = "DAY", requires = "code")]
    since: Option<Date>,
    /// The character or family that it is filed under, or none
    #[arg(long, value_name = "NAME", value_parser = or_none::<String>)]
    family: Option<Edit<String>>,
    /// What bag and board its issues take: current, silver, golden, magazine, treasury, digest; or paperback, hardcover; or none
    #[arg(long, value_parser = or_none::<SizeClass>)]
    size: Option<Edit<SizeClass>>,
    /// How many pages its issues have, cover not counted, or none
    #[arg(long, value_name = "NUMBER", value_parser = or_none::<NonZeroU32>)]
    pages: Option<Edit<NonZeroU32>>,
    /// The title as a JSON object
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    match &arguments.command {
        Command::List(arguments) => list(arguments, global, ui),
        Command::Show(arguments) => {
            let title = title_show(&global.existing_store()?, arguments.title)?;
            show_all(&title, arguments.json, ui)?;
            Ok(Exit::Done)
        }
        Command::Set(arguments) => {
            let change = TitleChange {
                publisher: arguments.publisher.clone(),
                name: arguments.name.clone(),
                volume: arguments.volume.clone(),
                year: edit(&arguments.year),
                layout: edit(&arguments.layout),
                issue_base: arguments.issue_base,
                code: arguments.code.as_deref().map(typed_code).transpose()?.map(|(gtin, _)| gtin),
                since: arguments.since,
                family: edit(&arguments.family),
                size: edit(&arguments.size),
                pages: edit(&arguments.pages).map(NonZeroU32::get),
            };
            let (title, _) = title_set(&global.existing_store()?, arguments.title, &change, global.now())?;
            show_all(&title, arguments.json, ui)?;
            Ok(Exit::Done)
        }
    }
}

/// The list's line, and what has no place in it.
fn show_all(detail: &TitleDetail, json: bool, ui: &mut Ui) -> std::io::Result<()> {
    show(detail, json, ui)?;
    if json {
        return Ok(());
    }
    let told = [
        detail.facts.family.as_ref().map(|family| format!("family {family}")),
        detail.facts.size.map(|size| format!("size {size}")),
        detail.facts.pages.map(|pages| count(pages, "page")),
    ];
    let told: Vec<_> = told.into_iter().flatten().collect();
    if !told.is_empty() {
        ui.line(format_args!("  {}", told.join(", ")))?;
    }
    for CodeDate { code, since } in &detail.codes_since {
        ui.line(format_args!("  code {} since {since}", code.printed()))?;
    }
    Ok(())
}

/// Says so where a name may have fitted more titles than one look-up gives.
pub(super) fn more_may_fit(listed: usize, ui: &mut Ui) {
    if listed >= MOST_TITLES as usize {
        ui.note(format_args!("further titles may fit after these {MOST_TITLES}: type more of the name"));
    }
}

fn list(arguments: &ListArguments, global: &Global, ui: &mut Ui) -> Outcome {
    let store = global.existing_store()?;
    let name = arguments.name.join(" ");
    let mut listed = 0;
    loop {
        let titles = title_list(&store, &name, listed, PAGE)?;
        for title in &titles {
            show(title, arguments.json, ui)?;
        }
        listed += u32::try_from(titles.len()).unwrap_or(PAGE);
        // A name gives all its titles at once.
        if titles.len() < PAGE as usize || !name.is_empty() {
            break;
        }
    }
    if !arguments.json {
        ui.note(count(listed, "title"));
    }
    if !name.is_empty() {
        more_may_fit(listed as usize, ui);
    }
    Ok(Exit::Done)
}

fn show(detail: &TitleDetail, json: bool, ui: &mut Ui) -> std::io::Result<()> {
    if json {
        return ui.json(detail);
    }
    let name = ui.paint(&title_in_words(&detail.title), Tone::Strong);
    let layout = detail.title.layout.map(|layout| format!(", layout {layout}")).unwrap_or_default();
    let base = match detail.title.issue_base {
        0 => String::new(),
        base => format!(", digits count from {base}"),
    };
    let codes = detail.codes.iter().map(|code| code.printed()).collect::<Vec<_>>().join(" ");
    let (issues, copies) = (count(detail.issues, "issue"), count(detail.copies, "copy"));
    ui.line(format_args!("{}: {name}{layout}{base}; {issues}, {copies}; codes {codes}", detail.title.id))
}
