//! Which camera, and which of its formats.

use std::cmp::Reverse;
use std::convert::Infallible;
use std::fmt;
use std::str::FromStr;

use super::{Camera, CameraError, Format};
use crate::picture::Packing;

/// Which camera is wanted.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum Choice {
    /// Whichever there is.
    #[default]
    Any,
    /// The one of this number.
    Number(u32),
    /// The one of this name, or of a name that holds this.
    Name(String),
}

impl FromStr for Choice {
    type Err = Infallible;

    fn from_str(text: &str) -> Result<Self, Infallible> {
        Ok(text.trim().parse().map_or_else(|_| Self::Name(text.trim().to_owned()), Self::Number))
    }
}

impl fmt::Display for Choice {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Any => f.write_str("any"),
            Self::Number(number) => number.fmt(f),
            Self::Name(name) => f.write_str(name),
        }
    }
}

/// The camera that is wanted. A whole name counts before a part of one, then the lower number.
///
/// # Errors
/// If there is none of the kind.
pub fn pick<'a>(cameras: &'a [Camera], choice: &Choice) -> Result<&'a Camera, CameraError> {
    let find = |is: &dyn Fn(&Camera) -> bool| cameras.iter().filter(|c| is(c)).min_by_key(|c| c.number);
    let found = match choice {
        Choice::Any => find(&|camera| !best_formats(camera).is_empty()),
        Choice::Number(number) => find(&|camera| camera.number == *number),
        Choice::Name(name) => {
            let wanted = name.to_lowercase();
            find(&|camera| camera.name.to_lowercase() == wanted)
                .or_else(|| find(&|camera| camera.name.to_lowercase().contains(&wanted)))
        }
    };
    found.ok_or_else(|| match choice {
        Choice::Any => CameraError::NoCamera,
        _ if cameras.is_empty() => CameraError::NoCamera,
        _ => CameraError::NoSuchCamera {
            wanted: choice.to_string(),
            known: cameras.iter().map(|camera| format!("{} ({})", camera.number, camera.name)).collect(),
        },
    })
}

/// A camera's formats that are of use, the best first: at most 1080p and at least 15 a second, as a hand moves; then the
/// most pixels, because bars are small; then the most frames up to 30; then what is least compressed.
#[must_use]
pub fn best_formats(camera: &Camera) -> Vec<Format> {
    const MOST_PIXELS: usize = 1920 * 1080;
    const LEAST_PER_SECOND: u32 = 15;
    const ENOUGH_PER_SECOND: u32 = 30;
    let pixels = |format: &Format| format.size[0] * format.size[1];
    let mut formats: Vec<Format> = camera.formats.iter().copied().filter(|f| pixels(f) <= MOST_PIXELS).collect();
    formats.sort_by_key(|format| {
        let packed = match format.packing {
            Packing::Yuyv | Packing::Nv12 | Packing::Grey => 0,
            Packing::Mjpeg => 1,
        };
        let per_second = format.per_second.min(ENOUGH_PER_SECOND);
        (Reverse(format.per_second >= LEAST_PER_SECOND), Reverse(pixels(format)), Reverse(per_second), packed)
    });
    formats.dedup();
    formats
}

#[cfg(test)]
mod tests {
    use super::*;

    fn format(width: usize, height: usize, per_second: u32, packing: Packing) -> Format {
        Format { size: [width, height], per_second, packing }
    }

    fn camera(number: u32, name: &str) -> Camera {
        Camera { number, name: name.to_owned(), formats: vec![format(640, 480, 30, Packing::Yuyv)] }
    }

    #[test]
    fn the_best_format_is_large_and_quick() {
        let formats = vec![
            format(3840, 2160, 30, Packing::Mjpeg),
            format(1920, 1080, 5, Packing::Yuyv),
            format(640, 480, 30, Packing::Yuyv),
            format(1280, 720, 30, Packing::Mjpeg),
            format(1280, 720, 10, Packing::Yuyv),
            format(1280, 720, 30, Packing::Yuyv),
            format(1280, 720, 15, Packing::Mjpeg),
        ];
        let best = best_formats(&Camera { formats, ..camera(0, "") });
        let shown: Vec<String> = best.iter().map(ToString::to_string).collect();
        assert_eq!(
            shown,
            [
                "1280 × 720 YUYV at 30/s",
                "1280 × 720 MJPEG at 30/s",
                "1280 × 720 MJPEG at 15/s",
                "640 × 480 YUYV at 30/s",
                "1920 × 1080 YUYV at 5/s",
                "1280 × 720 YUYV at 10/s",
            ]
        );
    }

    #[test]
    fn a_camera_is_found_by_number_whole_name_or_part() {
        let cameras = [camera(2, "Desk Cam Pro"), camera(4, "Desk Cam"), camera(0, "Lid")];
        let picked = |text: &str| pick(&cameras, &text.parse().unwrap()).map(|camera| camera.number);
        assert_eq!((picked("4"), picked("desk cam"), picked("PRO"), picked("cam")), (Ok(4), Ok(4), Ok(2), Ok(2)));
        assert_eq!(pick(&cameras, &Choice::Any).map(|camera| camera.number), Ok(0));
        let error = picked("7").unwrap_err().to_string();
        assert_eq!(error, "there is no camera '7'; there is 2 (Desk Cam Pro), 4 (Desk Cam), 0 (Lid)");
        assert_eq!(pick(&[], &Choice::Number(1)), Err(CameraError::NoCamera));
        assert_eq!(pick(&[], &Choice::Any), Err(CameraError::NoCamera));
    }
}
