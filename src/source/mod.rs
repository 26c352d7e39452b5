//! Where codes come from: photos, frames, a handheld scanner, the keyboard. All meet in [`Sighting`]. The only user of
//! nokhwa and v4l.
//!
//! Nothing after this module knows where a code came from, except for the [`Origin`] that is recorded with it.

mod folder;
pub mod camera;
pub mod handheld;
mod in_order;
mod looked;
mod newest;
mod photo;

pub use folder::{FolderError, pictures};
pub use in_order::in_order;
pub use looked::{Looked, Rate, replay};
pub use newest::{Newest, Waited};
pub use photo::{PhotoError, PhotoReading, explain_photo, read_photo};

use std::path::PathBuf;

use jiff::Timestamp;

use crate::code::{Certainty, Code, Symbology};

/// Where a sighting came from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Origin {
    /// A photo file.
    Photo {
        /// Its path as given, made absolute.
        path: PathBuf,
        /// SHA-256 of its bytes: the photo's identity.
        sha256: [u8; 32],
        /// Which symbol of the photo, from 0.
        position: u32,
    },
    /// A device that sends codes or frames, such as a handheld scanner.
    Device {
        /// Its name.
        name: String,
    },
    /// Typed by a person.
    Typed,
}

/// The picture side of a sighting, kept so that a person can decide.
#[derive(Debug, Clone, PartialEq)]
pub struct Evidence {
    /// PNG of the symbol (or of the whole photo, reduced, if nothing was read).
    pub crop_png: Vec<u8>,
    /// Corners of the main symbol in photo px, if one was found.
    pub corners: Option<[[f32; 2]; 4]>,
    /// The reader's stage, if a symbol was found.
    pub by: Option<String>,
    /// Module width in photo px, if a symbol was found.
    pub module_px: Option<f32>,
}

/// One code seen once, whatever it came from.
#[derive(Debug, Clone, PartialEq)]
pub struct Sighting {
    /// The code; `None` for a photo in which nothing could be read: it still waits for a person.
    pub code: Option<Code>,
    /// The symbol's kind, if known.
    pub symbology: Option<Symbology>,
    /// How far the code can be trusted.
    pub certainty: Certainty,
    /// Where it came from.
    pub origin: Origin,
    /// When it was seen.
    pub seen_at: Timestamp,
    /// Its picture, if it came from one.
    pub evidence: Option<Evidence>,
}
