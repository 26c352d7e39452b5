//! What is refused, and how it is said.

use std::io;

/// How large a picture may be before it is refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// File size in bytes.
    pub max_bytes: u64,
    /// Width times height.
    pub max_pixels: u64,
    /// What it may unpack to, in bytes, as its format keeps colours.
    pub max_unpacked_bytes: u64,
}

impl Default for Limits {
    /// 128 MiB and 120 megapixels: twice what the largest phone sensors in common use give after their own binning,
    /// and small enough that one picture on each core fits an ordinary machine. 512 MiB unpacked: all those pixels in
    /// colour and transparent, at 8 bits a channel.
    fn default() -> Self {
        Self { max_bytes: 128 << 20, max_pixels: 120_000_000, max_unpacked_bytes: 512 << 20 }
    }
}

impl Limits {
    pub(super) fn check_bytes(&self, bytes: u64) -> Result<(), PictureError> {
        if bytes > self.max_bytes {
            return Err(PictureError::TooManyBytes { max_bytes: self.max_bytes });
        }
        Ok(())
    }

    pub(super) fn check_unpacked(&self, bytes: u64) -> Result<(), PictureError> {
        if bytes > self.max_unpacked_bytes {
            return Err(PictureError::TooManyUnpacked { bytes, max_bytes: self.max_unpacked_bytes });
        }
        Ok(())
    }

    pub(super) fn check_pixels(&self, width: u64, height: u64) -> Result<(), PictureError> {
        if width * height > self.max_pixels {
            return Err(PictureError::TooManyPixels { width, height, max_pixels: self.max_pixels });
        }
        Ok(())
    }
}

/// Why a file gave no picture.
#[derive(Debug, thiserror::Error)]
pub enum PictureError {
    /// The machine's fault.
    #[error("the file could not be read")]
    Io(#[source] io::Error),
    /// A folder, a pipe, a device.
    #[error("this is no file")]
    NotAFile,
    /// Zero bytes.
    #[error("the file is empty; take the photo or copy it again")]
    Empty,
    /// A limit.
    #[error("the file has more than the {max_bytes} bytes allowed; reduce the picture first")]
    TooManyBytes {
        /// How many it may have.
        max_bytes: u64,
    },
    /// A limit.
    #[error("the picture has {width} × {height} px, more than the {max_pixels} px allowed; reduce it first")]
    TooManyPixels {
        /// Width in px.
        width: u64,
        /// Height in px.
        height: u64,
        /// How many px it may have in all.
        max_pixels: u64,
    },
    /// A limit.
    #[error("the picture unpacks to {bytes} bytes, more than the {max_bytes} allowed; save it with 8 bits a channel")]
    TooManyUnpacked {
        /// How many it has.
        bytes: u64,
        /// How many it may have.
        max_bytes: u64,
    },
    /// Not one of the formats.
    #[error("this is no JPEG, PNG, WebP, BMP, TIFF or GIF picture, whatever its name says")]
    NotAPicture,
    /// HEIC, in a build without it.
    #[error(
        "this is a HEIC photo, which this build can't read; set the phone to save JPEG ('most compatible'), export the \
         photo as JPEG, or build boxward with `--features heic`"
    )]
    Heic,
    /// The file ends too early.
    #[error("the file ends before its picture does; copy it again")]
    Truncated,
    /// The bytes do not make sense.
    #[error("the {format} picture is damaged; copy it again")]
    Damaged {
        /// The format that it claims.
        format: &'static str,
        /// The decoder's word.
        #[source]
        source: Box<dyn std::error::Error + Send + Sync>,
    },
}
