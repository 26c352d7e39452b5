//! The project's own renderer: simulated pictures of comics' bar codes, for tests, benchmarks and the example stack.
//!
//! It shares nothing with the library: its digit tables and geometry are its own, so that a mistake on one side shows
//! as a difference. A picture depends on its [`Scene`] alone: same scene, same picture.
//!
//! | file | does |
//! |---|---|
//! | `symbol` | digits to dark and light modules |
//! | `cover` | the flat artwork around the bar code, point by point |
//! | `overlay` | reflections and marks over the print |
//! | `scene` | every parameter of a picture, with its unit |
//! | `camera` | from a pixel back to the point of the book that it shows |
//! | `view` | what each pixel sees, and how it is lit |
//! | `lens` | blur |
//! | `sensor` | noise, eight bits |
//! | `file` | JPEG and PNG bytes |

#![allow(dead_code, unused_imports, reason = "several test programs include this module, and each uses a part of it")]
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "test code: a failure should stop the test")]

pub mod camera;
pub mod cover;
pub mod file;
pub mod font;
pub mod lens;
pub mod overlay;
pub mod random;
pub mod scene;
pub mod sensor;
pub mod symbol;
pub mod view;

pub use cover::{Cover, Pattern};
pub use random::Random;
pub use scene::{Bars, Bend, Book, Crease, Desk, Glare, Light, Mark, Motion, Noise, Pose, Scene};
pub use symbol::Symbol;

/// A grey picture, row by row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Grey {
    /// Width in pixels.
    pub width: usize,
    /// Height in pixels.
    pub height: usize,
    /// Luma, 0 is black.
    pub pixels: Vec<u8>,
}

/// A colour picture, row by row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rgb {
    /// Width in pixels.
    pub width: usize,
    /// Height in pixels.
    pub height: usize,
    /// Red, green, blue for each pixel.
    pub pixels: Vec<u8>,
}

/// Takes the picture in grey, JPEG losses included.
pub fn render(scene: &Scene) -> Grey {
    let [pixels] = sensor::expose(scene, sensor::grey);
    let picture = Grey { width: scene.width, height: scene.height, pixels };
    match scene.jpeg_quality {
        None => picture,
        Some(quality) => file::from_jpeg(&file::grey_jpeg(&picture, quality)),
    }
}

/// Takes the picture in colour, as the sensor gives it (no JPEG).
pub fn render_rgb(scene: &Scene) -> Rgb {
    let [red, green, blue] = sensor::expose(scene, |ink| ink);
    let pixels = red.into_iter().zip(green).zip(blue).flat_map(|((r, g), b)| [r, g, b]).collect();
    Rgb { width: scene.width, height: scene.height, pixels }
}
