use std::path::{Path, PathBuf};

use clap::Args;

use super::super::day::Day;
use super::super::failure::{Failure, Outcome};
use super::super::select::Select;
use super::super::ui::Ui;
use super::super::words::count;
use super::tell::{all, line};
use super::{Exit, Global};
use crate::collection::{BAG_YEARS, CopyId, CopyRecord, bag_limit};
use crate::report::OLD_BAGS;
use crate::store::{CopyOrder, Store};
use crate::workflow::{copy_photo, copy_show, each_copy};

/// Lists copies, each with its number
///
/// All that are owned, or those of a code, a title and issues, narrowed by what they are.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  boxward copy list --bag-older-than\n  boxward copy list tide wardens 1-12 --not-bagged"
)]
pub(super) struct ListArguments {
    #[command(flatten)]
    select: Select,
    /// One JSON object a line, one line a copy
    #[arg(long)]
    json: bool,
}

/// Shows all that is known of a copy
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward copy show 12")]
pub(super) struct ShowArguments {
    /// Its number, as boxward copy list tells it
    copy: CopyId,
    /// Writes the photo that is kept of it into this file, as JPEG
    #[arg(long, value_name = "OUT.jpg")]
    photo: Option<PathBuf>,
    /// As a JSON object
    #[arg(long)]
    json: bool,
}

pub(super) fn list(arguments: &ListArguments, global: &Global, ui: &mut Ui) -> Outcome {
    let store = global.existing_store()?;
    let selection = arguments.select.selection(global.now());
    let limit = bag_limit(Day::Today.date(global.now()), BAG_YEARS);
    let (mut listed, mut old) = (0, 0);
    each_copy(&store, &selection, CopyOrder::Title, &mut |copy: CopyRecord| {
        listed += 1;
        old += usize::from(copy.gone.is_none() && copy.bag_older_than(limit));
        if arguments.json {
            ui.json(&copy)?;
        } else {
            let line = line(&copy, ui);
            ui.line(line)?;
        }
        Ok::<_, Failure>(())
    })?;
    if arguments.json {
        return Ok(Exit::Done);
    }
    ui.note(count(listed, "copy"));
    if arguments.select.asks_for_old_bags() && listed > 0 {
        ui.note(OLD_BAGS);
    } else if old > 0 {
        ui.note(format_args!(
            "{} in a bag older than {BAG_YEARS} years: --bag-older-than lists them",
            count(old, "copy")
        ));
    }
    Ok(Exit::Done)
}

pub(super) fn show(arguments: &ShowArguments, global: &Global, ui: &mut Ui) -> Outcome {
    let store = global.existing_store()?;
    let copy = copy_show(&store, arguments.copy)?;
    if arguments.json {
        ui.json(&copy)?;
    } else {
        let old = copy.gone.is_none() && copy.bag_older_than(bag_limit(Day::Today.date(global.now()), BAG_YEARS));
        all(&copy, old, ui)?;
    }
    if let Some(out) = &arguments.photo {
        write_photo(&store, arguments.copy, out)?;
    }
    Ok(Exit::Done)
}

/// Nothing is written over: a photo is no page, whose older form may go.
fn write_photo(store: &Store, copy: CopyId, out: &Path) -> Result<(), Failure> {
    let Some(jpeg) = copy_photo(store, copy)? else {
        return Err(Failure::call(format!("no photo is kept of copy {copy}"))
            .hint("boxward copy set --copy NUMBER --photo FILE keeps one"));
    };
    let written = std::fs::File::create_new(out).and_then(|mut file| std::io::Write::write_all(&mut file, &jpeg));
    written.map_err(|error| {
        if error.kind() == std::io::ErrorKind::AlreadyExists {
            return Failure::call(format!("{} is there already", out.display()))
                .hint("give another name; what is there stays as it is");
        }
        let mut failure = Failure::new(Exit::Machine, &error);
        failure.messages.insert(0, format!("{} could not be written", out.display()));
        failure
    })
}
