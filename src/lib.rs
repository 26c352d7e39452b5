//! boxward takes a comic collector's new books from the stack on the desk to the right place in the right box, and
//! keeps the record that makes it possible.
//!
//! The modules below stand in the order in which a book passes through them. A module imports only from those above it;
//! `tests/all/module_order.rs` holds that.

pub mod code;
pub mod picture;
pub mod reader;
pub mod meaning;
pub mod source;
pub mod intake;
pub mod collection;
pub mod resolve;
pub mod filing;
pub mod report;
pub mod list;
pub mod store;
pub mod workflow;
pub mod desk;
pub mod cli;
