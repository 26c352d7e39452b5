use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use clap::Args;

use super::failure::{Failure, Outcome};
use super::stack::{PHOTOS, StackTitle, titles};
use super::ui::{Tone, Ui};
use super::words::count;
use super::{Exit, Global, have, import, queue, resolve, undo};
use crate::intake::{ItemId, ItemState};
use crate::resolve::{Answers, Question};
use crate::source::Origin;
use crate::store::{QueueFilter, Store, new_private_folder};
use crate::workflow::{self, ResolveOptions, WorkflowError, queue_show};

/// The main job on the shipped example stack, in a temporary collection
///
/// Takes 24 photos of invented comics through the program, printing each command that a collector would type. What only
/// the collector can know (titles, a blurred code) is answered from a list.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward demo --keep try-it")]
pub(super) struct Arguments {
    /// Keeps photos, answers and collection in this new folder, to go on from there
    #[arg(long, value_name = "FOLDER")]
    keep: Option<PathBuf>,
}

/// Rounds of answers that the stack needs at most: titles, then what depends on them.
const MOST_ROUNDS: u32 = 4;

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    let home = std::env::current_dir()?;
    let folder = match &arguments.keep {
        Some(folder) => folder.clone(),
        None => std::env::temp_dir().join(format!("boxward-demo-{}", std::process::id())),
    };
    // In a temporary folder that everybody writes to, what is there already is not to be trusted.
    new_private_folder(&folder).map_err(|error| machine(&folder, &error))?;
    // The commands printed are to be true as they stand, with their short paths.
    let walked = std::env::set_current_dir(&folder).map_err(|error| machine(&folder, &error)).and_then(|()| {
        let global = Global { collection: Some("collection.sqlite".into()), quiet: global.quiet, now: global.now };
        walk(&global, ui)
    });
    std::env::set_current_dir(home)?;
    match &arguments.keep {
        Some(folder) => ui.note(format_args!("\nEverything is kept in {}.", folder.display())),
        None => {
            fs::remove_dir_all(&folder).map_err(|error| machine(&folder, &error))?;
            ui.note("\nAll of this was in a temporary folder, which is gone; demo --keep FOLDER leaves one to try on.");
        }
    }
    walked
}

fn machine(path: &Path, error: &io::Error) -> Failure {
    let mut failure = Failure::new(Exit::Machine, error);
    failure.messages.insert(0, format!("{} can't be used", path.display()));
    failure
}

fn walk(global: &Global, ui: &mut Ui) -> Outcome {
    fs::create_dir("stack").map_err(|error| machine(Path::new("stack"), &error))?;
    for (name, bytes) in PHOTOS {
        let path = Path::new("stack").join(name);
        fs::write(&path, bytes).map_err(|error| machine(&path, &error))?;
    }
    ui.line(format_args!("{} of a stack on the desk are in the folder stack.", count(PHOTOS.len(), "photo")))?;

    typed("boxward import stack", ui)?;
    import::import(&["stack".into()], false, None, global, ui)?;
    typed("boxward queue list --state incomplete", ui)?;
    let store = global.existing_store()?;
    queue::list(&store, QueueFilter::State(ItemState::Incomplete), false, ui)?;

    let exit = resolve_with_answers(&store, global, ui)?;

    let ask = |query: &str, ui: &mut Ui| {
        typed(&format!("boxward have {query}"), ui)?;
        have::have(&store, query, false, ui)
    };
    for query in ["tide wardens 13", "tide wardens 15", "614141023103 08012", "captain umber 58"] {
        ask(query, ui)?;
    }
    typed("boxward undo", ui)?;
    let undone = undo::undo(&store, None, false, global, ui)?;
    ask("captain umber 58", ui)?;
    typed(&format!("boxward undo {undone}"), ui)?;
    undo::undo(&store, Some(undone), false, global, ui)?;
    ask("captain umber 58", ui)?;
    Ok(exit)
}

fn typed(command: &str, ui: &mut Ui) -> io::Result<()> {
    let command = ui.paint(command, Tone::Strong);
    ui.line(format_args!("\n$ {command}"))
}

/// Questions to a file, answers from a file, until nothing is open.
fn resolve_with_answers(store: &Store, global: &Global, ui: &mut Ui) -> Outcome {
    let titles = titles().map_err(|error| Failure::new(Exit::Machine, &error))?;
    let options = ResolveOptions { shop: Some("Corner Comics".to_owned()), ..ResolveOptions::default() };
    let mut open = workflow::resolve(store, &Answers::none(), &options, None, global.now())?.open;
    let mut exit = Exit::Done;
    typed("boxward resolve --json > questions.jsonl", ui)?;
    ui.line(format_args!("({})", count(open.len(), "question")))?;
    let mut given = Vec::new();
    for _ in 0..MOST_ROUNDS {
        let mut answered = 0;
        for question in open {
            if let Some(answer) = answer(question, store, &titles)? {
                given.push(answer);
                answered += 1;
            }
        }
        let lines = given.iter().map(serde_json::to_string).collect::<Result<Vec<_>, _>>().map_err(io::Error::from)?;
        let path = Path::new("answers.jsonl");
        fs::write(path, lines.join("\n") + "\n").map_err(|error| machine(path, &error))?;
        typed("boxward resolve --answers answers.jsonl --shop 'Corner Comics'", ui)?;
        let answers = Answers::new(given.iter().cloned()).map_err(WorkflowError::from)?;
        let report = workflow::resolve(store, &answers, &options, None, global.now())?;
        exit = resolve::conclude(&report, false, false, ui)?;
        open = report.open;
        if open.is_empty() || answered == 0 {
            break;
        }
    }
    Ok(exit)
}

/// What the stack's collector answers; `None` if the collector would not know.
fn answer(question: Question, store: &Store, titles: &[StackTitle]) -> Result<Option<Question>, Failure> {
    let known = |code| titles.iter().find(|title| Some(title.code) == code);
    Ok(Some(match question {
        Question::Code(mut q) => {
            q.code = match photo(store, q.item)?.as_deref() {
                Some("photo-21.jpg") => Some("614141023660+10511".to_owned()),
                _ => return Ok(None),
            };
            Question::Code(q)
        }
        Question::AddOn(mut q) => {
            let add_on = match photo(store, q.item)?.as_deref() {
                Some("photo-22.jpg") => "00311",
                Some("photo-23.jpg") => "00611",
                _ => return Ok(None),
            };
            q.add_on = Some(add_on.to_owned());
            Question::AddOn(q)
        }
        Question::Title(mut q) => {
            match known(q.code) {
                Some(title) => {
                    q.title = Some(title.title.clone());
                    q.publisher = Some(title.publisher.clone());
                    q.year = Some(title.start_year);
                    q.layout = title.layout.parse().ok();
                }
                // A packet of biscuits lay on the desk.
                None => q.keep = Some(false),
            }
            Question::Title(q)
        }
        Question::Book(mut q) => {
            let Some(title) = known(q.code) else { return Ok(None) };
            q.title = Some(title.title.clone());
            q.publisher = Some(title.publisher.clone());
            q.year = Some(title.start_year);
            Question::Book(q)
        }
        Question::Issue(mut q) => {
            q.issue = match photo(store, q.item)?.as_deref() {
                Some("photo-18.jpg") => Some("58".to_owned()),
                _ => return Ok(None),
            };
            Question::Issue(q)
        }
        // Photos 1 and 2 show two copies, not one copy twice.
        Question::Repeat(mut q) => {
            q.copies = Some(2);
            Question::Repeat(q)
        }
        Question::Keep(mut q) => {
            q.keep = Some(false);
            Question::Keep(q)
        }
        Question::Which(_) | Question::Layout(_) | Question::Count(_) | Question::AnotherCopy(_) => return Ok(None),
    }))
}

fn photo(store: &Store, item: ItemId) -> Result<Option<String>, Failure> {
    Ok(match queue_show(store, item)?.origin {
        Origin::Photo { path, .. } => path.file_name().map(|name| name.to_string_lossy().into_owned()),
        Origin::Device { .. } | Origin::Typed => None,
    })
}
