//! Luma to codes: finding bars, sampling, decoding, deciding. The only user of rxing.
//!
//! Reading goes in two stages (`stage`): each proposes and confirms codes in the picture, and the second looks only where
//! the first left something open. What a code means is left to [`crate::meaning`].
//! [`Symbol::by`]'s words are printed as JSON: they must stay.

mod add_on;
mod align;
mod blend;
mod codebook;
mod crop;
mod edges;
mod explain;
mod find;
mod fit;
mod gradients;
mod likelihood;
mod limp;
mod line;
mod model;
mod moved;
mod normal;
mod place;
mod places;
#[cfg(test)]
mod profiles;
mod proposal;
mod rumours;
mod sample;
mod search;
mod slopes;
mod sought;
mod stage;
mod strips;
mod surface;
mod tensor;
mod tone;
mod trellis;
mod verdict;
mod vet;
mod view;
mod warp;
mod wide;

pub use explain::{Attempt, DigitReport, Explanation, Fate, Fitted, RegionReport, Weighed, explain};

use explain::Log;
use stage::Effort;

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

/// Reads every UPC-A, EAN-13, UPC-E and EAN-8 in `picture`: from the top down, then from left to right.
#[must_use]
pub fn read(picture: &Luma) -> Vec<Symbol> {
    search::symbols(picture, Effort::Parts, &mut Log::default())
}

/// The same for a frame of a film: what costs long is left to the next frame, which may show more.
#[must_use]
pub fn read_frame(frame: &Luma) -> Vec<Symbol> {
    search::symbols(frame, Effort::Glance, &mut Log::default())
}
