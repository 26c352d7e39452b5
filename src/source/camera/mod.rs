//! A webcam: which there are, in which format, and its frames, looked at as they come.
//!
//! Cameras freeze, are unplugged, are in use elsewhere and send damaged frames. None of that ends a session: it is told,
//! and the camera is opened again when that may help. What drives cameras is behind [`Driver`], so that all of it is
//! tested without one.

mod choose;
#[cfg(feature = "camera")]
mod device;
#[cfg(not(feature = "camera"))]
#[path = "none.rs"]
mod device;
#[cfg(feature = "camera")]
mod error_text;
mod watch;

pub use choose::{Choice, best_formats, pick};
pub use device::Webcams;
pub use watch::{Event, NO_PICTURE_AFTER, RETRY_AFTER, Timing, Watch, watch};

use std::fmt;

use jiff::Timestamp;

use crate::picture::Packing;

/// A camera that gives pictures.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Camera {
    /// Its number; on Linux that of its `/dev/video` node.
    pub number: u32,
    /// Its name.
    pub name: String,
    /// What it can send.
    pub formats: Vec<Format>,
}

/// One way in which a camera sends pictures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Format {
    /// Width and height in px.
    pub size: [usize; 2],
    /// Frames a second.
    pub per_second: u32,
    /// How they are packed.
    pub packing: Packing,
}

impl fmt::Display for Format {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { size: [width, height], per_second, packing } = self;
        write!(f, "{width} × {height} {} at {per_second}/s", packing.word())
    }
}

/// A frame as the camera sent it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Frame {
    /// Its bytes, perhaps with more behind them.
    pub bytes: Vec<u8>,
    /// When it was taken.
    pub at: Timestamp,
}

/// What drives cameras.
pub trait Driver: Send + 'static {
    /// The cameras that give pictures, by number.
    ///
    /// # Errors
    /// If there is none, or none may be used.
    fn list(&self) -> Result<Vec<Camera>, CameraError>;

    /// Begins to take pictures.
    ///
    /// # Errors
    /// If the camera can't be used, or not in this format.
    fn open(&self, camera: &Camera, format: Format) -> Result<Box<dyn Stream>, CameraError>;
}

/// A camera that takes pictures.
pub trait Stream {
    /// Waits for the next frame, perhaps for ever.
    ///
    /// # Errors
    /// If no further frame will come.
    fn frame(&mut self) -> Result<Frame, CameraError>;
}

/// Why a camera gives no pictures, and what to do.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CameraError {
    /// This build has none.
    #[error("this boxward was built without cameras; build it with its feature 'camera', or scan with --handheld")]
    NotBuiltIn,
    /// There is none.
    #[error("there is no camera that gives pictures; plug one in, or scan with --handheld")]
    NoCamera,
    /// There is none of this number or name.
    #[error("there is no camera '{wanted}'; there is {}", known.join(", "))]
    NoSuchCamera {
        /// What was asked for.
        wanted: String,
        /// Those there are.
        known: Vec<String>,
    },
    /// It can't send anything that can be read.
    #[error("{name} sends neither MJPEG nor YUYV nor NV12; try another camera")]
    NoFormat {
        /// The camera.
        name: String,
    },
    /// Another program has it.
    #[error("{name} is in use; close the program that shows its picture (a call, a browser's page)")]
    Busy {
        /// The camera.
        name: String,
    },
    /// The user may not use it.
    #[error(
        "{name} may not be used; allow it in the system's privacy settings or, on Linux, join its group \
         ('sudo usermod -aG video $USER', then log in again)"
    )]
    Forbidden {
        /// The camera.
        name: String,
    },
    /// It is not there any more.
    #[error("{name} is gone; plug it in again")]
    Gone {
        /// The camera.
        name: String,
    },
    /// It failed.
    #[error("{name} failed; unplug it and plug it in again, or try another socket ({what})")]
    Failed {
        /// The camera.
        name: String,
        /// What its driver said.
        what: String,
    },
}
