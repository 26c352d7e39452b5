use clap::Args;

use super::failure::Outcome;
use super::title::more_may_fit;
use super::ui::{Tone, Ui};
use super::words::{count, have_in_words, title_in_words};
use super::{Exit, Global};
use crate::collection::IssueNumber;
use crate::store::Store;
use crate::workflow;

/// Do I own this?
///
/// Asked with a code, with a title and an issue typed loosely, or with a title alone. With --gaps, what is missing of a title's
/// run between the lowest and the highest number owned.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward have tide wardens 12\n  boxward have --gaps tide wardens")]
pub(super) struct Arguments {
    /// A code, a title and an issue, or a title
    #[arg(required = true, value_name = "WORD", allow_negative_numbers = true)]
    query: Vec<String>,
    /// What is missing of a title's run
    #[arg(long)]
    gaps: bool,
    /// As a JSON object; with --gaps, one a line, one line a title
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    let (store, query) = (global.existing_store()?, arguments.query.join(" "));
    if arguments.gaps { gaps(&store, &query, arguments.json, ui) } else { have(&store, &query, arguments.json, ui) }
}

fn gaps(store: &Store, name: &str, json: bool, ui: &mut Ui) -> Outcome {
    let found = workflow::gaps_of(store, name)?;
    if found.is_empty() && !json {
        ui.line(format_args!("no title fits '{}'", name.trim()))?;
    }
    more_may_fit(found.len(), ui);
    for gaps in found {
        if json {
            ui.json(&gaps)?;
            continue;
        }
        let title = title_in_words(&gaps.title);
        let run = |(from, to): &(u32, u32)| if from == to { from.to_string() } else { format!("{from}-{to}") };
        let line = match gaps.first.zip(gaps.last) {
            None => format!("{title}: no numbered issue owned"),
            Some((first, last)) if gaps.missing.is_empty() => {
                format!("{title}: {} from {first} to {last}", ui.paint("nothing missing", Tone::Good))
            }
            Some((first, last)) => {
                let missing = ui.paint(&gaps.missing.iter().map(run).collect::<Vec<_>>().join(", "), Tone::Strong);
                let issues = count(gaps.missing_issues, "issue");
                format!("{title}: {issues} missing from {first} to {last}: {missing}")
            }
        };
        ui.line(line)?;
        if !gaps.known_missing.is_empty() {
            ui.line(format_args!("  known and not owned: {}", issues_in_words(&gaps.known_missing)))?;
        }
    }
    Ok(Exit::Done)
}

/// Asks for this command and for the demo.
pub(super) fn have(store: &Store, query: &str, json: bool, ui: &mut Ui) -> Outcome {
    let answer = workflow::have(store, query)?;
    if json {
        ui.json(&answer)?;
        return Ok(Exit::Done);
    }
    let lines = have_in_words(&answer, ui);
    if answer.titles.is_empty() {
        let no = ui.paint("not owned", Tone::Strong);
        ui.line(format_args!("{no}: no title fits '{}'", answer.query))?;
    }
    for line in lines {
        ui.line(line)?;
    }
    Ok(Exit::Done)
}

/// `1-3, 5, Annual 2`.
fn issues_in_words(issues: &[String]) -> String {
    let mut words: Vec<String> = Vec::new();
    let mut run: Option<(u32, u32)> = None;
    let told = |(from, to): (u32, u32)| if from == to { from.to_string() } else { format!("{from}-{to}") };
    for issue in issues {
        let number = IssueNumber::new(issue).whole();
        run = match (run, number) {
            (Some((from, to)), Some(number)) if number == to.saturating_add(1) => Some((from, number)),
            (before, number) => {
                words.extend(before.map(told));
                words.extend(
                    number
                        .is_none()
                        .then(|| if issue.is_empty() { "the whole book".to_owned() } else { issue.clone() }),
                );
                number.map(|number| (number, number))
            }
        };
    }
    words.extend(run.map(told));
    words.join(", ")
}
