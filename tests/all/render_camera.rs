//! The simulated camera's geometry, by facts that hold for any pinhole camera.

use crate::render::camera::Camera;
use crate::render::{Bend, Crease, Pose};

const MIDDLE: [f32; 2] = [75.0, 35.0];

fn near(a: [f32; 2], b: [f32; 2], limit: f32) {
    assert!((a[0] - b[0]).abs() < limit && (a[1] - b[1]).abs() < limit, "{a:?} is not {b:?}");
}

#[test]
fn the_middle_is_where_the_pose_says() {
    let bend = Some(Bend { radius_modules: 200.0, crest_deg: 20.0 });
    for pose in [
        Pose::default(),
        Pose { turn_deg: 33.0, tilt_x_deg: 20.0, tilt_y_deg: -15.0, ..Pose::default() },
        Pose { turn_deg: 33.0, tilt_x_deg: 20.0, bend, ..Pose::default() },
    ] {
        near(Camera::new(&pose, MIDDLE).to_modules(320.0, 240.0).unwrap(), MIDDLE, 1e-2);
    }
}

#[test]
fn a_flat_book_is_scaled_and_turned_clockwise() {
    let flat = Camera::new(&Pose { module_px: 4.0, ..Pose::default() }, MIDDLE);
    near(flat.to_pixels([MIDDLE[0] + 10.0, MIDDLE[1] + 5.0]), [360.0, 260.0], 1e-2);
    // Turned by a quarter, the reading direction points down.
    let turned = Camera::new(&Pose { module_px: 4.0, turn_deg: 90.0, ..Pose::default() }, MIDDLE);
    near(turned.to_pixels([MIDDLE[0] + 10.0, MIDDLE[1]]), [320.0, 280.0], 1e-2);
}

#[test]
fn what_is_farther_away_is_smaller() {
    let width = |camera: &Camera, v: f32| {
        camera.to_pixels([MIDDLE[0] + 40.0, v])[0] - camera.to_pixels([MIDDLE[0] - 40.0, v])[0]
    };
    let tilted = Camera::new(&Pose { tilt_x_deg: 30.0, distance_modules: 300.0, ..Pose::default() }, MIDDLE);
    let (top, bottom) = (width(&tilted, MIDDLE[1] - 30.0), width(&tilted, MIDDLE[1] + 30.0));
    // By the rule of proportion: distance 300 ± 30 sin 30°.
    assert!((top / bottom - 285.0 / 315.0).abs() < 1e-3, "{top} {bottom}");
}

#[test]
fn a_cylinder_shortens_its_flanks() {
    let bend = Some(Bend { radius_modules: 100.0, crest_deg: 0.0 });
    let far = Pose { module_px: 1.0, distance_modules: 1e5, bend, ..Pose::default() };
    let camera = Camera::new(&far, MIDDLE);
    // From far away, an arc of 60 modules is seen as radius times the sine of its angle; along the crest nothing changes.
    near(camera.to_pixels([MIDDLE[0] + 60.0, MIDDLE[1] + 20.0]), [320.0 + 100.0 * 0.6f32.sin(), 260.0], 0.1);
    let across = Bend { radius_modules: 100.0, crest_deg: 90.0 };
    let camera = Camera::new(&Pose { bend: Some(across), ..far }, MIDDLE);
    near(camera.to_pixels([MIDDLE[0] + 20.0, MIDDLE[1] + 60.0]), [340.0, 240.0 + 100.0 * 0.6f32.sin()], 0.1);
}

#[test]
fn creases_move_print_to_and_fro() {
    let crease = Crease { by_modules: 1.0, apart_modules: 40.0, across_deg: 0.0, phase: 0.0 };
    let camera = Camera::new(&Pose { creases: [Some(crease), None, None, None], ..Pose::default() }, MIDDLE);
    // At a ridge and half way to the next, whatever the height.
    for v in [320.0, 350.0] {
        near(camera.to_modules(320.0, v).unwrap(), [MIDDLE[0] + 1.0, MIDDLE[1] + (v - 240.0) / 3.0], 1e-3);
        near(camera.to_modules(320.0 + 60.0, v).unwrap(), [MIDDLE[0] + 19.0, MIDDLE[1] + (v - 240.0) / 3.0], 1e-3);
    }
}

#[test]
fn there_and_back() {
    let bend = Some(Bend { radius_modules: 250.0, crest_deg: 35.0 });
    let crease = Some(Crease { by_modules: 0.7, apart_modules: 30.0, across_deg: 25.0, phase: 0.3 });
    for (bend, crease) in [(None, None), (bend, None), (None, crease), (bend, crease)] {
        let creases = [crease, None, crease.map(|c| Crease { across_deg: -40.0, ..c }), None];
        let pose = Pose { turn_deg: 17.0, tilt_x_deg: 12.0, tilt_y_deg: -9.0, bend, creases, ..Pose::default() };
        let camera = Camera::new(&pose, MIDDLE);
        for place in [[0.0, 0.0], [150.0, 0.0], [150.0, 70.0], [0.0, 70.0], [40.0, 60.0]] {
            let [x, y] = camera.to_pixels(place);
            near(camera.to_modules(x, y).unwrap(), place, 0.05);
        }
    }
}
