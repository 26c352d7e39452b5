//! Luma to codes: finding bars, sampling, decoding, deciding. The only user of rxing.

use crate::code::{Certainty, Code, Symbology};
use crate::picture::Luma;

/// One symbol read from a picture.
#[derive(Debug, Clone)]
pub struct Symbol {
    /// Main code and add-on.
    pub code: Code,
    /// The kind of the main symbol.
    pub symbology: Symbology,
    /// The corners of the main symbol's bars in picture px: top left, top right, bottom right, bottom left, as seen
    /// with the symbol upright.
    pub corners: [[f32; 2]; 4],
    /// The stage that read it, as printed in JSON.
    pub by: &'static str,
    /// Width of a module in picture px.
    pub module_px: f32,
    /// How far the code can be trusted.
    pub certainty: Certainty,
    /// The symbol with its add-on's place, upright and tightly cropped: evidence for the queue.
    pub crop: Luma,
}

/// Reads every UPC-A, EAN-13, UPC-E and EAN-8 in `picture`, best first.
#[must_use]
pub fn read(picture: &Luma) -> Vec<Symbol> {
    let _ = picture;
    Vec::new()
}
