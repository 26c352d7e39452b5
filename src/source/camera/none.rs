//! A build without cameras says so.

use super::{Camera, CameraError, Driver, Format, Stream};

/// No webcams.
#[derive(Debug, Clone, Copy, Default)]
pub struct Webcams;

impl Driver for Webcams {
    fn list(&self) -> Result<Vec<Camera>, CameraError> {
        Err(CameraError::NotBuiltIn)
    }

    fn open(&self, _: &Camera, _: Format) -> Result<Box<dyn Stream>, CameraError> {
        Err(CameraError::NotBuiltIn)
    }
}
