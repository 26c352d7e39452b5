//! What the webcam sees: a comic's bar code, drawn once for each size.

use std::collections::HashMap;
use std::sync::Mutex;

use boxward::picture::{Luma, to_jpeg};

use crate::render::symbol::digits;
use crate::render::{Book, Cover, Pose, Scene, Symbol, render};

/// What is printed, in the form that the reader gives it.
pub const GTIN: &str = "0614141000418";
pub const ADD_ON: &str = "00411";

type Size = [u16; 2];

/// Frames by size and packing.
#[derive(Default)]
pub struct Pictures {
    drawn: Mutex<HashMap<Size, Luma>>,
    mjpeg: Mutex<HashMap<Size, Vec<u8>>>,
    yuyv: Mutex<HashMap<Size, Vec<u8>>>,
}

impl Pictures {
    /// The picture before it is packed.
    pub fn luma(&self, size: Size) -> Luma {
        self.drawn.lock().unwrap().entry(size).or_insert_with(|| draw(size)).clone()
    }

    pub fn frame(&self, size: Size, mjpeg: bool) -> Vec<u8> {
        let pack = || {
            let luma = self.luma(size);
            match mjpeg {
                true => to_jpeg(&luma, 90).expect("a JPEG"),
                false => luma.pixels().iter().flat_map(|&y| [y, 128]).collect(),
            }
        };
        let packed = if mjpeg { &self.mjpeg } else { &self.yuyv };
        packed.lock().unwrap().entry(size).or_insert_with(pack).clone()
    }
}

fn draw([width, height]: Size) -> Luma {
    let symbol = Symbol::upc_a(digits(&GTIN[1..])).with_five(digits(ADD_ON));
    let at_px = [f32::from(width) / 2.0, f32::from(height) / 2.0];
    let pose = Pose { at_px, module_px: f32::from(width) / 240.0, turn_deg: 2.0, ..Pose::default() };
    let scene = Scene {
        width: width.into(),
        height: height.into(),
        books: vec![Book::new(symbol, Cover::default(), pose)],
        defocus_modules: 0.3,
        supersample: 1,
        ..Scene::default()
    };
    let picture = render(&scene);
    Luma::new(picture.width, picture.height, picture.pixels).expect("the size fits")
}
