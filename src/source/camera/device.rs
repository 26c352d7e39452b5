//! Real webcams, through nokhwa. On Linux the list of cameras and formats comes from video4linux itself.

use jiff::Timestamp;
use nokhwa::Camera as Device;
use nokhwa::utils::{CameraFormat, CameraIndex, FrameFormat, RequestedFormat, RequestedFormatType, Resolution};

use super::error_text::error_of;
use super::{Camera, CameraError, Driver, Format, Frame, Stream};
use crate::picture::Packing;

/// The machine's webcams.
#[derive(Debug, Clone, Copy, Default)]
pub struct Webcams;

/// What can be read of what nokhwa knows.
const PACKINGS: [(Packing, FrameFormat); 3] =
    [(Packing::Mjpeg, FrameFormat::MJPEG), (Packing::Yuyv, FrameFormat::YUYV), (Packing::Nv12, FrameFormat::NV12)];

impl Driver for Webcams {
    fn list(&self) -> Result<Vec<Camera>, CameraError> {
        let mut cameras = system::list()?;
        cameras.sort_by_key(|camera| camera.number);
        if cameras.is_empty() { Err(CameraError::NoCamera) } else { Ok(cameras) }
    }

    fn open(&self, camera: &Camera, format: Format) -> Result<Box<dyn Stream>, CameraError> {
        let failed = |error: nokhwa::NokhwaError| error_of(&camera.name, &error.to_string());
        system::prepare(camera, format)?;
        let packed = PACKINGS.iter().find(|(packing, _)| *packing == format.packing).map(|(_, packed)| *packed);
        let packed = packed.ok_or_else(|| CameraError::NoFormat { name: camera.name.clone() })?;
        let [width, height] = format.size.map(|px| u32::try_from(px).unwrap_or(u32::MAX));
        let exact = CameraFormat::new(Resolution::new(width, height), packed, format.per_second);
        let wanted = RequestedFormat::with_formats(RequestedFormatType::Exact(exact), std::slice::from_ref(&packed));
        let mut device = Device::new(CameraIndex::Index(camera.number), wanted).map_err(failed)?;
        device.open_stream().map_err(failed)?;
        Ok(Box::new(Open { name: camera.name.clone(), device }))
    }
}

struct Open {
    name: String,
    device: Device,
}

impl Stream for Open {
    fn frame(&mut self) -> Result<Frame, CameraError> {
        let buffer = self.device.frame().map_err(|error| error_of(&self.name, &error.to_string()))?;
        // Where the driver does not say when it was taken, now is the nearest.
        let taken =
            buffer.capture_timestamp().and_then(|since| Timestamp::try_from(std::time::UNIX_EPOCH + since).ok());
        Ok(Frame { bytes: buffer.buffer().to_vec(), at: taken.unwrap_or_else(Timestamp::now) })
    }
}

#[cfg(target_os = "linux")]
mod system {
    use v4l::frameinterval::FrameIntervalEnum;
    use v4l::framesize::FrameSizeEnum;
    use v4l::video::Capture;
    use v4l::video::capture::Parameters;
    use v4l::{Device, FourCC, context};

    use super::{Camera, CameraError, Format, Packing, error_of};

    const CODES: [(Packing, &[u8; 4]); 3] =
        [(Packing::Mjpeg, b"MJPG"), (Packing::Yuyv, b"YUYV"), (Packing::Nv12, b"NV12")];

    /// A webcam has further nodes, for what is no picture: only nodes with a format of pictures count.
    pub(super) fn list() -> Result<Vec<Camera>, CameraError> {
        let mut cameras = Vec::new();
        let mut refused = None;
        for node in context::enum_devices() {
            let path = node.path().display().to_string();
            match Device::with_path(node.path()) {
                Ok(device) => {
                    let formats = formats(&device);
                    if !formats.is_empty() {
                        let name = device.query_caps().map_or(path, |caps| plain_name(&caps.card).to_owned());
                        cameras.push(Camera { number: u32::try_from(node.index()).unwrap_or(u32::MAX), name, formats });
                    }
                }
                Err(error) => refused = Some(error_of(&path, &error.to_string())),
            }
        }
        match refused {
            Some(error) if cameras.is_empty() => Err(error),
            _ => Ok(cameras),
        }
    }

    /// Most webcams' names come twice, `Desk Cam: Desk Cam`, and cut off at 31 bytes: once says as much.
    fn plain_name(card: &str) -> &str {
        match card.split_once(": ") {
            Some((name, again)) if name.starts_with(again.trim_end()) => name,
            _ => card,
        }
    }

    /// Rates that are no whole number are left out: nokhwa takes 7.5 a second for 15.
    fn formats(device: &Device) -> Vec<Format> {
        let mut formats = Vec::new();
        for (packing, code) in CODES {
            for size in device.enum_framesizes(FourCC::new(code)).unwrap_or_default() {
                let FrameSizeEnum::Discrete(size) = size.size else { continue };
                let intervals = device.enum_frameintervals(FourCC::new(code), size.width, size.height);
                for interval in intervals.unwrap_or_default() {
                    let FrameIntervalEnum::Discrete(interval) = interval.interval else { continue };
                    if interval.numerator == 1 {
                        let size = [size.width as usize, size.height as usize];
                        formats.push(Format { size, per_second: interval.denominator, packing });
                    }
                }
            }
        }
        formats
    }

    /// nokhwa can't open a camera that another program left at a rate that is no whole number: the format is set before.
    pub(super) fn prepare(camera: &Camera, format: Format) -> Result<(), CameraError> {
        let failed = |error: std::io::Error| error_of(&camera.name, &error.to_string());
        let Some((_, code)) = CODES.iter().find(|(packing, _)| *packing == format.packing) else {
            return Err(CameraError::NoFormat { name: camera.name.clone() });
        };
        let [width, height] = format.size.map(|px| u32::try_from(px).unwrap_or(u32::MAX));
        let device = Device::new(camera.number as usize).map_err(failed)?;
        device.set_format(&v4l::Format::new(width, height, FourCC::new(code))).map_err(failed)?;
        device.set_params(&Parameters::with_fps(format.per_second)).map_err(failed)?;
        Ok(())
    }

    #[cfg(test)]
    mod tests {
        use super::plain_name;

        #[test]
        fn a_name_is_said_once() {
            let names = ["Desk Cam: Desk Cam", "Built-in Camera: Built-in Came", "Twin Cam: Left", "Lid"];
            assert_eq!(names.map(plain_name), ["Desk Cam", "Built-in Camera", "Twin Cam: Left", "Lid"]);
        }
    }
}

#[cfg(not(target_os = "linux"))]
mod system {
    use nokhwa::Camera as Device;
    use nokhwa::utils::{ApiBackend, CameraIndex, RequestedFormat, RequestedFormatType};

    use super::{Camera, CameraError, Format, PACKINGS, error_of};

    /// Formats are known only to an opened camera.
    pub(super) fn list() -> Result<Vec<Camera>, CameraError> {
        // macOS asks the user; until the answer nothing is listed, and the next try finds it.
        nokhwa::nokhwa_initialize(|_| {});
        let found = nokhwa::query(ApiBackend::Auto).map_err(|error| error_of("the camera", &error.to_string()))?;
        let mut cameras = Vec::new();
        for (position, info) in (0..).zip(found) {
            let number = if let CameraIndex::Index(index) = info.index() { *index } else { position };
            let all = PACKINGS.map(|(_, packed)| packed);
            let wanted = RequestedFormat::with_formats(RequestedFormatType::AbsoluteHighestResolution, &all);
            let known = Device::new(CameraIndex::Index(number), wanted)
                .and_then(|mut device| device.compatible_camera_formats())
                .unwrap_or_default();
            let formats = known.iter().filter_map(|format| {
                let (packing, _) = PACKINGS.iter().find(|(_, packed)| *packed == format.format())?;
                let size = [format.width() as usize, format.height() as usize];
                Some(Format { size, per_second: format.frame_rate(), packing: *packing })
            });
            cameras.push(Camera { number, name: info.human_name(), formats: formats.collect() });
        }
        Ok(cameras)
    }

    pub(super) fn prepare(_: &Camera, _: Format) -> Result<(), CameraError> {
        Ok(())
    }
}
