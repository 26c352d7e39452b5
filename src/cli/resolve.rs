use std::fs;
use std::io::{self, IsTerminal, Read};
use std::path::{Path, PathBuf};

use clap::Args;

use super::ask::{Asker, Stop};
use super::day::{Day, day};
use super::failure::{Failure, Outcome};
use super::ui::{Tone, Ui};
use super::words::{count, issue_in_words};
use super::{Exit, Global, pull};
use crate::collection::{Money, Week};
use crate::intake::RunId;
use crate::resolve::{Answers, Question};
use crate::store::Store;
use crate::workflow::{self, Decided, ResolveOptions, ResolveReport, Select, WorkflowError, verdict_counts};

/// Takes the queue into the collection, asking only what can't be known
///
/// On a terminal it asks: Enter takes the proposal in brackets, s skips, Ctrl-D ends; every answer is safe as soon as it
/// is given. Otherwise it takes answers from a file and tells what is still open. Ends with 1 if anything is.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward resolve --shop 'Corner Comics' --date today --paid '3.99 USD'")]
pub(super) struct Arguments {
    /// Takes answers from a file (- for standard input): what --json printed, with answer fields filled in
    #[arg(long, value_name = "FILE")]
    answers: Option<PathBuf>,
    /// Prints what is still open as questions, one JSON object a line, and asks nothing
    #[arg(long)]
    json: bool,
    /// Tells what would be decided, and changes nothing
    #[arg(long)]
    dry_run: bool,
    /// Asks even if input is no terminal
    #[arg(long, conflicts_with_all = ["json", "dry_run"])]
    ask: bool,
    /// Only what this import or scan staged
    #[arg(long, value_name = "RUN")]
    run: Option<RunId>,
    /// Where the books were bought
    #[arg(long)]
    shop: Option<String>,
    /// When they were bought, as 2026-03-04 or today
    #[arg(long, value_parser = day)]
    date: Option<Day>,
    /// What each of them cost, such as '3.99 USD'
    #[arg(long, value_name = "MONEY")]
    paid: Option<Money>,
    /// Writes the pictures that questions are about into this folder
    #[arg(long, value_name = "FOLDER")]
    crops: Option<PathBuf>,
}

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    let store = global.existing_store()?;
    let options = ResolveOptions {
        select: arguments.run.map_or(Select::All, Select::Run),
        acquired: arguments.date.map(|day| day.date(global.now())),
        shop: arguments.shop.clone(),
        paid: arguments.paid,
        run: None,
    };
    let answers = match &arguments.answers {
        Some(file) => Answers::parse(&text_of(file)?).map_err(WorkflowError::from)?,
        None => Answers::none(),
    };
    if arguments.dry_run {
        let report = workflow::preview(&store, &answers, options.select)?;
        return conclude(&report, arguments.json, true, ui);
    }
    let on_terminal = io::stdin().is_terminal() && io::stdout().is_terminal();
    let asks = arguments.ask || on_terminal && !arguments.json && arguments.answers.is_none();
    let beside = store.path().with_extension("crops");
    // Whoever is asked, or reads the questions, needs to see what they are about.
    let crops = arguments.crops.as_deref().or((asks || arguments.json).then_some(beside.as_path()));
    let mut report = workflow::resolve(&store, &answers, &options, crops, global.now())?;
    if asks {
        ask_all(&store, &mut report, options, crops, global, ui)?;
    }
    let exit = conclude(&report, arguments.json, false, ui)?;
    if !arguments.json && !report.decided.is_empty() {
        let day = arguments.date.unwrap_or(Day::Today).date(global.now());
        pull::tell_missing(&store, Week::of(day), ui)?;
    }
    Ok(exit)
}

/// The most that a file of answers may have: far above those of 10,000 books.
const MOST_ANSWER_BYTES: u64 = 16 << 20;

fn text_of(file: &Path) -> Result<String, Failure> {
    let failed = |error: io::Error| Failure::data(format!("{}: {error}", file.display()));
    let input: Box<dyn Read> = match file == Path::new("-") {
        true => Box::new(io::stdin().lock()),
        false => Box::new(fs::File::open(file).map_err(failed)?),
    };
    let mut text = String::new();
    // One byte more than allowed tells "too many".
    input.take(MOST_ANSWER_BYTES + 1).read_to_string(&mut text).map_err(failed)?;
    if text.len() as u64 > MOST_ANSWER_BYTES {
        let mib = MOST_ANSWER_BYTES >> 20;
        let failure = Failure::data(format!("{} has more than the {mib} MiB that answers may have", file.display()));
        return Err(failure.hint("give the answers in several files, one after another"));
    }
    Ok(text)
}

/// Asks one question after another. Each answer is applied at once, so that nothing typed is ever lost.
fn ask_all(
    store: &Store,
    report: &mut ResolveReport,
    mut options: ResolveOptions,
    crops: Option<&Path>,
    global: &Global,
    ui: &mut Ui,
) -> Result<(), Failure> {
    let mut input = io::stdin().lock();
    let mut asker = Asker { input: &mut input, ui, publisher: String::new() };
    // Kept, because an item with two questions is settled only when both are answered.
    let mut given: Vec<Question> = Vec::new();
    let mut skipped: Vec<Question> = Vec::new();
    while let Some(question) = report.open.iter().find(|question| !skipped.iter().any(|s| same(s, question))).cloned() {
        let answer = match asker.answer(&question) {
            Ok(answer) => answer,
            Err(Stop::Skip) => {
                skipped.push(question);
                continue;
            }
            Err(Stop::End) => return Ok(()),
            Err(Stop::Failed(error)) => return Err(error.into()),
        };
        let answered = given.iter().cloned().chain([answer.clone()]);
        let result = Answers::new(answered).map_err(WorkflowError::from).and_then(|answers| {
            options.run = report.run;
            workflow::resolve(store, &answers, &options, crops, global.now())
        });
        match result {
            Ok(next) => {
                given.push(answer);
                report.run = next.run.or(report.run);
                report.decided.extend(next.decided);
                report.unknown = next.unknown;
                report.open = next.open;
            }
            Err(WorkflowError::Answer(error)) => asker.ui.complain("error", error.problem),
            Err(error) => return Err(error.into()),
        }
    }
    Ok(())
}

/// The same question about the same items.
fn same(a: &Question, b: &Question) -> bool {
    a.ask() == b.ask() && a.items() == b.items()
}

/// Tells what was decided and what is open, for this command and for the demo.
pub(super) fn conclude(report: &ResolveReport, json: bool, dry_run: bool, ui: &mut Ui) -> Outcome {
    let exit = if report.open.is_empty() { Exit::Done } else { Exit::Partly };
    if json {
        report.open.iter().try_for_each(|question| ui.json(question))?;
        return Ok(exit);
    }
    for decided in &report.decided {
        let words = decided_in_words(decided, ui);
        ui.line(words)?;
    }
    let verdicts =
        verdict_counts(report).iter().map(|(verdict, n)| format!("{n} {}", verdict.words())).collect::<Vec<_>>();
    let run = report.run.map(|run| format!(" (run {run})")).unwrap_or_default();
    let would = if dry_run { "would be settled" } else { "settled" };
    let of_these = if verdicts.is_empty() { String::new() } else { format!(": {}", verdicts.join(", ")) };
    ui.line(format_args!("{} {would}{run}{of_these}", count(report.decided.len(), "item")))?;
    if !report.open.is_empty() {
        let open = ui.paint(&format!("{} open", count(report.open.len(), "question")), Tone::Doubt);
        ui.line(format_args!("{open}: boxward resolve on a terminal asks, boxward resolve --json lists"))?;
    }
    Ok(exit)
}

fn decided_in_words(decided: &Decided, ui: &Ui) -> String {
    let item = decided.item;
    if let Some(why) = decided.dropped {
        return format!("item {item}: {}, {why}", ui.paint("dropped", Tone::Doubt));
    }
    let verdict = ui.paint(decided.verdict.words(), Tone::Good);
    let title = decided.title.as_deref().unwrap_or_default();
    let issue = match (&decided.issue, &decided.cover, decided.printing) {
        (Some(issue), Some(cover), Some(printing)) => issue_in_words(issue, cover, printing),
        _ => String::new(),
    };
    let copies = match decided.copies.len() {
        0 | 1 => String::new(),
        n => format!(", {n} copies"),
    };
    format!("item {item}: {verdict}: {title}{issue}{copies}")
}
