//! Where a pixel falls on a book: a ray through the pixel, met with the book's plane or cylinder.

use super::scene::{Bend, Book, Crease, Pose};

/// The way back from a pixel to a book, made once for a picture.
#[derive(Debug, Clone)]
pub struct Camera {
    at_px: [f32; 2],
    focal_px: f32,
    /// The eye in the book's own axes, the bar code's middle as origin.
    eye: [f32; 3],
    /// Rows turn a direction in the camera's axes to the book's.
    to_book: [[f32; 3]; 3],
    bend: Option<Bend>,
    creases: [Option<Crease>; 4],
    middle: [f32; 2],
}

impl Camera {
    /// For a book of the scene.
    pub fn of(book: &Book) -> Self {
        Self::new(&book.pose, [book.symbol.width() / 2.0, book.symbol.height / 2.0])
    }

    /// For a book whose bar code has its middle at `middle`, in modules from its first bar.
    pub fn new(pose: &Pose, middle: [f32; 2]) -> Self {
        let (tx, ty, tz) = (pose.tilt_x_deg.to_radians(), pose.tilt_y_deg.to_radians(), pose.turn_deg.to_radians());
        let about_x = [[1.0, 0.0, 0.0], [0.0, tx.cos(), tx.sin()], [0.0, -tx.sin(), tx.cos()]];
        let about_y = [[ty.cos(), 0.0, ty.sin()], [0.0, 1.0, 0.0], [-ty.sin(), 0.0, ty.cos()]];
        let about_z = [[tz.cos(), -tz.sin(), 0.0], [tz.sin(), tz.cos(), 0.0], [0.0, 0.0, 1.0]];
        let to_book = transpose(product(about_z, product(about_x, about_y)));
        Self {
            at_px: pose.at_px,
            focal_px: pose.module_px * pose.distance_modules,
            eye: apply(to_book, [0.0, 0.0, -pose.distance_modules]),
            to_book,
            bend: pose.bend,
            creases: pose.creases,
            middle,
        }
    }

    /// The place on the book that a picture's point (in pixels) shows, in modules from the first bar's top left
    /// corner; `None`: the ray misses it.
    pub fn to_modules(&self, x: f32, y: f32) -> Option<[f32; 2]> {
        let ray = apply(self.to_book, [(x - self.at_px[0]) / self.focal_px, (y - self.at_px[1]) / self.focal_px, 1.0]);
        let [u, v] = match self.bend {
            None => {
                let t = -self.eye[2] / ray[2];
                (t > 0.0).then_some([self.eye[0] + t * ray[0], self.eye[1] + t * ray[1]])?
            }
            Some(bend) => self.on_cylinder(ray, bend)?,
        };
        let [u, v] = self.moved([u, v], [u, v]);
        Some([u + self.middle[0], v + self.middle[1]])
    }

    /// Where in the picture (in pixels) a place on the book is seen, if nothing covers it.
    pub fn to_pixels(&self, [u, v]: [f32; 2]) -> [f32; 2] {
        let (u, v) = (u - self.middle[0], v - self.middle[1]);
        // What lies there without creases, step by step.
        let [u, v] = (0..20).fold([u, v], |at, _| {
            let there = self.moved([0.0, 0.0], at);
            [u - there[0], v - there[1]]
        });
        let point = match self.bend {
            None => [u, v, 0.0],
            Some(bend) => {
                let (sin, cos) = bend.crest_deg.to_radians().sin_cos();
                let (across, along) = (u * cos + v * sin, v * cos - u * sin);
                let (radius, angle) = (bend.radius_modules, across / bend.radius_modules);
                let x = radius * angle.sin();
                [x * cos - along * sin, x * sin + along * cos, radius * (1.0 - angle.cos())]
            }
        };
        let from_eye: [f32; 3] = std::array::from_fn(|k| point[k] - self.eye[k]);
        let [x, y, z] = apply(transpose(self.to_book), from_eye);
        [self.at_px[0] + self.focal_px * x / z, self.at_px[1] + self.focal_px * y / z]
    }

    /// `place` moved as the creases move what lies `at` a place without them.
    fn moved(&self, place: [f32; 2], at: [f32; 2]) -> [f32; 2] {
        self.creases.iter().flatten().fold(place, |place, crease| {
            let by = crease.moves(at);
            [place[0] + by[0], place[1] + by[1]]
        })
    }

    /// The cylinder touches the book's plane along the crest, and its axis lies behind the plane.
    fn on_cylinder(&self, ray: [f32; 3], bend: Bend) -> Option<[f32; 2]> {
        let (sin, cos) = bend.crest_deg.to_radians().sin_cos();
        let radius = bend.radius_modules;
        // Across and along the crest.
        let turned = |p: [f32; 3]| [p[0] * cos + p[1] * sin, p[1] * cos - p[0] * sin, p[2]];
        let (eye, ray) = (turned(self.eye), turned(ray));
        let (ez, a) = (eye[2] - radius, ray[0] * ray[0] + ray[2] * ray[2]);
        let half_b = eye[0] * ray[0] + ez * ray[2];
        let c = eye[0] * eye[0] + ez * ez - radius * radius;
        let root = half_b * half_b - a * c;
        if root < 0.0 {
            return None;
        }
        let t = (-half_b - root.sqrt()) / a;
        let across = radius * (eye[0] + t * ray[0]).atan2(radius - (eye[2] + t * ray[2]));
        let along = eye[1] + t * ray[1];
        Some([across * cos - along * sin, across * sin + along * cos])
    }
}

fn apply(m: [[f32; 3]; 3], v: [f32; 3]) -> [f32; 3] {
    m.map(|row| row[0] * v[0] + row[1] * v[1] + row[2] * v[2])
}

fn product(a: [[f32; 3]; 3], b: [[f32; 3]; 3]) -> [[f32; 3]; 3] {
    let columns = transpose(b);
    a.map(|row| columns.map(|column| row[0] * column[0] + row[1] * column[1] + row[2] * column[2]))
}

fn transpose(m: [[f32; 3]; 3]) -> [[f32; 3]; 3] {
    std::array::from_fn(|i| std::array::from_fn(|j| m[j][i]))
}
