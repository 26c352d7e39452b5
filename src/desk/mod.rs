//! The local web page: on loopback only, for the person at this machine; and, if asked for, a few pages for phones in the
//! local network, through a server of their own.
//!
//! It shows and steers what [`crate::workflow`] does, as the command line does; both can be used at once. A page's texts
//! are escaped by `maud`, whatever a title holds; nothing runs but what the table of `assets.rs` lists.

mod assets;
mod board;
mod clock;
mod frame;
mod guard;
mod limits;
mod pages;
mod phone;
mod running;
mod secrets;
mod server;
mod site;
mod stores;
mod trouble;
mod upload;
mod view;
mod words;

pub use board::Board;
pub use clock::Clock;
pub use phone::{AddressError, blocks, lan_address, listed, own_addresses};
pub use server::{Desk, DeskError};
