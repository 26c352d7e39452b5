//! What a simulated picture shows and how it was taken: plain numbers with their units. The defaults are a clean,
//! sharp, straight picture, so that a test names only what it spoils.

use super::cover::Cover;
use super::symbol::Symbol;

/// A picture to take.
#[derive(Debug, Clone)]
pub struct Scene {
    /// Width in pixels.
    pub width: usize,
    /// Height in pixels.
    pub height: usize,
    /// Decides every random detail: desk grain and sensor noise. Covers have their own seed.
    pub seed: u64,
    /// What lies under the books.
    pub desk: Desk,
    /// The books, the lowest first.
    pub books: Vec<Book>,
    /// The light on the whole scene.
    pub light: Light,
    /// Lens out of focus: the Gaussian blur's deviation, in modules of the first book.
    pub defocus_modules: f32,
    /// Camera moved while it exposed.
    pub motion: Motion,
    /// The sensor's noise.
    pub noise: Noise,
    /// JPEG quality, 1 to 100; `None`: the sensor's picture as it is.
    pub jpeg_quality: Option<u8>,
    /// Samples a pixel in each direction, at least 1. 3 is enough from about one pixel a module on.
    pub supersample: usize,
}

impl Default for Scene {
    fn default() -> Self {
        Self {
            width: 640,
            height: 480,
            seed: 1,
            desk: Desk::Plain([0.25, 0.22, 0.18]),
            books: Vec::new(),
            light: Light::default(),
            defocus_modules: 0.0,
            motion: Motion::default(),
            noise: Noise::default(),
            jpeg_quality: None,
            supersample: 3,
        }
    }
}

/// Red, green and blue as shares of light given back, linear, 0 to 1.
pub type Ink = [f32; 3];

/// What lies under the books.
#[derive(Debug, Clone, Copy)]
pub enum Desk {
    /// One colour.
    Plain(Ink),
    /// Wood with its grain; one grain line is about `grain_px` pixels wide.
    Wood {
        /// The wood's colour.
        ink: Ink,
        /// The width of a grain line in pixels.
        grain_px: f32,
    },
}

/// A book in the picture.
#[derive(Debug, Clone)]
pub struct Book {
    /// Its bar code.
    pub symbol: Symbol,
    /// What is printed around the bar code.
    pub cover: Cover,
    /// Where it lies.
    pub pose: Pose,
    /// Bars wider than they should be (spread ink; negative: too narrow), in modules on each edge of a bar.
    pub bar_growth_modules: f32,
    /// What bars and white are printed with.
    pub bars: Bars,
    /// What hides parts of the print, the lowest first.
    pub marks: Vec<Mark>,
    /// Reflections on the bag's film.
    pub glare: Vec<Glare>,
    /// Light that the film scatters everywhere, as a share of white: takes contrast.
    pub haze: f32,
    /// Seen in a mirror (or by a webcam that shows one): left and right swapped.
    pub mirrored: bool,
}

impl Book {
    /// A flat, clean book in the middle of nowhere: give it a pose.
    pub fn new(symbol: Symbol, cover: Cover, pose: Pose) -> Self {
        Self {
            symbol,
            cover,
            pose,
            bar_growth_modules: 0.0,
            bars: Bars::default(),
            marks: Vec::new(),
            glare: Vec::new(),
            haze: 0.0,
            mirrored: false,
        }
    }
}

/// The two inks of a bar code.
#[derive(Debug, Clone, Copy)]
pub struct Bars {
    /// The bars.
    pub dark: Ink,
    /// The paper between them and the box around them.
    pub light: Ink,
}

impl Default for Bars {
    fn default() -> Self {
        Self { dark: [0.035, 0.033, 0.035], light: [0.88, 0.87, 0.84] }
    }
}

/// Where and how a book lies before the camera. Angles in degrees.
#[derive(Debug, Clone, Copy)]
pub struct Pose {
    /// Where the middle of the bar code (add-on included) is in the picture, in pixels.
    pub at_px: [f32; 2],
    /// Pixels a module there.
    pub module_px: f32,
    /// Turned clockwise in the picture; 90: the bars lie, and the code is read downwards.
    pub turn_deg: f32,
    /// Turned about the bar code's horizontal axis: above 0 the top is farther away.
    pub tilt_x_deg: f32,
    /// Turned about the bars' direction: above 0 the left is farther away.
    pub tilt_y_deg: f32,
    /// From the camera to the bar code, in modules: near makes perspective strong. 900 is about 30 cm.
    pub distance_modules: f32,
    /// How the paper bends.
    pub bend: Option<Bend>,
    /// How it is creased.
    pub creases: [Option<Crease>; 4],
}

impl Default for Pose {
    fn default() -> Self {
        Self {
            at_px: [320.0, 240.0],
            module_px: 3.0,
            turn_deg: 0.0,
            tilt_x_deg: 0.0,
            tilt_y_deg: 0.0,
            distance_modules: 900.0,
            bend: None,
            creases: [None; 4],
        }
    }
}

/// Ridges and valleys side by side, as in a bag that was crumpled: seen from above, stretches of the paper are shortened in
/// turn, so that what is printed moves to and fro.
#[derive(Debug, Clone, Copy)]
pub struct Crease {
    /// How far a point moves at most, in modules.
    pub by_modules: f32,
    /// From one ridge to the next, in modules.
    pub apart_modules: f32,
    /// Across the ridges: 0 the reading direction, 90 along the bars. In degrees.
    pub across_deg: f32,
    /// Where the first ridge lies, as a share of the distance between two.
    pub phase: f32,
}

impl Crease {
    /// How far it moves what lies at a place without it, in modules.
    pub fn moves(&self, [u, v]: [f32; 2]) -> [f32; 2] {
        let (sin, cos) = self.across_deg.to_radians().sin_cos();
        let at = (u * cos + v * sin) / self.apart_modules + self.phase;
        // From −1 to 1 and back, in straight lines.
        let by = self.by_modules * (4.0 * (at - at.floor() - 0.5).abs() - 1.0);
        [by * cos, by * sin]
    }
}

/// Paper bent like part of a cylinder, bulging to the camera, its crest through the middle of the bar code.
#[derive(Debug, Clone, Copy)]
pub struct Bend {
    /// The cylinder's radius in modules.
    pub radius_modules: f32,
    /// The crest's direction: 0 along the bars, 90 across them. In degrees.
    pub crest_deg: f32,
}

/// A reflection: an ellipse on the book in which light is added.
#[derive(Debug, Clone, Copy)]
pub struct Glare {
    /// Its middle, in modules from the top left corner of the first bar.
    pub at_modules: [f32; 2],
    /// Half its length and half its breadth, in modules, where the light has fallen to half.
    pub half_modules: [f32; 2],
    /// Its length's direction, clockwise from the reading direction, in degrees.
    pub turn_deg: f32,
    /// The added light in the middle, as a share of white: above 1 burns everything out.
    pub strength: f32,
}

/// Something that hides print, a rectangle: a scratch, a torn strip, a sticker, a finger. It may reach over the edges.
#[derive(Debug, Clone, Copy)]
pub struct Mark {
    /// Its middle, in modules from the top left corner of the first bar.
    pub at_modules: [f32; 2],
    /// Half its length and half its breadth, in modules.
    pub half_modules: [f32; 2],
    /// Its length's direction, clockwise from the reading direction, in degrees.
    pub turn_deg: f32,
    /// The radius of its corners, in modules.
    pub round_modules: f32,
    /// How far its rim wanders in and out, in modules: torn paper.
    pub rough_modules: f32,
    /// What one sees of it.
    pub ink: Ink,
}

/// The light on the scene.
#[derive(Debug, Clone, Copy)]
pub struct Light {
    /// What a perfectly white paper would give, as a share of the sensor's full scale: below about 0.1 is dim.
    pub level: f32,
    /// The light's relative change over the whole width and the whole height.
    pub slope: [f32; 2],
    /// The share of light that the corners lack.
    pub vignette: f32,
    /// The light's colour; a grey picture has none.
    pub tint: Ink,
}

impl Default for Light {
    fn default() -> Self {
        Self { level: 0.9, slope: [0.0, 0.0], vignette: 0.0, tint: [1.0, 1.0, 1.0] }
    }
}

/// Camera shake: one straight line.
#[derive(Debug, Clone, Copy, Default)]
pub struct Motion {
    /// The line's length, in modules of the first book.
    pub length_modules: f32,
    /// Its direction in the picture, clockwise from the right, in degrees.
    pub turn_deg: f32,
}

/// Sensor noise, each as a deviation in shares of the sensor's full scale.
#[derive(Debug, Clone, Copy, Default)]
pub struct Noise {
    /// Photon noise at full scale; falls with the square root of the light.
    pub shot: f32,
    /// Read noise: the same everywhere.
    pub read: f32,
}
