//! Resampling of a picture: single points between pixels, turned and enlarged copies.

use crate::picture::Luma;

/// A point in picture px; pixel (0, 0) covers 0 to 1, its centre is (0.5, 0.5).
pub(super) type Point = [f32; 2];

pub(super) fn add(a: Point, b: Point) -> Point {
    [a[0] + b[0], a[1] + b[1]]
}

pub(super) fn sub(a: Point, b: Point) -> Point {
    [a[0] - b[0], a[1] - b[1]]
}

pub(super) fn scale(a: Point, by: f32) -> Point {
    [a[0] * by, a[1] * by]
}

pub(super) fn dot(a: Point, b: Point) -> f32 {
    a[0] * b[0] + a[1] * b[1]
}

pub(super) fn length(a: Point) -> f32 {
    dot(a, a).sqrt()
}

/// The point a fraction `t` of the way from `a` to `b`.
pub(super) fn mix(a: Point, b: Point, t: f32) -> Point {
    add(a, scale(sub(b, a), t))
}

/// A quarter turn: from reading direction to "down" in a picture whose y grows downwards.
pub(super) fn quarter_turn(a: Point) -> Point {
    [-a[1], a[0]]
}

/// Whether `p` lies in the picture.
pub(super) fn inside(luma: &Luma, p: Point) -> bool {
    p[0] >= 0.0 && p[1] >= 0.0 && p[0] <= luma.width() as f32 && p[1] <= luma.height() as f32
}

/// The grey value at `p`, interpolated between the four pixels around it; beyond the edge the edge's own value.
pub(super) fn grey(luma: &Luma, p: Point) -> f32 {
    let clamp = |v: f32, size: usize| (v - 0.5).clamp(0.0, (size - 1) as f32);
    let (x, y) = (clamp(p[0], luma.width()), clamp(p[1], luma.height()));
    let (x0, y0) = (x as usize, y as usize);
    let (x1, y1) = ((x0 + 1).min(luma.width() - 1), (y0 + 1).min(luma.height() - 1));
    let (fx, fy) = (x - x0 as f32, y - y0 as f32);
    let (upper, lower) = (luma.row(y0), luma.row(y1));
    let at = |row: &[u8], x: usize| f32::from(row[x]);
    let top = at(upper, x0) * (1.0 - fx) + at(upper, x1) * fx;
    let bottom = at(lower, x0) * (1.0 - fx) + at(lower, x1) * fx;
    top * (1.0 - fy) + bottom * fy
}

/// A copy of a picture, turned and scaled, and the way back.
pub(super) struct Turned {
    pub(super) luma: Luma,
    /// Picture px of the copy's origin.
    origin: Point,
    /// Picture px that one px to the right in the copy means; one px down is a quarter turn of it.
    step: Point,
}

impl Turned {
    /// Turns `luma` by `degrees` clockwise and makes it `zoom` times as large; what lies outside is the edge's value.
    /// `unit` is what one px of `luma` measures in picture px.
    pub(super) fn new(luma: &Luma, degrees: f32, zoom: f32, unit: f32) -> Self {
        let (sin, cos) = degrees.to_radians().sin_cos();
        let (w, h) = (luma.width() as f32, luma.height() as f32);
        let (tw, th) = ((w * cos.abs() + h * sin.abs()) * zoom, (w * sin.abs() + h * cos.abs()) * zoom);
        // Walking right in the copy walks along the picture's direction at −degrees.
        let right = scale([cos, -sin], 1.0 / zoom);
        let down = quarter_turn(right);
        let centre = [w / 2.0, h / 2.0];
        let origin = sub(sub(centre, scale(right, tw / 2.0)), scale(down, th / 2.0));
        let copy = if degrees == 0.0 && zoom == 1.0 {
            luma.clone()
        } else {
            Luma::from_fn(tw as usize, th as usize, |x, y| {
                let p = add(origin, add(scale(right, x as f32 + 0.5), scale(down, y as f32 + 0.5)));
                (grey(luma, p) + 0.5) as u8
            })
        };
        Self { luma: copy, origin: scale(origin, unit), step: scale(right, unit) }
    }

    /// The point of the picture that the copy shows at `p`.
    pub(super) fn to_picture(&self, p: Point) -> Point {
        add(self.origin, add(scale(self.step, p[0]), scale(quarter_turn(self.step), p[1])))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn turned_copies_show_what_they_say() {
        let luma = Luma::from_fn(90, 60, |x, y| (x * 2 + y) as u8);
        for degrees in [0.0, 30.0, 90.0, 150.0] {
            let turned = Turned::new(&luma, degrees, 2.0, 1.0);
            let (cx, cy) = (turned.luma.width() / 2, turned.luma.height() / 2);
            for (dx, dy) in [(0, 0), (20, 5), (5, 20)] {
                let (x, y) = (cx + dx, cy + dy);
                let p = turned.to_picture([x as f32 + 0.5, y as f32 + 0.5]);
                let here = f32::from(turned.luma.row(y)[x]);
                assert!((here - grey(&luma, p)).abs() <= 1.0, "{degrees}° at {x},{y}");
            }
        }
    }
}
