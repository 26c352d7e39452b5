//! The usual photo reader of an import: decoded, read, with the evidence that a person may need.

use super::{ReadPhoto, SymbolSighting};
use crate::picture::{self, EncodeError, Limits, Luma, PictureError};
use crate::reader::{self, Symbol};
use crate::source::Evidence;

/// The longer side of a photo that is kept because nothing was read in it: enough to read the digits by eye.
const KEPT_PX: usize = 1200;

/// Why a photo can't be staged.
#[derive(Debug, thiserror::Error)]
pub enum PhotoReadError {
    /// No picture.
    #[error(transparent)]
    Picture(#[from] PictureError),
    /// No evidence can be kept.
    #[error(transparent)]
    Encode(#[from] EncodeError),
}

/// Reads a photo's bytes for [`super::import`].
///
/// # Errors
/// If they are no picture.
pub fn read_for_queue(bytes: &[u8], limits: &Limits) -> Result<ReadPhoto, PhotoReadError> {
    let luma = picture::decode(bytes, limits)?;
    let symbols = reader::read(&luma).iter().map(sighting).collect::<Result<Vec<_>, _>>()?;
    let fallback_png = if symbols.is_empty() { kept(&luma).to_png()? } else { Vec::new() };
    Ok(ReadPhoto { symbols, fallback_png })
}

fn sighting(symbol: &Symbol) -> Result<SymbolSighting, EncodeError> {
    Ok(SymbolSighting {
        code: symbol.code,
        symbology: symbol.symbology,
        certainty: symbol.certainty,
        evidence: Evidence {
            crop_png: symbol.crop.to_png()?,
            corners: Some(symbol.corners),
            by: Some(symbol.by.to_owned()),
            module_px: Some(symbol.module_px),
        },
    })
}

fn kept(luma: &Luma) -> Luma {
    luma.reduced(luma.width().max(luma.height()).div_ceil(KEPT_PX).max(1))
}
