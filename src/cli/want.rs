use clap::{Args, Subcommand};

use super::failure::Outcome;
use super::new_title::{NewTitleArguments, or_new};
use super::pull::DroppedLine;
use super::ui::{Tone, Ui};
use super::words::{count, named, want_in_words};
use super::{Exit, Global};
use crate::collection::{Money, Want};
use crate::workflow::{Named, Wanted, WantedIssue, want_add, want_drop, want_list};

/// Wanted issues, and what may be paid for each
///
/// What is wanted is told by have and pocket. A copy that comes fulfils the want, which stays until it is dropped.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward want list")]
pub(super) struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    Add(AddArguments),
    List(ListArguments),
    Drop(DropArguments),
}

/// Puts issues on the list, or changes what is said of them there
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  boxward want add captain umber 57 --up-to '5 USD'\n  boxward want add --gaps tide wardens"
)]
struct AddArguments {
    /// A title, typed loosely, and issues: 12, 14-16, '#Annual 2'
    #[arg(required = true, value_name = "WORD")]
    words: Vec<String>,
    /// All that is missing of the title's run
    #[arg(long, conflicts_with = "new")]
    gaps: bool,
    /// The most to pay for each, such as '5.00 USD'; a limit of your own, no appraisal
    #[arg(long, value_name = "MONEY")]
    up_to: Option<Money>,
    /// A note
    #[arg(long, default_value = "", hide_default_value = true)]
    note: String,
    #[command(flatten)]
    new: NewTitleArguments,
    /// One JSON object a line, one line an issue
    #[arg(long)]
    json: bool,
}

/// Lists what is wanted, by title
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward want list --all")]
struct ListArguments {
    /// What came since, too
    #[arg(long)]
    all: bool,
    /// One JSON object a line, one line an issue
    #[arg(long)]
    json: bool,
}

/// Takes issues, or all of a title, off the list
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward want drop captain umber 57")]
struct DropArguments {
    /// A title, typed loosely, and issues; all of the title if no issue is named
    #[arg(required = true, value_name = "WORD")]
    words: Vec<String>,
    /// The run as a JSON object
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    let store = global.existing_store()?;
    match &arguments.command {
        Command::Add(arguments) => {
            let wanted = match arguments.gaps {
                true => Wanted::Gaps(arguments.words.join(" ")),
                false => Wanted::Issues(Named::new(&arguments.words), arguments.new.title()),
            };
            let want = Want { up_to: arguments.up_to, note: arguments.note.trim().to_owned() };
            let (list, _) = want_add(&store, &wanted, &want, global.now()).map_err(or_new)?;
            tell(&list, arguments.json, ui)?;
        }
        Command::List(arguments) => {
            let list = want_list(&store, arguments.all)?;
            tell(&list, arguments.json, ui)?;
            if !arguments.json {
                ui.note(format_args!("{} wanted", count(list.iter().filter(|wanted| !wanted.came).count(), "issue")));
            }
        }
        Command::Drop(arguments) => {
            let run = want_drop(&store, &Named::new(&arguments.words), global.now())?;
            if arguments.json {
                ui.json(&DroppedLine { run })?;
            } else {
                ui.line(format_args!("{} is no longer wanted", arguments.words.join(" ")))?;
            }
        }
    }
    Ok(Exit::Done)
}

fn tell(list: &[WantedIssue], json: bool, ui: &mut Ui) -> std::io::Result<()> {
    for wanted in list {
        if json {
            ui.json(wanted)?;
            continue;
        }
        let words = want_in_words(&wanted.want, ui);
        let came = if wanted.came { format!("{}, ", ui.paint("came", Tone::Good)) } else { String::new() };
        ui.line(format_args!("{}: {came}{words}", named(&wanted.title, &format!(" {}", wanted.issue))))?;
    }
    Ok(())
}
