use std::net::{IpAddr, SocketAddr};
use std::path::PathBuf;
use std::time::Duration;

use clap::Args;
use serde::Serialize;

use super::failure::{Failure, Outcome};
use super::scan::{film, rate};
use super::ui::Ui;
use super::{Exit, Global};
use crate::desk::{AddressError, Desk, DeskError, blocks, lan_address, listed, own_addresses};
use crate::source::Rate;

/// Opens a page in the browser to see and steer the whole job
///
/// It is served to this machine alone, to a browser that was opened with the link shown, until the program is ended
/// (Ctrl-C). It does what the commands do; both can be used at once.
///
/// With --phone, phones in the same network take photos into the queue and ask whether a book is owned; each is let in with
/// a link of its own, shown as a QR code here and on the desk's page 'Phone'. Others in that network can read along: use it
/// in one that you trust.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  boxward desk --phone\n  boxward desk --port 8123 --no-browser")]
pub(super) struct Arguments {
    /// Serves it at this port [default: a free one]
    #[arg(long, value_name = "PORT", default_value = "0", hide_default_value = true, value_parser = port)]
    port: u16,
    /// Opens no browser, only shows the link
    #[arg(long)]
    no_browser: bool,
    /// Takes frames from picture files in this folder, as a camera would have sent them
    #[arg(long, value_name = "FOLDER", hide = true)]
    replay: Option<PathBuf>,
    /// How many of these frames make a second
    #[arg(long, value_name = "N", default_value = "30", value_parser = rate, requires = "replay", hide = true)]
    fps: Rate,
    /// Serves phones too, at this machine's address in the local network, or at another of its addresses
    #[arg(long, value_name = "ADDRESS", num_args = 0..=1, require_equals = true, value_parser = address)]
    phone: Option<Option<IpAddr>>,
    /// Serves phones at this port [default: a free one]
    #[arg(long, value_name = "PORT", default_value = "0", hide_default_value = true, value_parser = port, requires = "phone")]
    phone_port: u16,
    /// One JSON object: the links
    #[arg(long)]
    json: bool,
}

/// A port that is typed.
pub(super) fn port(text: &str) -> Result<u16, String> {
    text.parse().map_err(|_| "a port is a whole number from 1 to 65535; without one a free one is taken".to_owned())
}

fn address(text: &str) -> Result<IpAddr, String> {
    text.parse().map_err(|_| {
        let own = listed(&own_addresses());
        format!(
            "an address is written as in 192.168.1.20{}",
            if own.is_empty() { own } else { format!("; this machine's are {own}") }
        )
    })
}

/// The links in JSON; its fields are documented in the README and must stay.
#[derive(Debug, Serialize)]
struct LinkLine<'a> {
    link: &'a str,
    phone: Option<&'a str>,
}

pub(super) fn run(arguments: &Arguments, global: &Global, ui: &mut Ui) -> Outcome {
    let film = arguments.replay.as_ref().map(|folder| film(folder, arguments.fps)).transpose()?;
    let desk = Desk::open_on(global.store()?, arguments.port, global.clock(), film)?;
    let link = desk.link();
    let phone = match arguments.phone {
        Some(named) => Some(serve_phones(&desk, named, arguments.phone_port, ui)?),
        None => None,
    };
    if arguments.json {
        ui.json(&LinkLine { link: &link, phone: phone.as_deref() })?;
    } else {
        ui.line(format_args!("the desk is open at {link}"))?;
        ui.note("Ctrl-C ends it; the link is for you alone");
        if let Some(phone) = &phone {
            ui.line(format_args!("a phone is let in at {phone}"))?;
            if ui.shows_progress() {
                ui.bytes(blocks(phone, ui.is_coloured()).as_bytes())?;
            }
            ui.note("once, within ten minutes; the desk's page 'Phone' lets in another. Others in this network can read along");
        }
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

/// Serves phones at the address named, or at the machine's own in its local network; gives the link for the first one.
fn serve_phones(desk: &Desk, named: Option<IpAddr>, port: u16, ui: &mut Ui) -> Result<String, Failure> {
    let address = match named {
        Some(address) => address,
        None => {
            let (address, others) = lan_address()?;
            for other in others {
                ui.note(format_args!("phones reach this machine at {address}; or take --phone={other}"));
            }
            address
        }
    };
    Ok(desk.serve_phones(SocketAddr::new(address, port))?)
}

impl From<AddressError> for Failure {
    fn from(error: AddressError) -> Self {
        Self::new(Exit::Machine, &error).hint("name the address that phones reach this machine at: --phone=ADDRESS")
    }
}

impl From<DeskError> for Failure {
    fn from(error: DeskError) -> Self {
        let exit = if matches!(error, DeskError::AnyAddress { .. }) { Exit::Call } else { Exit::Machine };
        Self::new(exit, &error)
    }
}
