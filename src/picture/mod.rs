//! Files and frames as 8-bit luma: formats, orientation, limits. The only user of image libraries.
//!
//! A format is recognised by its content, never by its name. Finding and reading bars is left to [`crate::reader`].

mod decode;
mod frame;
#[cfg(feature = "heic")]
mod heic;
mod jpeg;
mod keepsake;
mod limits;
mod luma;
mod reduce;

pub use decode::{bytes, decode, load};
pub use frame::{Packing, luma_of_frame, to_jpeg};
pub use keepsake::keepsake;
pub use limits::{Limits, PictureError};
pub use luma::{EncodeError, Luma};
