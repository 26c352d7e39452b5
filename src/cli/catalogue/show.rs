use clap::Args;

use super::super::failure::Failure;
use super::super::ui::Tone;
use super::super::words::{count, known_code, named};
use super::{Exit, Global, Outcome, Ui};
use crate::collection::KnownIssue;
use crate::workflow::catalogue_show;

/// Shows what is known of an issue, or of all issues of a title
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward catalogue show tide wardens 12")]
pub(super) struct Arguments {
    /// A code, a title and an issue, or a title
    #[arg(required = true, value_name = "WORD", allow_negative_numbers = true)]
    query: Vec<String>,
    /// One JSON object a line, one line an issue
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    let known = catalogue_show(&global.existing_store()?, &arguments.query.join(" "))?;
    for issue in &known {
        tell(issue, arguments.json, ui)?;
    }
    if !arguments.json {
        let owned = known.iter().filter(|issue| issue.printings.iter().any(|printing| printing.copies > 0)).count();
        ui.note(format_args!("{}, {owned} owned", count(known.len(), "known issue")));
    }
    Ok(Exit::Done)
}

/// Tells of an issue, for this command and for those that change it.
pub(super) fn tell(known: &KnownIssue, json: bool, ui: &mut Ui) -> Result<(), Failure> {
    if json {
        return Ok(ui.json(known)?);
    }
    let issue = if known.issue.is_empty() { String::new() } else { format!(" {}", known.issue) };
    let facts = &known.facts;
    let told = [
        facts.cover_date.map(|date| format!("cover date {date}")),
        facts.pages.map(|pages| count(pages, "page")),
        facts.size.map(|size| format!("size {size}")),
        facts.family.as_ref().map(|family| format!("family {family}")),
    ];
    let told = told.into_iter().flatten().collect::<Vec<_>>().join(", ");
    let told = if told.is_empty() { told } else { format!(": {told}") };
    let name = ui.paint(&named(&known.title, &issue), Tone::Strong);
    ui.line(format_args!("{name}{told}"))?;
    if let Some(key) = &facts.key {
        ui.line(format_args!("  key issue: {key}"))?;
    }
    for printing in &known.printings {
        let told = [
            printing.code.map(|code| known_code(code, printing.add_on)),
            printing.facts.on_sale.map(|day| format!("on sale {day}")),
            printing.facts.cover_price.map(|price| price.to_string()),
            Some(match printing.copies {
                0 => "not owned".to_owned(),
                copies => count(copies, "copy"),
            }),
        ];
        let told = told.into_iter().flatten().collect::<Vec<_>>().join(", ");
        ui.line(format_args!("  cover {}, printing {}: {told}", printing.cover, printing.printing))?;
    }
    Ok(())
}
