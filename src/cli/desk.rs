use std::time::Duration;

use clap::Args;
use jiff::tz::TimeZone;
use serde::Serialize;

use super::failure::{Failure, Outcome};
use super::ui::Ui;
use super::{Exit, Global};
use crate::desk::{Clock, Desk, DeskError};

/// Opens a page in the browser to see and steer the whole job
///
/// It is served to this machine alone, to a browser that was opened with the link shown, until the program is ended
/// (Ctrl-C). It does what the commands do; both can be used at once.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward desk --port 8123 --no-browser")]
pub(super) struct Arguments {
    /// Serves it at this port [default: a free one]
    #[arg(long, value_name = "PORT", default_value_t = 0, hide_default_value = true)]
    port: u16,
    /// Opens no browser, only shows the link
    #[arg(long)]
    no_browser: bool,
    /// One JSON object: the link
    #[arg(long)]
    json: bool,
}

/// The link in JSON; its field is documented in the README and must stay.
#[derive(Debug, Serialize)]
struct LinkLine<'a> {
    link: &'a str,
}

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    let store = global.store()?;
    let held = global.now;
    let clock = Clock::new(move || held.unwrap_or_else(jiff::Timestamp::now), TimeZone::system());
    let desk = Desk::open(store, arguments.port, clock)?;
    let link = desk.link();
    if arguments.json {
        ui.json(&LinkLine { link: &link })?;
    } else {
        ui.line(format_args!("the desk is open at {link}"))?;
        ui.note("Ctrl-C ends it; the link is for you alone");
    }
    if !arguments.no_browser
        && let Err(error) = open::that_detached(&link)
    {
        ui.note(format_args!("no browser could be opened ({error}); open the link yourself"));
    }
    loop {
        std::thread::sleep(Duration::from_secs(3600));
    }
}

impl From<DeskError> for Failure {
    fn from(error: DeskError) -> Self {
        Self::new(Exit::Machine, &error)
    }
}
