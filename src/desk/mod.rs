//! The local web page: on loopback only, for the person at this machine.
//!
//! It only shows. What a session does is [`crate::workflow`]'s, and the keys are the terminal's.

mod preview;
mod request;

pub use preview::{Line, Outline, Preview};
