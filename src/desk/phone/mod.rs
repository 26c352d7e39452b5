//! The phone as a camera: a second server, on the local network, that takes photos and answers 'do I own this?'.
//!
//! It has routes of its own, so nothing else of the desk can be reached through it, and is served only if it is asked for.
//! Plain HTTP is read by whoever shares the network; the pages say so.

mod address;
mod door;
mod pages;
mod qr;

pub use address::{AddressError, lan_address, listed, own_addresses};
pub use qr::blocks;

pub(super) use door::Standing;
pub(super) use pages::routes;
pub(super) use qr::svg;

use std::net::{IpAddr, SocketAddr};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Instant;

use super::guard::{ENTRY, Guard};
use super::site::{Shared, Site};
use door::Door;

/// The server for phones.
#[derive(Debug)]
pub(super) struct Phones {
    address: SocketAddr,
    site: Arc<Site>,
    door: Mutex<Door>,
}

impl Phones {
    /// At an address that is listened on already; its first link is drawn.
    pub(super) fn new(address: SocketAddr, shared: Arc<Shared>) -> Result<Self, getrandom::Error> {
        let site = Arc::new(Site::new(guard(address)?, shared));
        Ok(Self { address, site, door: Mutex::new(Door::new(Instant::now())?) })
    }

    /// How the door stands, and the link that it opens for.
    pub(super) fn standing(&self) -> (Standing, Option<String>) {
        let door = self.door();
        let standing = door.standing(Instant::now());
        let link = door.token(Instant::now()).map(|token| format!("http://{}{ENTRY}{}", self.address, token.text()));
        (standing, link)
    }

    /// How many phones were let in since all were sent away.
    pub(super) fn let_in(&self) -> u32 {
        self.door().let_in()
    }

    /// Draws a link for another phone; the one before is good for nothing any more.
    pub(super) fn open(&self) -> Result<(), getrandom::Error> {
        self.door().draw(Instant::now())
    }

    /// Ends what all phones were let in with, and lets in none until a link is drawn.
    pub(super) fn send_away(&self) -> Result<(), getrandom::Error> {
        self.door().close();
        self.site.replace_guard(guard(self.address)?);
        Ok(())
    }

    /// Whether a phone with this token is let in. It is, once.
    fn enters(&self, given: &str) -> bool {
        self.door().enters(given, Instant::now())
    }

    fn door(&self) -> MutexGuard<'_, Door> {
        self.door.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

fn guard(address: SocketAddr) -> Result<Guard, getrandom::Error> {
    let host = match address.ip() {
        IpAddr::V4(ip) => ip.to_string(),
        IpAddr::V6(ip) => format!("[{ip}]"),
    };
    Guard::new(&[&host], address.port())
}
